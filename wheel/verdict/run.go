package verdict

import (
	"math"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// Bounds of a wheel's whole course, past which a run of weighings is given to
// the drying model: bare cheese that loses more than this a day from the green
// weight to the first weighing a day or more later, all of it gone, or hardly
// anything lost. Our own bounds, wide ones.
const (
	runDaily = 0.02   // of the green weight a day
	runMost  = 0.5    // of the green weight
	runLeast = 0.0002 // of the green weight a day
)

// PlausibleRun is a quick look at a run of new weighings without the drying model, by
// the chain alone: true where each carries its wheel's own loss on as loss goes on.
// Bare: no faster than in proportion to time, no slower than a quarter of the root of
// time. Coated: no gain, and no faster than the root of time would have it bare. After
// a coat or cut that was not weighed the scale alone is asked: no gain. The first
// weighings, which have nothing before them to be carried on from, must fit those
// after them. live are the wheel's entries that count, the new ones among them, in
// time order; usual is what a wheel of the variety weighs, 0 for not known, and made
// the noon of its make: a first weight long after that is asked about. What it does not
// pass is for Doubts to judge.
func PlausibleRun(
	live []wheel.Entry, fresh func(entry uuid.UUID) bool, usual quantity.Grams, made time.Time,
) bool {
	r := run{Case: Case{Life: wheel.Life{Chain: wheel.Link(live, nil)}}, usual: usual, made: made}
	for i := range live {
		if live[i].Kind.Reweighs() {
			r.again = append(r.again, live[i].At)
		}
	}
	r.fresh = make([]bool, len(r.Life.Chain.Points))
	for i := range r.fresh {
		r.fresh[i] = fresh(r.Life.Chain.Points[i].Entry)
	}
	return r.plausible()
}

// run is a case of which the chain alone is known.
type run struct {
	Case
	fresh []bool      // of the chain's points
	again []time.Time // coats, cores and cuts
	usual quantity.Grams
	made  time.Time
}

func (r *run) reweighed(from, to time.Time) bool {
	for _, t := range r.again {
		if !t.Before(from) && !t.After(to) {
			return true
		}
	}
	return false
}

// plausible has our own bounds, wide ones.
func (r *run) plausible() bool {
	points, gap := r.Life.Chain.Points, r.Life.Chain.Gap
	known, last := 0, -1
	for i, f := range r.fresh {
		if f {
			last = i
		} else {
			known++
		}
	}
	if last < 0 {
		return true
	}
	if r.fresh[0] && (known > 0 || r.usual > 0 && (points[0].Gross < r.usual/20 || points[0].Gross > r.usual*50) ||
		points[0].At.Sub(r.made).Hours()/24 >= lateFirst) {
		return false
	}
	if last == 0 {
		return true
	}
	// The first weighing a day or more from the green weight.
	anchor := 1
	for anchor < len(points) && points[anchor].Day < 1 {
		anchor++
	}
	if anchor+1 >= len(points) {
		return false // nothing after it to hold it to
	}
	early := false
	for i := 1; i <= anchor; i++ {
		early = early || r.fresh[i]
	}
	if early {
		a := &points[anchor]
		if gap <= a.Day || r.reweighed(points[0].At, a.At) {
			return false
		}
		loss, noise := float64(a.Loss()), 3*a.SD+drying.ClearlyOff/2
		if loss < -noise || loss > runDaily*a.Day+noise {
			return false
		}
		for i := 1; i < anchor; i++ {
			if l := float64(points[i].Loss()); r.fresh[i] && (l < -noise || l > loss+noise) {
				return false
			}
		}
	}
	for i := 1; i < len(points); i++ {
		// The one after the anchor proves it, no matter who weighed it, and nothing is
		// carried on from a weight that may be wrong itself.
		next := i+1 < len(points) && r.fresh[i+1]
		if !r.fresh[i] && !next && !(early && i == anchor+1) {
			continue
		}
		p, was := &points[i], &points[i-1]
		if p.Gross > was.Gross+quantity.Grams(r.allowance(*p, *was)) && !r.reweighed(was.At, p.At) {
			return false
		}
		if i <= anchor || p.Day > gap { // false where nothing was guessed: NaN
			continue
		}
		coated := len(r.again) > 0 && r.reweighed(points[0].At, p.At)
		if !carriesOn(p, was, coated) {
			return false
		}
		if !coated && p.Day > 4*was.Day && (i+1 == len(points) || points[i+1].Day > 4*p.Day) {
			return false
		}
	}
	end := &points[len(points)-1]
	loss := float64(end.Loss())
	return loss <= runMost && (!early || len(r.again) > 0 || loss >= runLeast*end.Day-3*end.SD)
}

// carriesOn says whether a weighing carries the loss of the one before it on
// as loss goes on: bare, no faster than in proportion to time and no slower
// than a quarter of the root of time; coated, no gain, and no faster than the
// root of time would have it bare. Both are days from when drying began. Our choice.
func carriesOn(p, was *wheel.LossPoint, coated bool) bool {
	noise := 3*math.Hypot(p.SD, was.SD) + drying.ClearlyOff/2
	last, now, ratio := float64(was.Loss()), float64(p.Loss()), p.Day/was.Day
	low, high := last*(1+0.25*(math.Sqrt(ratio)-1)), last*ratio
	if coated {
		low, high = last, last*math.Sqrt(ratio)
	}
	return now >= low-noise && now <= high+noise
}
