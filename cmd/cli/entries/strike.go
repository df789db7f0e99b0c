// Package entries has the commands about entries of every kind: the log, and strike.
package entries

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/entries"
	"rindkeep/cmd/cli/console"
)

// Commands are strike, log and find.
func Commands(c *console.Console) []*cobra.Command {
	return []*cobra.Command{strikeCmd(c), logCmd(c), findCmd(c)}
}

func strikeCmd(c *console.Console) *cobra.Command {
	var q entries.ToStrike
	cmd := c.Cmd("strike ENTRY...", "Cancel entries: they stay in the history, crossed out", `
rindkeep strike 261120A-03:9f3c1a --why "mis-keyed"      by its code, from wheel show
rindkeep strike 261120A:3a1e77 --why "wrong vat"         by its code, from make show
rindkeep strike last --why "wrong shelf"                 everything the last command wrote
rindkeep strike 0193a5c0-7b1e-7c3a-9f10-2b7d4e9f3c1a --why "wrong wheel"   by its ID, or the --id it was sent under`,
		console.AtLeast("ENTRY"), func(_ *cobra.Command, args []string) error {
			q.Entries = args
			if len(args) == 1 && strings.EqualFold(args[0], "last") && !q.Sure &&
				strings.TrimSpace(q.Why) != "" && c.Env.InTTY && !c.JSON {
				id, err := meansLast(c)
				if err != nil {
					return err
				}
				q.Entries = []string{id}
			}
			did, err := console.Surely(c, entries.Strike, &q, &q.Sure)
			return console.Done(c, did, err, struck)
		})
	cmd.Flags().StringVar(&q.Why, "why", "", "the `REASON`")
	cmd.Flags().BoolVar(&q.Sure, "sure", false, "cancel a safety hold, or last, without being asked")
	return cmd
}

// meansLast gives what to strike as last. If that isn't the command just typed, because a
// later one was refused or it was some time ago, it shows it and asks.
func meansLast(c *console.Console) (string, error) {
	last, err := entries.Last(c.Ctx, c.App, c.Caller())
	just := err == nil && c.Env.Now().Sub(last.At) <= entries.JustNow && !c.Env.RefusedSince(last.At)
	if err != nil || just {
		return last.ID, err
	}
	c.Warn("the last command that recorded something (%s, %s):", last.Command, c.Words.Instant(last.At))
	for _, l := range entryLines(c, last.Entries) {
		fmt.Fprintf(c.Env.Err, "  %s\n", l)
	}
	if c.Yes("Cancel it?") {
		return last.ID, nil
	}
	if err := c.Ctx.Err(); err != nil {
		return "", err
	}
	c.Warn("nothing was cancelled")
	return "", console.Silent{Code: console.ExitRefused}
}

// mostStruck is how many entries are named after they were struck.
const mostStruck = 20

func struck(c *console.Console, d entries.Struck) {
	for _, l := range entryLines(c, d.Struck) {
		if !strings.HasPrefix(l, "…") {
			l = "cancelled: " + l
		}
		c.Print("%s\n", l)
	}
}

// entryLines are entries, a line each.
func entryLines(c *console.Console, es []entries.StruckEntry) (out []string) {
	for i, e := range es {
		if i == mostStruck {
			return append(out, fmt.Sprintf("… and %d more", len(es)-i))
		}
		what := strings.TrimSpace(e.What + " " + c.Words.EntryDetail(e.Entry))
		out = append(out, fmt.Sprintf("%s %s, %s", e.Of, what, c.Words.Instant(e.Entry.At)))
	}
	return out
}
