package drying

import (
	"math"
	"sort"
)

// The table of a course spans these logs of the two multipliers (air side,
// inside) and of the coat's resistance.
const (
	nodesA, nodesB, nodesC = 7, 7, 5
	reach                  = 2.4 // half-width of the table in log a and log b
	reachC                 = 3.0 // and in log c
)

// chebyshev are the Lobatto nodes of n points on -1..1 with the barycentric
// weights that interpolate on them. Source: Berrut and Trefethen 2004, SIAM
// Review 46:501 (from memory).
type chebyshev struct{ x, w []float64 }

func newChebyshev(n int) chebyshev {
	c := chebyshev{make([]float64, n), make([]float64, n)}
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

var gridAB, gridC = newChebyshev(nodesA), newChebyshev(nodesC)

// weights fills the value and slope weights of the interpolating polynomial at
// x, which is held within -1..1.
func (c chebyshev) weights(x float64, value, slope []float64) {
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

// course is the physics of one wheel tabulated: the log of the loss at the end
// of every window for a grid of multipliers, so that a fit never solves the
// physics again.
type course struct {
	plant  *plant
	ends   []float64   // days, rising
	logEnd []float64   // logs of ends
	breaks []bool      // air or coat changes at the start of window i
	table  [][]float64 // window -> logs over the grid, a slowest, c fastest
	coated bool
	coatAt float64 // day of the first coat
}

// tiny stands for no loss in the log table.
const tiny = 1e-9

func newCourse(c Cheese, spans []Span, coats []CoatOn, horizon float64) *course {
	w := windows(spans, coats, horizon)
	co := &course{plant: newPlant(c, w), coated: len(coats) > 0, coatAt: math.Inf(1)}
	for _, k := range coats {
		co.coatAt = math.Min(co.coatAt, math.Max(0, k.Day))
	}
	co.ends, co.logEnd, co.breaks = make([]float64, len(w)), make([]float64, len(w)), make([]bool, len(w))
	for i := range w {
		co.ends[i], co.logEnd[i], co.breaks[i] = w[i].to, math.Log(w[i].to), w[i].breaks
	}
	nc := 1
	if co.coated {
		nc = nodesC
	}
	size := nodesA * nodesB * nc
	cells := make([]float64, size*len(w))
	co.table = make([][]float64, len(w))
	for i := range co.table {
		co.table[i] = cells[i*size : (i+1)*size]
	}
	out := make([]float64, len(w))
	for a := range nodesA {
		for b := range nodesB {
			for k := range nc {
				lc := 0.0
				if co.coated {
					lc = gridC.x[k] * reachC
				}
				co.plant.run(gridAB.x[a]*reach, gridAB.x[b]*reach, lc, out)
				for i, l := range out {
					co.table[i][(a*nodesB+b)*nc+k] = math.Log(math.Max(l, tiny))
				}
			}
		}
	}
	return co
}

// spot is one set of multipliers with its interpolation weights over the grid.
type spot struct {
	n             int
	v, da, db, dc [nodesA * nodesB * nodesC]float64
}

// at sets the spot to the logs of the multipliers.
func (s *spot) at(co *course, la, lb, lc float64) {
	var va, sa [nodesA]float64
	var vb, sb [nodesB]float64
	var vc, sc [nodesC]float64
	gridAB.weights(la/reach, va[:], sa[:])
	gridAB.weights(lb/reach, vb[:], sb[:])
	nc := 1
	if co.coated {
		nc = nodesC
		gridC.weights(lc/reachC, vc[:], sc[:])
	} else {
		vc[0], sc[0] = 1, 0
	}
	s.n = 0
	for a := range nodesA {
		for b := range nodesB {
			for k := range nc {
				s.v[s.n] = va[a] * vb[b] * vc[k]
				s.da[s.n] = sa[a] / reach * vb[b] * vc[k]
				s.db[s.n] = va[a] * sb[b] / reach * vc[k]
				s.dc[s.n] = va[a] * vb[b] * sc[k] / reachC
				s.n++
			}
		}
	}
}

// place finds the window a day falls in and the share of it, in the log of
// time, that lies behind the day.
func (co *course) place(day float64) (int, float64) {
	i := sort.SearchFloat64s(co.ends, day)
	if i >= len(co.ends) {
		i = len(co.ends) - 1
	}
	if i == 0 {
		return 0, 1
	}
	return i, (math.Log(day) - co.logEnd[i-1]) / (co.logEnd[i] - co.logEnd[i-1])
}

// row fills out with the log losses at a day over the whole grid.
func (co *course) row(day float64, out []float64) {
	i, f := co.place(day)
	if i == 0 {
		shift := math.Log(day / co.ends[0])
		for k, v := range co.table[0] {
			out[k] = v + math.Min(shift, 0)
		}
		return
	}
	lo, hi := co.table[i-1], co.table[i]
	for k := range hi {
		out[k] = lo[k] + f*(hi[k]-lo[k])
	}
}

// dot gives the log loss and its slopes by the three logs.
func (s *spot) dot(row []float64) (l, da, db, dc float64) {
	for k, v := range row[:s.n] {
		l += v * s.v[k]
		da += v * s.da[k]
		db += v * s.db[k]
		dc += v * s.dc[k]
	}
	return l, da, db, dc
}

// loss is the loss on a day at a spot with its slopes by the three logs; 0 for
// day 0 or less.
func (co *course) loss(s *spot, day float64) (l float64, slope [3]float64) {
	if !(day > 0) {
		return 0, slope
	}
	if end := co.ends[len(co.ends)-1]; day > end*4 {
		day = end * 4
	}
	var row [nodesA * nodesB * nodesC]float64
	co.row(day, row[:s.n])
	ln, da, db, dc := s.dot(row[:s.n])
	l = math.Min(math.Exp(ln), 1-co.plant.solids)
	return l, [3]float64{l * da, l * db, l * dc}
}
