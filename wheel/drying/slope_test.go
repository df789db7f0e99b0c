package drying

import (
	"math"
	"testing"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
)

func TestSlopesAreThoseOfTheCurvesBesideIt(t *testing.T) {
	bare, waxed := []CoatOn(nil), []CoatOn{{Day: 8, Coat: Wax}}
	for _, c := range []struct {
		name  string
		coats []CoatOn
		rh    quantity.Fraction
		th    vec
	}{
		{"a bare wheel", bare, 0.85, vec{}},
		{"a bare wheel far from the physics", bare, 0.85, vec{kAir: 0.6, kInside: -0.5}},
		{"a bare wheel in air damper than the book says", bare, 0.85, vec{kDamp: 0.04}},
		{"a bare wheel that hardly dries", bare, 0.95, vec{kAir: 0.2, kDamp: -0.02}},
		{"a bare wheel whose rind closes", bare, 0.85, vec{kInside: 0.2, kClose: 0.3}},
		{"a wheel in wax that holds", waxed, 0.85, vec{kAir: 0.1, kInside: 0.1, kShare: 0.05}},
		{"a wheel in wax that leaks", waxed, 0.85, vec{kAir: -0.2, kInside: 0.1, kShare: 0.8}},
		{"a wheel oiled, then waxed", []CoatOn{{Day: 3, Coat: Oil}, {Day: 12, Coat: Wax}}, 0.85,
			vec{kInside: 0.1, kShare: 0.3}},
	} {
		spans := []Span{{Air: air.State{Temp: 12, RH: c.rh}, Movement: air.Gentle}}
		co := newCourse(Cheese{Green: 2000, Group: Hard}.filled(), spans, c.coats, 200, 0, 0)
		n := len(co.ends)
		play := co.unknowns(true)
		have := co.trace(&c.th, play, n)
		for _, k := range play {
			if k >= bends {
				continue
			}
			const h = 1e-3
			up, down := c.th, c.th
			up[k] += h
			down[k] -= h
			a, b := co.trace(&up, play, n), co.trace(&down, play, n)
			for i, d := range co.ends {
				want := (a.loss[i] - b.loss[i]) / (2 * h)
				if math.Abs(have.slope[k][i]-want) > 4e-4*math.Abs(want)+4e-6 {
					t.Errorf("%s, unknown %d, day %.2f: slope %.7f, by differences %.7f", c.name, k, d, have.slope[k][i], want)
					break
				}
			}
		}
	}
}
