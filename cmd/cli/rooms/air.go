package rooms

import (
	"github.com/spf13/cobra"

	"rindkeep/cave/air"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/cli/console"
)

func logCmd(c *console.Console) *cobra.Command {
	var q rooms.Read
	cmd := c.Cmd("log ROOM TEMP RH", "Note a room's temperature and humidity", `
rindkeep air log cellar 12.1C 86%
rindkeep air log fridge 45F 81% --at 07:30`, console.Exactly("ROOM", "TEMP", "RH"),
		func(_ *cobra.Command, args []string) error {
			f := c.Figures()
			q.Room, q.Temp, q.RH = args[0], f.Temp("TEMP", args[1]), f.Percent("RH", args[2])
			if f.Err != nil {
				return f.Err
			}
			d, err := console.Surely(c, rooms.LogAir, &q, &q.Sure)
			r, done, err := console.Recorded(c, d, err, c.Words.FillNoted)
			if done {
				return err
			}
			if r.NoChange {
				c.Print("no change, noted already\n")
				return nil
			}
			p, read := c.Words, r.Reading.RH
			c.Print("%s  %s, %s humidity, dew point %s\n", r.Room, p.Temp(q.Temp), p.RH(r.Corrected.RH), p.Temp(r.Dew))
			if r.Corrected.RH != read {
				c.Print("  the hygrometer read %s; %+.1f points by its last test\n", p.RH(read), (r.Corrected.RH - read).Percent())
			}
			if r.Out != nil {
				c.Print("  OUT OF LIMITS: %s\n", *r.Out)
			}
			c.Cautions(r.Cautions)
			return nil
		})
	cmd.Flags().BoolVar(&q.Sure, "sure", false, "record it although it looks wrong, or ends a safety hold")
	whyFlag(cmd, &q.Why)
	return c.CompletesArgs(cmd, roomNames)
}

func cancelCmd(c *console.Console) *cobra.Command {
	var why string
	var sure bool
	cmd := c.Cmd("strike ROOM TIME", "Cancel a reading. It stays in the history but no longer counts", `
rindkeep air strike cellar "2026-11-25 08:10" --why "12 C, not 2 C"
rindkeep air strike cellar last --why "read the wrong dial"`, console.Exactly("ROOM", "TIME"),
		func(_ *cobra.Command, args []string) error {
			d, err := console.AskedAgain(c, func(yes bool) (app.Did[rooms.Cancelled], error) {
				return rooms.CancelAir(c.Ctx, c.App, c.Caller(), args[0], args[1], why, sure || yes)
			})
			r, done, err := console.Recorded(c, d, err)
			if done {
				return err
			}
			rd := r.Reading
			c.Print("cancelled: %s  %s, %s at %s\n", r.Room, c.Words.Temp(rd.Temp), c.Words.RH(rd.RH),
				rd.At.Format("2006-01-02 15:04"))
			return nil
		})
	cmd.Flags().StringVar(&why, "why", "", "the `REASON`")
	cmd.Flags().BoolVar(&sure, "sure", false, "cancel it although that ends a safety hold")
	return c.CompletesArgs(cmd, roomNames)
}

func whyFlag(cmd *cobra.Command, why *string) {
	cmd.Flags().StringVar(why, "why", "", "`REASON`, if a safety hold ends with it")
}

func testCmd(c *console.Console) *cobra.Command {
	var q rooms.Hygrometer
	cmd := c.Cmd("test SALT READING", "Check a hygrometer over a saturated salt, and keep its offset", `
rindkeep air test NaCl 78% --room cellar --temp 12C
rindkeep air test KCl 84% --temp 20C                 only calculates`, console.Exactly("SALT", "READING"),
		func(_ *cobra.Command, args []string) error {
			f := c.Figures()
			q.Salt = console.Read(f, "SALT", args[0], air.ParseSalt)
			q.Read = f.Percent("READING", args[1])
			if f.Err != nil {
				return f.Err
			}
			d, err := rooms.TestHygrometer(c.Ctx, c.App, c.Caller(), q)
			r, done, err := console.Recorded(c, d, err)
			if done {
				return err
			}
			x := r.Test
			c.Print("over %s (%s) at %s the air holds %.1f %%, good to 2 points; "+
				"the hygrometer read %.1f %%: add %+.1f points\n",
				r.Name, r.Salt, c.Words.Temp(x.Temp), x.True.Percent(), x.Read.Percent(), x.Offset.Percent())
			if q.Room != "" {
				c.Print("kept for %s: readings from now on are corrected by it\n", q.Room)
			} else {
				c.Next("to keep it, name the room of that hygrometer with --room")
			}
			return nil
		})
	cmd.Flags().StringVar(&q.Room, "room", "", "`ROOM` of the hygrometer: keep the offset")
	console.Figure(cmd.Flags(), &q.Temp, console.Temp, "temp", "20C", "`TEMPERATURE` of the test")
	c.Completes(cmd, "room", console.RoomNames)
	return c.CompletesArgs(cmd, func(_ *app.Session, nth int, _ string) []string {
		if nth > 0 {
			return nil
		}
		return app.Each(air.Salts(), func(k air.Salt) string { return k.Formula })
	})
}
