package air

import (
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// OverAir is a dew point or wet bulb over the temperature of its air.
type OverAir struct {
	What reason.Thing     `json:"what"`
	Temp quantity.Celsius `json:"temp_c"`
	Air  quantity.Celsius `json:"air_c"`
}

// UnderDry is a wet bulb lower than dry air could give.
type UnderDry struct {
	WetBulb quantity.Celsius `json:"wet_bulb_c"`
	Air     quantity.Celsius `json:"air_c"`
}

func (OverAir) Code() string  { return "over-the-air" }
func (UnderDry) Code() string { return "under-dry-air" }

// FromDewPoint gives the air that has this temperature and dew point. It refuses
// a dew point over the temperature and what State.Check refuses.
func FromDewPoint(temp, dew quantity.Celsius, pressure quantity.Pascals) (State, error) {
	if !(dew <= temp+1e-6) {
		return State{}, reason.Err(OverAir{"dew-point", dew, temp})
	}
	s := State{Temp: temp, Pressure: pressure}
	if err := s.Check(); err != nil {
		return State{}, err
	}
	s.RH = quantity.Fraction(math.Min(1, float64(SaturationPressure(dew)/SaturationPressure(temp))))
	return s, nil
}

// FromWetBulb gives the air that has this temperature and wet bulb temperature,
// as read from a sling psychrometer. It refuses a wet bulb over the temperature
// or lower than dry air could give, and what State.Check refuses.
func FromWetBulb(temp, wet quantity.Celsius, pressure quantity.Pascals) (State, error) {
	if !(wet <= temp+1e-6) {
		return State{}, reason.Err(OverAir{"wet-bulb", wet, temp})
	}
	s := State{Temp: temp, Pressure: pressure}
	if err := s.Check(); err != nil {
		return State{}, err
	}
	p := float64(s.pressure())
	w := ratioAtWetBulb(float64(temp), float64(wet), p)
	if !(w >= 0) {
		return State{}, reason.Err(UnderDry{wet, temp})
	}
	e := p * w / (massRatio + w)
	s.RH = quantity.Fraction(math.Min(1, e/float64(SaturationPressure(temp))))
	return s, nil
}

// Warmed is the same air at another temperature and the same vapour pressure, as
// a heater leaves it. Cooled past saturation, its RH is 1.
func Warmed(s State, to quantity.Celsius) State {
	e := float64(VapourPressure(s))
	rh := e / float64(SaturationPressure(to))
	return State{Temp: to, RH: quantity.Fraction(math.Min(1, rh)), Pressure: s.Pressure}
}
