package sheets

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/cli/console"
	roundcmd "rindkeep/cmd/cli/round"
	"rindkeep/cmd/sheet"
)

func todayCmd(c *console.Console) *cobra.Command {
	var f Flags
	var day roundcmd.DayFlags
	q := round.Asked{Together: true}
	cmd := c.Cmd("today", "The day's list for a clipboard, with boxes to tick and room for weights", `
rindkeep sheet today                         writes today-2026-11-25.pdf
rindkeep sheet today --on tomorrow --large
rindkeep sheet today --room cellar --out cellar.pdf --paper letter
rindkeep sheet today --out - | lp`, console.NoArgs, func(*cobra.Command, []string) (err error) {
		if err = day.Read(&q); err != nil {
			return err
		}
		if q.Share.Of > 0 && q.Share.Nth == 0 {
			return app.Misuse("share", round.BadShare{Text: q.Share.String()})
		}
		return Write(c, &f, func(s *app.Session, h sheet.Head) (Printed, error) {
			draw, on, err := sheet.GatherDay(s, c.Words, h, q)
			return Printed{Draw: draw, Name: FileName("today", on)}, err
		})
	})
	f.Add(cmd)
	day.Add(c, cmd)
	return cmd
}
