package drying

import (
	"fmt"
	"math"

	"rindkeep/cave/quantity"
)

// CoatFactor is the loss through the coats over the loss of the same wheel bare,
// with a wet surface under them, 90 %. Exactly 1 for a bare wheel. From the
// coats' usual figures until weights after the coat say better.
func (f Forecast) CoatFactor() quantity.Estimate {
	if !f.course.coated {
		return quantity.Exactly(1)
	}
	r := f.course.plant.steps[len(f.course.plant.steps)-1].resist
	at := func(lc float64) float64 { return 1 / (1 + r*math.Exp(lc)) }
	sd := math.Sqrt(f.cov[2][2])
	return quantity.Estimate{Best: at(f.theta[2]), Low: at(f.theta[2] + f.z90*sd), High: at(f.theta[2] - f.z90*sd)}
}

// Leaking says whether a coated wheel keeps losing more than its coat should
// let through: with at least two weighings after the coat, when the whole
// interval of CoatFactor lies over what the coat usually passes. The reason is
// one sentence with the figures; empty where it does not leak or cannot be
// told.
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
	r := f.course.plant.steps[len(f.course.plant.steps)-1].resist
	usual := 1 / (1 + r)
	have := f.CoatFactor()
	if after < 2 || have.Low <= math.Min(1.5*usual, (1+usual)/2) {
		return false, ""
	}
	return true, fmt.Sprintf("it loses %.0f %% of what it would lose bare (%.0f to %.0f), where this coat usually lets through %.0f %%",
		100*have.Best, 100*have.Low, 100*have.High, 100*usual)
}
