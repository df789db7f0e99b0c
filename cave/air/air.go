// Package air is the physics of moist air in a ripening room: how much water a
// wheel can lose to it.
//
// Temperatures are degrees Celsius, pressures pascals, relative humidity a
// fraction of saturation over liquid water (over ice below the triple point),
// humidity ratio kilograms of vapour per kilogram of dry air. It has handbook
// accuracy from -5 to 40 C and accepts -40 to 80 C. Air is treated as an ideal
// mixture: the enhancement factor (0.4 % at room pressure) is left out, as in
// the handbook's own formulas for moist air.
//
// The package knows nothing about wheels, rooms, clocks or files.
package air

import (
	"cmp"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// StandardPressure is the pressure of the standard atmosphere at sea level,
// Pa. Source: ISO 2533 (from memory).
const StandardPressure quantity.Pascals = 101325

// The range of air that is accepted: our own bounds, wider than any ripening room.
const (
	MinTemp quantity.Celsius = -40 // coldest air accepted, C
	MaxTemp quantity.Celsius = 80  // hottest air accepted, C

	minPressure quantity.Pascals = 30000
	maxPressure quantity.Pascals = 120000
)

// Physical constants of moist air.
const (
	// massRatio is the molar mass of water over that of dry air.
	// Source: ASHRAE Fundamentals, psychrometrics (0.621945).
	massRatio = 0.621945
	// vapourGas is the gas constant of water vapour, J/(kg K): 8.314462/0.018015, both
	// from memory.
	vapourGas = 461.5
	// dryAirGas is the gas constant of dry air, J/(kg K), as in ASHRAE Fundamentals
	// (from memory).
	dryAirGas = 287.042
	// triplePoint is where saturation changes from ice to liquid, C: 0.01 (from
	// memory).
	triplePoint = 0.01
)

// State is the air of a room at one time: its temperature, its relative humidity
// (0 to 1) and its pressure. Pressure 0 means StandardPressure.
type State struct {
	Temp     quantity.Celsius
	RH       quantity.Fraction
	Pressure quantity.Pascals
}

// pressure is the pressure with the zero value replaced.
func (s State) pressure() quantity.Pascals {
	if s.Pressure == 0 {
		return StandardPressure
	}
	return s.Pressure
}

// Check refuses a temperature outside -40 to 80 C, a relative humidity outside 0
// to 1 (usually a percentage given as a fraction) and a pressure outside 30 to
// 120 kPa.
func (s State) Check() error {
	return cmp.Or(
		reason.Within("air-temp", s.Temp, MinTemp, MaxTemp),
		reason.Within("humidity", s.RH, 0, 1),
		reason.Within("air-pressure", s.pressure(), minPressure, maxPressure),
	)
}

// Properties are what follows from a State.
type Properties struct {
	Saturation    quantity.Pascals // saturation pressure at the air's temperature
	Vapour        quantity.Pascals // partial pressure of the vapour present
	Deficit       quantity.Pascals // Saturation less Vapour
	DewPoint      quantity.Celsius // -100, the lowest the formula covers, for dry air
	WetBulb       quantity.Celsius // thermodynamic wet bulb
	HumidityRatio float64          // kg of vapour per kg of dry air
	AbsoluteGM3   float64          // g of vapour per cubic metre of air
}

// Of gives the properties of the air, or the error of Check.
func Of(s State) (Properties, error) {
	if err := s.Check(); err != nil {
		return Properties{}, err
	}
	return Properties{
		Saturation:    SaturationPressure(s.Temp),
		Vapour:        VapourPressure(s),
		Deficit:       Deficit(s),
		DewPoint:      DewPoint(s),
		WetBulb:       WetBulb(s),
		HumidityRatio: HumidityRatio(s),
		AbsoluteGM3:   AbsoluteHumidity(s),
	}, nil
}

// VapourPressure is the partial pressure of the vapour in the air, Pa.
func VapourPressure(s State) quantity.Pascals {
	return quantity.Pascals(float64(s.RH) * float64(SaturationPressure(s.Temp)))
}

// Deficit is the vapour pressure deficit, Pa: how much more vapour the air could
// hold. It is not negative for RH from 0 to 1.
func Deficit(s State) quantity.Pascals {
	return SaturationPressure(s.Temp) - VapourPressure(s)
}

// HumidityRatio is the mass of vapour per mass of dry air, kg/kg:
// W = 0.621945 e/(p - e). Source: ASHRAE Fundamentals. It is +Inf if the vapour
// pressure reaches the air's pressure (hot air at high altitude).
func HumidityRatio(s State) float64 {
	return ratioOf(float64(VapourPressure(s)), float64(s.pressure()))
}

func ratioOf(e, p float64) float64 {
	if e >= p {
		return math.Inf(1)
	}
	return massRatio * e / (p - e)
}

// AbsoluteHumidity is the mass of vapour in a volume of air, g/m3. Source:
// ideal gas law with the gas constant of water vapour.
func AbsoluteHumidity(s State) float64 {
	return 1000 * float64(VapourPressure(s)) / (vapourGas * s.Temp.Kelvin())
}

// Density is the density of the moist air, kg/m3. Source: ideal gas law for
// the two parts.
func Density(s State) float64 {
	e := float64(VapourPressure(s))
	t := s.Temp.Kelvin()
	return (float64(s.pressure())-e)/(dryAirGas*t) + e/(vapourGas*t)
}

// LatentHeat is the heat of evaporation of water, J/kg: 2501 - 2.326 t kJ/kg,
// t in C. Source: ASHRAE Fundamentals (as others quote it), as in the wet bulb formula.
func LatentHeat(t quantity.Celsius) float64 { return 1000 * (2501 - 2.326*float64(t)) }

// PressureAtAltitude is the standard pressure at a height above sea level in
// metres, clamped to -500 to 11,000: p = 101325 (1 - 2.25577e-5 z)^5.2559, as in
// ASHRAE Fundamentals (from memory).
func PressureAtAltitude(metres float64) quantity.Pascals {
	z := math.Min(math.Max(metres, -500), 11000)
	return quantity.Pascals(101325 * math.Pow(1-2.25577e-5*z, 5.2559))
}
