package drying

import "math"

// How far a wheel strays from its curve beyond what the scale says: the rate
// wanders by straying, holding for strayLoss of loss before it turns.
const (
	straying  = 0.12
	strayLoss = 0.008
	// toCome is the spread of the rate that air not yet logged brings, the same
	// over the whole stretch to come.
	toCome = 0.18
	// unseen is the spread of the loss of a wheel that was never weighed beyond
	// what the logs' prior says: hygrometer, composition, the rind's own way.
	unseen = 0.10
	// slipShare of weighings are slips of the hand, spread over slipSD of loss.
	slipShare, slipSD = 0.03, 0.15
	maxRounds         = 16
	// The scatter found may take the variance of the weighings this far from
	// what was stated.
	scaleFaith          = 6.0
	scaleLow, scaleHigh = 0.7, 6.0
)

// prior is a normal prior of the logs of (air side, inside) and of the share
// that the coat passes.
type prior struct {
	mean [3]float64
	sd   [3]float64 // only [2], of the share, is used
	cov  [2][2]float64
}

func (p prior) cov2() [2][2]float64 { return p.cov }

// solver holds the working arrays of a fit, so that a fit of many wheels
// allocates once.
type solver struct {
	y    []float64    // loss weighed
	day  []float64    // its day
	r    []float64    // its variance
	w    []float64    // its weight, 1 trusted to 0 slip
	h    []float64    // curve
	j    [][3]float64 // its slopes
	q    []float64    // straying variance between neighbours
	dg   []float64    // tridiagonal factor: diagonal
	lo   []float64    // and below it
	said []float64    // variance as it was stated
	z    []float64    // straying for no step of the logs
	tb   [][3]float64 // and what a step takes off it
	inv  []float64    // variance of the straying
	off  []float64    // its covariance with the next
	del  []float64    // straying found
	vfit []float64    // variance of curve and straying
	rows []float64    // table rows of the points, where a table is used
	spot spot
	odd  []bool
	last trace // of the last linearisation from the physics
}

func (s *solver) size(n int) {
	if cap(s.y) < n {
		m := max(n, 32)
		buf := make([]float64, 13*m)
		cut := func() []float64 { b := buf[:m:m]; buf = buf[m:]; return b }
		s.y, s.day, s.r, s.w, s.h, s.q = cut(), cut(), cut(), cut(), cut(), cut()
		s.dg, s.lo, s.z, s.inv, s.off, s.del = cut(), cut(), cut(), cut(), cut(), cut()
		s.said, s.vfit = cut(), make([]float64, m)
		s.j, s.tb = make([][3]float64, m), make([][3]float64, m)
		s.rows, s.odd = make([]float64, m*cells), make([]bool, m)
	}
	s.y, s.day, s.r, s.w, s.h, s.q = s.y[:n], s.day[:n], s.r[:n], s.w[:n], s.h[:n], s.q[:n]
	s.dg, s.lo, s.z, s.inv, s.off, s.del = s.dg[:n], s.lo[:n], s.z[:n], s.inv[:n], s.off[:n], s.del[:n]
	s.said, s.vfit, s.j, s.tb, s.rows = s.said[:n], s.vfit[:n], s.j[:n], s.tb[:n], s.rows[:n*cells]
	s.odd = s.odd[:n]
}

// load takes the usable points, in order of day.
func (s *solver) load(pts []Point, order []int) {
	s.size(len(order))
	for i, k := range order {
		p := pts[k]
		s.y[i], s.day[i] = float64(p.Loss), p.Day
		s.said[i] = p.sd() * p.sd()
	}
}

// result is what a fit leaves: the logs, their covariance, and the objective.
type result struct {
	theta [3]float64
	cov   [3][3]float64
}

// exactly sets curve and slopes at the points from the physics.
func (s *solver) exactly(co *course) func(th [3]float64) {
	n := co.upTo(s.day[len(s.day)-1])
	room := make([]float64, (2*len(co.plant.modes.rate)+1)*n)
	return func(th [3]float64) {
		t := co.traceIn(room, th, n)
		s.last = t
		for i, d := range s.day {
			s.h[i], s.j[i] = t.at(d)
		}
		s.stray()
	}
}

// tabled sets curve and slopes at the points from a table made for a wheel
// whose multipliers' logs lie shift away from this one's.
func (s *solver) tabled(t *table, shift [2]float64) func(th [3]float64) {
	for i, d := range s.day {
		t.row(d, s.rows[i*cells:(i+1)*cells])
	}
	return func(th [3]float64) { s.fromTable(t, th[0]+shift[0], th[1]+shift[1]) }
}

func (s *solver) fromTable(t *table, la, lb float64) {
	s.spot.set(la, lb)
	for i := range s.y {
		ln, da, db := s.spot.dot(s.rows[i*cells : (i+1)*cells])
		l := math.Min(math.Exp(ln), t.water)
		s.h[i], s.j[i] = l, [3]float64{l * da, l * db, 0}
	}
	s.stray()
}

// stray sets how far the wheel may stray between neighbouring points.
func (s *solver) stray() {
	prev := 0.0
	for i, l := range s.h {
		s.q[i] = strayVar(math.Max(0, l-prev)) + 1e-14
		prev = l
	}
	// The green weight was weighed too: its error stays in every loss after.
	s.q[0] += s.r[0]
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

// solve finds the step of the linearised problem: the straying at every point
// is eliminated by a tridiagonal factor, the logs by the small system left.
// It returns the step and the covariance of the logs.
func (s *solver) solve(p prior, th [3]float64, dims int) (step [3]float64, cov [3][3]float64) {
	n := len(s.y)
	for i := range n {
		d := s.w[i]/s.r[i] + 1/s.q[i]
		if i+1 < n {
			d += 1 / s.q[i+1]
		}
		s.lo[i] = 0
		if i > 0 {
			s.lo[i] = -1 / s.q[i] / s.dg[i-1]
			d -= s.lo[i] * s.lo[i] * s.dg[i-1]
		}
		s.dg[i] = d
	}
	// Forward and back substitution for the residual and the border.
	for i := range n {
		g := s.w[i] / s.r[i]
		res := s.y[i] - s.h[i]
		s.z[i] = g * res
		s.tb[i] = [3]float64{g * s.j[i][0], g * s.j[i][1], g * s.j[i][2]}
		if i > 0 {
			s.z[i] -= s.lo[i] * s.z[i-1]
			for k := range 3 {
				s.tb[i][k] -= s.lo[i] * s.tb[i-1][k]
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		s.z[i] /= s.dg[i]
		for k := range 3 {
			s.tb[i][k] /= s.dg[i]
		}
		s.inv[i] = 1 / s.dg[i]
		if i+1 < n {
			s.z[i] -= s.lo[i+1] * s.z[i+1]
			for k := range 3 {
				s.tb[i][k] -= s.lo[i+1] * s.tb[i+1][k]
			}
			s.off[i] = -s.lo[i+1] * s.inv[i+1]
			s.inv[i] -= s.lo[i+1] * s.off[i]
		}
	}
	var m [3][3]float64
	var v [3]float64
	pi := inv2(p.cov)
	m[0][0], m[0][1], m[1][0], m[1][1] = pi[0][0], pi[0][1], pi[1][0], pi[1][1]
	d := [2]float64{p.mean[0] - th[0], p.mean[1] - th[1]}
	v[0], v[1] = pi[0][0]*d[0]+pi[0][1]*d[1], pi[1][0]*d[0]+pi[1][1]*d[1]
	if dims == 3 {
		m[2][2] = 1 / (p.sd[2] * p.sd[2])
		v[2] = (p.mean[2] - th[2]) * m[2][2]
	} else {
		m[2][2] = 1
	}
	for i := range n {
		g := s.w[i] / s.r[i]
		e := s.y[i] - s.h[i] - s.z[i]
		for a := range dims {
			ga := g * s.j[i][a]
			v[a] += ga * e
			for b := range dims {
				m[a][b] += ga * (s.j[i][b] - s.tb[i][b])
			}
		}
	}
	cov = inv3(m)
	if dims == 2 {
		cov[2][2] = 0
	}
	for a := range 3 {
		for b := range 3 {
			step[a] += cov[a][b] * v[b]
		}
	}
	return step, cov
}

// spread sets the straying found and the variance of the fitted value at every
// point from the last solve.
func (s *solver) spread(step [3]float64, cov [3][3]float64) {
	for i := range s.y {
		var g [3]float64
		del := s.z[i]
		for k := range 3 {
			del -= s.tb[i][k] * step[k]
			g[k] = s.j[i][k] - s.tb[i][k]
		}
		s.del[i] = del
		s.vfit[i] = quad3(cov, g) + s.inv[i]
	}
}

func quad3(m [3][3]float64, g [3]float64) float64 {
	var q float64
	for a := range 3 {
		for b := range 3 {
			q += g[a] * m[a][b] * g[b]
		}
	}
	return math.Max(q, 0)
}

func inv3(m [3][3]float64) [3][3]float64 {
	a := m[1][1]*m[2][2] - m[1][2]*m[2][1]
	b := m[1][2]*m[2][0] - m[1][0]*m[2][2]
	c := m[1][0]*m[2][1] - m[1][1]*m[2][0]
	d := 1 / (m[0][0]*a + m[0][1]*b + m[0][2]*c)
	return [3][3]float64{
		{a * d, (m[0][2]*m[2][1] - m[0][1]*m[2][2]) * d, (m[0][1]*m[1][2] - m[0][2]*m[1][1]) * d},
		{b * d, (m[0][0]*m[2][2] - m[0][2]*m[2][0]) * d, (m[0][2]*m[1][0] - m[0][0]*m[1][2]) * d},
		{c * d, (m[0][1]*m[2][0] - m[0][0]*m[2][1]) * d, (m[0][0]*m[1][1] - m[0][1]*m[1][0]) * d},
	}
}

// fit is the maximum of the posterior from the prior's mean: Gauss-Newton with
// held steps, weighings weighted by how likely each is no slip; those after the
// day trust are believed for the first rounds, until the coat's share, of which
// only they speak, has come near. linearise sets curve and slopes for given
// logs.
func (s *solver) fit(linearise func(th [3]float64), p prior, dims int, trust float64) result {
	th := p.mean
	for i := range s.w {
		s.w[i], s.r[i] = 1, s.said[i]
	}
	if dims == 3 {
		th[2], _ = cutNormal(p.mean[2], p.sd[2])
	}
	scale := 1.0
	var moved float64
	// doubt weighs the weighings and finds the step anew.
	doubt := func(round int, step [3]float64, cov [3][3]float64) ([3]float64, [3][3]float64) {
		s.spread(step, cov)
		var more float64
		moved, more = s.weigh(step, cov)
		if round < trusting && trust < math.Inf(1) {
			for i, d := range s.day {
				if d > trust && !s.odd[i] {
					s.w[i] = 1
				}
			}
			more = 1
		}
		scale = math.Min(math.Max(scale*more, scaleLow), scaleHigh)
		for i, v := range s.said {
			s.r[i] = v * scale
		}
		return s.solve(p, th, dims)
	}
	linearise(th)
	s.screen(p, dims)
	step, cov := s.solve(p, th, dims)
	step, cov = doubt(0, step, cov)
	for round := range maxRounds {
		most := 0.0
		for k := range dims {
			step[k] = math.Max(math.Min(step[k], 0.7), -0.7)
			most = math.Max(most, math.Abs(step[k]))
		}
		// A step that makes it clearly worse is shortened.
		from, cost := th, s.cost(p, th, dims)
		for range 5 {
			for k := range dims {
				th[k] = math.Max(math.Min(from[k]+step[k], farthest), -farthest)
			}
			th[2] = math.Max(math.Min(th[2], 1+beyond), -beyond)
			linearise(th)
			var next [3]float64
			next, cov = s.solve(p, th, dims)
			if s.cost(p, th, dims) < cost+0.5 {
				step = next
				break
			}
			for k := range dims {
				step[k] *= 0.4
			}
		}
		step, cov = doubt(round, step, cov)
		if round > 0 && (round >= trusting || dims < 3) && most < 4e-3 && moved < 1e-2 {
			break
		}
	}
	s.spread([3]float64{}, cov)
	return result{theta: th, cov: cov}
}

// cost is minus twice the log of how likely the weighings and the logs are, by
// the last solve; what is the same for all logs is left out.
func (s *solver) cost(p prior, th [3]float64, dims int) (sum float64) {
	for i := range s.y {
		g, res := s.w[i]/s.r[i], s.y[i]-s.h[i]
		sum += g*res*(res-s.z[i]) + math.Log(s.q[i]*s.dg[i]/g)
	}
	pi := inv2(p.cov)
	d := [2]float64{th[0] - p.mean[0], th[1] - p.mean[1]}
	sum += pi[0][0]*d[0]*d[0] + 2*pi[0][1]*d[0]*d[1] + pi[1][1]*d[1]*d[1]
	if dims == 3 {
		sum += (th[2] - p.mean[2]) * (th[2] - p.mean[2]) / (p.sd[2] * p.sd[2])
	}
	return sum
}

// screen sets aside to begin with what lies outrageously far from the physics,
// so that it does not lead the first steps astray.
func (s *solver) screen(p prior, dims int) {
	for i, h := range s.h {
		j := s.j[i]
		v := p.cov[0][0]*j[0]*j[0] + 2*p.cov[0][1]*j[0]*j[1] + p.cov[1][1]*j[1]*j[1] + strayVar(h) + s.r[i]
		if dims == 3 {
			v += p.sd[2] * p.sd[2] * j[2] * j[2]
		}
		off := h - s.y[i]
		if off < 0 && h > 0 {
			off = h * math.Log(s.y[i]/h)
		}
		if s.odd[i] = off > outrageous*math.Sqrt(v); s.odd[i] {
			s.w[i] = 1e-4
		}
	}
}

// outrageous is how many standard deviations of all that is not known a
// weighing may lie from the physics.
const outrageous = 6.0

// trusting is the rounds for which weighings after a coat are believed.
const trusting = 5

// farthest is how far a log may go from the physics: a factor of 20; beyond is
// how far past 0 and 1 a fit may take a share before it is cut off there.
const farthest, beyond = 3.0, 0.15

// told is the log of how well the last fit tells the weighings, its logs and
// its straying integrated out; a slip counts with the odds of one.
func (s *solver) told(p prior, r result) float64 {
	sum := -s.cost(p, r.theta, 3)
	for _, w := range s.w {
		sum += 2 * (w*math.Log(1-slipShare) + (1-w)*math.Log(slipShare))
	}
	c := r.cov
	det := c[0][0]*(c[1][1]*c[2][2]-c[1][2]*c[2][1]) - c[0][1]*(c[1][0]*c[2][2]-c[1][2]*c[2][0]) + c[0][2]*(c[1][0]*c[2][1]-c[1][1]*c[2][0])
	return (sum + math.Log(det) - 2*math.Log(p.sd[2])) / 2
}

// weigh sets every weighing's weight to the odds that it is no slip, seen from
// all the others: the share of its mixture that the plain error explains. It
// gives the most that a weight moved, and the factor by which the scatter calls
// for another variance than the one in use, leaning on the one in use as
// scaleFaith weighings would.
func (s *solver) weigh(step [3]float64, cov [3][3]float64) (moved, more float64) {
	sum, n := scaleFaith, scaleFaith
	for i := range s.y {
		res := s.y[i] - s.h[i] - s.del[i]
		for k := range 3 {
			res -= s.j[i][k] * step[k]
		}
		_, pred, out := s.without(i, res)
		odds := slipShare / (1 - slipShare) * math.Sqrt(pred) / slipSD * math.Exp(math.Min(out*out/2*(1/pred-1/(slipSD*slipSD)), 500))
		w := math.Max(1/(1+odds), 1e-4)
		moved = math.Max(moved, math.Abs(w-s.w[i]))
		s.w[i] = w
		sum += w * math.Min(out*out/pred, 9)
		n += w
	}
	return moved, sum / n
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
