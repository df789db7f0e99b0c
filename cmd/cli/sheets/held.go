package sheets

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/sheet"
)

func heldCmd(c *console.Console) *cobra.Command {
	var f Flags
	cmd := c.NowCmd("held [WHAT...]", "What is held and why, since when, and what would end it", `
rindkeep sheet held
rindkeep sheet held cellar/B --large`, cobra.ArbitraryArgs, func(_ *cobra.Command, args []string) error {
		return Write(c, &f, func(s *app.Session, h sheet.Head) (Printed, error) {
			d, err := wheels.GatherHeld(s, wheels.WhichHeld{What: args})
			if err != nil {
				return Printed{}, err
			}
			c.Words.FillHeld(&d)
			draw := func() (sheet.Doc, error) { return sheet.HeldSheet(h, sheet.HeldOf(c.Words, d)) }
			return Printed{Draw: draw, Name: FileName("held", d.Date)}, nil
		})
	})
	f.Add(cmd)
	return c.CompletesWhat(cmd)
}
