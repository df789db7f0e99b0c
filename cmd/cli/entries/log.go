package entries

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/entries"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/cli/round"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/cmd/words/entered"
	"rindkeep/wheel"
)

// mostHeld is how much of the log is kept back while the book is open, in bytes, so
// that a reader who takes their time doesn't hold the book.
const mostHeld = 8 << 20

func logCmd(c *console.Console) *cobra.Command {
	var q entries.Question
	var person string
	var byDay bool
	cmd := c.Cmd("log [WHAT...]", "What was recorded: who, what, when", `
rindkeep log                                     the last entries of the book
rindkeep log 261120A --most 0                    everything that happened to a lot, including wheels already gone
rindkeep log --person Nora --from mon
rindkeep log --job turn,brush --on yesterday
rindkeep log --struck                            what was cancelled
rindkeep log --by-day --from 2026-11-01          by day and person, for the inspector`, cobra.ArbitraryArgs,
		func(cmd *cobra.Command, args []string) error {
			q.What = args
			if cmd.Flags().Changed("person") {
				q.Person = &person
			}
			given := cmd.Flags().Changed("most")
			if byDay && given {
				return console.Usagef("--by-day lists whole days; leave --most out")
			}
			if byDay {
				return days(c, q)
			}
			if c.JSON && !given {
				q.Most = 0
			}
			out := bufio.NewWriterSize(c.Env.Out, mostHeld)
			c.Env.Out = out
			print := logText
			if c.JSON {
				print = logJSON
			}
			if err := print(c, q); err != nil {
				return err
			}
			return out.Flush()
		})
	f := cmd.Flags()
	f.StringVar(&q.From, "from", "", "from `DATE` on")
	f.StringVar(&q.To, "to", "", "up to and including `DATE`")
	f.StringVar(&person, "person", "", "only what `NAME` recorded; \"\" for entries without a name")
	console.ListFlag(f, &q.Jobs, "job", "only these `JOBS`, done or skipped")
	console.ListFlag(f, &q.Kinds, "kind", "only these `KINDS` of entry: weighed, moved, struck, …")
	f.BoolVar(&q.Struck, "struck", false, "only entries that were cancelled")
	f.IntVar(&q.Most, "most", 50, "the newest `N`, 0 for all; with --json the default is all")
	f.BoolVar(&byDay, "by-day", false, "sum up by day and person")
	f.SortFlags = false
	c.Completes(cmd, "job", func(*app.Session) []string { return round.JobNames() })
	c.Completes(cmd, "kind", func(*app.Session) []string { return wheel.Kinds() })
	return c.CompletesWhat(cmd)
}

// logJSON writes one document, an entry at a time.
func logJSON(c *console.Console, q entries.Question) error {
	begin := func(matched int) {
		c.Print("{\n  \"schema\": %q,\n  \"matched\": %d,\n  \"entries\": [", app.Schema("log"), matched)
	}
	n := 0
	matched, err := entries.Each(c.Ctx, c.App, c.Caller(), q, func(e entries.Logged, matched int) error {
		if n++; n == 1 {
			begin(matched)
		} else {
			c.Print(",")
		}
		e.Detail = c.Words.EntryDetail(e.Of)
		return put(c, e)
	})
	if err != nil {
		return err
	}
	if n == 0 {
		begin(matched)
	} else {
		c.Print("\n  ")
	}
	air, err := entries.AirOf(c.Ctx, c.App, c.Caller(), q)
	if err != nil {
		return err
	}
	c.Print("],\n  \"air\": [")
	for i, x := range air {
		if i > 0 {
			c.Print(",")
		}
		if err := put(c, x); err != nil {
			return err
		}
	}
	c.Print("]\n}\n")
	return nil
}

func put(c *console.Console, x any) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("    ", "  ")
	err := enc.Encode(x)
	c.Print("\n    %s", bytes.TrimRight(b.Bytes(), "\n"))
	return err
}

// rowsTogether is how many rows of a day are laid out in one table.
const rowsTogether = 500

func logText(c *console.Console, q entries.Question) error {
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}, {}, {}, {}}}
	flush := func() {
		c.Table(t)
		t.Rows = nil
	}
	on, n := day.None, 0
	total, err := entries.Each(c.Ctx, c.App, c.Caller(), q, func(e entries.Logged, _ int) error {
		at, written := e.Of.At.In(c.Words.Zone), e.Of.Written.In(c.Words.Zone)
		d := day.At(at, c.Words.Zone)
		if d != on {
			flush()
			if on != day.None {
				c.Print("\n")
			}
			c.Print("%s\n", c.Style("1")(d.Long()))
			on = d
		}
		n++
		late := "written " + written.Format("15:04")
		if day.At(written, c.Words.Zone) != d {
			late = "written " + written.Format("2 Jan 2006")
		}
		t.Add(at.Format("15:04"), e.Subject, c.Words.EntryLine(e), text.Safe(e.By), e.Mark, late)
		if len(t.Rows) >= rowsTogether {
			flush()
		}
		return nil
	})
	if err != nil {
		return err
	}
	flush()
	air, err := entries.AirOf(c.Ctx, c.App, c.Caller(), q)
	if err != nil {
		return err
	}
	if len(air) > 0 {
		c.Print("\n%s\n", c.Style("1")("the rooms' air"))
		for _, x := range air {
			what := airCancelled(x)
			if what == "" {
				what = entered.How(x.Table, x.Over, x.File)
			}
			t.Add(words.Minute(x.Written), x.Room, what, text.Safe(x.By), "", "")
		}
		flush()
	}
	switch {
	case total == 0 && len(air) > 0:
	case total == 0:
		c.Print("no such entries\n")
	case n < total:
		c.Next("\nthe newest %d of %d; --most 0 for all", n, total)
	default:
		c.Next("\n%s", text.Count(total, "entry", "entries"))
	}
	return nil
}

// airCancelled says which reading was cancelled, and why.
func airCancelled(x entries.AirLine) string {
	if x.Cancelled == "" {
		return ""
	}
	return "reading of " + words.Minute(x.Cancelled) + " cancelled: " + text.Safe(x.Why)
}

// days prints what each person did on each day.
func days(c *console.Console, q entries.Question) error {
	q.Most = 0
	d, err := entries.ByDay(c.Ctx, c.App, c.Caller(), q)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return c.Document(d)
	case len(d.Days) == 0:
		c.Print("no such entries\n")
		return nil
	}
	t := text.Table{Columns: []text.Column{
		{Title: "day"}, {Title: "person"}, {Title: "entries", Right: true}, {Title: "from"}, {Title: "to"},
		{Title: "did", Wrap: true},
	}}
	clock := func(instant string) string { return words.Minute(instant)[len("2026-11-25 "):] }
	for _, p := range d.Days {
		did := app.Each(p.Did, func(x entries.Done) string { return fmt.Sprintf("%s %d", x.What, x.Count) })
		if p.Struck > 0 {
			did = append(did, fmt.Sprintf("cancelled since %d", p.Struck))
		}
		if p.Late > 0 {
			did = append(did, fmt.Sprintf("written on a later day %d", p.Late))
		}
		who := text.Safe(p.Person)
		if who == "" {
			who = "(no name)"
		}
		t.Add(p.Date, who, fmt.Sprint(p.Entries), clock(p.First), clock(p.Last), strings.Join(did, ", "))
	}
	c.Table(t)
	return nil
}
