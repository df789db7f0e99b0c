package cli

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/trade"
	tradecmd "rindkeep/cmd/cli/trade"
	"rindkeep/cmd/sheet"
)

func (a *app) sheetTraceCmd() *cobra.Command {
	return a.tracedSheetCmd("trace", "What went in and who had what, one step each way", `
rindkeep sheet trace 261120A
rindkeep sheet trace --ingredient 4417 --paper letter
rindkeep sheet trace --room cellar --from 2026-11-01 --to 2026-11-20`,
		func(h sheet.Head, t trade.Trace) (sheet.Doc, error) {
			return sheet.TraceSheet(h, sheet.TraceOf(a.Words, t))
		})
}

func (a *app) sheetRecallCmd() *cobra.Command {
	return a.tracedSheetCmd("recall", "A recall on paper: whom to reach, what they had, a box for each", `
rindkeep sheet recall 261120A
rindkeep sheet recall 261120A-03 --large
rindkeep sheet recall --ingredient 4417              all that a milk or culture lot went into`,
		func(h sheet.Head, t trade.Trace) (sheet.Doc, error) {
			return sheet.RecallSheet(h, sheet.RecallOf(a.Words, t))
		})
}

// tracedSheetCmd is a sheet of what trace gathers.
func (a *app) tracedSheetCmd(
	name, short, examples string, lay func(sheet.Head, trade.Trace) (sheet.Doc, error),
) *cobra.Command {
	var f *sheetFlags
	var q trade.Question
	c := a.nowCmd(name+" [WHAT...]", short, examples, cobra.ArbitraryArgs, func(_ *cobra.Command, args []string) error {
		q.What = args
		if err := q.Check(); err != nil {
			return err
		}
		return a.sheet(f, func(s *session, h sheet.Head) (printed, error) {
			t, err := trade.Gather(s.S, q)
			if err != nil {
				return printed{}, err
			}
			a.Words.FillTrace(&t)
			note := ""
			if name == "recall" && slices.ContainsFunc(t.Customers, unreachable) {
				note = "some customers have no contact details: rindkeep customer new NAME --contact TEXT, then print it again"
			}
			draw := func() (sheet.Doc, error) { return lay(h, t) }
			return printed{draw, traceFile(name, t.Asked), h.Paper.Name, h.Paper.Name, note}, nil
		})
	})
	f = a.sheetFlags(c)
	tradecmd.TraceFlags(a.Console, c, &q)
	return c
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
	return fileName(words...)
}
