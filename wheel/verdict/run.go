package verdict

import (
	"math"
	"slices"
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
	points := r.Life.Chain.Points
	switch last := lastOf(r.fresh); {
	case last < 0:
		return true
	case r.fresh[0] && !r.begins():
		return false
	case last == 0:
		return true
	}
	anchor := r.anchor()
	if anchor+1 >= len(points) {
		return false // nothing after it to hold it to
	}
	early := slices.Contains(r.fresh[1:anchor+1], true)
	if early && !r.early(anchor) {
		return false
	}
	for i := 1; i < len(points); i++ {
		// The one after the anchor proves it, no matter who weighed it, and nothing is
		// carried on from a weight that may be wrong itself.
		next := i+1 < len(points) && r.fresh[i+1]
		if (r.fresh[i] || next || early && i == anchor+1) && !r.follows(i, anchor) {
			return false
		}
	}
	end := &points[len(points)-1]
	loss, least := float64(end.Loss()), runLeast*end.Day-3*end.SD
	if !early || len(r.again) > 0 {
		least = math.Inf(-1)
	}
	return loss >= least && loss <= runMost
}

// anchor is the first weighing a day or more from the green weight.
func (r *run) anchor() int {
	points := r.Life.Chain.Points
	i := 1
	for i < len(points) && points[i].Day < 1 {
		i++
	}
	return i
}

// lastOf is the index of the last that's true, -1 for none.
func lastOf(in []bool) int {
	for i := len(in) - 1; i >= 0; i-- {
		if in[i] {
			return i
		}
	}
	return -1
}

// begins says whether a new first weight may be the green weight: one of a wheel that has no
// other, of about the usual weight, soon after the make. Our own bounds, wide ones.
func (r *run) begins() bool {
	first := &r.Life.Chain.Points[0]
	return !slices.Contains(r.fresh, false) &&
		(r.usual <= 0 || first.Gross >= r.usual/20 && first.Gross <= r.usual*50) &&
		first.At.Sub(r.made).Hours()/24 < lateFirst
}

// early says whether the weights up to the anchor may be: no gain, no more loss than a wheel
// can have by then, and none more than at the anchor. Our own bounds, wide ones.
func (r *run) early(anchor int) bool {
	points := r.Life.Chain.Points
	a := &points[anchor]
	if r.Life.Chain.Gap <= a.Day || r.reweighed(points[0].At, a.At) {
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
	return true
}

// follows says whether a weight may follow from the one before it. Our own bounds, wide ones.
func (r *run) follows(i, anchor int) bool {
	points := r.Life.Chain.Points
	p, was := &points[i], &points[i-1]
	if p.Gross > was.Gross+quantity.Grams(r.allowance(*p, *was)) && !r.reweighed(was.At, p.At) {
		return false
	}
	if i <= anchor || p.Day > r.Life.Chain.Gap { // false where nothing was guessed: NaN
		return true
	}
	coated := len(r.again) > 0 && r.reweighed(points[0].At, p.At)
	alone := p.Day > 4*was.Day && (i+1 == len(points) || points[i+1].Day > 4*p.Day)
	return carriesOn(p, was, coated) && (coated || !alone)
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
