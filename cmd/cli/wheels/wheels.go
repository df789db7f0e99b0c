// Package wheels has the commands about wheels: what and where they are, what is done
// with them, how they leave.
package wheels

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/cli/console"
)

// Command is wheel with its subcommands.
func Command(c *console.Console) *cobra.Command {
	return console.Group("wheel", "Wheels: list, show, move, plan, hold, core, cut, send",
		listCmd(c), showCmd(c), moveCmd(c), planCmd(c), takeOverCmd(c), tagCmd(c), noteCmd(c), photoCmd(c), coreCmd(c),
		cutCmd(c), holdCmd(c), releaseCmd(c), heldCmd(c), sendCmd(c), lostCmd(c), voidCmd(c))
}
