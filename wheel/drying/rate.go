package drying

import (
	"math"

	"rindkeep/cave/quantity"
)

// stretch is the days a rate is taken over: half a day about the day when
// young, a twenty-fifth of the age when old; never across a coat. Our choice.
func (f *Forecast) stretch(day float64) (from, to float64) {
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

// slope is the rate on a day by a curve, with its slopes by the unknowns.
func (f *Forecast) slope(curve func(day float64) trace, day float64) (float64, vec) {
	from, to := f.stretch(day)
	t := curve(to)
	h0, j0 := t.at(from)
	h1, j1 := t.at(to)
	for k := range j1 {
		j1[k] = (j1[k] - j0[k]) / (to - from)
	}
	return (h1 - h0) / (to - from), j1
}

// RatePerDay is the own rate on a day, fraction of green weight per day, 90 %.
func (f Forecast) RatePerDay(day float64) quantity.Estimate {
	r, g := f.slope(f.own, day)
	k := straying * f.course.steadies(day)
	wander, damp, last, falls := k*k, 0.0, 0.0, 0.0
	n := len(f.points)
	if n > 0 {
		last = f.points[n-1].day
	}
	if n == 0 || day > last {
		from, to := f.stretch(day)
		on := f.rateToCome(last, max(day, last))
		if n > 0 { // the prior has the slowing
			r *= 1 - on.slower
		}
		wander += on.spread * on.spread
		falls = on.falls * r
		damp = (math.Sqrt(f.airToCome(last, to)) - math.Sqrt(f.airToCome(last, max(from, last)))) / (to - from)
	}
	out := f.rateAbout(r, g, day, wander, damp)
	out.falls = falls
	return out.interval(f.z90, 0, math.Inf(1))
}

// rateAbout is a rate r of the wheel's own curve with slopes g; the rate wanders by a
// variance relative to it, and by damp.
func (f *Forecast) rateAbout(r float64, g vec, day, wander, damp float64) (out guess) {
	cov := &f.cov
	if f.course.coated {
		c := withoutShare(*cov)
		cov = &c
	}
	spread := func(r float64, g *vec) float64 {
		return math.Sqrt(f.play.quad(cov, g) + wander*r*r + damp*damp)
	}
	out = guess{best: r, sd: spread(r, &g), times: math.Sqrt(factors.quad(cov, &g) + wander*r*r)}
	if !f.course.coated {
		return out
	}
	out.ends = 2
	for end := range 2 {
		r, g := f.slope(func(d float64) trace {
			c, _ := f.side(0, end, d)
			return c
		}, day)
		out.end[end], out.esd[end] = r, spread(r, &g)
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
	i := f.course.window(math.Max(day, 1e-6))
	return f.course.plant.wetRate(i, &f.theta) * f.course.scale
}

// FirstDayRate is q of the own curve: the loss per day of the fresh wet wheel
// in its first air, fraction of green weight per day, 90 %.
func (f Forecast) FirstDayRate() quantity.Estimate {
	q := f.course.plant.wetRate(0, &f.theta)
	return logBand(q, q*math.Sqrt(f.cov[kAir][kAir]), f.z90)
}

// RootDayRate is s of the own curve: what the inside alone would let go in its
// first air, fraction of green weight per square root of a day, 90 %.
func (f Forecast) RootDayRate() quantity.Estimate {
	s := f.course.plant.rootRate(0, math.Exp(f.theta[kInside]))
	return logBand(s, s*math.Sqrt(f.cov[kInside][kInside]), f.z90)
}
