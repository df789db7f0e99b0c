package drying

import (
	"math"
)

// horizon is how far a course reaches, days: three years, or well past the last
// weighing. Our choice.
func horizon(s Subject) float64 {
	h := 1100.0
	for _, p := range s.Points {
		if p.usable() {
			h = math.Max(h, p.Day*1.3)
		}
	}
	return math.Min(h, 4000)
}

// Estimate fits the wheel's own curve. It never fails: a cheese or air that
// Check would refuse is brought to the nearest that the model can use, and
// with no usable weight the physics (and the lot) is the answer, which Basis
// says.
func Estimate(s Subject) Forecast {
	c := sane(s.Cheese).filled()
	return estimate(s, c, newCourse(c, saneAir(s.Air), saneCoats(s.Coats), horizon(s), 0, 0))
}

func estimate(s Subject, c Cheese, co *course) Forecast {
	f := unfitted(s, c, co)
	f.weighed(nil)
	return f
}

// weighed fits the subject's points, from where another forecast of the wheel came to; nil:
// from what is expected.
func (f *Forecast) weighed(from *Forecast) {
	order := usableByDay(f.subject.Points)
	if f.used = len(order); f.used > 0 {
		sv := solvers.Get().(*solver)
		sv.load(&f.subject, f.course, order)
		f.fit(sv, from)
		solvers.Put(sv)
	}
	f.settle()
}

// A coat that is meant to close either holds or it leaks: by the odds leakOdds,
// and then passes leakShare, give or take leakSpread. Our guess; TestIntervalsHold and
// TestCoatsThatLeakAreNamed hold it to account.
const (
	leakOdds              = 0.1
	leakShare, leakSpread = 0.8, 0.25
	// A coat that usually passes more than this is not meant to close.
	openShare = 0.4
)

// A rind either stays as it is or closes, by the odds closeOdds, and then at
// usualClosing, give or take closeSpread. Our calibration: TestIntervalsHold.
const (
	closeOdds                 = 0.6
	usualClosing, closeSpread = 0.4, 0.3
)

// Weights that agree with each other and not with what went before mean a step
// that nobody recorded (a piece cut off, another wheel, a wrong green weight), by
// the odds stepOdds: our guess.
const stepOdds = 0.02

// fit fits the points loaded. Where they make little sense under the usual
// coat, a leaking one is tried, and kept where it tells them better: that the
// coat leaks is likelier than that every weight since is wrong. So is a rind
// that closes, and a step that nobody recorded. A weight under 0.7 (our choice) is
// reason enough to try. The fit begins where that of near, another forecast of the wheel, ended;
// nil: at what is expected.
func (f *Forecast) fit(sv *solver, near *Forecast) {
	co, last := f.course, sv.day[len(sv.day)-1]
	from, _ := f.before()
	known := f.expected(last)
	if near != nil {
		from, known = near.theta, near.own(last)
	}
	lin := co.exactly(last, known, from)
	r := sv.fit(lin, &f.prior, f.play, from, co.coatAt)
	again := func(p *prior, play sparse, k, step int, odds float64) bool {
		o, from := sv.clone(), r.theta
		if k >= 0 {
			from[k], _ = cutNormal(p.mean[k], p.sd(k))
		}
		if step >= 0 {
			o.rest[step] += slipSD * slipSD
		}
		q := o.fit(lin, p, play, from, co.coatAt)
		if o.told(p, &q)+math.Log(odds/(1-odds)) <= sv.told(&f.prior, &r) || step >= 0 && !o.agree(step) {
			return false
		}
		*sv, r, f.prior, f.play = *o, q, *p, play
		return true
	}
	if co.coated && sv.day[len(sv.day)-1] > co.coatAt && co.usual() < openShare {
		doubtful := r.theta[kShare] > f.prior.mean[kShare]+f.prior.sd(kShare)
		for _, w := range sv.w {
			doubtful = doubtful || w < 0.7
		}
		if doubtful {
			leak := f.prior
			leak.set(kShare, leakShare, leakSpread)
			f.leaks = again(&leak, f.play, kShare, -1, leakOdds)
		}
	}
	if sv.flags() {
		closing := f.prior
		closing.set(kClose, usualClosing, closeSpread)
		again(&closing, co.unknowns(true), kClose, -1, closeOdds)
	}
	if step := sv.stepAt(); step >= 0 && again(&f.prior, f.play, -1, step, stepOdds) {
		f.step = sv.of[step]
	}
	f.theta, f.cov = r.theta, r.cov
	if co.coated {
		f.share = [2]float64{r.theta[kShare], math.Sqrt(r.cov[kShare][kShare])}
		f.theta, f.cov = cutShare(f.theta, f.cov)
		if f.theta != r.theta {
			sv.th = f.theta
			sv.curve(lin)
			sv.factor()
			sv.solve(&f.prior)
			sv.spread(&vec{}, &f.cov)
		}
	}
	f.keep(sv)
}

// closeSign is how many standard deviations a wheel falls behind its curve before a
// closing rind is tried. Our calibration: TestIntervalsHold.
const closeSign = 0.1

// flags says whether the weighings look like a rind that closes: three and more
// after half of closeDays, over which the wheel falls behind by more than closeSign.
func (s *solver) flags() bool {
	n := len(s.y)
	from := 0
	for from < n && s.day[from] < closeDays/2 {
		from++
	}
	if n-from < 3 {
		return false
	}
	var v float64
	for i := from + 1; i < n; i++ {
		v += s.q[i]
	}
	return s.del[n-1]-s.del[from] < -closeSign*math.Sqrt(v)
}

// stepAt is the first of the weighings, two or more up to the last, that the fit
// takes for slips; -1 where there are none.
func (s *solver) stepAt() int {
	i := len(s.w)
	for i > 0 && s.w[i-1] < 0.5 {
		i--
	}
	if i > len(s.w)-2 {
		return -1
	}
	return i
}

// agree says whether two or more weighings from one on are believed.
func (s *solver) agree(from int) bool {
	n := 0
	for _, w := range s.w[from:] {
		if w > 0.5 {
			n++
		}
	}
	return n > 1
}

// settle works out how the wheel answers to air that changes, from its unknowns.
func (f *Forecast) settle() {
	co := f.course
	f.toAir[0] = co.plant.answer(co.window(co.airUntil), &f.theta, math.Inf(-1))
	if co.coated {
		share := math.Min(math.Max(f.theta[kShare], leastShare), mostShare)
		f.toAir[1] = co.plant.answer(len(co.plant.windows)-1, &f.theta, co.logOf(share))
	}
}

// unfitted is the forecast before any weighing.
func unfitted(s Subject, c Cheese, co *course) Forecast {
	f := Forecast{basis: FromPrior, subject: s, cheese: c, course: co, play: co.unknowns(false), step: -1, z90: z90,
		hand: 1, curves: &curves{}}
	f.prior = priorOf(s, c)
	if s.Lot != nil && s.Lot.Wheels > 0 {
		f.basis = FromLot
	}
	f.shareBefore()
	f.theta, f.cov = f.before()
	return f
}

// shareBefore takes the prior of the coat's share from the course.
func (f *Forecast) shareBefore() {
	if f.course.coated {
		f.share = f.course.share
		f.prior.set(kShare, f.share[0], f.share[1])
	}
}

// before is what is known of the unknowns before any weighing.
func (f *Forecast) before() (th vec, cov mat) {
	p := f.prior
	p.set(kTare, 0, 0)
	p.set(kClose, 0, 0)
	if f.course.coated {
		mean, sd := cutNormal(f.course.share[0], f.course.share[1])
		p.set(kShare, mean, sd)
	}
	return p.mean, p.cov
}

// keep stores what forecasts need from the solver.
func (f *Forecast) keep(s *solver) {
	f.basis = FromOwn
	f.z90 = student95(scaleFaith + float64(len(s.y)))
	f.points = make([]fitted, len(s.y))
	f.hand = math.Sqrt(s.r[0] / s.said[0])
	for i := range s.y {
		p := fitted{
			of: s.of[i], day: s.day[i], y: s.y[i], sd: math.Sqrt(s.r[i]), w: s.w[i], tare: s.tare[i],
			j: s.j[i], del: s.del[i], tb: s.tb[i], inv: s.inv[i], off: s.off[i], q: s.q[i],
		}
		p.shift = f.shift(p.tare)
		p.h = s.h[i] - p.shift
		f.points[i] = p
	}
}

// shift is what the green weight's error, and the coat's where it is on, add to
// a loss as it is weighed.
func (f *Forecast) shift(tare bool) float64 {
	if tare {
		return f.theta[kGreen] + f.theta[kTare]
	}
	return f.theta[kGreen]
}

// priorOf joins physics, lot and the wheel's own spread. What is added where the air
// isn't known is our guess.
func priorOf(s Subject, c Cheese) prior {
	var p prior
	lot := s.lotPrior()
	if s.Lot != nil && s.Lot.Wheels > 0 {
		lot = *s.Lot
	}
	if len(s.Air) == 0 { // the air is a guess: half as much again, weak
		lot.Cov[kAir][kAir] += 0.3 * 0.3
		lot.Cov[kInside][kInside] += 0.15 * 0.15
	}
	if c.Age > 0 && (s.Lot == nil || s.Lot.Wheels == 0) {
		lot.Cov[kAir][kAir] += elsewhere * elsewhere
		lot.Cov[kInside][kInside] += elsewhere * elsewhere
	}
	for i := range shared {
		p.mean[i] = lot.Mean[i]
		p.cov[i][i] = wheelSD[i] * wheelSD[i]
		for j := range shared {
			p.cov[i][j] += lot.Cov[i][j]
		}
	}
	// What is not known of the starting moisture moves the drive of the
	// inside: d ln(X0 - Xe) is about dM/(M (1-M)).
	m := float64(c.Moisture)
	d := float64(c.MoistureSD) / (m * (1 - m))
	p.cov[kInside][kInside] += d * d
	p.set(kTare, 0, tareSD)
	return p
}

// elsewhere is what isn't known of a cheese that dried before anyone here saw it: of the logs of
// its multipliers, and of what it lost as a share of that. Our calibration:
// TestIntervalsHoldOfWheelsThatCameOld.
const elsewhere = 0.3

// tareSD is what a coat's weight may be off before its weighings are looked at,
// fraction of green weight: nearly flat. Our choice.
const tareSD = 0.05
