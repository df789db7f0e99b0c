package drying

import (
	"math"
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

// Standing is the verdict on one weighing with its figures.
type Standing struct {
	Verdict  Verdict
	Day      float64
	Loss     quantity.Fraction
	Expected quantity.Estimate // loss it should have shown, seen from everything else known, 90 %
	Z        float64           // how far off in standard deviations; over 0 lost more
}

// unlikelyZ is the distance in standard deviations past which a weighing is not
// believed.
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

// Standings gives one Standing per point of the subject, in the subject's
// order. A point that could not be used (day 0 or before, no number) is on the
// curve with Z 0.
func (f Forecast) Standings() []Standing {
	pts := f.subject.Points
	order := usableByDay(pts)
	out := make([]Standing, len(pts))
	for i, p := range pts {
		out[i] = Standing{Verdict: OnCurve, Day: p.Day, Loss: p.Loss}
	}
	for i, k := range order {
		q := f.points[i]
		h, j := q.h, q.j
		var g [3]float64
		for a := range 3 {
			g[a] = j[a] - q.tb[a]
		}
		vfit := quad3(f.cov, g) + q.inv
		reff := q.sd * q.sd / q.w
		left := math.Max(reff-vfit, 1e-6*reff)
		res := (q.y - h - q.del) * reff / left
		pred := math.Sqrt(vfit*reff/left + q.sd*q.sd)
		out[k] = f.stand(pts[k], q.y-res, pred)
	}
	return out
}

// stand judges a weighing whose loss should have been want, give or take sd.
func (f Forecast) stand(p Point, want, sd float64) Standing {
	s := Standing{Day: p.Day, Loss: p.Loss, Z: (float64(p.Loss) - want) / sd, Verdict: OnCurve}
	s.Expected = quantity.Estimate{Best: want, Low: want - f.z90*sd, High: want + f.z90*sd}
	h, j := f.expected().at(p.Day)
	wide := math.Sqrt(f.prior.variance(j) + strayVar(h) + p.sd()*p.sd())
	from := 0.0
	if h > 0 && p.Loss > 0 {
		from = math.Log(float64(p.Loss)/h) * h / wide
	} else if wide > 0 {
		from = (float64(p.Loss) - h) / wide
	}
	switch {
	case math.Abs(s.Z) > unlikelyZ:
		s.Verdict = Unlikely
	case from > z90:
		s.Verdict = Fast
	case from < -z90:
		s.Verdict = Slow
	}
	return s
}

// Judge says how a weighing that is not yet among the subject's points would
// stand. Use it before recording one, and to find which sister it fits better:
// the smallest |Z|.
func (f Forecast) Judge(p Point) Standing {
	if !p.usable() {
		return Standing{Verdict: OnCurve, Day: p.Day, Loss: p.Loss}
	}
	best, sd := f.lossAt(p.Day)
	return f.stand(p, best, math.Hypot(sd, p.sd()))
}
