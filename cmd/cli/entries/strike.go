// Package entries has the commands about entries of every kind: the log, and strike.
package entries

import (
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/entries"
	"rindkeep/cmd/cli/console"
)

// Commands are log and strike.
func Commands(c *console.Console) []*cobra.Command { return []*cobra.Command{strikeCmd(c), logCmd(c)} }

func strikeCmd(c *console.Console) *cobra.Command {
	var q entries.ToStrike
	var sure bool
	cmd := c.Cmd("strike ENTRY...", "Cancel entries. They stay in the history, crossed out, but no longer count", `
rindkeep strike 261120A-03:9f3c1a --why "mis-keyed"      by its code, from wheel show
rindkeep strike 261120A:3a1e77 --why "wrong vat"         by its code, from make show
rindkeep strike last --why "wrong shelf"                 everything the last command wrote
rindkeep strike 0193a5c0-7b1e-7c3a-9f10-2b7d4e9f3c1a --why "wrong wheel"   by its ID, or the --id it was sent under`,
		console.AtLeast("ENTRY"), func(_ *cobra.Command, args []string) error {
			q.Entries = args
			did, err := console.AskedAgain(c, func(yes bool) (app.Did[entries.Struck], error) {
				q.Sure = sure || yes
				return entries.Strike(c.Ctx, c.App, c.Caller(), q)
			})
			return console.Done(c, did, err, struck)
		})
	cmd.Flags().StringVar(&q.Why, "why", "", "the `REASON`")
	cmd.Flags().BoolVar(&sure, "sure", false, "cancel a safety hold without being asked again")
	return cmd
}

// mostStruck is how many entries are named after they were struck.
const mostStruck = 20

func struck(c *console.Console, d entries.Struck) {
	for i, e := range d.Struck {
		if i == mostStruck {
			c.Print("… and %d more\n", len(d.Struck)-i)
			return
		}
		what := strings.TrimSpace(e.What + " " + c.Words.EntryDetail(e.Entry))
		c.Print("cancelled: %s %s, %s\n", e.Of, what, c.Words.Instant(e.Entry.At))
	}
}
