package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
)

// airSum are the flags of work air. Exactly one of rh, wetBulb and dewPoint
// says how humid the air is.
type airSum struct {
	temp, rh, wetBulb, dewPoint, movement, activity string
	pressure, altitude                              float64
	pressureSaid, altitudeSaid                      bool
}

func (a *app) workAirCmd() *cobra.Command {
	var f airSum
	var ex explaining
	c := a.cmd("air", "What a temperature and humidity mean", `
rindkeep work air --temp 12 --rh 85
rindkeep work air --temp 12 --wet-bulb 10.6          as a sling psychrometer reads
rindkeep work air --temp 54F --rh 85 --altitude 900  or --pressure 95000`, none, func(cmd *cobra.Command, _ []string) error {
		f.pressureSaid, f.altitudeSaid = cmd.Flags().Changed("pressure"), cmd.Flags().Changed("altitude")
		return a.workAir(f, ex)
	})
	fl := c.Flags()
	fl.StringVar(&f.temp, "temp", "", "air `TEMPERATURE`")
	fl.StringVar(&f.rh, "rh", "", "relative humidity, `PERCENT`")
	fl.StringVar(&f.wetBulb, "wet-bulb", "", "instead of --rh: `TEMPERATURE` of a wet bulb")
	fl.StringVar(&f.dewPoint, "dew-point", "", "instead of --rh: `TEMPERATURE` of the dew point")
	fl.Float64Var(&f.pressure, "pressure", float64(air.StandardPressure), "air pressure in `PASCALS`")
	fl.Float64Var(&f.altitude, "altitude", 0, "instead of --pressure: `METRES` above the sea")
	fl.StringVar(&f.movement, "air", "gentle", "air movement at the wheel: `still|gentle|brisk`")
	fl.StringVar(&f.activity, "activity", "95%", "water activity of a wet rind, `PERCENT`")
	ex.add(c)
	return c
}

// state reads the air the flags tell of.
func (f airSum) state() (air.State, error) {
	var s air.State
	var err error
	if s.Temp, err = need("--temp", f.temp, quantity.ParseTemp); err != nil {
		return s, err
	}
	s.Pressure = quantity.Pascals(f.pressure)
	switch {
	case f.altitudeSaid && f.pressureSaid:
		return s, usagef("give --pressure or --altitude, not both")
	case f.altitudeSaid && !(f.altitude >= -500 && f.altitude <= 11000):
		return s, at("--altitude", usagef("an altitude of %.4g m is out of range; give -500 to 11000", f.altitude))
	case f.altitudeSaid:
		s.Pressure = air.PressureAtAltitude(f.altitude)
	}
	said := 0
	for _, w := range []string{f.rh, f.wetBulb, f.dewPoint} {
		if w != "" {
			said++
		}
	}
	if said > 1 {
		return s, usagef("give one of --rh, --wet-bulb and --dew-point")
	}
	switch {
	case f.wetBulb != "":
		t, err := need("--wet-bulb", f.wetBulb, quantity.ParseTemp)
		if err != nil {
			return s, err
		}
		s, err = air.FromWetBulb(s.Temp, t, s.Pressure)
		return s, err
	case f.dewPoint != "":
		t, err := need("--dew-point", f.dewPoint, quantity.ParseTemp)
		if err != nil {
			return s, err
		}
		s, err = air.FromDewPoint(s.Temp, t, s.Pressure)
		return s, err
	}
	s.RH, err = need("--rh", f.rh, quantity.ParsePercent)
	return s, err
}

// workAir says what an air means, for a wheel lying in it as well.
func (a *app) workAir(f airSum, ex explaining) error {
	s, err := f.state()
	if err != nil {
		return err
	}
	m, err := need("--air", f.movement, air.ParseMovement)
	if err != nil {
		return err
	}
	activity, err := need("--activity", f.activity, quantity.ParsePercent)
	if err != nil {
		return err
	}
	p, err := air.Of(s)
	if err != nil {
		return err
	}
	wet, err := air.SurfaceBalance(air.Surface{Activity: activity, Air: s, Convection: m.Convection(), Radiation: air.Radiation(s.Temp)})
	if err != nil {
		return err
	}
	why := ex.of(whySaturation, whyVapour, whyWetBulb, whyRatio, whyAbsolute, whyWetSurface)
	if a.json {
		return a.document(struct {
			Schema        string   `json:"schema"`
			Temp          *float64 `json:"temp_c"`
			RH            *float64 `json:"rh_pct"`
			Pressure      *float64 `json:"pressure_pa"`
			Saturation    *float64 `json:"saturation_pa"`
			Vapour        *float64 `json:"vapour_pa"`
			DewPoint      *float64 `json:"dew_point_c"`
			WetBulb       *float64 `json:"wet_bulb_c"`
			HumidityRatio *float64 `json:"humidity_ratio_kg_kg"`
			Deficit       *float64 `json:"deficit_pa"`
			Absolute      *float64 `json:"absolute_g_m3"`
			SurfaceTemp   *float64 `json:"wet_surface_c"`
			SurfaceFlux   *float64 `json:"wet_surface_g_m2_day"`
			Explain       []reason `json:"explain,omitempty"`
		}{schema("work-air"), num(float64(s.Temp)), pctNum(s.RH), num(float64(s.Pressure)), num(float64(p.Saturation)), num(float64(p.Vapour)), num(float64(p.DewPoint)),
			num(float64(p.WetBulb)), num(p.HumidityRatio), num(float64(p.Deficit)), num(p.AbsoluteGM3), num(float64(wet.Temp)), num(wet.FluxGM2Day), why})
	}
	tb := text.Table{Columns: []text.Column{{}, {Right: true}, {Wrap: true}}}
	if f.rh == "" {
		tb.Add("relative humidity", fmt.Sprintf("%.1f %%", s.RH.Percent()), "")
	}
	tb.Add("dew point", a.units.Temp(p.DewPoint), "a wheel colder than this sweats")
	tb.Add("wet bulb", a.units.Temp(p.WetBulb), "")
	tb.Add("saturation pressure", fmt.Sprintf("%.1f Pa", float64(p.Saturation)), "Hyland and Wexler (ASHRAE)")
	tb.Add("vapour pressure", fmt.Sprintf("%.1f Pa", float64(p.Vapour)), "")
	tb.Add("deficit", fmt.Sprintf("%.1f Pa", float64(p.Deficit)), "what draws water out of a wheel")
	tb.Add("humidity ratio", fmt.Sprintf("%.5f kg/kg", p.HumidityRatio), "vapour per dry air")
	tb.Add("absolute humidity", fmt.Sprintf("%.2f g/m3", p.AbsoluteGM3), "")
	tb.Add("a wet rind in it", a.units.Temp(wet.Temp), fmt.Sprintf("cooled by drying, in %s air", m))
	tb.Add("and gives off", fmt.Sprintf("%.0f g/m2 a day", wet.FluxGM2Day), "until it has dried")
	a.lines(tb.Lines(a.env.Columns()))
	a.explain(why)
	return nil
}
