package drying

import (
	"math"

	"rindkeep/cave/quantity"
)

// stretch is the days a rate is taken over: half a day about the day when
// young, a twentieth of the age when old; never across a coat.
func (f Forecast) stretch(day float64) (from, to float64) {
	day = clampTo(day, 0, 3*f.course.ends[len(f.course.ends)-1], 0)
	half := math.Max(0.25, 0.02*day)
	from, to = math.Max(0, day-half), day+half
	if f.course.coatAt > from && f.course.coatAt < to {
		if day < f.course.coatAt {
			to = f.course.coatAt
		} else {
			from = f.course.coatAt
		}
	}
	if to-from < 0.02 {
		to = from + 0.02
	}
	return from, to
}

// slope is the rate on a day by a curve, with its slopes by the logs.
func (f Forecast) slope(curve func(day float64) trace, day float64) (float64, [3]float64) {
	from, to := f.stretch(day)
	t := curve(to)
	h0, j0 := t.at(from)
	h1, j1 := t.at(to)
	d := to - from
	return math.Max(0, h1-h0) / d, [3]float64{(j1[0] - j0[0]) / d, (j1[1] - j0[1]) / d, (j1[2] - j0[2]) / d}
}

// RatePerDay is the own rate on a day, fraction of green weight per day, 90 %.
func (f Forecast) RatePerDay(day float64) quantity.Estimate {
	r, g := f.slope(f.own, day)
	wander := straying * straying
	if n := len(f.points); n == 0 || day > f.points[n-1].day {
		wander += toCome * toCome
	}
	return f.rateAbout(0, r, g, day, wander).interval(f.z90, math.Inf(1))
}

// ExpectedRatePerDay is the rate before the wheel's own weights, as Expected.
func (f Forecast) ExpectedRatePerDay(day float64) quantity.Estimate {
	r, g := f.slope(f.expected, day)
	return f.rateAbout(1, r, g, day, straying*straying).interval(z90, math.Inf(1))
}

// rateAbout is a rate r of the own (0) or expected (1) curve with slopes g; the
// rate wanders by a variance relative to it.
func (f Forecast) rateAbout(of int, r float64, g [3]float64, day, wander float64) (out guess) {
	cov := f.cov
	if of == 1 {
		_, cov = f.before()
	}
	cov = withoutShare(cov)
	out = guess{best: r, sd: math.Sqrt(quad3(cov, g) + wander*r*r)}
	if !f.course.coated {
		return out
	}
	out.ends = 2
	for end := range 2 {
		r, g := f.slope(func(d float64) trace {
			c, _ := f.side(of, end, d)
			return c
		}, day)
		out.end[end], out.esd[end] = r, math.Sqrt(quad3(cov, g)+wander*r*r)
	}
	return out
}

// logBand is an interval normal in the log; a best of 0 has no spread below.
func logBand(best, sd, z float64) quantity.Estimate {
	if !(best > 0) {
		return quantity.Estimate{Best: 0, Low: 0, High: z * sd}
	}
	k := math.Exp(math.Min(z*sd/best, 5))
	return quantity.Estimate{Best: best, Low: best / k, High: best * k}
}

// WetRatePerDay is what the bare wheel would lose with a wet surface under the
// air of that day, by its own air-side multiplier; fraction of green weight per
// day. RatePerDay over it tells the regime: near 1 the surface is wet, far
// below 1 the inside decides. 0 where the air is too wet to take water.
func (f Forecast) WetRatePerDay(day float64) float64 {
	i := f.course.upTo(math.Max(day, 1e-6)) - 1
	return f.course.plant.wetRate(i, math.Exp(f.theta[0]))
}

// FirstDayRate is q of the own curve: the loss per day of the fresh wet wheel
// in its first air, fraction of green weight per day, 90 %.
func (f Forecast) FirstDayRate() quantity.Estimate {
	q := f.course.plant.wetRate(0, math.Exp(f.theta[0]))
	return logBand(q, q*math.Sqrt(f.cov[0][0]), f.z90)
}

// RootDayRate is s of the own curve: what the inside alone would let go in its
// first air, fraction of green weight per square root of a day, 90 %.
func (f Forecast) RootDayRate() quantity.Estimate {
	s := f.course.plant.rootRate(0, math.Exp(f.theta[1]))
	return logBand(s, s*math.Sqrt(f.cov[1][1]), f.z90)
}
