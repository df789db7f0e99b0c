package rooms

import (
	"cmp"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/cmd/words/entered"
)

func airShowCmd(c *console.Console) *cobra.Command {
	var days int
	var w waterFlags
	var pic console.Picture
	cmd := c.Cmd("show ROOM", "A room's air by day, its hours out of limits, its water load", `
rindkeep air show cellar
rindkeep air show cellar --days 60 --volume 80 --air-change 0.5
rindkeep air show cellar --days 30 --svg air.svg`, console.Exactly("ROOM"),
		func(_ *cobra.Command, args []string) error {
			asked := w.asked
			if err := cmp.Or(asked.Check(), pic.Check(c)); err != nil {
				return err
			}
			asked.Without = asked.Without || pic.Path == "-"
			a, err := rooms.ShowAir(c.Ctx, c.App, c.Caller(), args[0], days, asked)
			if err != nil {
				return err
			}
			if done, err := pic.Put(c, plot.Air(a.Set, a.Points, a.Zone).SVG); err != nil || done {
				return err
			}
			c.Words.FillAir(&a)
			return console.Show(c, a, nil, showAir)
		})
	cmd.Flags().IntVar(&days, "days", 14, "the last `N` days")
	w.add(cmd)
	pic.Flags(cmd)
	return c.CompletesArgs(cmd, roomNames)
}

func showAir(c *console.Console, a rooms.AirShown) {
	p := c.Words
	c.Print("%s  set to %s, %s\n", c.Style("1")(a.Room), p.Temp(a.Set.Temp), p.RH(a.Set.RH))
	if a.Alarm != nil {
		c.Print("ALARM: %s\n", *a.Alarm)
	}
	c.Print("\n")
	if len(a.Days) == 0 {
		c.Print("no readings in these days\n")
		c.Next("note one: rindkeep air log %s 12.1C 86%%   or load a logger: rindkeep air import %s FILE", a.Room, a.Room)
	} else {
		if len(a.Points) > 2 {
			ch := plot.Air(a.Set, a.Points, a.Zone)
			ch.Panels = ch.Panels[1:] // the humidity; the table has the temperature
			c.Lines(ch.Text(c.Env.Columns(), 9))
			c.Lines(ch.Legend(c.Env.Columns()))
			c.Print("\n")
		}
		right := func(title string) text.Column { return text.Column{Title: title, Right: true} }
		t := text.Table{Columns: []text.Column{{Title: "day"}, right("temp min"), right("mean"), right("max"),
			right("humidity min"), right("mean"), right("max"), right("hours out")}}
		temp := func(v float64) string { return p.Temp(quantity.Celsius(v)) }
		rh := func(v float64) string { return fmt.Sprintf("%.0f %%", v) }
		for _, x := range a.Digest.Days {
			t.Add(x.Date.Short(), temp(x.Temp.Min), temp(x.Temp.Mean), temp(x.Temp.Max), rh(x.RH.Min), rh(x.RH.Mean),
				rh(x.RH.Max),
				strconv.FormatFloat(x.HoursOut, 'f', 1, 64))
		}
		c.Table(t)
		if a.Gaps > 0 {
			c.Print("%s of over %s, the longest %s\n", text.Count(a.Gaps, "gap"), p.Span(cave.MaxStand), p.Span(a.Digest.Worst))
		}
	}
	if len(a.Entered) > 0 {
		c.Print("\nentered\n")
		t := text.Facts(2, entered.Lines(a.Entered))
		c.Table(t)
	}
	for _, x := range a.Cancelled {
		c.Print("  %s cancelled by %s: %s\n", words.Minute(x.At), text.Safe(x.By), text.Safe(x.Why))
	}
	c.Print("\n")
	printWater(c, a.Water)
	c.Cautions(a.Cautions)
}
