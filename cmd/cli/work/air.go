package work

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/work"
	"rindkeep/cmd/cli/console"
)

func airCmd(c *console.Console) *cobra.Command {
	var q work.AirQuestion
	var altitude float64
	calc := calculator{Console: c}
	cmd := c.Cmd("air", "What a temperature and humidity mean", `
rindkeep work air --temp 12 --rh 85
rindkeep work air --temp 12 --wet-bulb 10.6          as a sling psychrometer reads
rindkeep work air --temp 54F --rh 85 --altitude 900`, console.NoArgs, func(cmd *cobra.Command, _ []string) error {
		if cmd.Flags().Changed("altitude") {
			q.Altitude = &altitude
		}
		given := 0
		for _, there := range []bool{q.RH != nil, q.WetBulb != nil, q.DewPoint != nil} {
			if there {
				given++
			}
		}
		switch {
		case q.Altitude != nil && cmd.Flags().Changed("pressure"):
			return console.Usagef("give --pressure or --altitude, not both")
		case given > 1:
			return console.Usagef("give one of --rh, --wet-bulb and --dew-point")
		case given == 0:
			return console.Usagef("--rh is missing (or --wet-bulb, or --dew-point)")
		}
		r, err := work.AirOf(q)
		return calc.print(&r, err, func() { printAir(c, q, r) })
	})
	f := cmd.Flags()
	console.Needed(f, &q.Temp, console.Temp, "temp", "air `TEMPERATURE`")
	console.Maybe(f, &q.RH, console.Percent, "rh", "relative humidity, `PERCENT`")
	console.Maybe(f, &q.WetBulb, console.Temp, "wet-bulb", "instead of --rh: `TEMPERATURE` of a wet bulb")
	console.Maybe(f, &q.DewPoint, console.Temp, "dew-point", "instead of --rh: `TEMPERATURE` of the dew point")
	console.NumberVar(f, (*float64)(&q.Pressure), "pressure", float64(air.StandardPressure), "air pressure in `PASCALS`")
	console.NumberVar(f, &altitude, "altitude", 0, "instead of --pressure: `METRES` above the sea")
	console.Figure(f, &q.Movement, console.As(air.ParseMovement), "air", "gentle",
		"air movement at the wheel: `still|gentle|brisk`")
	console.Figure(f, &q.Activity, console.Percent, "activity", "95%", "water activity of a wet rind, `PERCENT`")
	calc.flag(cmd)
	return cmd
}

func printAir(c *console.Console, q work.AirQuestion, r work.Air) {
	temp := func(t *float64) string { return c.Units.Temp(quantity.Celsius(*t)) }
	t := figures(0)
	if q.RH == nil {
		t.Add("relative humidity", fmt.Sprintf("%.1f %%", *r.RH), "")
	}
	t.Add("dew point", temp(r.DewPoint), "a wheel colder than this sweats")
	t.Add("wet bulb", temp(r.WetBulb), "")
	t.Add("saturation pressure", fmt.Sprintf("%.1f Pa", *r.Saturation), "Hyland and Wexler (ASHRAE)")
	t.Add("vapour pressure", fmt.Sprintf("%.1f Pa", *r.Vapour), "")
	t.Add("deficit", fmt.Sprintf("%.1f Pa", *r.Deficit), "what draws water out of a wheel")
	t.Add("humidity ratio", fmt.Sprintf("%.5f kg/kg", *r.HumidityRatio), "vapour per dry air")
	t.Add("absolute humidity", fmt.Sprintf("%.2f g/m3", *r.Absolute), "")
	t.Add("a wet rind in it", temp(r.SurfaceTemp), fmt.Sprintf("cooled by drying, in %s air", q.Movement))
	t.Add("and gives off", c.Words.Evaporation(*r.SurfaceFlux), "until it has dried")
	c.Table(t)
}
