package verdict

import (
	"math"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// Bounds of a wheel's whole course, past which a run of weighings is given to
// the drying model: bare cheese that loses more than this a day from the green
// weight to the first weighing a day or more later, all of it gone, or hardly
// anything lost. Our own, wide ones: no source.
const (
	runDaily = 0.02   // of the green weight a day
	runMost  = 0.5    // of the green weight
	runLeast = 0.0002 // of the green weight a day
)

// PlausibleRun is Plausible for a run of many weighings that may be all a
// wheel has, looked at by the chain alone: live are the wheel's entries that
// count, the new ones among them, in time order, and usual is what a wheel of
// the variety weighs, 0 for not known. The first weighings, which have nothing
// before them to be carried on from, are held to those after them. What it
// does not pass is for Doubts to judge.
func PlausibleRun(live []wheel.Entry, fresh func(entry uuid.UUID) bool, usual quantity.Grams) bool {
	chain := wheel.Link(live, nil)
	c := Case{Life: wheel.Life{Chain: chain}}
	points := chain.Points
	var again []time.Time // coats, cores and cuts
	for i := range live {
		if live[i].Kind.Reweighs() {
			again = append(again, live[i].At)
		}
	}
	reweighed := func(from, to time.Time) bool {
		for _, t := range again {
			if !t.Before(from) && !t.After(to) {
				return true
			}
		}
		return false
	}
	isNew := make([]bool, len(points))
	known, last := 0, -1
	for i := range points {
		if isNew[i] = fresh(points[i].Entry); isNew[i] {
			last = i
		} else {
			known++
		}
	}
	if last < 0 {
		return true
	}
	if isNew[0] && (known > 0 || usual > 0 && (points[0].Gross < usual/20 || points[0].Gross > usual*50)) {
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
		early = early || isNew[i]
	}
	if early {
		a := points[anchor]
		if chain.Gap <= a.Day || reweighed(points[0].At, a.At) {
			return false
		}
		loss, noise := float64(a.Loss()), 3*a.SD+clearlyOff/2
		if loss < -noise || loss > runDaily*a.Day+noise {
			return false
		}
		for i := 1; i < anchor; i++ {
			if isNew[i] && (float64(points[i].Loss()) < -noise || float64(points[i].Loss()) > loss+noise) {
				return false
			}
		}
	}
	for i := 1; i < len(points); i++ {
		// The one after the anchor proves it, whoever weighed it.
		if !isNew[i] && !(early && i == anchor+1) {
			continue
		}
		p, was := points[i], points[i-1]
		if gain := float64(p.Gross - was.Gross); gain > c.allowance(p, was) && !reweighed(was.At, p.At) {
			return false
		}
		if i <= anchor {
			continue
		}
		if p.Day > chain.Gap { // false where nothing was guessed: NaN
			continue
		}
		coated := reweighed(points[0].At, p.At)
		if !carriesOn(p, was, coated) {
			return false
		}
		if !coated && p.Day > 4*was.Day && (i+1 == len(points) || points[i+1].Day > 4*p.Day) {
			return false
		}
	}
	end := points[len(points)-1]
	loss := float64(end.Loss())
	return loss <= runMost && (!early || len(again) > 0 || loss >= runLeast*end.Day-3*end.SD)
}

// carriesOn says whether a weighing carries the loss of the one before it on
// as loss goes on: bare, no faster than in proportion to time and no slower
// than a quarter of the root of time; coated, no gain, and no faster than the
// root of time would have it bare. Both are days from when drying began.
func carriesOn(p, was wheel.LossPoint, coated bool) bool {
	noise := 3*math.Hypot(p.SD, was.SD) + clearlyOff/2
	last, now, ratio := float64(was.Loss()), float64(p.Loss()), p.Day/was.Day
	low, high := last*(1+0.25*(math.Sqrt(ratio)-1)), last*ratio
	if coated {
		low, high = last, last*math.Sqrt(ratio)
	}
	return now >= low-noise && now <= high+noise
}
