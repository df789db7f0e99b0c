package drying

import (
	"math"
	"slices"
	"sort"
	"sync"

	"rindkeep/cave/quantity"
)

// course is the physics of one wheel over its days: it runs the plant on demand
// and keeps nothing but the plant.
type course struct {
	plant    *plant
	ends     []float64 // ends of the windows from day 0 on, days, rising
	before   int       // windows before day 0, of an aged cheese
	age      float64   // days of drying before day 0
	scale    float64   // from fractions of the green weight to fractions of the weight on day 0
	coated   bool
	coatAt   float64    // day of the first coat, +Inf for none
	sealed   float64    // day of the first tight coat, +Inf for none
	half     float64    // resistance of the coats that would halve the loss, Pa m2 s/kg
	coats    float64    // resistance of all the coats as they usually are, Pa m2 s/kg
	share    [2]float64 // what they pass: mean and sd of the normal that is cut off at 0 and 1
	airUntil float64    // day up to which the air is logged, not carried on
	toAir    [2]answer  // how a bare and a coated wheel answer to the air of that day
}

func newCourse(c Cheese, spans []Span, coats []CoatOn, horizon, diff12, transfer float64) *course {
	co := &course{coated: len(coats) > 0, coatAt: math.Inf(1), sealed: math.Inf(1), age: c.Age, scale: 1}
	for _, k := range coats {
		co.coatAt = math.Min(co.coatAt, math.Max(0, k.Day))
		if k.Coat.Tight() {
			co.sealed = math.Min(co.sealed, math.Max(0, k.Day))
		}
	}
	for _, k := range spans {
		co.airUntil = math.Max(co.airUntil, k.FromDay)
	}
	spans, coats = aged(spans, coats, c.Age)
	w := windows(spans, coats, horizon+c.Age, c.Age)
	co.plant = newPlant(c, w, diff12, transfer)
	co.ends = make([]float64, 0, len(w))
	for i := range w {
		if w[i].to > c.Age+1e-9 {
			co.ends = append(co.ends, w[i].to-c.Age)
		}
	}
	co.before = len(w) - len(co.ends)
	if co.coated {
		co.halve(coats)
	}
	if co.before > 0 { // what it lost, as the physics has it, gives back its size
		lost := math.Min(math.Max(co.lostBefore(), 0), mostBefore*float64(c.Moisture))
		co.scale = 1 / (1 - lost)
		c.Shape = c.Shape.ForWeight(c.Green*quantity.Grams(co.scale), c.Green.Kilograms()/c.Shape.Volume())
		c.Green *= quantity.Grams(co.scale)
		co.plant = newPlant(c, w, diff12, transfer)
	}
	last := co.window(co.airUntil)
	co.toAir[0] = co.plant.answer(last, &vec{}, math.Inf(-1))
	if co.coated {
		co.toAir[1] = co.plant.answer(len(w)-1, &vec{}, 0)
	}
	return co
}

// mostBefore is the most of its water that an aged cheese can have lost before day 0: our
// bound, so that figures stay numbers.
const mostBefore = 0.8

// aged brings air and coats to days since drying began.
func aged(spans []Span, coats []CoatOn, age float64) ([]Span, []CoatOn) {
	if age == 0 {
		return spans, coats
	}
	spans, coats = slices.Clone(spans), slices.Clone(coats)
	for i := range spans {
		spans[i].FromDay += age
	}
	for i := range coats {
		coats[i].Day += age
	}
	return spans, coats
}

// lostBefore is what an aged cheese lost before day 0 by the physics alone, fraction of
// green weight.
func (co *course) lostBefore() float64 {
	out := make([]float64, co.before)
	lc := math.Inf(-1)
	if co.coated {
		lc = 0
	}
	co.plant.first(co.before).run(0, 0, lc, out)
	return out[co.before-1]
}

// answers are how a bare and a coated wheel answer to damper air.
func (co *course) answers() (bare, coated answer) { return co.toAir[0], co.toAir[1] }

// steadies is the factor on how a wheel strays after a day: under a tight coat the
// coat and not the room holds the water back, and steadies the rate.
func (co *course) steadies(day float64) float64 {
	if day >= co.sealed {
		return underCoat
	}
	return 1
}

// firstCoat is the first of the coats, nil for none.
func (co *course) firstCoat(coats []CoatOn) *CoatOn {
	for i := range coats {
		if co.coated && math.Max(0, coats[i].Day) == co.coatAt {
			return &coats[i]
		}
	}
	return nil
}

// halfDays is how long after the coat the halving resistance is averaged: our choice.
const halfDays = 60

// halve sets the resistance that would halve the loss of the days after the
// last coat: as much again as all else in the way, which is the drive over the
// bare flux, within thirty times usualHalf (our choice).
func (co *course) halve(coats []CoatOn) {
	w := co.plant.windows
	from := len(w) - 1
	for from > 0 && w[from-1].coat == w[len(w)-1].coat {
		from--
	}
	n := co.before + co.upTo(w[from].from-co.age+halfDays)
	bare := make([]float64, n)
	co.plant.first(n).run(0, 0, math.Inf(-1), bare)
	lost := bare[n-1]
	if from > 0 {
		lost -= bare[from-1]
	}
	ln, _ := co.plant.law.lnActivity(co.plant.x0)
	var drive, days float64
	for i := from; i < n; i++ {
		d := w[i].to - w[i].from
		s := co.plant.sites[i]
		drive += d * (math.Exp(ln)*s.psat - s.vapour)
		days += d
	}
	flux := lost / days / co.plant.area / 86400
	if co.half = drive / days / flux; !(drive > 0 && flux > 0) {
		co.half = usualHalf
	}
	co.half = math.Min(math.Max(co.half, usualHalf/30), usualHalf*30)
	// Each coat counts with the resistance at which it passes the mean of what
	// it may pass on this wheel; the sum is what they pass in series.
	var spread float64
	for i := range w {
		w[i].coat = 0
	}
	for _, k := range coats {
		share, _ := cutNormal(1/(1+k.Coat.resistance()/co.half), k.Coat.spread())
		r := co.half * (1 - share) / share
		co.coats += r
		spread += r * k.Coat.spread()
		for i := range w {
			if k.Day <= w[i].from+1e-9 {
				w[i].coat += r
			}
		}
	}
	co.share = [2]float64{uncut(co.shareOf(0), spread/co.coats), spread / co.coats}
}

// uncut is the mean of a normal that, cut off at 0 and 1, has the mean given, sought
// within 30 standard deviations (our choice).
func uncut(mean, sd float64) float64 {
	lo, hi := -30*sd, 1+30*sd
	for range 60 {
		mid := (lo + hi) / 2
		if m, _ := cutNormal(mid, sd); m < mean {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// usualHalf is the halving resistance where none can be computed, as in air that takes
// no water: our choice. A hard wheel of 5 kg at 12 C and 85 % has 4.3e8.
const usualHalf = 1e9

// leastShare and mostShare bound the share for which the physics is run: our choice.
const leastShare, mostShare = 0.01, 0.97

// logOf is the log of the multiplier of the coats' resistance at which they
// pass a share of the bare loss, and shareOf the share at which it stands.
func (co *course) logOf(share float64) float64 {
	s := math.Min(math.Max(share, 1e-4), 1-1e-6)
	return math.Log(co.half * (1 - s) / s / co.coats)
}

func (co *course) shareOf(lc float64) float64 {
	return 1 / (1 + math.Exp(lc)*co.coats/co.half)
}

// unknowns are what is fitted.
func (co *course) unknowns(closing bool) sparse {
	k := sparse{kAir, kInside, kDamp}
	if co.coated {
		k = append(k, kShare)
	}
	if closing {
		k = append(k, kClose)
	}
	k = append(k, kGreen)
	if co.coated {
		k = append(k, kTare)
	}
	return k
}

// upTo is the number of windows needed to reach a day.
func (co *course) upTo(day float64) int {
	return min(sort.SearchFloat64s(co.ends, day)+1, len(co.ends))
}

// window is the plant's window that a day is in.
func (co *course) window(day float64) int { return co.before + co.upTo(day) - 1 }

// trace is a run of the plant with its slopes by the unknowns, at the ends of
// the windows from day 0 on. was and by are the loss on day 0 and its slopes, as
// fractions of green weight; 0 of a fresh wheel.
type trace struct {
	ends  []float64
	loss  []float64
	slope [bends][]float64

	was float64
	by  vec
}

// trace runs the plant over its first n windows at th, with the slopes by the
// unknowns in play. A share outside leastShare to mostShare goes on in a
// straight line, so that weighings which ask for less than nothing still pull.
func (co *course) trace(th *vec, play sparse, n int) trace {
	room := rooms.Get().(*[]float64)
	defer rooms.Put(room)
	return co.traceIn(co.roomOf(room, n), make([]float64, (play.bent()+1)*(co.before+n)), th, play, n)
}

// rooms are what runs of the plant work in.
var rooms = sync.Pool{New: func() any { return new([]float64) }}

// roomOf is as much of a room as a run over the first n windows works in.
func (co *course) roomOf(room *[]float64, n int) []float64 {
	size := (2*len(co.plant.modes.rate) + 1) * (co.before + n)
	*room = slices.Grow((*room)[:0], size)
	return (*room)[:size]
}

// bent is how many of the unknowns bend the curve.
func (k sparse) bent() (n int) {
	for n < len(k) && k[n] < bends {
		n++
	}
	return n
}

// traceIn is trace with room to work in, whose rows are laid down in buf.
func (co *course) traceIn(room, buf []float64, th *vec, play sparse, n int) trace {
	ends := co.ends[:n]
	n += co.before
	t := trace{ends: ends, loss: buf[:n]}
	for _, k := range play[:play.bent()] {
		buf = buf[n:]
		t.slope[k] = buf[:n]
	}
	p := co.plant.first(n)
	if !co.coated {
		p.march(th, 0, p.fadesIn(room, th), t.loss, &t.slope)
		return t.since(co)
	}
	s := math.Min(math.Max(th[kShare], leastShare), mostShare)
	p.march(th, co.logOf(s), p.fadesIn(room, th), t.loss, &t.slope)
	by := t.slope[kShare]
	for i := range by {
		by[i] *= -1 / (s * (1 - s))
		t.loss[i] += by[i] * (th[kShare] - s)
	}
	return t.since(co)
}

// since is the trace of a course with what came before day 0 taken off.
func (t trace) since(co *course) trace {
	if co.before == 0 {
		return t
	}
	rebase := func(x []float64) ([]float64, float64) {
		was := x[co.before-1]
		x = x[co.before:]
		for i := range x {
			x[i] = (x[i] - was) * co.scale
		}
		return x, was
	}
	t.loss, t.was = rebase(t.loss)
	for k := range t.slope {
		if t.slope[k] != nil {
			t.slope[k], t.by[k] = rebase(t.slope[k])
		}
	}
	return t
}

// at gives loss and slopes on a day: between two ends the loss is a power of
// time, before the first it is straight, past the last it carries on along the
// power of the last window. A power over 1.5, the most that is believed, is our
// choice: a bare wheel has 0.5 to 1.
func (t trace) at(day float64) (loss float64, slope vec) {
	n := len(t.ends)
	if !(day > 0) || n == 0 {
		return 0, slope
	}
	i := min(sort.SearchFloat64s(t.ends, day), n-1)
	if i == 0 {
		f := math.Min(day/t.ends[0], 1)
		for k := range bends {
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
	for k := range bends {
		if t.slope[k] != nil {
			slope[k] = t.slope[k][i-1] + math.Min(f, 1)*(t.slope[k][i]-t.slope[k][i-1])
		}
	}
	return loss, slope
}
