package air

import (
	"fmt"
	"math"
	"strings"

	"rindkeep/cave/quantity"
)

// Salt is a salt whose saturated solution keeps the air above it at a known
// humidity, a cheap way to check a hygrometer.
type Salt struct {
	Name    string // "sodium chloride"
	Formula string // "NaCl"
	a, b    float64
}

// salts: percent RH = A exp(B/T), T in kelvin. Source: CRC Handbook of
// Chemistry and Physics, fit for saturated salt solutions, good to 2 %.
var salts = []Salt{
	{"sodium chloride", "NaCl", 69.20, 25},
	{"potassium chloride", "KCl", 49.38, 159},
	{"potassium sulfate", "K2SO4", 86.75, 34},
}

// Salts lists the known salts, driest first.
func Salts() []Salt { return append([]Salt(nil), salts...) }

// ParseSalt finds a salt by formula or name.
func ParseSalt(s string) (Salt, error) {
	for _, k := range salts {
		if strings.EqualFold(s, k.Formula) || strings.EqualFold(s, k.Name) {
			return k, nil
		}
	}
	return Salt{}, fmt.Errorf("no salt %q; give NaCl, KCl or K2SO4", s)
}

// RH is the relative humidity over the saturated solution at a temperature of 0
// to 50 C, good to 0.02 (CRC's own statement). NaCl at 12 C gives 0.755.
func (k Salt) RH(t quantity.Celsius) (quantity.Fraction, error) {
	if !(t >= 0 && t <= 50) {
		return 0, fmt.Errorf("a salt check at %.4g C is out of range; do it at 0 to 50 C", float64(t))
	}
	return quantity.FromPercent(k.a * math.Exp(k.b/t.Kelvin())), nil
}

// Offset is what to add to a hygrometer's readings, from one it gave over the
// saturated salt. More than 0.15 is refused: then you can't trust that
// hygrometer, or that salt.
func (k Salt) Offset(reading quantity.Fraction, t quantity.Celsius) (quantity.Fraction, error) {
	want, err := k.RH(t)
	if err != nil {
		return 0, err
	}
	if !(reading >= 0 && reading <= 1) {
		return 0, fmt.Errorf("relative humidity of %.4g %% is out of range; give 0 to 100 %%", reading.Percent())
	}
	off := want - reading
	if math.Abs(float64(off)) > 0.15 {
		return 0, fmt.Errorf("the hygrometer reads %.1f %% where %s gives %.1f %%: too far off to correct",
			reading.Percent(), k.Formula, want.Percent())
	}
	return off, nil
}
