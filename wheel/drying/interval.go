package drying

import (
	"math"

	"rindkeep/cave/quantity"
)

// z90 is the normal quantile of a 90 % interval.
const z90 = quantity.Z90

// student95 is the 95 % quantile of Student's t, nu 5 and up. Source: Abramowitz
// and Stegun 26.7.5, the expansion in 1/nu (from memory); good to 0.001.
func student95(nu float64) float64 {
	const z = z90
	return z + (z*z*z+z)/(4*nu) + (5*z*z*z*z*z+16*z*z*z+3*z)/(96*nu*nu)
}

// guess is a value in the middle of what is known of it: its standard deviation
// with the coat's share as it is, and its values, with their standard
// deviations, at the ends of what the share may be. A bare wheel has no ends.
type guess struct {
	best, sd float64
	times    float64 // what of sd comes from factors, and so is skew
	falls    float64 // a further spread, down only
	ends     int     // 0 or 2
	end, esd [2]float64
}

// reaches is how far an interval goes below and above its best: as far as a
// normal where errors add, as far as a log-normal where they multiply.
func (g guess) reaches(z, sd float64) (down, up float64) {
	skew := math.Min(z*g.times/math.Max(math.Abs(g.best), g.times), mostSkew)
	if !(skew > 1e-6) {
		return z * sd, z * sd
	}
	return z * sd * -math.Expm1(-skew) / skew, z * sd * math.Expm1(skew) / skew
}

// mostSkew bounds how lopsided an interval may be: our calibration, by
// TestIntervalsHold.
const mostSkew = 0.5

// interval is the 90 % interval, between a least and a most. What is not known
// of the coat and of the wheel adds in quadrature, each end with the spread that
// goes with that coat.
func (g guess) interval(z, least, most float64) quantity.Estimate {
	down, up := g.reaches(z, g.sd)
	down = math.Hypot(down, z*g.falls)
	for i := range g.ends {
		d, u := g.reaches(z, g.esd[i])
		if by := g.end[i] - g.best; by < 0 {
			down = math.Max(down, math.Hypot(math.Hypot(by, d), z*g.falls))
		} else {
			up = math.Max(up, math.Hypot(by, u))
		}
	}
	clip := func(x float64) float64 { return math.Min(math.Max(x, least), most) }
	return quantity.Estimate{Best: clip(g.best), Low: clip(g.best - down), High: clip(g.best + up)}
}

// noisy adds a fall and a rise alike to an interval in quadrature.
func noisy(e quantity.Estimate, by, least, most float64) quantity.Estimate {
	e.Low = math.Max(e.Best-math.Hypot(e.Best-e.Low, by), math.Min(least, e.Best))
	e.High = math.Min(e.Best+math.Hypot(e.High-e.Best, by), math.Max(most, e.Best))
	return e
}
