// Package makes has the commands about makes: a vat's production on one day.
package makes

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// Command is make with its subcommands.
func Command(c *console.Console) *cobra.Command {
	return console.Group("make", "Makes: a vat's production on one day",
		newCmd(c), receiveCmd(c), takeOverCmd(c), wheelsCmd(c), logCmd(c), listCmd(c), showCmd(c), noteCmd(c),
		correctCmd(c), voidCmd(c), sampleCmd(c), resultCmd(c), resultsCmd(c), samplesCmd(c))
}

func listCmd(c *console.Console) *cobra.Command {
	var q makes.Listed
	cmd := c.NowCmd("list", "The makes, newest first", `
rindkeep make list
rindkeep make list --variety tomme`, console.NoArgs, func(*cobra.Command, []string) error {
		d, err := makes.All(c.Ctx, c.App, c.Caller(), q)
		if err == nil && d.More {
			c.Note("the newest %d; --most 0 lists all", q.Most)
		}
		if done, err := c.Answered(d, err); done {
			return err
		}
		if len(d.Makes) == 0 {
			c.Print("no makes yet\n")
			return nil
		}
		t := text.Table{Columns: []text.Column{
			{Title: "lot"}, {Title: "made"}, {Title: "variety", Wrap: true}, {Title: "milk"},
			{Title: "wheels here", Right: true}, {Title: "age", Right: true},
		}}
		for i, m := range d.Makes {
			t.Add(m.Lot, m.Date, m.Variety, m.Milk(), fmt.Sprint(m.Wheels), fmt.Sprintf("%d d", d.Ages[i]))
		}
		c.Table(t)
		return nil
	})
	f := cmd.Flags()
	f.StringVar(&q.Variety, "variety", "", "only this `NAME`")
	f.StringVar(&q.Person, "person", "", "only those that this person recorded, by `NAME`")
	f.IntVar(&q.OlderThan, "older-than", 0, "only makes over so many `DAYS` old")
	f.IntVar(&q.YoungerBy, "younger-than", 0, "only makes under so many `DAYS` old")
	f.IntVar(&q.Most, "most", 200, "at most `N` makes; 0 for all")
	c.Completes(cmd, "variety", library.VarietyNames)
	return cmd
}

func showCmd(c *console.Console) *cobra.Command {
	var pic console.Picture
	cmd := c.NowCmd("show LOT", "One make as a sheet", `
rindkeep make show 261120A
rindkeep make show 261120A --svg acidity.svg             the course of its acidity
rindkeep make show 261120A --json                        the log, the yield and all the rest`, console.Exactly("LOT"),
		func(_ *cobra.Command, args []string) error {
			if err := pic.Check(c); err != nil {
				return err
			}
			d, err := makes.Show(c.Ctx, c.App, c.Caller(), args[0])
			if err != nil {
				return err
			}
			if done, err := pic.Put(c, plot.Acidity(d.Sheet, 1, d.Zone).Chart().SVG); err != nil || done {
				return err
			}
			if c.JSON {
				c.Words.FillEntries(d.Entries)
				return c.Document(d)
			}
			shown(c, d)
			return nil
		})
	pic.Flags(cmd)
	return c.CompletesArgs(cmd, lots)
}

func shown(c *console.Console, d makes.Shown) {
	m := d.Told
	c.Print("%s  %s, made %s (%s)\n\n", c.Style("1")("lot "+m.Lot), d.Title, m.Date.Long(), words.DaysAgo(d.DaysAgo))
	c.Table(text.Facts(2, c.Words.MakeFacts(d)))
	diary(c, d)
	c.Photos(d.Make.Lot, d.Photos)
	acidity(c, d)
	if len(d.Cautions) > 0 {
		c.Print("\n")
		c.Cautions(d.Cautions)
	}
}

// diary prints a make's log and notes in the order they happened, each with its mark.
func diary(c *console.Console, d makes.Shown) {
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {}, {Wrap: true}, {}}}
	last := day.None
	for _, e := range d.Events {
		date, at := "", e.Entry.At.In(d.Zone)
		if on := day.At(at, d.Zone); on != last {
			date, last = on.Short(), on
		}
		what, said := c.Words.MakeEvent(e)
		t.Add(date, at.Format("15:04"), what, said, e.Entry.Mark())
	}
	if len(t.Rows) > 0 {
		c.Print("\nlog (the last column is each line's code, for strike)\n")
		c.Table(t)
	}
}

// acidity draws the course of the acidity, where there are two figures of a kind or
// more.
func acidity(c *console.Console, d makes.Shown) {
	course := plot.Acidity(d.Sheet, 2, d.Zone)
	if len(course.Measured) == 0 {
		return
	}
	c.Print("\n")
	for _, l := range course.Chart().Text(min(60, c.Env.Columns()-2), 9) {
		c.Print("%s\n", strings.TrimRight("  "+l, " "))
	}
	for _, m := range course.Measured {
		var w []string
		for _, x := range m.Moments {
			w = append(w, strings.TrimSpace(fmt.Sprintf("%.4g %s", x.Y, x.Word)))
		}
		c.Indented(m.Label() + ": " + strings.Join(w, ", "))
	}
}

func noteCmd(c *console.Console) *cobra.Command {
	var photo string
	cmd := c.Cmd("note LOT TEXT", "Add a note to a make", `
rindkeep make note 261120A "slow acid, cut late"
rindkeep make note 261120A "the curd at cutting" --photo curd.jpg`, console.Exactly("LOT", "TEXT"),
		func(_ *cobra.Command, args []string) error {
			jpeg, err := c.ReadPhoto(photo)
			if err != nil {
				return err
			}
			q := makes.NewNote{Of: args[0], Text: args[1], Photo: jpeg}
			did, err := makes.Note(c.Ctx, c.App, c.Caller(), q)
			d, done, err := console.Recorded(c, did, err)
			switch {
			case done:
				return err
			case d.Same:
				c.Print("no change, noted already\n")
			default:
				c.Print("noted on %s\n", d.Of)
			}
			return nil
		})
	console.PhotoFlag(cmd, &photo)
	return c.CompletesArgs(cmd, lots)
}
