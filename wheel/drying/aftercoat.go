package drying

import (
	"math"

	"rindkeep/cave/quantity"
)

// CoatFactor is the loss since the first coat over what the same wheel would
// have lost bare in that time and air, 90 %: over the days weighed since, or
// over 90 days where they are 14 or fewer (our choice). Exactly 1 for a bare wheel.
// From the coats' usual figures until weights after the coat say better.
func (f Forecast) CoatFactor() quantity.Estimate {
	if !f.course.coated {
		return quantity.Exactly(1)
	}
	return quantity.Estimate{
		Best: f.passes(f.theta[kShare]),
		Low:  f.passes(cutQuantile(f.share[0], f.share[1], 0.05)),
		High: f.passes(cutQuantile(f.share[0], f.share[1], 0.95)),
	}
}

// passes is the share of the bare loss that a coat of a nominal share lets
// through, over the days that CoatFactor takes: our choice.
func (f Forecast) passes(share float64) float64 {
	c := f.course
	until := c.coatAt + 90
	if n := len(f.points); n > 0 && f.points[n-1].day > c.coatAt+14 {
		until = f.points[n-1].day
	}
	n := c.before + c.upTo(until)
	from := c.before - 1
	for i, e := range c.ends[:n-c.before] {
		if e <= c.coatAt+1e-9 {
			from = c.before + i
		}
	}
	out := make([]float64, n)
	p := c.plant.first(n)
	fades := p.fades(&f.theta)
	lost := func(lc float64) float64 {
		p.march(&f.theta, lc, fades, out, nil)
		if from < 0 {
			return out[n-1]
		}
		return out[n-1] - out[from]
	}
	bare := lost(math.Inf(-1))
	if !(bare > 0) {
		return 1
	}
	if share <= 0 {
		return 0
	}
	if share >= 1 {
		return 1
	}
	return math.Min(1, math.Max(0, lost(c.logOf(share))/bare))
}

// Leaking says whether a coated wheel keeps losing more than its coat should
// let through: with at least two weighings later than the day after the coat,
// when what it passes is surely well over what such a coat usually passes (our
// calibration, as leastLeak; never more than 0.95). Of a coat meant to stay open, as
// cloth or oil, it seldom can be told.
func (f Forecast) Leaking() (why Leaks, leaks bool) {
	if !f.course.coated {
		return why, false
	}
	after := 0
	for i := range f.points {
		if p := &f.points[i]; p.of >= 0 && p.day > f.course.coatAt+1 && p.believed() {
			after++
		}
	}
	if after < 2 {
		return why, false
	}
	usual := f.course.usual()
	limit := math.Min(math.Max(leastLeak, usual+0.25*f.course.share[1]), 0.95)
	if cutQuantile(f.share[0], f.share[1], 1-leakSure) < limit {
		return why, false
	}
	have := f.CoatFactor()
	whole := func(x float64) quantity.Fraction { return quantity.Fraction(math.Round(100*x) / 100) }
	return Leaks{whole(have.Best), whole(have.Low), whole(have.High), whole(f.passes(usual))}, true
}

// A coat leaks when what it passes is surely over what it usually passes and
// a quarter of its spread more, and over leastLeak.
//
// Our calibration: TestCoatsThatLeakAreNamed.
const leastLeak, leakSure = 0.35, 0.75
