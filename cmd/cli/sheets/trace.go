package sheets

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/cli/console"
	tradecmd "rindkeep/cmd/cli/trade"
	"rindkeep/cmd/sheet"
)

func traceCmd(c *console.Console) *cobra.Command {
	return tracedCmd(c, "trace", "What went in and who had what, one step each way", `
rindkeep sheet trace 261120A
rindkeep sheet trace --ingredient 4417 --paper letter
rindkeep sheet trace --room cellar --from 2026-11-01 --to 2026-11-20`,
		func(h sheet.Head, t trade.Trace) (sheet.Doc, error) {
			return sheet.TraceSheet(h, sheet.TraceOf(c.Words, t))
		})
}

func recallCmd(c *console.Console) *cobra.Command {
	return tracedCmd(c, "recall", "A recall on paper: whom to reach, what they had, a box for each", `
rindkeep sheet recall 261120A
rindkeep sheet recall 261120A-03 --large
rindkeep sheet recall --ingredient 4417              all that a milk or culture lot went into`,
		func(h sheet.Head, t trade.Trace) (sheet.Doc, error) {
			return sheet.RecallSheet(h, sheet.RecallOf(c.Words, t))
		})
}

// tracedCmd is a sheet of what trace gathers.
func tracedCmd(
	c *console.Console, name, short, examples string, lay func(sheet.Head, trade.Trace) (sheet.Doc, error),
) *cobra.Command {
	var f Flags
	var q trade.Question
	cmd := c.NowCmd(name+" [WHAT...]", short, examples, cobra.ArbitraryArgs, func(_ *cobra.Command, args []string) error {
		q.What = args
		if err := q.Check(); err != nil {
			return err
		}
		return Write(c, &f, func(s *app.Session, h sheet.Head) (Printed, error) {
			t, err := trade.Gather(s, q)
			if err != nil {
				return Printed{}, err
			}
			c.Words.FillTrace(&t)
			note := ""
			if name == "recall" && slices.ContainsFunc(t.Customers, unreachable) {
				note = "some customers have no contact details: rindkeep customer new NAME --contact TEXT, then print it again"
			}
			draw := func() (sheet.Doc, error) { return lay(h, t) }
			return Printed{Draw: draw, Name: traceFile(name, t.Asked), Note: note}, nil
		})
	})
	f.Add(cmd)
	tradecmd.TraceFlags(c, cmd, &q)
	return cmd
}

func unreachable(c trade.Reach) bool { return c.Contact == "" && c.Address == "" }

// traceFile names the file of a sheet of a trace.
func traceFile(word string, q trade.Asked) string {
	words := []string{word, q.Of[0]}
	if len(q.Of) > 1 {
		words = append(words, "and", fmt.Sprint(len(q.Of)-1), "more")
	}
	if q.From != nil {
		words = append(words, q.From.String())
	}
	return FileName(words...)
}
