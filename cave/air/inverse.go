package air

import (
	"fmt"
	"math"

	"rindkeep/cave/quantity"
)

// FromDewPoint gives the air that has this temperature and dew point. It refuses
// a dew point over the temperature and what State.Check refuses.
func FromDewPoint(temp, dew quantity.Celsius, pressure quantity.Pascals) (State, error) {
	if !(dew <= temp+1e-6) {
		return State{}, fmt.Errorf("dew point of %.4g C is over the air's %.4g C; it cannot be", float64(dew), float64(temp))
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
		return State{}, fmt.Errorf("wet bulb of %.4g C is over the air's %.4g C; it cannot be", float64(wet), float64(temp))
	}
	s := State{Temp: temp, Pressure: pressure}
	if err := s.Check(); err != nil {
		return State{}, err
	}
	p := float64(s.pressure())
	w := ratioAtWetBulb(float64(temp), float64(wet), p)
	if !(w >= 0) {
		return State{}, fmt.Errorf("wet bulb of %.4g C is lower than dry air at %.4g C could give",
			float64(wet), float64(temp))
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
