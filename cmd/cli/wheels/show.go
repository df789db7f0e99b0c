package wheels

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

func listCmd(c *console.Console) *cobra.Command {
	var q wheels.Listed
	cmd := c.NowCmd("list [WHAT...]", "The wheels, with age, stage, place and loss", `
rindkeep wheel list
rindkeep wheel list cellar/B --stage coated
rindkeep wheel list --room cellar --ready-by +30d --most 20
rindkeep wheel list 261120A --gone`, cobra.ArbitraryArgs, func(_ *cobra.Command, args []string) error {
		q.What = args
		d, err := wheels.All(c.Ctx, c.App, c.Caller(), q)
		switch {
		case err != nil:
			return err
		case c.JSON:
			rows := d.Wheels
			d.Wheels = []wheels.Row{}
			return c.Stream(d, "wheels", func(yield func(any) bool) {
				for i := range rows {
					if !yield(&rows[i]) {
						return
					}
				}
			})
		case len(d.Wheels) == 0:
			c.Print("no wheels\n")
			return nil
		}
		t := text.Table{Columns: []text.Column{
			{Title: "wheel"}, {Title: "variety", Wrap: true}, {Title: "age", Right: true}, {Title: "stage"},
			{Title: "place", Wrap: true}, {Title: "weight", Right: true}, {Title: "loss", Right: true}, {},
		}}
		for _, r := range d.Wheels {
			loss, mark := "-", ""
			if r.Loss != nil {
				loss = fmt.Sprintf("%.1f %%", *r.Loss)
			}
			switch {
			case r.Unreadable:
				mark = "DAMAGED"
			case r.Gone != nil:
				mark = c.Words.Why(r.GoneWhy)
			case r.Held:
				mark = "HELD"
			case r.Law:
				mark = "HELD by law"
			}
			t.Add(r.Tag, r.Variety, fmt.Sprintf("%d d", r.Age), r.Stage, words.PlaceName(r.Place),
				c.Words.WeightOrNot(r.Weight), loss, mark)
		}
		c.Table(t)
		c.Rest(d.More, "wheel")
		return nil
	})
	c.NarrowFlags(cmd, &q.Narrow)
	c.MostFlag(cmd, &q.Most)
	cmd.Flags().BoolVar(&q.Gone, "gone", false, "include wheels that are gone")
	return c.CompletesWhat(cmd)
}

func showCmd(c *console.Console) *cobra.Command {
	var most int
	cmd := c.NowCmd("show TAG", "One wheel's card", `
rindkeep wheel show 261120A-03
rindkeep wheel show 261120A-03 --history 100`, console.Exactly("TAG"), func(_ *cobra.Command, args []string) error {
		d, err := wheels.Show(c.Ctx, c.App, c.Caller(), args[0])
		if err != nil {
			return err
		}
		c.Words.FillWheel(&d)
		if c.JSON {
			return c.Document(d)
		}
		card(c, d)
		c.Photos(d.Tag, d.Photos)
		history(c, d, most)
		return nil
	})
	console.HistoryFlag(cmd, &most)
	return c.CompletesTag(cmd)
}

func card(c *console.Console, d wheels.Card) {
	place := ""
	if d.Place != "" {
		if place = ", at " + d.Place; cave.Place(d.Place).Bound() != "" {
			place = ", " + words.PlaceName(d.Place)
		}
	}
	c.Print("%s  %s, lot %s, %s\n", c.Style("1")(d.Tag), d.Title, d.Lot, words.MadeAge(d))
	c.Print("%s%s, plan %s, %s\n", d.Stage, place, d.Plan, d.Shape)
	for _, alert := range c.Words.WheelAlerts(d) {
		c.Caution(alert)
	}
	c.Print("\n")
	t := text.Facts(2, c.Words.WheelFacts(d))
	if d.Waits() {
		t.Add("dry enough?", c.Words.AnswerLine(d.Of.Dry))
	}
	c.Table(t)
	c.Cautions(d.Cautions)
	if len(d.Due) > 0 {
		c.Print("\ndue\n")
		t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}}}
		for _, x := range d.Due {
			t.Add(x.Job, words.DueWhen(x), x.Why)
		}
		c.Table(t)
	}
}

// history prints the last entries of a card; most 0 is all.
func history(c *console.Console, d wheels.Card, most int) {
	if len(d.Entries) == 0 {
		return
	}
	c.Print("\nhistory")
	last := d.Last(most)
	if len(last) < len(d.Entries) {
		c.Print(" (the last %d of %d; --history 0 for all)", len(last), len(d.Entries))
	}
	c.Print("\n")
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {}, {Wrap: true}, {}}}
	for _, e := range last {
		t.Add(e.Mark, e.Of.At.In(d.Zone).Format("2006-01-02 15:04"), e.What, words.EntryWords(e), e.By)
	}
	c.Table(t)
}
