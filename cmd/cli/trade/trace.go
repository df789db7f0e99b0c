package trade

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

func traceCmd(c *console.Console) *cobra.Command {
	var q trade.Question
	var recall, fsma, site string
	cmd := c.NowCmd("trace [WHAT...]", "One step back and one forward: what went in, who had it", `
rindkeep trace 261120A-03                          one wheel
rindkeep trace 261120A                             a lot, and what its curd went into
rindkeep trace --ingredient 4417                   all that a culture, rennet, salt or milk lot went into
rindkeep trace --customer "The Corner Shop"        all that a customer had
rindkeep trace --room cellar --from 2026-11-01 --to 2026-11-20
rindkeep trace 261120A --recall recall.csv         the recall list, a row for each delivery
rindkeep trace 261120A --fsma sheet.xlsx           the sortable sheet of the US rule; .csv too`, cobra.ArbitraryArgs,
		func(_ *cobra.Command, args []string) error {
			if err := checkTables(c, recall, fsma, site); err != nil {
				return err
			}
			q.What = args
			t, err := trade.Run(c.Ctx, c.App, c.Caller(), q)
			if err != nil {
				return err
			}
			c.Words.FillTrace(&t)
			if err := traceOut(c, t, recall == "-" || fsma == "-"); err != nil {
				return err
			}
			return writeTables(c, t, recall, fsma, site)
		})
	TraceFlags(c, cmd, &q)
	f := cmd.Flags()
	const form = ": CSV, or a workbook if it ends in .xlsx; - for standard output"
	f.StringVar(&recall, "recall", "", "write the recall list to `FILE`"+form)
	f.StringVar(&fsma, "fsma", "", "write the sortable sheet of FSMA 204 to `FILE`"+form)
	f.StringVar(&site, "site", "", "with --fsma: your `NAME, ADDRESS` (default: that of rindkeep book site)")
	return cmd
}

// TraceFlags gives a command the flags that say what to trace, and completes them.
func TraceFlags(c *console.Console, cmd *cobra.Command, q *trade.Question) {
	f := cmd.Flags()
	f.StringVar(&q.Ingredient, "ingredient", "", "`LOT` number of an ingredient or of milk")
	f.StringVar(&q.Customer, "customer", "", "`NAME` of a customer")
	f.StringVar(&q.Room, "room", "", "`ROOM`; needs --from and --to")
	f.StringVar(&q.From, "from", "", "with --room: first `DATE`")
	f.StringVar(&q.To, "to", "", "with --room: up to and including `DATE`")
	f.SortFlags = false
	c.Completes(cmd, "customer", CustomerNames)
	c.Completes(cmd, "room", console.RoomNames)
	c.CompletesArgs(cmd, func(s *app.Session, _ int, word string) []string {
		out := console.LotNames(s)
		if s == nil || word == "" {
			return out
		}
		ws, _ := s.Tx.TagsStarting(word)
		return append(out, app.Tags(ws[:min(200, len(ws))])...)
	})
}

// checkTables refuses tables that can't be written both.
func checkTables(c *console.Console, recall, fsma, site string) error {
	switch {
	case recall == "-" && fsma == "-":
		return console.Usagef("only one of --recall and --fsma can go to standard output")
	case recall != "" && recall == fsma:
		return console.Usagef("--recall and --fsma are two tables; name a file for each")
	case c.JSON && (recall == "-" || fsma == "-"):
		return console.Usagef("--json and a table both want standard output; name a file for the table")
	case site != "" && fsma == "":
		return console.Usagef("--site goes with --fsma")
	}
	return nil
}

func writeTables(c *console.Console, t trade.Trace, recall, fsma, site string) error {
	if recall != "" {
		if err := c.WriteTable(recall, t.Recall()); err != nil {
			return err
		}
	}
	if fsma == "" {
		return nil
	}
	if site == "" {
		site = t.Site
	}
	table := t.FSMA(site)
	if err := c.WriteTable(fsma, table); err != nil {
		return err
	}
	c.Note("the columns are what FSMA 204 (US) names for receiving, making and shipping, in our own words; " +
		"whether your cheese needs them, your local authority decides")
	if trade.Lacks(table) {
		c.Note("where it says missing, the book doesn't know what the rule asks for: give --document as you record a " +
			"delivery or a sending; save addresses with rindkeep customer new")
	}
	for _, name := range t.NoAddress {
		c.Note("its address of %s, who gave a lot code or sent wheels, is empty: %s", text.Safe(name),
			c.Words.SaveAddress(name))
	}
	if site == "" {
		c.Note("its columns of where it was made and shipped from say missing: rindkeep book site --name NAME --address TEXT")
	}
	return nil
}

// traceOut prints a trace, unless a table has standard output.
func traceOut(c *console.Console, t trade.Trace, table bool) error {
	switch {
	case table:
	case c.JSON:
		return c.Document(t)
	default:
		traceText(c, t)
	}
	return nil
}

// traceText prints what went in, lot by lot, then who had what, what is here and
// what was lost.
func traceText(c *console.Console, t trade.Trace) {
	bold := c.Style("1")
	c.Print("%s, as of %s\n", bold("trace of "+text.Safe(c.Words.TraceOf(t.Asked))), words.Minute(t.At))
	c.Lines(text.Wrap(c.Words.TraceFound(t.Totals), c.Env.Columns()))

	c.Print("\n%s\n", bold("BACK: what went in"))
	for i, l := range t.Lots {
		if i > 0 {
			c.Print("\n")
		}
		made := "made " + l.Made.String()
		if !l.DateKnown {
			made += " or before"
		}
		c.Print("  %s  %s, %s\n", bold("lot "+l.Lot), l.Title, made)
		c.Table(text.Facts(4, c.Words.LotFacts(l)))
	}
	c.Print("\n%s\n", bold("FORWARD: who had what"))
	if len(t.Deliveries) == 0 {
		c.Print("  nothing was sent\n")
	} else {
		c.Table(c.Words.Sent(t))
	}
	for _, x := range []struct {
		title string
		table text.Table
	}{
		{"REACH THEM", text.Facts(2, c.Words.HowToReach(t))}, {"STILL HERE", text.Facts(2, c.Words.StillHere(t))},
		{"LOST", c.Words.Lost(t)},
	} {
		if len(x.table.Rows) > 0 {
			c.Print("\n%s\n", bold(x.title))
			c.Table(x.table)
		}
	}
	if len(t.Cautions) > 0 {
		c.Print("\n")
		c.Cautions(t.Cautions)
	}
	traceNext(c, t)
}

func traceNext(c *console.Console, t trade.Trace) {
	lead := "\n"
	if len(t.NoAddress) > 0 {
		c.Next("%swhere %s is, for the traceability sheet: %s", lead, text.Safe(t.NoAddress[0]),
			c.Words.SaveAddress(t.NoAddress[0]))
		lead = ""
	}
	for _, x := range t.Customers {
		if !x.Known {
			c.Next("%ssave their contact details: rindkeep customer new %s --contact TEXT --address TEXT",
				lead, words.Shell(x.Name))
			lead = ""
			break
		}
	}
	if len(t.Deliveries) > 0 {
		c.Next("%sthe recall list as a table: add --recall FILE.csv; on paper: rindkeep sheet recall", lead)
	}
}
