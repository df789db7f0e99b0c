package drying

import (
	"math"
	"sync"

	"rindkeep/cave/quantity"
)

// Point is one weighing: the loss then, chain-linked, as a fraction of green
// weight, and the standard deviation of the weighing as a fraction of green
// weight (scale step and handling). SD of 0 or less, or not a number, is taken
// as 0.001.
type Point struct {
	Day  float64
	Loss quantity.Fraction
	SD   quantity.Fraction
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
// known from sisters.
type Subject struct {
	Cheese Cheese
	Air    []Span
	Coats  []CoatOn
	Points []Point
	Lot    *Shared
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
	subject Subject
	cheese  Cheese
	course  *course
	prior   prior
	theta   [3]float64
	cov     [3][3]float64
	share   [2]float64 // what the coat passes: mean and sd of the normal that is cut off at 0 and 1
	z90     float64
	hand    float64  // how much surer or less sure the weighings are than was said
	points  []fitted // by day
	curves  *curves
}

// curves are the runs of the physics a forecast reads from, made when first
// asked for.
type curves struct {
	sync.Mutex
	own, exp trace
	sides    [2][2]trace // own and expected, with the coat as tight and as open as it may be, 90 %
}

// reach makes a run that covers a day, longer than asked so that the next days
// cost nothing.
func (c *curves) reach(t *trace, co *course, day float64, th func() [3]float64) trace {
	c.Lock()
	defer c.Unlock()
	n := len(co.ends)
	if day <= co.ends[n-1] {
		n = co.upTo(day)
	}
	if len(t.ends) < n {
		*t = co.trace(th(), min(n+n/4+4, len(co.ends)))
	}
	return *t
}

func (f *Forecast) own(day float64) trace {
	return f.curves.reach(&f.curves.own, f.course, day, func() [3]float64 { return f.theta })
}

func (f *Forecast) expected(day float64) trace {
	return f.curves.reach(&f.curves.exp, f.course, day, func() [3]float64 {
		th, _ := f.before()
		return th
	})
}

// side is the own (0) or expected (1) curve with the coat at the low (0) or
// high (1) end of what it may pass, the other logs following it, and where the
// logs then stand.
func (f *Forecast) side(of, end int, day float64) (trace, [3]float64) {
	th, cov, share := f.theta, f.cov, f.share
	if of == 1 {
		th, cov = f.before()
		share = f.course.share
	}
	q := cutQuantile(share[0], share[1], [2]float64{0.05, 0.95}[end])
	d := (q - th[2]) / math.Max(cov[2][2], 1e-12)
	for k := range 3 {
		th[k] += cov[k][2] * d
	}
	return f.curves.reach(&f.curves.sides[of][end], f.course, day, func() [3]float64 { return th }), th
}

// withoutShare is the covariance of the logs with the coat's share known.
func withoutShare(cov [3][3]float64) [3][3]float64 {
	v := cov[2][2]
	if !(v > 0) {
		return cov
	}
	col := [3]float64{cov[0][2], cov[1][2], cov[2][2]}
	for a := range 3 {
		for b := range 3 {
			cov[a][b] -= col[a] * col[b] / v
		}
	}
	return cov
}

// guess is a value in the middle of what is known of it: its standard deviation
// with the coat's share as it is, and its values, with their standard
// deviations, at the ends of what the share may be. A bare wheel has no ends.
type guess struct {
	best, sd float64
	ends     int // 0 or 2
	end, esd [2]float64
}

// interval is the 90 % interval, up to a most: normal in the log, where what is
// not known of the coat and of the wheel multiply, so that their logs add in
// quadrature, each end with the spread that goes with that coat.
func (g guess) interval(z, most float64) quantity.Estimate {
	if !(g.best > 0) {
		return quantity.Estimate{High: math.Min(z*g.sd, most)}
	}
	best := math.Min(g.best, most)
	down, up := z*g.sd/best, z*g.sd/best
	for i := range g.ends {
		e := math.Max(g.end[i], best/1e3)
		if by := math.Log(e / best); by < 0 {
			down = math.Max(down, math.Hypot(by, z*g.esd[i]/e))
		} else {
			up = math.Max(up, math.Hypot(by, z*g.esd[i]/e))
		}
	}
	return quantity.Estimate{
		Best: best,
		Low:  best / math.Exp(math.Min(down, 5)),
		High: math.Min(best*math.Exp(math.Min(up, 5)), most),
	}
}

// tilt is a fall and a rise, as an interval has below and above its best.
type tilt struct{ down, up float64 }

// widen adds a tilt to an interval in quadrature.
func (t tilt) widen(e quantity.Estimate, least, most float64) quantity.Estimate {
	e.Low = math.Max(e.Best-math.Hypot(e.Best-e.Low, t.down), math.Min(least, e.Best))
	e.High = math.Min(e.Best+math.Hypot(e.High-e.Best, t.up), math.Max(most, e.Best))
	return e
}

// fitted is one weighing after the fit.
type fitted struct {
	day, y, sd, w float64
	h             float64    // curve
	j             [3]float64 // its slopes
	del           float64    // straying of the wheel from its curve
	tb            [3]float64 // what the logs' uncertainty takes off the slopes
	inv, off      float64    // variance of the straying, and with the next point
}

// horizon is how far a course reaches, days: three years, or well past the last
// weighing.
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
// Check would refuse is brought to the nearest that can be reckoned with, and
// with no usable weight the physics (and the lot) is the answer, which Basis
// says.
func Estimate(s Subject) Forecast {
	c := sane(s.Cheese).filled()
	return estimate(s, c, newCourse(c, saneAir(s.Air), saneCoats(s.Coats), horizon(s), 0, 0))
}

func estimate(s Subject, c Cheese, co *course) Forecast {
	f := unfitted(s, c, co)
	order := usableByDay(s.Points)
	if f.used = len(order); f.used > 0 {
		var sv solver
		sv.load(s.Points, order)
		f.fit(&sv)
	}
	return f
}

// A coat that is meant to close either holds or it leaks: by the odds leakOdds,
// and then passes leakShare, give or take leakSpread. Common practice, no
// source.
const (
	leakOdds              = 0.1
	leakShare, leakSpread = 0.85, 0.2
	// A coat that usually passes more than this is not meant to close.
	openShare = 0.4
)

// fit fits the points loaded. Where they make little sense under the usual
// coat, a leaking one is tried, and kept where it tells them better: that the
// coat leaks is likelier than that every weight since is wrong.
func (f *Forecast) fit(sv *solver) {
	co := f.course
	lin := sv.exactly(co)
	r := sv.fit(lin, f.prior, co.dims(), co.coatAt)
	if co.coated && sv.day[len(sv.day)-1] > co.coatAt && f.prior.usual() < openShare {
		doubtful := r.theta[2] > f.prior.mean[2]+f.prior.sd[2]
		for _, w := range sv.w {
			doubtful = doubtful || w < 0.7
		}
		if doubtful {
			sound := sv.told(f.prior, r)
			leak := f.prior
			leak.mean[2], leak.sd[2] = leakShare, leakSpread
			l := sv.fit(lin, leak, 3, co.coatAt)
			if sv.told(leak, l)+math.Log(leakOdds/(1-leakOdds)) > sound {
				r, f.leaks = l, true
			} else {
				r = sv.fit(lin, f.prior, 3, co.coatAt)
			}
		}
	}
	f.theta, f.cov = r.theta, r.cov
	if co.coated {
		f.share = [2]float64{r.theta[2], math.Sqrt(r.cov[2][2])}
		f.theta, f.cov = cutShare(f.theta, f.cov)
		if f.theta != r.theta {
			lin(f.theta)
			sv.solve(f.prior, f.theta, 3)
			sv.spread([3]float64{}, f.cov)
		}
	}
	f.curves.own = sv.last
	f.keep(sv)
}

// cutQuantile is a quantile of a normal cut off at 0 and 1.
func cutQuantile(mean, sd, q float64) float64 {
	a, b := -mean/sd, (1-mean)/sd
	switch {
	case a > 5:
		return math.Min(-math.Log(1-q)*sd/a, 1)
	case b < -5:
		return math.Max(1+math.Log(q)*sd/-b, 0)
	}
	low, high := math.Erfc(-a/math.Sqrt2)/2, math.Erfc(-b/math.Sqrt2)/2
	p := low + q*(high-low)
	return math.Min(math.Max(mean+sd*math.Sqrt2*math.Erfinv(2*p-1), 0), 1)
}

// cutShare brings logs and covariance to what is left of the normal when the
// coat's share is cut off at 0 and 1.
func cutShare(th [3]float64, cov [3][3]float64) ([3]float64, [3][3]float64) {
	v := cov[2][2]
	if !(v > 0) {
		return th, cov
	}
	m, sd := cutNormal(th[2], math.Sqrt(v))
	shift, shrink := (m-th[2])/v, (1-sd*sd/v)/v
	col := [3]float64{cov[0][2], cov[1][2], cov[2][2]}
	for a := range 3 {
		th[a] = math.Max(math.Min(th[a]+col[a]*shift, farthest), -farthest)
		for b := range 3 {
			cov[a][b] -= col[a] * col[b] * shrink
		}
	}
	return th, cov
}

// cutNormal is mean and standard deviation of a normal cut off at 0 and 1.
func cutNormal(mean, sd float64) (float64, float64) {
	a, b := -mean/sd, (1-mean)/sd
	if a < -6 && b > 6 {
		return mean, sd
	}
	// A tail far out is all but exponential: the scaled error function holds.
	if a > 5 {
		return math.Min(sd/a, 1), math.Min(sd/a, 0.3)
	}
	if b < -5 {
		return math.Max(1-sd/-b, 0), math.Min(sd/-b, 0.3)
	}
	density := func(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }
	mass := (math.Erfc(a/math.Sqrt2) - math.Erfc(b/math.Sqrt2)) / 2
	d := (density(a) - density(b)) / mass
	v := 1 + (a*density(a)-b*density(b))/mass - d*d
	return mean + sd*d, sd * math.Sqrt(math.Max(v, 1e-6))
}

// unfitted is the forecast before any weighing.
func unfitted(s Subject, c Cheese, co *course) Forecast {
	f := Forecast{basis: FromPrior, subject: s, cheese: c, course: co, z90: z90, hand: 1, curves: &curves{}}
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
		f.prior.mean[2], f.prior.sd[2] = f.share[0], f.share[1]
	}
}

// before is what is known of the logs before any weighing.
func (f *Forecast) before() (th [3]float64, cov [3][3]float64) {
	p := f.prior
	th = p.mean
	cov[0][0], cov[0][1], cov[1][0], cov[1][1] = p.cov[0][0], p.cov[0][1], p.cov[1][0], p.cov[1][1]
	if f.course.coated {
		var sd float64
		th[2], sd = cutNormal(p.mean[2], p.sd[2])
		cov[2][2] = sd * sd
	}
	return th, cov
}

// student95 is the 95 % quantile of Student's t, nu 5 and up. Source: Abramowitz
// and Stegun 26.7.5, the expansion in 1/nu (from memory); good to 0.001.
func student95(nu float64) float64 {
	const z = z90
	return z + (z*z*z+z)/(4*nu) + (5*z*z*z*z*z+16*z*z*z+3*z)/(96*nu*nu)
}

// z90 is the normal quantile of a 90 % interval.
const z90 = quantity.Z90

// keep stores what forecasts need from the solver.
func (f *Forecast) keep(s *solver) {
	f.basis = FromOwn
	f.z90 = student95(scaleFaith + float64(len(s.y)))
	f.points = make([]fitted, len(s.y))
	f.hand = math.Sqrt(s.r[0] / s.said[0])
	for i := range s.y {
		f.points[i] = fitted{
			day: s.day[i], y: s.y[i], sd: math.Sqrt(s.r[i]), w: s.w[i], h: s.h[i], j: s.j[i],
			del: s.del[i], tb: s.tb[i], inv: s.inv[i], off: s.off[i],
		}
	}
}

// priorOf joins physics, lot and the wheel's own spread.
func priorOf(s Subject, c Cheese) prior {
	p := prior{cov: [2][2]float64{{wheelAirSD * wheelAirSD, 0}, {0, wheelInsideSD * wheelInsideSD}}}
	lot := lotPrior()
	if s.Lot != nil && s.Lot.Wheels > 0 {
		lot = *s.Lot
	}
	if len(s.Air) == 0 { // the air is a guess: half as much again, weak
		lot.Cov[0][0] += 0.3 * 0.3
		lot.Cov[1][1] += 0.15 * 0.15
	}
	p.mean[0], p.mean[1] = lot.Mean[0], lot.Mean[1]
	for i := range 2 {
		for j := range 2 {
			p.cov[i][j] += lot.Cov[i][j]
		}
	}
	// What is not known of the starting moisture moves the drive of the
	// inside: d ln(X0 - Xe) is about dM/(M (1-M)).
	m := float64(c.Moisture)
	d := float64(c.MoistureSD) / (m * (1 - m))
	p.cov[1][1] += d * d
	return p
}

// Basis says what the forecast rests on.
func (f Forecast) Basis() Basis { return f.basis }

// Used is the number of weighings used.
func (f Forecast) Used() int { return f.used }

// Loss is the wheel's own loss on a day, a fraction of green weight, 90 %.
func (f Forecast) Loss(day float64) quantity.Estimate {
	return f.lossAt(day).interval(f.z90, f.water())
}

// lossAt is the own curve with its straying.
func (f Forecast) lossAt(day float64) (out guess) {
	if !(day > 0) {
		return out
	}
	h, j := f.own(day).at(day)
	n := len(f.points)
	var tb [3]float64
	var del, v float64
	// Find the neighbours and bridge the straying between them.
	i := 0
	for i < n && f.points[i].day < day {
		i++
	}
	switch {
	case n == 0:
		known, _ := f.own(f.course.airUntil).at(f.course.airUntil)
		d := math.Max(0, h-known)
		v = strayVar(h) + unseen*unseen*h*h + toCome*toCome*d*d
	case i == n:
		p := f.points[n-1]
		d := math.Max(0, h-p.h)
		del, v, tb = p.del, p.inv+strayVar(d)+toCome*toCome*d*d, p.tb
	default:
		var left fitted
		lh := 0.0
		if i > 0 {
			left = f.points[i-1]
			lh = left.h
		}
		right := f.points[i]
		rh := right.h
		u := 1.0
		if rh > lh {
			u = math.Min(1, math.Max(0, (h-lh)/(rh-lh)))
		}
		del = (1-u)*left.del + u*right.del
		v = (1-u)*(1-u)*left.inv + u*u*right.inv + 2*u*(1-u)*left.off + 2*u*(1-u)*strayVar(rh-lh)/2
		for k := range 3 {
			tb[k] = (1-u)*left.tb[k] + u*right.tb[k]
		}
	}
	return f.about(0, h, j, day, del, v, tb)
}

// about is the loss of the own (0) or expected (1) curve, whose value on a day
// is h and whose slopes are j, strayed by del with variance v, of which the
// logs take off tb.
func (f Forecast) about(of int, h float64, j [3]float64, day, del, v float64, tb [3]float64) (out guess) {
	th, cov := f.theta, f.cov
	if of == 1 {
		th, cov = f.before()
	}
	cov = withoutShare(cov)
	spread := func(j [3]float64) float64 {
		for k := range 3 {
			j[k] -= tb[k]
		}
		return math.Sqrt(v + quad3(cov, j))
	}
	out.best, out.sd = math.Min(math.Max(h+del, 0), f.water()), spread(j)
	if !f.course.coated {
		return out
	}
	out.ends = 2
	for end := range 2 {
		c, at := f.side(of, end, day)
		l, j := c.at(day)
		l += del
		for k := range 3 {
			l -= tb[k] * (at[k] - th[k])
		}
		out.end[end], out.esd[end] = l, spread(j)
	}
	return out
}

// water is the most that can be lost, fraction of green weight.
func (f Forecast) water() float64 { return float64(f.cheese.Moisture) }

// Expected is the loss on a day before any of the wheel's own weights: physics
// and, where given, the lot; fraction of green weight, 90 %.
func (f Forecast) Expected(day float64) quantity.Estimate {
	if !(day > 0) {
		return quantity.Exactly(0)
	}
	return f.expectedAt(day).interval(z90, f.water())
}

func (f Forecast) expectedAt(day float64) guess {
	h, j := f.expected(day).at(day)
	return f.about(1, h, j, day, 0, strayVar(h), [3]float64{})
}

// usual is the share that the coats usually pass.
func (p prior) usual() float64 {
	m, _ := cutNormal(p.mean[2], p.sd[2])
	return m
}

// Moisture is the wet-basis moisture on a day, from the starting moisture, its
// spread and the own loss: M = 1 - (1 - M0)/(1 - L), 90 %.
func (f Forecast) Moisture(day float64) quantity.Estimate {
	l := f.Loss(day)
	m0, m0sd := float64(f.cheese.Moisture), float64(f.cheese.MoistureSD)
	at := func(loss float64) float64 { return 1 - (1-m0)/math.Max(1-loss, 1e-6) }
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
// the slow end of the band never does within ten years; ok is false where the
// best curve never does, and then Best is +Inf as well. A target of 0 or less
// is reached on day 0.
func (f Forecast) DayOfLoss(target quantity.Fraction) (days quantity.Estimate, ok bool) {
	t := float64(target)
	if !(t > 0) {
		return quantity.Exactly(0), !math.IsNaN(t)
	}
	find := func(at func(day float64) float64) float64 {
		lo, hi := 0.0, 30.0
		for at(hi) < t {
			if lo, hi = hi, math.Min(4*hi, 3650); lo == hi {
				return math.Inf(1)
			}
		}
		for range 60 {
			mid := (lo + hi) / 2
			if at(mid) >= t {
				hi = mid
			} else {
				lo = mid
			}
			if hi-lo < 1e-4 {
				break
			}
		}
		return hi
	}
	days.Best = find(func(d float64) float64 { return f.Loss(d).Best })
	days.Low = find(func(d float64) float64 { return f.Loss(d).High })
	days.High = find(func(d float64) float64 { return f.Loss(d).Low })
	days.Low, days.High = math.Min(days.Low, days.Best), math.Max(days.High, days.Best)
	return days, !math.IsInf(days.Best, 1)
}
