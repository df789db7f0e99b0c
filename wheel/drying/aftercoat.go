package drying

import (
	"fmt"
	"math"

	"rindkeep/cave/quantity"
)

// CoatFactor is the loss since the first coat over what the same wheel would
// have lost bare in that time and air, 90 %: over the days weighed since, or
// over 90 days where fewer are. Exactly 1 for a bare wheel. From the coats'
// usual figures until weights after the coat say better.
func (f Forecast) CoatFactor() quantity.Estimate {
	if !f.course.coated {
		return quantity.Exactly(1)
	}
	sd := math.Sqrt(f.cov[2][2])
	return quantity.Estimate{
		Best: f.passes(f.theta[2]),
		Low:  f.passes(f.theta[2] + f.z90*sd),
		High: f.passes(f.theta[2] - f.z90*sd),
	}
}

// passes is the share of the bare loss that a coat of resistance exp(lc) lets
// through.
func (f Forecast) passes(lc float64) float64 {
	c := f.course
	until := c.coatAt + 90
	if n := len(f.points); n > 0 {
		until = math.Max(until, f.points[n-1].day)
	}
	to := c.upTo(until) - 1
	from := -1
	for i, e := range c.ends {
		if e <= c.coatAt+1e-9 {
			from = i
		}
	}
	out := make([]float64, len(c.ends))
	fades := c.plant.fades(f.theta[1])
	lost := func(lc float64) float64 {
		c.plant.runFaded(f.theta[0], lc, fades, out)
		if from < 0 {
			return out[to]
		}
		return out[to] - out[from]
	}
	bare := lost(math.Inf(-1))
	if !(bare > 0) {
		return 1
	}
	return math.Min(1, lost(lc)/bare)
}

// Leaking says whether a coated wheel keeps losing more than its coat should
// let through: with at least two weighings after the coat, when the whole
// interval of CoatFactor lies over one and a half times what the coat usually
// passes. The reason is one sentence with the figures; empty where it does not
// leak or cannot be told.
func (f Forecast) Leaking() (bool, string) {
	if !f.course.coated {
		return false, ""
	}
	after := 0
	for _, p := range f.points {
		if p.day > f.course.coatAt && p.w > 0.5 {
			after++
		}
	}
	if after < 2 {
		return false, ""
	}
	usual := f.passes(0)
	have := f.CoatFactor()
	if have.Low <= math.Min(1.5*usual, (1+usual)/2) {
		return false, ""
	}
	return true, fmt.Sprintf("it loses %.0f %% of what it would lose bare (%.0f to %.0f), where this coat usually lets through %.0f %%",
		100*have.Best, 100*have.Low, 100*have.High, 100*usual)
}
