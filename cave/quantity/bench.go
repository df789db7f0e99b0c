package quantity

import (
	"fmt"
	"strings"
	"time"
)

// Units of pressure in pascals, exact by definition: standard gravity (9.80665 m/s2,
// from memory) acts on a kilogram over a square centimetre and on a pound over a
// square inch. The largest pressure and leverage are our choice.
const (
	KilopascalPa    Pascals = 1000
	BarPa           Pascals = 100_000
	KilogramPerCm2  Pascals = 9.80665 / 1e-4
	PoundPerInch2   Pascals = gramsPerPound / 1000 * 9.80665 / (0.0254 * 0.0254)
	maxPressure     Pascals = 1e7
	largestLeverage         = 1000
)

// ParsePressure reads a pressure: 40kPa, 0.4kg/cm2, 6psi, 0.4bar, 40000Pa; a
// bare number is kilopascals, or psi in imperial units. It must be over 0 and at
// most 10 MPa.
func (u Units) ParsePressure(s string) (Pascals, error) {
	n, err := withUnit(strings.ReplaceAll(s, "²", "2"), u.bare().pressure, []unit{
		{"kgf/cm2", float64(KilogramPerCm2)}, {"kg/cm2", float64(KilogramPerCm2)}, {"psi", float64(PoundPerInch2)},
		{"kpa", float64(KilopascalPa)}, {"bar", float64(BarPa)}, {"pa", 1},
	})
	if err != nil {
		return 0, orSpecific(err, fmt.Errorf("%q is not a pressure; write 40kPa, 0.4kg/cm2 or 6psi", s))
	}
	if !(n > 0 && n <= float64(maxPressure)) {
		return 0, fmt.Errorf("pressure %q is out of range; a bare number is %s", s, u.bare().pressureName)
	}
	return Pascals(n), nil
}

// ParseRatio reads a ratio, such as a press's leverage: 4, 4:1 or 2.5. It must be
// over 0 and at most 1000.
func ParseRatio(s string) (float64, error) {
	w, one, pair := strings.Cut(strings.TrimSpace(s), ":")
	n, err := Number(w)
	if err == nil && pair {
		var d float64
		if d, err = Number(one); err == nil {
			n /= d
		}
	}
	if err != nil {
		return 0, orSpecific(err, fmt.Errorf("%q is not a ratio; write 4 or 4:1", s))
	}
	if !(n > 0 && n <= largestLeverage) {
		return 0, fmt.Errorf("ratio %q is out of range; write 4 or 4:1", s)
	}
	return n, nil
}

// ParseDegrees reads the degrees of a hydrometer from 0 to 200 (our own bounds): 19,
// 19.5 or 19,5.
func ParseDegrees(s string) (float64, error) {
	n, err := Number(s)
	if err != nil {
		return 0, orSpecific(err, fmt.Errorf("%q is not a reading in degrees; write 19 or 19.5", s))
	}
	if !(n >= 0 && n <= 200) {
		return 0, fmt.Errorf("%q is out of range; degrees run from 0 to 200", s)
	}
	return n + 0, nil // -0 is 0
}

// In gives the pressure in another unit of pressure.
func (p Pascals) In(unit Pascals) float64 { return float64(p / unit) }

// ParseSeconds reads how long something was held, in seconds: 15s, 30min, 1.5h; a bare
// number is seconds. It must be over 0 and at most a day.
func ParseSeconds(s string) (float64, error) {
	w := strings.ToLower(strings.ReplaceAll(strings.TrimSpace(s), " ", ""))
	w = strings.Replace(strings.Replace(w, "min", "m", 1), ",", ".", 1)
	if w != "" && w[len(w)-1] >= '0' && w[len(w)-1] <= '9' {
		w += "s"
	}
	d, err := time.ParseDuration(w)
	if err != nil {
		return 0, fmt.Errorf("%q is not a time; write 15s or 30min", s)
	}
	if d <= 0 || d > 24*time.Hour {
		return 0, fmt.Errorf("time %q is out of range; a bare number is seconds", s)
	}
	return d.Seconds(), nil
}
