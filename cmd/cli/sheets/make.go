package sheets

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/sheet"
)

func makeCmd(c *console.Console) *cobra.Command {
	var f Flags
	cmd := c.NowCmd("make LOT", "One make with its wheels, and room to write", `
rindkeep sheet make 261120A
rindkeep sheet make 261120A --paper letter --large`, console.Exactly("LOT"),
		func(_ *cobra.Command, args []string) error {
			return Write(c, &f, func(s *app.Session, h sheet.Head) (Printed, error) {
				d, err := makes.Gather(s, args[0])
				draw := func() (sheet.Doc, error) { return sheet.MakeSheet(h, sheet.MakeOf(c.Words, d)) }
				return Printed{Draw: draw, Name: FileName("make", d.Told.Lot)}, err
			})
		})
	f.Add(cmd)
	return c.CompletesArgs(cmd, func(s *app.Session, _ int, _ string) []string { return console.LotNames(s) })
}
