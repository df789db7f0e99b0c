package sheets

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/sheet"
)

func wheelCmd(c *console.Console) *cobra.Command {
	var f Flags
	var most int
	cmd := c.NowCmd("wheel TAG", "One wheel's card: figures, curve, verdict, what is due, history", `
rindkeep sheet wheel 261120A-03
rindkeep sheet wheel 261120A-03 --history 0 --paper letter`, console.Exactly("TAG"),
		func(_ *cobra.Command, args []string) error {
			return Write(c, &f, func(s *app.Session, h sheet.Head) (Printed, error) {
				d, err := wheels.Gather(s, args[0])
				if err != nil {
					return Printed{}, err
				}
				curves, err := drying.CurvesOf(s, drying.CurveQuestion{What: d.Tag})
				draw := func() (sheet.Doc, error) {
					c.Words.FillWheel(&d)
					return sheet.Wheel(h, sheet.CardOf(c.Words, d, plot.Drying(curves.Wheels), most))
				}
				return Printed{Draw: draw, Name: FileName("wheel", d.Tag)}, err
			})
		})
	f.Add(cmd)
	console.HistoryFlag(cmd, &most)
	return c.CompletesTag(cmd)
}
