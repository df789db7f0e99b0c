package drying

import (
	"math"
	"sync"

	"rindkeep/cave/quantity"
)

// Point is one weighing: the loss then, chain-linked, as a fraction of green
// weight, and the standard deviation of the weighing as a fraction of green
// weight (scale step and handling). SD of 0 or less, or not a number, is taken
// as 0.001 (our default). Shift is the standard deviation of what linking it to the point
// before may have got wrong, for it and all later ones: a core or cut between
// them, a weight that had to be guessed; 0 for none.
type Point struct {
	Day   float64
	Loss  quantity.Fraction
	SD    quantity.Fraction
	Shift quantity.Fraction
}

// usable says whether the point can inform a fit.
func (p Point) usable() bool {
	return p.Day > 0 && !math.IsInf(p.Day, 0) && !math.IsNaN(float64(p.Loss)) && !math.IsInf(float64(p.Loss), 0)
}

// sd is the standard deviation with its default, kept within 1e-5 to 0.1.
func (p Point) sd() float64 {
	v := float64(p.SD)
	if !(v > 0) || math.IsInf(v, 0) {
		return 0.001
	}
	return math.Min(math.Max(v, 1e-5), 0.1)
}

// Subject is everything known of a wheel's drying. Air may be empty (a usual
// cellar is taken and the band widened), Coats and Points in any order; points
// on day 0 or before are kept but inform nothing. Lot nil means that nothing is
// known from sisters. HygrometerSD is how far off the room's hygrometer may be,
// one standard deviation, fraction of RH; 0 where nobody checked it.
type Subject struct {
	Cheese       Cheese
	Air          []Span
	Coats        []CoatOn
	Points       []Point
	Lot          *Shared
	HygrometerSD quantity.Fraction
}

// Basis is what a forecast rests on.
type Basis string

// The bases.
const (
	FromPrior Basis = "prior" // physics alone
	FromLot   Basis = "lot"   // physics and sister wheels
	FromOwn   Basis = "own"   // the wheel's own weights as well
)

// Forecast is what is known of a wheel's loss, past and to come. Its methods
// may be called with any day and from several goroutines: before 0 they answer
// for day 0, past the horizon (three years) they carry on along the last power.
// The zero value is not usable; Estimate gives one.
type Forecast struct {
	basis   Basis
	used    int
	leaks   bool // the weighings after the coat are told better by a coat that leaks
	step    int  // the point from which on the weighings are off by a step that nobody recorded; -1 for none
	subject Subject
	cheese  Cheese
	course  *course
	prior   prior
	play    sparse // unknowns fitted
	theta   vec
	cov     mat
	share   [2]float64 // what the coat passes: mean and sd of the normal that is cut off at 0 and 1
	z90     float64
	hand    float64  // how much surer or less sure the weighings are than was said
	points  []fitted // by day
	curves  *curves
	toAir   [2]answer // how a bare and a coated wheel answer to air that changes
}

// curves are the runs of the physics a forecast reads from, made when first
// asked for.
type curves struct {
	sync.Mutex
	own, exp trace
	sides    [2][2]trace // own and expected, with the coat as tight and as open as it may be, 90 %
}

// reach makes a run that covers a day, and one that must go on longer than asked so that the
// next days cost nothing.
func (c *curves) reach(t *trace, co *course, play sparse, day float64, th func() vec) trace {
	c.Lock()
	defer c.Unlock()
	n := len(co.ends)
	if day <= co.ends[n-1] {
		n = co.upTo(day)
	}
	if len(t.ends) < n {
		if len(t.ends) > 0 {
			n += n/4 + 4
		}
		at := th()
		*t = co.trace(&at, play, min(n, len(co.ends)))
	}
	return *t
}

func (f *Forecast) own(day float64) trace {
	if f.used == 0 && !f.course.coated { // the unknowns are as they were expected
		return f.expected(day)
	}
	return f.curves.reach(&f.curves.own, f.course, f.play, day, func() vec { return f.theta })
}

func (f *Forecast) expected(day float64) trace {
	return f.curves.reach(&f.curves.exp, f.course, f.play, day, func() vec {
		th, _ := f.before()
		return th
	})
}

// side is the own (0) or expected (1) curve with the coat at the low (0) or
// high (1) end of what it may pass, the other logs following it, and where the
// logs then stand. The ends are those of a 90 % interval by definition.
func (f *Forecast) side(of, end int, day float64) (trace, vec) {
	th, cov, share := f.theta, f.cov, f.share
	if of == 1 {
		th, cov = f.before()
		share = f.course.share
	}
	q := cutQuantile(share[0], share[1], [2]float64{0.05, 0.95}[end])
	d := (q - th[kShare]) / math.Max(cov[kShare][kShare], 1e-12)
	for k := range th {
		th[k] += cov[k][kShare] * d
	}
	return f.curves.reach(&f.curves.sides[of][end], f.course, f.play, day, func() vec { return th }), th
}

// fitted is one weighing after the fit.
type fitted struct {
	of            int // the subject's point; -1 for the coat's second weight
	day, y, sd, w float64
	tare          bool
	h             float64 // curve
	shift         float64 // and what the green weight's and the coat's error add to it
	j             vec     // slopes of the two
	del           float64 // straying of the wheel from its curve
	tb            vec     // what the unknowns take off the slopes
	inv, off      float64 // variance of the straying, and with the next point
	q             float64 // variance of the straying since the point before
}

// Ahead readies the forecast for being asked about any day up to one, which costs less
// than when each of them goes a little further.
func (f Forecast) Ahead(day float64) {
	_, day = f.stretch(day) // for its rate
	f.own(day)
	if f.course.coated {
		f.side(0, 0, day)
		f.side(0, 1, day)
	}
}

// Basis says what the forecast rests on.
func (f Forecast) Basis() Basis { return f.basis }

// Step is the point of the subject from which on all weighings agree with each
// other but not with those before, as where a piece was cut off and not recorded;
// ok is false where there is none.
func (f Forecast) Step() (k int, ok bool) { return f.step, f.step >= 0 }

// Used is the number of weighings used.
func (f Forecast) Used() int { return f.used }

// Loss is the wheel's own loss on a day, a fraction of green weight, 90 %.
func (f Forecast) Loss(day float64) quantity.Estimate {
	return f.lossAt(day, false).interval(f.z90, -mostGain, f.water())
}

// lossAt is the own curve with its straying; weighed, with what the errors of
// the green weight and of the coat's add as well.
func (f *Forecast) lossAt(day float64, weighed bool) (out guess) {
	if !(day > 0) {
		return out
	}
	h, j := f.own(day).at(day)
	n := len(f.points)
	i := 0
	for i < n && f.points[i].day < day {
		i++
	}
	s, own := strayed{j: j}, h
	if weighed && n > 0 {
		tare := f.course.coated && day > f.course.coatAt
		h += f.shift(tare)
		if s.j[kGreen] = 1; tare {
			s.j[kTare] = 1
		}
	}
	switch {
	case n == 0:
		known, _ := f.own(f.course.airUntil).at(f.course.airUntil)
		d := math.Max(0, h-known)
		on := f.rateToCome(f.course.airUntil, day)
		s.times = on.spread * d // the prior has the slowing
		s.falls = math.Hypot(on.falls*d, f.bindingToCome(f.course.airUntil, day))
		s.v = strayVar(math.Abs(h)) + unseen*unseen*h*h + f.airToCome(f.course.airUntil, day)
	case i == n:
		p := f.points[n-1]
		s.del, s.tb = p.del, p.tb
		d := math.Max(0, own-p.h)
		on := f.rateToCome(p.day, day)
		s.del -= on.slower * d
		s.times = on.spread * d
		s.falls = math.Hypot(on.falls*d, f.bindingToCome(p.day, day))
		k := f.course.steadies(p.day)
		s.v = p.inv + k*k*strayVar(d) + f.airToCome(p.day, day)
	default: // the straying is bridged between the neighbours
		var left fitted
		if i > 0 {
			left = f.points[i-1]
		}
		right := f.points[i]
		u := (day - left.day) / (right.day - left.day)
		if right.h > left.h+1e-6 {
			u = math.Min(1, math.Max(0, (own-left.h)/(right.h-left.h)))
		}
		s.del = (1-u)*left.del + u*right.del
		s.v = (1-u)*(1-u)*left.inv + u*u*right.inv + 2*u*(1-u)*left.off + u*(1-u)*right.q
		for k := range s.tb {
			s.tb[k] = (1-u)*left.tb[k] + u*right.tb[k]
		}
	}
	return f.about(0, h, day, s)
}

// airToCome is the variance of the loss on a day that air turning damper or
// drier after the day from brings: the mean of what leaves the log with the time
// constant turnDays and comes back to it with dampDays. The wheel answers as its
// weights have it: as fast as its surface and its inside are, and through a coat that
// passes what this one does.
func (f *Forecast) airToCome(from, day float64) float64 {
	v := dampToCome * f.answer(day).after(day-from)
	t := math.Max((day-from)/dampDays, 1e-3)
	return v * v * -math.Expm1(-(day-from)/turnDays) * (2 / t * (1 + math.Expm1(-t)/t))
}

// bindingToCome is by how much less may be lost from one day to another as the rind
// binds its water more firmly.
func (f *Forecast) bindingToCome(from, day float64) float64 {
	return bindsMore * f.folds(from, day) * f.answer(day).after(day-from)
}

// folds is by how many e-folds a wheel ages from one day to another.
func (f *Forecast) folds(from, day float64) float64 {
	age := f.course.age
	folds := math.Log1p((age+day)/closeDays) - math.Log1p((age+from)/closeDays)
	return math.Min(math.Max(folds, 0), mostFolds)
}

// answer is how the wheel answers to air that changes, by its coat on a day.
func (f *Forecast) answer(day float64) answer {
	if f.course.coated && day > f.course.coatAt {
		return f.toAir[1]
	}
	return f.toAir[0]
}

// Sways is how far air that turns damper or drier may move the loss from one day to a
// later one, one standard deviation, fraction of green weight.
func (f Forecast) Sways(from, day float64) float64 {
	return math.Sqrt(f.airToCome(from, math.Max(from, day)))
}

// onward is how a rate may go on: slower by a share, with a spread of factors both
// ways and one more of falling.
type onward struct{ slower, spread, falls float64 }

// rateToCome is how the rate may go on from one day to another.
func (f *Forecast) rateToCome(from, day float64) onward {
	folds := f.folds(from, day)
	k := f.course.steadies(from)
	if f.theta[kClose] != 0 {
		return onward{spread: k * math.Hypot(toCome, closesOn*folds)}
	}
	return onward{k * slows * folds, k * math.Hypot(toCome, goesOn*folds), k * mayFall * folds}
}

// strayed is how a wheel has strayed from its curve on a day: by del with the
// variance v; j are the curve's slopes, of which the unknowns take off tb.
type strayed struct {
	j, tb  vec
	del, v float64
	times  float64 // a further spread, of factors
	falls  float64 // and one more, down only
}

// about is the loss of the own (0) or expected (1) curve, whose value on a day
// is h, and how the wheel has strayed from it.
func (f *Forecast) about(of int, h, day float64, s strayed) (out guess) {
	th, cov := &f.theta, &f.cov
	if of == 1 {
		t, c := f.before()
		th, cov = &t, &c
	}
	if f.course.coated {
		c := withoutShare(*cov)
		cov = &c
	}
	spread := func(j *vec) (sd, times float64) {
		var g vec
		for k := range j {
			g[k] = j[k] - s.tb[k]
		}
		t := s.times * s.times
		return math.Sqrt(s.v + t + f.play.quad(cov, &g)), math.Sqrt(t + factors.quad(cov, &g))
	}
	out.best = h + s.del
	out.sd, out.times = spread(&s.j)
	out.falls = s.falls
	if !f.course.coated {
		return out
	}
	out.ends = 2
	for end := range 2 {
		c, at := f.side(of, end, day)
		l, j := c.at(day)
		for k := bends; k < unknowns; k++ {
			j[k] = s.j[k]
			l += j[k] * at[k]
		}
		l += s.del
		for k := range at {
			l -= s.tb[k] * (at[k] - th[k])
		}
		out.end[end] = l
		out.esd[end], _ = spread(&j)
	}
	return out
}

// water is the most that can be lost from day 0 on, fraction of green weight.
func (f Forecast) water() float64 {
	m := float64(f.cheese.Moisture)
	return m - (1-m)*(f.course.scale-1) // exactly m for a fresh cheese
}

// Before is what an aged cheese lost before day 0, fraction of its green weight, by
// the physics and by how it dries since, 90 %; exactly 0 for a fresh one.
func (f Forecast) Before() quantity.Estimate {
	if f.course.before == 0 {
		return quantity.Exactly(0)
	}
	t := f.own(1)
	cov := withoutShare(f.cov)
	g := guess{best: t.was, times: math.Sqrt(f.play.quad(&cov, &t.by))}
	g.sd = math.Sqrt(strayVar(math.Abs(t.was)) + elsewhere*elsewhere*t.was*t.was + g.times*g.times)
	return g.interval(f.z90, 0, mostBefore*float64(f.cheese.Moisture))
}

// Expected is the loss on a day before any of the wheel's own weights: physics
// and, where given, the lot; fraction of green weight, 90 %.
func (f Forecast) Expected(day float64) quantity.Estimate {
	if !(day > 0) {
		return quantity.Exactly(0)
	}
	return f.expectedAt(day).interval(z90, 0, f.water())
}

func (f *Forecast) expectedAt(day float64) guess {
	h, j := f.expected(day).at(day)
	return f.about(1, h, day, strayed{j: j, v: strayVar(math.Abs(h))})
}

// usual is the share that the coats usually pass.
func (co *course) usual() float64 {
	m, _ := cutNormal(co.share[0], co.share[1])
	return m
}

// Moisture is the wet-basis moisture on a day, from the starting moisture, its
// spread and the own loss: M = 1 - (1 - M0)/(1 - L), 90 %.
func (f Forecast) Moisture(day float64) quantity.Estimate {
	l := f.Loss(day)
	m0, m0sd := float64(f.cheese.Moisture), float64(f.cheese.MoistureSD)
	at := func(loss float64) float64 { return 1 - (1-m0)/math.Max(1-loss, 1e-6) }
	if b := f.Before(); b.High > 0 {
		whole := func(loss, before float64) float64 { return 1 - (1-loss)*(1-before) }
		best := whole(l.Best, b.Best)
		l = quantity.Estimate{
			Best: best,
			Low:  best - math.Hypot(best-whole(l.Low, b.Best), best-whole(l.Best, b.Low)),
			High: best + math.Hypot(whole(l.High, b.Best)-best, whole(l.Best, b.High)-best),
		}
	}
	best := at(l.Best)
	v := f.z90 * m0sd / math.Max(1-l.Best, 1e-6)
	clip := func(x float64) float64 { return math.Min(math.Max(x, 0), 1) }
	return quantity.Estimate{
		Best: clip(best),
		Low:  clip(best - math.Hypot(v, best-at(l.High))),
		High: clip(best + math.Hypot(v, at(l.Low)-best)),
	}
}

// DayOfLoss is the day the own curve reaches a loss, 90 %. High is +Inf where
// the slow end of the band never does within ten years (our choice); ok is false where the
// best curve never does, and then Best is +Inf as well. A target of 0 or less
// is reached on day 0.
func (f Forecast) DayOfLoss(target quantity.Fraction) (days quantity.Estimate, ok bool) {
	t := float64(target)
	if !(t > 0) {
		return quantity.Exactly(0), !math.IsNaN(t)
	}
	days.Best = reaches(t, 0, 30, func(d float64) float64 { return f.Loss(d).Best })
	near := math.Min(days.Best, 30)
	days.Low = reaches(t, 0, near, func(d float64) float64 { return f.Loss(d).High })
	days.High = reaches(t, near/2, 2*near, func(d float64) float64 { return f.Loss(d).Low })
	days.Low, days.High = math.Min(days.Low, days.Best), math.Max(days.High, days.Best)
	return days, !math.IsInf(days.Best, 1)
}

// reaches is the first day by which a rising curve that begins at 0 has come to t, to 1e-4 days,
// sought first between two days; +Inf where it doesn't come to it within ten years. Illinois steps,
// by Dowell and Jarratt 1971 (from memory); every fourth one halves, whatever the curve does.
func reaches(t, lo, hi float64, at func(day float64) float64) float64 {
	const near, most = 1e-4, 3650
	below, above := -t, at(hi)-t
	if lo > 0 {
		if below = at(lo) - t; below >= 0 {
			lo, hi, below, above = 0, lo, -t, below
		}
	}
	for above < 0 {
		if lo, hi = hi, math.Min(4*hi, most); lo == hi {
			return math.Inf(1)
		}
		below, above = above, at(hi)-t
	}
	side := 0 // the end that the last step moved
	for i := 1; hi-lo >= near; i++ {
		x := (lo + hi) / 2
		if i%4 != 0 {
			x = lo - below*(hi-lo)/(above-below)
			x = math.Min(math.Max(x, lo+near/2), hi-near/2)
		}
		if y := at(x) - t; y >= 0 {
			if hi, above = x, y; side > 0 {
				below /= 2
			}
			side = 1
		} else {
			if lo, below = x, y; side < 0 {
				above /= 2
			}
			side = -1
		}
	}
	return hi
}
