package quantity

import (
	"fmt"
	"math"
	"strings"
)

// Pressures people read, in pascals, exact by their definitions: the standard
// gravity of CGPM 1901 (9.80665 m/s2) on a kilogram over a square centimetre,
// and on a pound over a square inch.
const (
	KilopascalPa    Pascals = 1000
	BarPa           Pascals = 100_000
	KilogramPerCm2  Pascals = 9.80665 / 1e-4
	PoundPerInch2   Pascals = gramsPerPound / 1000 * 9.80665 / (0.0254 * 0.0254)
	maxPressure     Pascals = 1e7
	MaxBulk         Grams   = 1e9 // the most that ParseBulk reads: 1000 t
	largestLeverage         = 1000
)

// ParsePressure reads a pressure: 40kPa, 0.4kg/cm2, 6psi, 0.4bar, 40000Pa; a
// bare number is kilopascals. It must be over 0 and at most 10 MPa.
func ParsePressure(s string) (Pascals, error) {
	n, err := withUnit(strings.ReplaceAll(s, "²", "2"), float64(KilopascalPa), []unit{
		{"kgf/cm2", float64(KilogramPerCm2)}, {"kg/cm2", float64(KilogramPerCm2)}, {"psi", float64(PoundPerInch2)},
		{"kpa", float64(KilopascalPa)}, {"bar", float64(BarPa)}, {"pa", 1},
	})
	if err != nil {
		return 0, orUnclear(err, fmt.Errorf("%q is not a pressure; write 40kPa, 0.4kg/cm2 or 6psi", s))
	}
	if !(n > 0 && n <= float64(maxPressure)) {
		return 0, fmt.Errorf("pressure %q is out of range; a bare number is kPa", s)
	}
	return Pascals(n), nil
}

// ParseRatio reads how many times something is: 4, 4:1 or 2.5. It must be over
// 0 and at most 1000.
func ParseRatio(s string) (float64, error) {
	w, one, pair := strings.Cut(strings.TrimSpace(s), ":")
	n, err := number(w)
	if err == nil && pair {
		var d float64
		if d, err = number(one); err == nil {
			n /= d
		}
	}
	if err != nil {
		return 0, orUnclear(err, fmt.Errorf("%q is not a ratio; write 4 or 4:1", s))
	}
	if !(n > 0 && n <= largestLeverage) {
		return 0, fmt.Errorf("ratio %q is out of range; write 4 or 4:1", s)
	}
	return n, nil
}

// ParseBulk reads a mass as ParseWeight does, but goes on to 1000 t: 1200kg,
// 2t. It is for milk, curd and a whole make's cheese; a bare number is grams.
func ParseBulk(s string) (Grams, error) {
	w := strings.ToLower(strings.TrimSpace(s))
	if strings.HasSuffix(w, "oz") {
		return ParseWeight(s)
	}
	n, err := withUnit(s, 1, []unit{{"kg", 1000}, {"lbs", gramsPerPound}, {"lb", gramsPerPound}, {"grams", 1}, {"g", 1}, {"t", 1e6}})
	if err != nil {
		return 0, orUnclear(err, fmt.Errorf("%q is not a weight; write 10200g, 10.2kg, 22lb or 1.2t", s))
	}
	if !(n > 0 && n <= float64(MaxBulk)) || math.IsNaN(n) {
		return 0, fmt.Errorf("weight %q is out of range; give more than 0 and at most 1000t; a bare number is grams", s)
	}
	return Grams(n), nil
}

// ParseDegrees reads degrees of a hydrometer: 19, 19.5 or 19,5. They must lie
// from 0 to 200.
func ParseDegrees(s string) (float64, error) {
	n, err := number(s)
	if err != nil {
		return 0, orUnclear(err, fmt.Errorf("%q is not a reading in degrees; write 19 or 19.5", s))
	}
	if !(n >= 0 && n <= 200) {
		return 0, fmt.Errorf("%q is out of range; degrees run from 0 to 200", s)
	}
	return n + 0, nil // -0 is 0
}

// In counts the pressure in another unit of pressure.
func (p Pascals) In(unit Pascals) float64 { return float64(p / unit) }
