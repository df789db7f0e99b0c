package round

import (
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
)

func todayCmd(c *console.Console) *cobra.Command {
	var f DayFlags
	var q round.Asked
	cmd := c.Cmd("today", "The day's list, in walking order", `
rindkeep today
rindkeep today --only turn                 the turning list
rindkeep today --room cellar --on tomorrow
rindkeep today --share 3                   split among three people: who does which racks
rindkeep today --share 2/3                 the list of the second of them
rindkeep today | lp                        on paper, with boxes to tick`, console.NoArgs,
		func(*cobra.Command, []string) (err error) {
			if err = f.Read(&q); err != nil {
				return err
			}
			q.Together = q.Together || !c.JSON
			t, err := round.ListDay(c.Ctx, c.App, c.Caller(), q)
			if err != nil {
				return err
			}
			c.Words.FillToday(&t)
			if c.JSON {
				return c.Document(t)
			}
			for _, x := range t.Alarms {
				c.Print("%s\n", c.Style("1;33")("AIR of "+x.Room+": "+x.What))
			}
			if len(t.Shares) > 0 {
				showShares(c, t)
				return nil
			}
			ShowDay(c, t)
			NextOfDay(c, t)
			return nil
		})
	f.Add(c, cmd)
	c.MostFlag(cmd, &q.Most)
	cmd.Flags().BoolVar(&q.Together, "together", false, "with --json: wheels of several lots in one line, as on paper")
	return cmd
}

// DayFlags are the flags that narrow the day's list.
type DayFlags struct {
	only, share string
	site        string
	narrow      app.Narrow
}

// Add gives them to a command.
func (f *DayFlags) Add(c *console.Console, cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.only, "only", "", "only these `JOB,..`")
	c.NarrowFlags(cmd, &f.narrow)
	cmd.Flags().StringVar(&f.share, "share", "", "split the work among so many `PEOPLE`; 2/3 is the second one's part")
	cmd.Flags().StringVar(&f.site, "site", "", "of several sites: the list of this one, by its `NAME`, or all")
	c.Completes(cmd, "only", func(*app.Session) []string { return JobNames() })
}

// Read puts what was given into a request.
func (f *DayFlags) Read(q *round.Asked) (err error) {
	if q.Only, err = ReadJobs("--only", f.only); err != nil {
		return err
	}
	q.Narrow, q.Site = f.narrow, f.site
	if f.share != "" {
		if q.Share, err = round.ParseShare(f.share); err != nil {
			return console.At("--share", console.Misread(err))
		}
	}
	return nil
}

// showShares prints who does which racks.
func showShares(c *console.Console, t round.Today) {
	c.Print("%s\n%s\n\n", c.Style("1")(t.List.Date.Long()), c.Words.DaySum(t))
	tb := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}, {Wrap: true}}}
	for _, p := range t.Shares {
		from := p.From
		if p.To != from {
			from += " to " + p.To
		}
		tb.Add(p.Share, from, c.Words.ListSum(p.List))
	}
	c.Table(tb)
	c.Next("\none person's list: rindkeep today --share %s", t.Shares[0].Share)
}

// ReadJobs reads a list of jobs given to a flag.
func ReadJobs(flag, list string) (jobs []wheel.Job, err error) {
	for w := range strings.SplitSeq(list, ",") {
		if strings.TrimSpace(w) == "" {
			continue
		}
		j, err := wheel.ParseJob(w)
		if err != nil {
			return nil, console.At(flag, console.Misread(err))
		}
		jobs = append(jobs, j)
	}
	return jobs, nil
}

// ShowDay prints the list for a clipboard: a box for every round left, the place
// as a heading, late work named as late.
func ShowDay(c *console.Console, t round.Today) {
	bold, warn, p := c.Style("1"), c.Style("1;33"), c.Words
	p.Zone = t.Zone
	c.Print("%s\n%s", bold(t.List.Date.Long()), p.DaySum(t))
	if late := t.Late(); late > 0 {
		c.Print(", %d late", late)
	}
	if t.Share != "" {
		c.Print(", share %s", t.Share)
	}
	c.Print("\n")
	said := map[string]bool{} // a note is read once, on its first line
	for _, r := range t.List.ByRoom() {
		c.Print("\n%s\n", bold(words.RoomHeading(r.Room)))
		for _, sh := range r.Shelves {
			if name := words.ShelfName(sh.Place); name != "" {
				c.Print("  %s\n", name)
			}
			tb := text.Table{Indent: 4, Columns: []text.Column{{}, {}, {Wrap: true}, {Wrap: true}}}
			late := map[int]bool{} // rows
			for _, n := range sh.Lines {
				why := p.LineWhy(n, said)
				if l := words.LineLate(t, n); l != "" {
					late[len(tb.Rows)] = true
					why = strings.TrimSuffix(l+"; "+why, "; ")
				}
				if n.Job == wheel.Weigh && len(n.Tags) == 1 {
					why += "  ______"
				}
				tb.Add(strings.TrimSpace(strings.Repeat("[ ] ", n.Left)), words.Doing(n), words.LineWheels(n), why)
			}
			tb.Style = func(row, col int, cell string) string {
				if late[row] && col > 0 {
					return warn(cell)
				}
				return cell
			}
			c.Table(tb)
		}
	}
	if t.More > 0 {
		c.Print("\n")
		c.Rest(t.More, "line")
	}
	if len(t.Cautions) > 0 {
		c.Print("\n")
		c.Cautions(t.Cautions)
	}
}

// NextOfDay says what to do once something on the list is done, or where a book
// begins.
func NextOfDay(c *console.Console, t round.Today) {
	if t.Empty {
		first := "begin with: rindkeep start"
		if len(t.Lots) > 0 {
			first = "what is in the moulds or out of the press: rindkeep make wheels " + t.Lots[0] + " --weights 2.1kg,2.05kg"
		}
		c.Next("\nthe book holds no wheels yet; %s", first)
		return
	}
	for _, n := range t.List.Lines {
		if words.OwnCommand(n.Job) == "" {
			c.Next("\nwhen done: rindkeep did %s %s", n.Job, exampleWhat(n))
			return
		}
	}
}

func exampleWhat(l round.Line) string {
	switch {
	case l.WholeShelf:
		return string(l.Place)
	case l.Lot != "" && len(l.Tags) > 1:
		return l.Lot + " --due"
	}
	return l.Tags[0]
}
