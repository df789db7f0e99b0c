package drying

import (
	"math"
	"sort"
)

// course is the physics of one wheel over its days: it runs the plant on demand
// and keeps nothing but the plant.
type course struct {
	plant    *plant
	ends     []float64 // ends of the windows, days, rising
	coated   bool
	coatAt   float64 // day of the first coat, +Inf for none
	airUntil float64 // day up to which the air is logged, not carried on
}

func newCourse(c Cheese, spans []Span, coats []CoatOn, horizon, diff12, transfer float64) *course {
	w := windows(spans, coats, horizon)
	co := &course{plant: newPlant(c, w, diff12, transfer), coated: len(coats) > 0, coatAt: math.Inf(1)}
	for _, k := range coats {
		co.coatAt = math.Min(co.coatAt, math.Max(0, k.Day))
	}
	for _, k := range spans {
		co.airUntil = math.Max(co.airUntil, k.FromDay)
	}
	co.ends = make([]float64, len(w))
	for i := range w {
		co.ends[i] = w[i].to
	}
	return co
}

// dims is the number of logs that are fitted: two, and the coat's third.
func (co *course) dims() int {
	if co.coated {
		return 3
	}
	return 2
}

// upTo is the number of windows needed to reach a day.
func (co *course) upTo(day float64) int {
	return min(sort.SearchFloat64s(co.ends, day)+1, len(co.ends))
}

// trace is a run of the plant with its slopes by the logs, at the ends of the
// windows.
type trace struct {
	ends  []float64
	loss  []float64
	slope [3][]float64
}

// nudge is the step in a log by which slopes are taken: large enough that the
// solver's tolerance does not show, small enough that the curve is straight.
const nudge = 0.02

// trace runs the plant over its first n windows at the logs th and beside them.
func (co *course) trace(th [3]float64, n int) trace {
	t := trace{ends: co.ends[:n], loss: make([]float64, n)}
	p := co.plant.first(n)
	base := p.fades(th[1])
	p.runFaded(th[0], th[2], base, t.loss)
	for k := range co.dims() {
		out := make([]float64, n)
		switch k {
		case 0:
			p.runFaded(th[0]+nudge, th[2], base, out)
		case 1:
			p.run(th[0], th[1]+nudge, th[2], out)
		case 2:
			p.runFaded(th[0], th[2]+nudge, base, out)
		}
		for i := range out {
			out[i] = (out[i] - t.loss[i]) / nudge
		}
		t.slope[k] = out
	}
	return t
}

// at gives loss and slopes on a day: between two ends the loss is a power of
// time, before the first it is straight, past the last it carries on along the
// power of the last window.
func (t trace) at(day float64) (loss float64, slope [3]float64) {
	n := len(t.ends)
	if !(day > 0) || n == 0 {
		return 0, slope
	}
	i := min(sort.SearchFloat64s(t.ends, day), n-1)
	if i == 0 {
		f := math.Min(day/t.ends[0], 1)
		for k := range 3 {
			if t.slope[k] != nil {
				slope[k] = f * t.slope[k][0]
			}
		}
		return f * t.loss[0], slope
	}
	lo, hi := t.loss[i-1], t.loss[i]
	f := math.Min((day-t.ends[i-1])/(t.ends[i]-t.ends[i-1]), 4*float64(n))
	if past := day > t.ends[n-1]; lo > 0 && hi > lo {
		p := math.Log(hi/lo) / math.Log(t.ends[i]/t.ends[i-1])
		if past || p < 1.5 { // after a coat or a change of air the power means nothing
			loss = lo * math.Pow(math.Min(day, 4*t.ends[n-1])/t.ends[i-1], p)
			f = (loss - lo) / (hi - lo)
		} else {
			loss = lo + f*(hi-lo)
		}
	} else {
		loss = lo + math.Min(f, 1)*(hi-lo)
	}
	for k := range 3 {
		if t.slope[k] != nil {
			slope[k] = t.slope[k][i-1] + math.Min(f, 1)*(t.slope[k][i]-t.slope[k][i-1])
		}
	}
	return loss, slope
}
