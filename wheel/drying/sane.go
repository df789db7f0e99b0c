package drying

import (
	"math"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
)

// oldest is the most that a cheese can have dried before it is first weighed, days.
// Our own bound.
const oldest = 3650

// clampTo brings v into lo..hi; not a number gives def.
func clampTo(v, lo, hi, def float64) float64 {
	if math.IsNaN(v) {
		return def
	}
	return math.Min(math.Max(v, lo), hi)
}

// sane brings a cheese to the nearest that the model can use, by the bounds of
// Cheese.Check: our own.
func sane(c Cheese) Cheese {
	if _, ok := defaults[c.Group]; !ok {
		c.Group = Hard
	}
	c.Green = quantity.Grams(clampTo(float64(c.Green), 5, 500000, 1000))
	unless0 := func(f quantity.Fraction, lo, hi float64) quantity.Fraction {
		if f == 0 {
			return 0
		}
		return quantity.Fraction(clampTo(float64(f), lo, hi, 0))
	}
	c.Moisture = unless0(c.Moisture, 0.15, 0.9)
	c.Fat = unless0(c.Fat, 0.001, 0.8)
	c.Salt = unless0(c.Salt, 0.0001, 0.12)
	c.MoistureSD = unless0(c.MoistureSD, 0.0001, 0.2)
	c.Age = clampTo(c.Age, 0, oldest, 0)
	return c
}

// saneAir brings spans into the range the physics covers; what is no number becomes our
// default, as defaultAir.
func saneAir(spans []Span) []Span {
	ok := true
	for _, s := range spans {
		ok = ok && s.Air.Check() == nil && !math.IsNaN(s.FromDay)
	}
	if ok {
		return spans
	}
	out := make([]Span, 0, len(spans))
	for _, s := range spans {
		if math.IsNaN(s.FromDay) {
			continue
		}
		s.Air.Temp = quantity.Celsius(clampTo(float64(s.Air.Temp), float64(air.MinTemp), float64(air.MaxTemp), 12))
		s.Air.RH = quantity.Fraction(clampTo(float64(s.Air.RH), 0, 1, 0.85))
		if s.Air.Check() != nil {
			s.Air.Pressure = 0
		}
		out = append(out, s)
	}
	return out
}

// saneCoats drops coats put on at no day.
func saneCoats(coats []CoatOn) []CoatOn {
	out := make([]CoatOn, 0, len(coats))
	for _, c := range coats {
		if !math.IsNaN(c.Day) && !math.IsInf(c.Day, 0) {
			out = append(out, c)
		}
	}
	return out
}
