package drying

import (
	"math"
	"slices"
	"sync"
)

// solver holds the working arrays of a fit, so that a fit of many wheels
// allocates once.
type solver struct {
	y    []float64 // loss weighed
	day  []float64 // its day
	r    []float64 // its variance
	w    []float64 // its weight, 1 trusted to 0 slip
	h    []float64 // curve and shifts
	j    []vec     // its slopes
	q    []float64 // variance of the straying between neighbours
	calm []float64 // factor on it under a tight coat
	rest []float64 // what of it does not hang on the curve
	dg   []float64 // tridiagonal factor: diagonal
	lo   []float64 // and below it
	said []float64 // variance as it was stated
	z    []float64 // straying for no step of the unknowns
	tb   []vec     // and what a step takes off it
	inv  []float64 // variance of the straying
	off  []float64 // its covariance with the next
	del  []float64 // straying found
	vfit []float64 // variance of curve and straying
	rows []float64 // table rows of the points, where a table is used
	spot spot
	odd  []bool
	of   []int     // the subject's point; -1 for the coat's second weight
	tare []bool    // weighed with the coat on
	flat []float64 // the curve where its slopes were taken
	buf  []float64 // what all of these but rows are cut from

	th     vec     // where the fit stands
	from   vec     // where its slopes were taken
	play   sparse  // unknowns in play
	green  float64 // stated variance of the green weight
	scale  float64 // factor on what was stated that the scatter calls for
	prec   mat     // the prior's precision
	logDet float64 // log of the determinant of the prior's covariance
}

// solvers are what fits work in.
var solvers = sync.Pool{New: func() any { return new(solver) }}

// size makes room for n weighings, at least 32 (our choice).
func (s *solver) size(n int) {
	if m := max(n, 32); cap(s.y) < n {
		s.buf, s.j, s.tb = make([]float64, 17*m), make([]vec, m), make([]vec, m)
		s.odd, s.of, s.tare = make([]bool, m), make([]int, m), make([]bool, m)
	}
	m := len(s.buf) / 17
	buf := s.buf
	for _, of := range []*[]float64{&s.y, &s.day, &s.r, &s.w, &s.h, &s.q, &s.calm, &s.rest, &s.dg, &s.lo, &s.z, &s.inv,
		&s.off, &s.del, &s.said, &s.vfit, &s.flat} {
		*of, buf = buf[:n:m], buf[m:]
	}
	s.j, s.tb, s.odd, s.of, s.tare = s.j[:n], s.tb[:n], s.odd[:n], s.of[:n], s.tare[:n]
}

// clone is another solver of the same points, where the first one stands, with as much room.
func (s *solver) clone() *solver {
	o := *s
	o.buf, o.j, o.tb = slices.Clone(s.buf), slices.Clone(s.j[:cap(s.j)]), slices.Clone(s.tb[:cap(s.tb)])
	o.odd = slices.Clone(s.odd[:cap(s.odd)])
	o.size(len(s.y))
	return &o
}

// load takes the usable points, in order of day, and the weight of the first
// coat's second weighing, which tells what the coat weighs.
func (s *solver) load(sub *Subject, co *course, order []int) {
	second := -1 // where the coat's weight comes in
	first := co.firstCoat(sub.Coats)
	if first != nil && (first.Day <= 0 || first.SD == 0) { // in all weights alike, or in none
		first = nil
	}
	if first != nil && !math.IsInf(float64(first.SD), 1) {
		second = 0
		for _, k := range order {
			if sub.Points[k].Day <= first.Day {
				second++
			}
		}
		s.size(len(order) + 1)
	} else {
		s.size(len(order))
	}
	clear(s.buf) // nothing of another wheel's fit may be left
	clear(s.tb)
	i := 0
	put := func(p Point, of int, tare bool) {
		s.y[i], s.day[i], s.said[i] = float64(p.Loss), p.Day, p.sd()*p.sd()
		s.rest[i] = float64(p.Shift) * float64(p.Shift)
		s.of[i], s.tare[i] = of, tare
		i++
	}
	for n, k := range order {
		if n == second {
			put(Point{Day: first.Day, Loss: first.Loss, SD: first.SD}, -1, true)
		}
		p := sub.Points[k]
		put(p, k, first != nil && p.Day > first.Day)
	}
	if second == len(order) {
		put(Point{Day: first.Day, Loss: first.Loss, SD: first.SD}, -1, true)
	}
	s.green = s.said[0]
	// The air between two weighings is not just what was logged.
	bare, coated := co.answers()
	prev := 0.0
	for i, d := range s.day {
		a := bare
		if s.tare[i] {
			a = coated
		}
		v := drift * a.after(d-prev)
		s.rest[i] += v*v + 1e-14
		k := co.steadies(prev)
		s.calm[i] = k * k
		prev = d
	}
}

// start readies the solver for a prior and the unknowns in play.
func (s *solver) start(p *prior, play sparse) {
	s.play = play
	cov := p.cov
	cov[kGreen][kGreen] = s.green
	s.prec, s.logDet = play.inverse(&cov)
	s.from = never
}

// exactly sets curve and slopes at the points of solvers from the physics, whose run at the
// unknowns at is known.
func (co *course) exactly(last float64, known trace, at vec) func(s *solver) {
	n := co.upTo(last)
	return func(s *solver) {
		t := known
		if s.th != at {
			room, rows := rooms.Get().(*[]float64), rooms.Get().(*[]float64)
			defer rooms.Put(room)
			defer rooms.Put(rows)
			*rows = slices.Grow((*rows)[:0], (s.play.bent()+1)*(co.before+n))
			t = co.traceIn(co.roomOf(room, n), (*rows)[:cap(*rows)], &s.th, s.play, n)
		}
		for i, d := range s.day {
			s.flat[i], s.j[i] = t.at(d)
		}
	}
}

// tabled sets curve and slopes at the points from a table made for a wheel
// whose multipliers' logs lie shift away from this one's.
func (s *solver) tabled(t *table, shift [2]float64) func(s *solver) {
	if n := len(s.y) * cells; cap(s.rows) < n {
		s.rows = make([]float64, n)
	}
	s.rows = s.rows[:len(s.y)*cells]
	for i, d := range s.day {
		t.row(d, s.rows[i*cells:(i+1)*cells])
	}
	return func(s *solver) {
		s.spot.set(s.th[kAir]+shift[0], s.th[kInside]+shift[1], s.th[kDamp])
		for i := range s.y {
			s.flat[i], s.j[i] = t.loss(&s.spot, s.rows[i*cells:(i+1)*cells], s.day[i])
		}
	}
}

// near is how far unknowns may be from where the slopes were taken, as shares of their
// unit, for the curve to follow these: it's off by half the square of that then. Our choice.
const near = 0.02

// never is nowhere that slopes were taken.
var never = vec{kAir: math.NaN()}

// curve brings curve and slopes to where the fit stands.
func (s *solver) curve(linearise func(s *solver)) {
	for _, k := range s.play {
		if k < bends && !(math.Abs(s.th[k]-s.from[k]) < near*unit[k]) {
			linearise(s)
			s.from = s.th
			break
		}
	}
	prev := 0.0
	for i, l := range s.flat {
		j := &s.j[i]
		for _, k := range s.play {
			if k < bends {
				l += j[k] * (s.th[k] - s.from[k])
			}
		}
		s.h[i] = l
		s.q[i] = s.calm[i]*strayVar(math.Max(0, l-prev)) + s.rest[i]
		prev = l
		j[kGreen] = 1
		s.h[i] += s.th[kGreen]
		if s.tare[i] {
			j[kTare] = 1
			s.h[i] += s.th[kTare]
		}
	}
}

// strayVar is the variance of straying over a stretch in which the curve loses
// d: (straying d)^2 over short stretches, 2 straying^2 strayLoss d over long.
func strayVar(d float64) float64 {
	u := d / strayLoss
	if u < 1e-4 {
		return straying * straying * d * d
	}
	return 2 * straying * straying * strayLoss * strayLoss * (u + math.Expm1(-u))
}

// factor eliminates the straying at every point by a tridiagonal factor, and
// finds what of it the residuals ask for.
func (s *solver) factor() {
	last := len(s.y) - 1
	next := 1 / s.q[0]
	for i := range s.y {
		g := s.w[i] / s.r[i]
		d := g + next
		s.z[i] = g * (s.y[i] - s.h[i])
		s.lo[i] = 0
		if i > 0 {
			lo := -next / s.dg[i-1]
			d += lo * next
			s.z[i] -= lo * s.z[i-1]
			s.lo[i] = lo
		}
		if i < last {
			next = 1 / s.q[i+1]
			d += next
		}
		s.dg[i] = d
	}
	for i := last; i >= 0; i-- {
		s.z[i] /= s.dg[i]
		if i < last {
			s.z[i] -= s.lo[i+1] * s.z[i+1]
		}
	}
}

// solve finds the step of the linearised problem, by the last factor: the
// unknowns are eliminated by the small system left. It returns the step and the
// covariance of the unknowns.
func (s *solver) solve(p *prior) (step vec, cov mat) {
	n := len(s.y)
	for i := range n {
		g := s.w[i] / s.r[i]
		tb, j := &s.tb[i], &s.j[i]
		for _, k := range s.play {
			tb[k] = g * j[k]
		}
		if i > 0 {
			lo, was := s.lo[i], &s.tb[i-1]
			for _, k := range s.play {
				tb[k] -= lo * was[k]
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		s.inv[i] = 1 / s.dg[i]
		tb := &s.tb[i]
		for _, k := range s.play {
			tb[k] *= s.inv[i]
		}
		if i+1 < n {
			for _, k := range s.play {
				tb[k] -= s.lo[i+1] * s.tb[i+1][k]
			}
			s.off[i] = -s.lo[i+1] * s.inv[i+1]
			s.inv[i] -= s.lo[i+1] * s.off[i]
		}
	}
	m, v := s.prec, vec{}
	for _, a := range s.play {
		for _, b := range s.play {
			v[a] += s.prec[a][b] * (p.mean[b] - s.th[b])
		}
	}
	for i := range n {
		g := s.w[i] / s.r[i]
		e := s.y[i] - s.h[i] - s.z[i]
		j, tb := &s.j[i], &s.tb[i]
		for x, a := range s.play {
			ga := g * j[a]
			v[a] += ga * e
			for _, b := range s.play[:x+1] {
				m[a][b] += ga * (j[b] - tb[b])
			}
		}
	}
	cov, _ = s.play.inverse(&m)
	for _, a := range s.play {
		for _, b := range s.play {
			step[a] += cov[a][b] * v[b]
		}
	}
	return step, cov
}

// spread sets the straying found and the variance of the fitted value at every
// point from the last solve.
func (s *solver) spread(step *vec, cov *mat) {
	for i := range s.y {
		var g vec
		del := s.z[i]
		for _, k := range s.play {
			del -= s.tb[i][k] * step[k]
			g[k] = s.j[i][k] - s.tb[i][k]
		}
		s.del[i] = del
		s.vfit[i] = s.play.quad(cov, &g) + s.inv[i]
	}
}

// cost is minus twice the log of how likely the weighings and the unknowns are,
// by the last factor; what is the same for all unknowns is left out.
func (s *solver) cost(p *prior) (sum float64) {
	for i := range s.y {
		g, res := s.w[i]/s.r[i], s.y[i]-s.h[i]
		sum += g*res*(res-s.z[i]) + math.Log(s.q[i]*s.dg[i]/g)
	}
	var d vec
	for _, k := range s.play {
		d[k] = s.th[k] - p.mean[k]
	}
	return sum + s.play.quad(&s.prec, &d)
}

// told is the log of how well the last fit tells the weighings, its unknowns
// and its straying integrated out; a slip counts with the odds of one.
func (s *solver) told(p *prior, r *result) float64 {
	sum := -s.cost(p)
	for _, w := range s.w {
		sum += 2 * (w*math.Log(1-slipShare) + (1-w)*math.Log(slipShare))
	}
	_, det := s.play.inverse(&r.cov)
	return (sum + det - s.logDet) / 2
}

// screen sets aside to begin with what is outrageously far from the physics,
// so that it does not lead the first steps astray.
func (s *solver) screen(p *prior) {
	for i, h := range s.h {
		v := s.play.quad(&p.cov, &s.j[i]) + strayVar(math.Abs(h)) + s.rest[i] + s.r[i] + s.green
		off := h - s.y[i]
		if off < 0 && h > 0 {
			off = h * math.Log(s.y[i]/h)
		}
		if s.odd[i] = off > outrageous*math.Sqrt(v); s.odd[i] {
			s.w[i] = 1e-4
		}
	}
}

// weigh sets every weighing's weight to the odds that it is no slip, seen from
// all the others: the share of its mixture that the plain error explains; but early
// on, those after the day trust are believed. It gives the most that a weight moved.
// The scatter may call for another variance than the one in use, leaning on that as
// scaleFaith weighings would. One weighing counts in it with at most 9, three standard
// deviations: our choice.
func (s *solver) weigh(step *vec, cov *mat, early bool, trust float64) (moved float64) {
	s.spread(step, cov)
	sum, n := scaleFaith, scaleFaith
	for i := range s.y {
		res := s.y[i] - s.h[i] - s.del[i]
		for _, k := range s.play {
			res -= s.j[i][k] * step[k]
		}
		_, pred, out := s.without(i, res)
		odds := slipShare / (1 - slipShare) * math.Sqrt(pred) / slipSD *
			math.Exp(math.Min(out*out/2*(1/pred-1/(slipSD*slipSD)), 500))
		w := math.Max(1/(1+odds), 1e-4)
		moved = math.Max(moved, math.Abs(w-s.w[i]))
		s.w[i] = w
		sum += w * math.Min(out*out/pred, 9)
		n += w
		if early && s.day[i] > trust && !s.odd[i] {
			s.w[i] = 1
		}
	}
	if !early {
		s.scale = math.Min(math.Max(s.scale*sum/n, scaleLow), scaleHigh)
	}
	for i, v := range s.said {
		s.r[i] = v * s.scale
	}
	s.prec[kGreen][kGreen] = 1 / (s.green * s.scale)
	return moved
}

// without gives, for point i with fitted residual res, the variance of the
// fitted value without the point, the variance of what it should have read, and
// the residual it then has.
func (s *solver) without(i int, res float64) (fitted, pred, out float64) {
	reff := s.r[i] / s.w[i]
	left := math.Max(reff-s.vfit[i], 1e-3*reff)
	fitted = s.vfit[i] * reff / left
	return fitted, fitted + s.r[i], res * reff / left
}
