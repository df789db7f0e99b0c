package drying

import (
	"math"
	"testing"
)

func TestSlopesAreThoseOfTheCurvesBesideIt(t *testing.T) {
	for _, c := range []struct {
		name  string
		coats []CoatOn
		th    [3]float64
	}{
		{"a bare wheel", nil, [3]float64{0, 0, 0}},
		{"a bare wheel far from the physics", nil, [3]float64{0.6, -0.5, 0}},
		{"a wheel in wax that holds", []CoatOn{{8, Wax}}, [3]float64{0.1, 0.1, 0.05}},
		{"a wheel in wax that leaks", []CoatOn{{8, Wax}}, [3]float64{-0.2, 0.1, 0.8}},
		{"a wheel oiled, then waxed", []CoatOn{{3, Oil}, {12, Wax}}, [3]float64{0, 0.1, 0.3}},
	} {
		co := newCourse(Cheese{Green: 2000, Group: Hard}.filled(), cellar, c.coats, 200, 0, 0)
		n := len(co.ends)
		have := co.trace(c.th, n)
		for k := range co.dims() {
			const h = 1e-3
			up, down := c.th, c.th
			up[k] += h
			down[k] -= h
			a, b := co.trace(up, n), co.trace(down, n)
			for i, d := range co.ends {
				want := (a.loss[i] - b.loss[i]) / (2 * h)
				if math.Abs(have.slope[k][i]-want) > 2e-4*math.Abs(want)+2e-6 {
					t.Errorf("%s, log %d, day %.2f: slope %.7f, by differences %.7f", c.name, k, d, have.slope[k][i], want)
					break
				}
			}
		}
	}
}
