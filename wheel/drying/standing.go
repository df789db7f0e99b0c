package drying

import (
	"math"
	"slices"
	"sort"

	"rindkeep/cave/quantity"
)

// Verdict is how a weighing stands to what was expected of it.
type Verdict string

// The verdicts on a weighing.
const (
	OnCurve  Verdict = "on-curve"
	Fast     Verdict = "fast"     // lost more than expected: crack risk
	Slow     Verdict = "slow"     // lost less than expected: wet room, slime and mould risk
	Unlikely Verdict = "unlikely" // fits nothing the wheel did: wrong wheel or a slip of the hand
)

// WeighingStanding is the verdict on one weighing with its figures.
type WeighingStanding struct {
	Verdict  Verdict
	Day      float64
	Loss     quantity.Fraction
	Expected quantity.Estimate // loss it should have shown, seen from everything else known, 90 %
	Z        float64           // how far off in standard deviations; over 0 lost more
}

// unlikelyZ is the distance in standard deviations past which a weighing is not
// believed. Our calibration: TestIntervalsHold counts good weights doubted and
// swapped wheels caught.
const unlikelyZ = 4.0

// usableByDay gives the indices of the usable points in order of day.
func usableByDay(pts []Point) []int {
	var order []int
	for i, p := range pts {
		if p.usable() {
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return pts[order[a]].Day < pts[order[b]].Day })
	return order
}

// ClearlyOff is how far outside the expected interval, as a loss, a weighing must
// be before it is unlikely: nearer than this is the scale's and the room's
// business. Our default, common practice, no source.
const ClearlyOff = 0.004

// Standings gives one WeighingStanding per point of the subject, in the subject's
// order.
func (f Forecast) Standings() []WeighingStanding {
	out := make([]WeighingStanding, len(f.subject.Points))
	for k := range out {
		out[k] = f.Standing(k)
	}
	return out
}

// Unlikely says whether a point of the subject is, without working out a standing
// that the fit has settled.
func (f Forecast) Unlikely(k int) bool {
	q := f.fitted(k)
	return q != nil && !q.believed() && f.Standing(k).Verdict == Unlikely
}

// Standing judges a point of the subject. One that could not be used (day 0 or
// before, no number) is on the curve with Z 0.
func (f Forecast) Standing(k int) WeighingStanding {
	p, q := f.subject.Points[k], f.fitted(k)
	if q == nil {
		return WeighingStanding{Verdict: OnCurve, Day: p.Day, Loss: p.Loss}
	}
	var g vec
	for a := range g {
		g[a] = q.j[a] - q.tb[a]
	}
	vfit := f.play.quad(&f.cov, &g) + q.inv
	reff := q.sd * q.sd / q.w
	left := math.Max(reff-vfit, 1e-3*reff)
	without := math.Sqrt(vfit * reff / left)
	fit := q.h + q.shift + q.del
	if vfit <= refitOver*reff {
		// What the point itself did to the curve is taken out again.
		return f.stand(p, guess{best: q.y - (q.y-fit)*reff/left, sd: without}, q.believed())
	}
	s := f.spared(k).Judge(p)
	if s.Verdict == Unlikely && q.believed() {
		// The point decides between two tales of the wheel (its coat leaks;
		// another weight is wrong).
		return f.stand(p, guess{best: fit, sd: without}, true)
	}
	if q.believed() {
		s.Verdict = f.pace(p)
	}
	return s
}

// Verdict is that of a point's standing, which takes no fit without the point where it's
// believed.
func (f Forecast) Verdict(k int) Verdict {
	if q := f.fitted(k); q != nil && q.believed() {
		return f.pace(f.subject.Points[k])
	}
	return f.Standing(k).Verdict
}

// fitted is a point of the subject after the fit; nil where it could not be used.
func (f *Forecast) fitted(k int) *fitted {
	for i := range f.points {
		if q := &f.points[i]; q.of == k {
			return q
		}
	}
	return nil
}

// believed says whether the fit takes the point for a weighing rather than a slip.
func (q *fitted) believed() bool { return q.w > 0.5 }

// refitOver is the share of a fitted value's variance that may be the point's
// own for it to be taken out by sums: past it the curve would move further
// without the point than a straight line goes, and is fitted again.
const refitOver = 0.25 // our calibration, by TestIntervalsHold

// spared is the forecast from all points but one. Where the fit believes all of them it isn't
// far, and begins there.
func (f *Forecast) spared(without int) Forecast {
	s := f.subject
	s.Points = slices.Delete(slices.Clone(s.Points), without, without+1)
	o := unfitted(s, f.cheese, f.course)
	o.curves.exp = f.expected(f.points[len(f.points)-1].day) // no weight bears on it
	if f.plain() {
		o.weighed(f)
	} else {
		o.weighed(nil)
	}
	return o
}

// plain says whether the fit believes every point, without a leak, a closing rind or a step.
func (f *Forecast) plain() bool {
	for i := range f.points {
		if !f.points[i].believed() {
			return false
		}
	}
	return !f.leaks && f.step < 0 && f.theta[kClose] == 0
}

// mostGain is how far a weighing may be expected to read over the green weight:
// our calibration, what made-up rinds took up in the wettest rooms.
const mostGain = 0.05

// stand judges a weighing, by the hand that the others show, by what it should
// read. One that is believed is never unlikely.
func (f *Forecast) stand(p Point, g guess, believed bool) WeighingStanding {
	want := g.interval(f.z90, -mostGain, f.water())
	noise := f.noise(p)
	s := WeighingStanding{Day: p.Day, Loss: p.Loss, Verdict: f.pace(p), Expected: noisy(want, noise, -mostGain, f.water())}
	// As far off as the interval is wide on that side is z90 deviations.
	reach := math.Hypot(want.High-want.Best, noise)
	off := float64(p.Loss) - want.Best
	if off < 0 {
		reach = math.Hypot(want.Best-want.Low, noise)
	}
	s.Z = f.z90 * off / reach
	clear := float64(p.Loss) < s.Expected.Low-ClearlyOff || float64(p.Loss) > s.Expected.High+ClearlyOff
	if !believed && clear && math.Abs(s.Z) > unlikelyZ {
		s.Verdict = Unlikely
	}
	return s
}

// noise is how far off a weighing may read by the hand that the others show and by how it
// was linked to them, 90 %.
func (f *Forecast) noise(p Point) float64 {
	return f.z90 * math.Hypot(p.sd()*f.hand, float64(p.Shift))
}

// pace says whether a weighing lost more or less than was expected before any of them.
func (f *Forecast) pace(p Point) Verdict {
	noise, x := f.noise(p), f.expectedAt(p.Day)
	e := noisy(x.interval(z90, -mostGain, f.water()), noise, -mostGain, f.water())
	if x.ends > 0 { // a coat that holds is not slow
		tight := guess{best: x.end[0], sd: x.esd[0]}.interval(z90, -mostGain, f.water())
		e.Low = math.Min(e.Low, noisy(tight, noise, -mostGain, f.water()).Low)
	}
	switch {
	case float64(p.Loss) > e.High:
		return Fast
	case float64(p.Loss) < e.Low:
		return Slow
	}
	return OnCurve
}

// Judge says how a weighing that is not yet among the subject's points would
// stand. Use it before recording one, and to find which sister it fits better:
// the smallest |Z|.
func (f Forecast) Judge(p Point) WeighingStanding {
	if !p.usable() {
		return WeighingStanding{Verdict: OnCurve, Day: p.Day, Loss: p.Loss}
	}
	return f.stand(p, f.lossAt(p.Day, true), false)
}
