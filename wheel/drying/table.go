package drying

import (
	"math"
	"sort"
)

// A table holds the logs of the two multipliers (air side, inside) on a grid of
// nodes x nodes over -reach to reach.
const (
	nodes = 6
	reach = 1.8
	cells = nodes * nodes
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

// table is the physics of bare wheels of one kind tabulated: the log of the loss
// at the end of every window for a grid of multipliers, so that fitting many
// wheels solves the physics once.
type table struct {
	ends, logEnd []float64
	rows         [][]float64 // window -> logs over the grid, air side slowest
	water        float64
}

// tiny stands for no loss in the log table.
const tiny = 1e-9

func newTable(co *course, until float64) *table {
	n := co.upTo(until)
	p := co.plant.first(n)
	t := &table{ends: co.ends[:n], logEnd: make([]float64, n), rows: make([][]float64, n), water: 1 - p.dry}
	flat := make([]float64, cells*n)
	for i := range n {
		t.logEnd[i] = math.Log(t.ends[i])
		t.rows[i] = flat[i*cells : (i+1)*cells]
	}
	out := make([]float64, n)
	for b := range nodes {
		fades := p.fades(grid.x[b] * reach)
		for a := range nodes {
			p.runFaded(grid.x[a]*reach, 0, fades, out)
			for i, l := range out {
				t.rows[i][a*nodes+b] = math.Log(math.Max(l, tiny))
			}
		}
	}
	return t
}

// row fills out with the log losses at a day over the whole grid.
func (t *table) row(day float64, out []float64) {
	i := min(sort.SearchFloat64s(t.ends, day), len(t.ends)-1)
	if i == 0 {
		shift := math.Log(day / t.ends[0])
		for k, v := range t.rows[0] {
			out[k] = v + shift
		}
		return
	}
	f := (math.Log(day) - t.logEnd[i-1]) / (t.logEnd[i] - t.logEnd[i-1])
	lo, hi := t.rows[i-1], t.rows[i]
	for k := range cells {
		out[k] = lo[k] + f*(hi[k]-lo[k])
	}
}

// spot is one pair of multipliers with its interpolation weights over the grid.
type spot struct{ va, sa, vb, sb [nodes]float64 }

func (s *spot) set(la, lb float64) {
	grid.weights(la/reach, &s.va, &s.sa)
	grid.weights(lb/reach, &s.vb, &s.sb)
}

// dot gives the log loss and its slopes by the two logs.
func (s *spot) dot(row []float64) (l, da, db float64) {
	row = row[:cells]
	for a := range nodes {
		var v, d float64
		r := row[a*nodes : a*nodes+nodes]
		for b := range nodes {
			v += r[b] * s.vb[b]
			d += r[b] * s.sb[b]
		}
		l += v * s.va[a]
		da += v * s.sa[a]
		db += d * s.va[a]
	}
	return l, da / reach, db / reach
}
