package work

import (
	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
)

// AirQuestion asks what a temperature and a humidity mean. The humidity is given in
// one of three ways.
type AirQuestion struct {
	Temp     quantity.Celsius
	RH       *quantity.Fraction
	WetBulb  *quantity.Celsius
	DewPoint *quantity.Celsius

	Pressure quantity.Pascals
	Altitude *float64 // metres above the sea, instead of Pressure

	Movement air.Movement      // of the air at the wheel
	Activity quantity.Fraction // water activity of a wet rind
}

// Air is the answer to an AirQuestion.
type Air struct {
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
	Basis
}

// Altitude refuses an altitude, in metres, that the pressure formula doesn't reach.
type Altitude struct {
	Metres float64 `json:"altitude_m"`
}

func (Altitude) Code() string { return "altitude-out-of-range" }

// AirOf works out what an air means, for a wheel lying in it as well.
func AirOf(q AirQuestion) (Air, error) {
	s, err := q.state()
	if err != nil {
		return Air{}, err
	}
	p, err := air.Of(s)
	if err != nil {
		return Air{}, err
	}
	wet, err := air.SurfaceBalance(air.Surface{
		Activity: q.Activity, Air: s, Convection: q.Movement.Convection(), Radiation: air.Radiation(s.Temp),
	})
	r := Air{
		Schema: app.Schema("work-air"), Temp: app.Num(s.Temp), RH: app.PctNum(s.RH), Pressure: app.Num(s.Pressure),
		Saturation: app.Num(p.Saturation), Vapour: app.Num(p.Vapour), DewPoint: app.Num(p.DewPoint),
		WetBulb: app.Num(p.WetBulb), HumidityRatio: app.Num(p.HumidityRatio), Deficit: app.Num(p.Deficit),
		Absolute: app.Num(p.AbsoluteGM3), SurfaceTemp: app.Num(wet.Temp), SurfaceFlux: app.Num(wet.FluxGM2Day),
	}
	r.uses("saturation", "vapour", "wet-bulb", "humidity-ratio", "absolute-humidity", "wet-surface")
	return r, err
}

// state is the air asked about.
func (q AirQuestion) state() (air.State, error) {
	s := air.State{Temp: q.Temp, Pressure: q.Pressure}
	if q.Altitude != nil {
		if !(*q.Altitude >= -500 && *q.Altitude <= 11000) {
			return s, app.Misuse("altitude", Altitude{*q.Altitude})
		}
		s.Pressure = air.PressureAtAltitude(*q.Altitude)
	}
	switch {
	case q.WetBulb != nil:
		return air.FromWetBulb(s.Temp, *q.WetBulb, s.Pressure)
	case q.DewPoint != nil:
		return air.FromDewPoint(s.Temp, *q.DewPoint, s.Pressure)
	case q.RH != nil:
		s.RH = *q.RH
	}
	return s, nil
}
