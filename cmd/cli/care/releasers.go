package care

import (
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

func releasersCmd(c *console.Console) *cobra.Command {
	var q care.Releasers
	cmd := c.NowCmd("releasers [NAME...]", "Set or show who may lift safety holds", `
rindkeep book releasers                         show it
rindkeep book releasers Nora "Mary Byrne" --note "quality, from this month"
rindkeep book releasers --none                  nobody is named`, cobra.ArbitraryArgs,
		func(_ *cobra.Command, args []string) error {
			q.Names = args
			return console.Do(c, care.WhoReleases, q, mayRelease)
		})
	cmd.Long = cmd.Short + `.

Only they may lift a hold by law, or one for a test, a recall or a contamination, and
only they may change this list. The first of them are named by the person who made the book, or
else recorded in it first. Give all the names at once. The command line believes
--by; on a page that people log in to, each is who they logged in as.`
	cmd.Flags().BoolVar(&q.None, "none", false, "name nobody")
	cmd.Flags().StringVar(&q.Note, "note", "", "note to save with it: `TEXT`")
	return cmd
}

func mayRelease(c *console.Console, d care.MayRelease) {
	now := ""
	if d.Changed {
		now = "from now on "
	}
	last := care.MayReleaseLine{}
	if n := len(d.History); n > 0 {
		last = d.History[n-1]
	}
	c.Caution(now + words.MayLift(d.Names, last.By, last.From))
	if len(d.History) > 1 {
		t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}, {}}}
		for _, l := range d.History {
			names := strings.Join(l.Names, ", ")
			if names == "" {
				names = "nobody"
			}
			t.Add(words.Minute(l.From), names, l.Note, l.By)
		}
		c.Table(t)
	}
}
