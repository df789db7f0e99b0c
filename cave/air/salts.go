package air

import (
	"cmp"
	"math"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Salt is a salt whose saturated solution keeps the air above it at a known
// humidity, a cheap way to check a hygrometer.
type Salt struct {
	Name    string // "sodium chloride"
	Formula string // "NaCl"
	a, b    float64
}

// salts: percent RH = A exp(B/T), T in kelvin. Source: CRC Handbook of
// Chemistry and Physics, fit for saturated salt solutions, good to 2 % RH.
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
	return Salt{}, reason.Err(reason.Unknown{What: "salt", Word: s, Known: "NaCl, KCl, K2SO4"})
}

// RH is the relative humidity over the saturated solution at a temperature of 0
// to 50 C (our own bounds), good to 0.02 (CRC's own statement). NaCl at 12 C gives
// 0.755.
func (k Salt) RH(t quantity.Celsius) (quantity.Fraction, error) {
	return quantity.FromPercent(k.a * math.Exp(k.b/t.Kelvin())), reason.Within("salt-check-temp", t, 0, 50)
}

// FarOff is a hygrometer too far off to correct.
type FarOff struct {
	Read quantity.Fraction `json:"read_pct"`
	True quantity.Fraction `json:"true_pct"`
	Salt string            `json:"salt"`
}

// Code is hygrometer-far-off.
func (FarOff) Code() string { return "hygrometer-far-off" }

// Offset is what to add to a hygrometer's readings, from one it gave over the
// saturated salt. More than 0.15 (our choice) is refused: then you can't trust that
// hygrometer, or that salt.
func (k Salt) Offset(reading quantity.Fraction, t quantity.Celsius) (quantity.Fraction, error) {
	want, err := k.RH(t)
	if err := cmp.Or(err, reason.Within("humidity", reading, 0, 1)); err != nil {
		return 0, err
	}
	off := want - reading
	if math.Abs(float64(off)) > 0.15 {
		return 0, reason.Err(FarOff{reading, want, k.Formula})
	}
	return off, nil
}
