//go:build man

package cli

import (
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"rindkeep/cmd/cli/console"
)

func init() { forReleases = append(forReleases, manCmd) }

// manCmd writes the man pages, one for each command, for a release. Their date is the commit's, so that the same
// commit gives the same pages. Only a program that's built with this tag knows it: what it's written with would
// take half a millisecond of each command's start.
func manCmd(c *console.Console, root *cobra.Command) *cobra.Command {
	cmd := c.NowCmd("man FOLDER", "Write the man pages into a folder", "\nrindkeep man man1", console.Exactly("FOLDER"),
		func(_ *cobra.Command, args []string) error {
			_, at := stamp()
			when, err := time.Parse(time.RFC3339, at)
			if err != nil {
				when = c.Env.Now()
			}
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return err
			}
			for _, x := range allCommands(root) {
				x.DisableAutoGenTag = true
				x.Example = strings.TrimRight(x.Example, "\n")
			}
			return doc.GenManTree(root, &doc.GenManHeader{Section: "1", Date: &when, Source: "rindkeep " + Version,
				Manual: "rindkeep"}, args[0])
		})
	cmd.Hidden = true
	return cmd
}
