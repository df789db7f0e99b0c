package drying

import (
	"math"
	"sort"
)

// A table holds the loss on a grid of nodes x nodes over the logs of the two
// multipliers (air side, inside), -reach to reach, and damps over how damp the
// air at the rind is, -dampReach to dampReach of RH: wide enough for three
// standard deviations of the prior of each (our calibration).
const (
	nodes     = 6
	reach     = 1.8
	dampReach = 0.08
	cells     = nodes * nodes * nodes
)

// chebyshev are the Lobatto nodes of n points on -1..1 with the barycentric
// weights that interpolate on them. Source: Berrut and Trefethen 2004, SIAM
// Review 46:501 (from memory).
type chebyshev struct{ x, w [nodes]float64 }

func newChebyshev(n int) chebyshev {
	var c chebyshev
	for i := range n {
		c.x[i] = -math.Cos(math.Pi * float64(i) / float64(n-1))
		c.w[i] = 1
		if i%2 == 1 {
			c.w[i] = -1
		}
		if i == 0 || i == n-1 {
			c.w[i] /= 2
		}
	}
	return c
}

var grid = newChebyshev(nodes)

// weights fills the value and slope weights of the interpolating polynomial at
// x, which is held within -1..1.
func (c *chebyshev) weights(x float64, value, slope *[nodes]float64) {
	n := len(c.x)
	x = math.Min(math.Max(x, -1), 1)
	for i := range n {
		if math.Abs(x-c.x[i]) < 1e-9 { // keep off the node, where the form is 0/0
			x = c.x[i] + 1e-9
			break
		}
	}
	var sum, dsum float64
	for i := range n {
		d := 1 / (x - c.x[i])
		u := c.w[i] * d
		value[i] = u
		slope[i] = -u * d
		sum += u
		dsum -= u * d
	}
	for i := range n {
		v := value[i] / sum
		slope[i] = slope[i]/sum - v*dsum/sum
		value[i] = v
	}
}

// table is the physics of bare wheels of one kind tabulated: the loss at the end
// of every window for a grid of the unknowns, so that fitting many wheels solves
// the physics once. It is tabled over the closed form of the same two
// multipliers, which takes most of its bend out; not as a log, as damp air may
// turn a loss into a gain.
type table struct {
	ends, logEnd []float64
	rows         [][]float64 // window -> losses over the grid, damp slowest, then air side
	first, root  float64     // rates of the closed form at multipliers of 1
	water        float64
}

func newTable(co *course, until float64) *table {
	n := co.upTo(until)
	p := co.plant.first(n)
	t := &table{ends: co.ends[:n], logEnd: make([]float64, n), rows: make([][]float64, n), water: 1 - p.dry}
	t.first = math.Max(p.wetRate(0, &vec{kDamp: -dampReach}), 1e-5)
	t.root = p.dry * p.x0 / 2 * p.ratio * 2 * math.Sqrt(p.diffusivity(0)/math.Pi)
	flat := make([]float64, cells*n)
	for i := range n {
		t.logEnd[i] = math.Log(t.ends[i])
		t.rows[i] = flat[i*cells : (i+1)*cells]
	}
	out := make([]float64, n)
	for b := range nodes {
		th := vec{kInside: grid.x[b] * reach}
		fades := p.fades(&th)
		for a := range nodes {
			for u := range nodes {
				th[kAir], th[kDamp] = grid.x[a]*reach, grid.x[u]*dampReach
				p.march(&th, 0, fades, out, nil)
				for i, l := range out {
					t.rows[i][(u*nodes+a)*nodes+b] = l / t.closed(th[kAir], th[kInside], t.ends[i])
				}
			}
		}
	}
	return t
}

func (t *table) closed(la, lb, day float64) float64 {
	return Curve(t.first*math.Exp(la), t.root*math.Exp(lb), day)
}

// loss is that of a day, whose row is given, with its slopes by the shared
// unknowns.
func (t *table) loss(s *spot, row []float64, day float64) (l float64, j vec) {
	l, da, db, du := s.dot(row)
	c, dq, dr := curveSlopes(t.first*s.times[0], t.root*s.times[1], day)
	return math.Min(l*c, t.water), vec{kAir: da*c + l*dq, kInside: db*c + l*dr, kDamp: du * c}
}

// row fills out with the losses at a day over the whole grid.
func (t *table) row(day float64, out []float64) {
	i := min(sort.SearchFloat64s(t.ends, day), len(t.ends)-1)
	if i == 0 {
		copy(out, t.rows[0])
		return
	}
	f := (math.Log(day) - t.logEnd[i-1]) / (t.logEnd[i] - t.logEnd[i-1])
	lo, hi := t.rows[i-1], t.rows[i]
	for k := range cells {
		out[k] = lo[k] + f*(hi[k]-lo[k])
	}
}

// spot is one set of unknowns with its interpolation weights over the grid.
type spot struct {
	va, sa, vb, sb, vu, su [nodes]float64
	times                  [2]float64 // the multipliers themselves
}

func (s *spot) set(la, lb, damp float64) {
	grid.weights(la/reach, &s.va, &s.sa)
	grid.weights(lb/reach, &s.vb, &s.sb)
	grid.weights(damp/dampReach, &s.vu, &s.su)
	s.times = [2]float64{math.Exp(math.Min(math.Max(la, -reach), reach)), math.Exp(math.Min(math.Max(lb, -reach), reach))}
}

// dot gives the loss and its slopes by air side, inside and damp.
func (s *spot) dot(row []float64) (l, da, db, du float64) {
	row = row[:cells]
	for u := range nodes {
		var vu, au, bu float64
		for a := range nodes {
			r := (*[nodes]float64)(row[(u*nodes+a)*nodes:])
			v := r[0]*s.vb[0] + r[1]*s.vb[1] + r[2]*s.vb[2] + r[3]*s.vb[3] + r[4]*s.vb[4] + r[5]*s.vb[5]
			d := r[0]*s.sb[0] + r[1]*s.sb[1] + r[2]*s.sb[2] + r[3]*s.sb[3] + r[4]*s.sb[4] + r[5]*s.sb[5]
			vu += v * s.va[a]
			au += v * s.sa[a]
			bu += d * s.va[a]
		}
		l += vu * s.vu[u]
		da += au * s.vu[u]
		db += bu * s.vu[u]
		du += vu * s.su[u]
	}
	return l, da / reach, db / reach, du / dampReach
}
