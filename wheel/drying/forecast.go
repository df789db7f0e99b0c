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

// What a forecast rests on.
const (
	FromPrior = "prior" // physics alone
	FromLot   = "lot"   // physics and sister wheels
	FromOwn   = "own"   // the wheel's own weights as well
)

// Forecast is what is known of a wheel's loss, past and to come. Its methods
// may be called with any day and from several goroutines: before 0 they answer
// for day 0, past the horizon (three years) they carry on along the last power.
// The zero value is not usable; Estimate gives one.
type Forecast struct {
	basis   string
	used    int
	subject Subject
	cheese  Cheese
	course  *course
	prior   prior
	theta   [3]float64
	cov     [3][3]float64
	z90     float64
	points  []fitted // by day
	curves  *curves
}

// curves are the runs of the physics a forecast reads from, made when first
// asked for.
type curves struct {
	ownOnce, expOnce sync.Once
	own, exp         trace
}

func (f *Forecast) own() trace {
	f.curves.ownOnce.Do(func() { f.curves.own = f.course.trace(f.theta, len(f.course.ends)) })
	return f.curves.own
}

func (f *Forecast) expected() trace {
	f.curves.expOnce.Do(func() { f.curves.exp = f.course.trace(f.prior.mean, len(f.course.ends)) })
	return f.curves.exp
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
		r := sv.fit(sv.exactly(co), f.prior, co.dims())
		f.theta, f.cov = r.theta, r.cov
		f.keep(&sv)
	}
	return f
}

// unfitted is the forecast before any weighing.
func unfitted(s Subject, c Cheese, co *course) Forecast {
	f := Forecast{basis: FromPrior, subject: s, cheese: c, course: co, z90: z90, curves: &curves{}}
	f.prior = priorOf(s, c)
	if s.Lot != nil && s.Lot.Wheels > 0 {
		f.basis = FromLot
	}
	f.theta = f.prior.mean
	f.cov[0][0], f.cov[0][1], f.cov[1][0], f.cov[1][1] = f.prior.cov[0][0], f.prior.cov[0][1], f.prior.cov[1][0], f.prior.cov[1][1]
	if co.coated {
		f.cov[2][2] = f.prior.sd[2] * f.prior.sd[2]
	}
	return f
}

// student95 is the 95 % quantile of Student's t, nu 5 and up. Source: Abramowitz
// and Stegun 26.7.5, the expansion in 1/nu (from memory); good to 0.001.
func student95(nu float64) float64 {
	const z = z90
	return z + (z*z*z+z)/(4*nu) + (5*z*z*z*z*z+16*z*z*z+3*z)/(96*nu*nu)
}

// z90 is the normal quantile of a 90 % interval.
const z90 = 1.6449

// keep stores what forecasts need from the solver.
func (f *Forecast) keep(s *solver) {
	f.basis = FromOwn
	f.z90 = student95(scaleFaith + float64(len(s.y)))
	f.points = make([]fitted, len(s.y))
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
	p.sd[2] = 0.8
	var sum, weight float64
	for _, k := range s.Coats {
		sum += k.Coat.spread() * k.Coat.resistance()
		weight += k.Coat.resistance()
	}
	if weight > 0 {
		p.sd[2] = sum / weight
	}
	return p
}

// Basis says what the forecast rests on: "prior", "lot" or "own".
func (f Forecast) Basis() string { return f.basis }

// Used is the number of weighings used.
func (f Forecast) Used() int { return f.used }

// Loss is the wheel's own loss on a day, a fraction of green weight, 90 %.
func (f Forecast) Loss(day float64) quantity.Estimate {
	best, sd := f.lossAt(day)
	return f.band(best, sd, f.z90)
}

// lossAt is the own curve with its straying, and its standard deviation.
func (f Forecast) lossAt(day float64) (best, sd float64) {
	if !(day > 0) {
		return 0, 0
	}
	h, j := f.own().at(day)
	n := len(f.points)
	if n == 0 {
		known, _ := f.own().at(f.course.airUntil)
		d := math.Max(0, h-known)
		v := quad3(f.cov, j) + strayVar(h) + unseen*unseen*h*h + toCome*toCome*d*d
		return h, math.Sqrt(v)
	}
	// Find the neighbours and bridge the straying between them.
	i := 0
	for i < n && f.points[i].day < day {
		i++
	}
	var del, v float64
	var g [3]float64
	switch {
	case i == n:
		p := f.points[n-1]
		d := math.Max(0, h-p.h)
		del, v = p.del, p.inv+strayVar(d)+toCome*toCome*d*d
		for k := range 3 {
			g[k] = j[k] - p.tb[k]
		}
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
			g[k] = j[k] - (1-u)*left.tb[k] - u*right.tb[k]
		}
	}
	v += quad3(f.cov, g)
	best = math.Min(math.Max(h+del, 0), f.water())
	return best, math.Sqrt(v)
}

// band turns a loss and its standard deviation into an interval that stays
// over 0 and under the water there is: normal in the log.
func (f Forecast) band(best, sd, z float64) quantity.Estimate {
	if !(best > 0) {
		return quantity.Estimate{Best: 0, Low: 0, High: math.Min(z*sd, f.water())}
	}
	best = math.Min(best, f.water())
	k := math.Exp(math.Min(z*sd/best, 5))
	return quantity.Estimate{Best: best, Low: best / k, High: math.Min(best*k, f.water())}
}

// water is the most that can be lost, fraction of green weight.
func (f Forecast) water() float64 { return float64(f.cheese.Moisture) }

// Expected is the loss on a day before any of the wheel's own weights: physics
// and, where given, the lot; fraction of green weight, 90 %.
func (f Forecast) Expected(day float64) quantity.Estimate {
	if !(day > 0) {
		return quantity.Exactly(0)
	}
	h, j := f.expected().at(day)
	return f.band(h, math.Sqrt(f.prior.variance(j)+strayVar(h)), z90)
}

func (p prior) variance(j [3]float64) float64 {
	v := p.cov[0][0]*j[0]*j[0] + 2*p.cov[0][1]*j[0]*j[1] + p.cov[1][1]*j[1]*j[1]
	return v + p.sd[2]*p.sd[2]*j[2]*j[2]
}

// Moisture is the wet-basis moisture on a day, from the starting moisture, its
// spread and the own loss: M = 1 - (1 - M0)/(1 - L), 90 %.
func (f Forecast) Moisture(day float64) quantity.Estimate {
	l, sd := f.lossAt(day)
	m0, m0sd := float64(f.cheese.Moisture), float64(f.cheese.MoistureSD)
	left := math.Max(1-l, 1e-6)
	best := 1 - (1-m0)/left
	v := math.Hypot(m0sd/left, sd*(1-m0)/(left*left))
	clip := func(x float64) float64 { return math.Min(math.Max(x, 0), 1) }
	return quantity.Estimate{Best: clip(best), Low: clip(best - f.z90*v), High: clip(best + f.z90*v)}
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
		lo, hi := 0.0, 3650.0
		if at(hi) < t {
			return math.Inf(1)
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
