package drying

import (
	"math"
	"sort"
	"sync"

	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

// modes is how far a solid's surface runs ahead of its mean when water leaves
// it: with m the mean deficit of content, theta = D t and J = dm/dtheta, the
// surface deficit is m plus the sum of g, where dg/dtheta = gain J - rate g.
// Rates are in 1/m2, gains have no unit.
//
// Two bounds are known exactly for finite bodies of a linear inside: one where
// the whole surface has one content, one where the whole surface has one flux.
// A wheel goes from the second to the first as it dries, since its edges run
// ahead of its faces until all of the rind is dry: edge holds the gains of the
// second less those of the first. What is left is bounded against finite
// volumes in the tests.
type modes struct {
	gain, edge, rate []float64
	thick            []float64 // 1/rate
	// What the modes from one on add at the surface once they are gone: sums of gain/rate and
	// edge/rate.
	gainGone, edgeGone []float64
}

// summed fills in what follows from gains and rates.
func (m modes) summed() modes {
	n := len(m.rate)
	buf := make([]float64, 3*n+2)
	m.thick, m.gainGone, m.edgeGone = buf[:n], buf[n:2*n+1], buf[2*n+1:]
	for k := n - 1; k >= 0; k-- {
		m.thick[k] = 1 / m.rate[k]
		m.gainGone[k] = m.gainGone[k+1] + m.gain[k]*m.thick[k]
		m.edgeGone[k] = m.edgeGone[k+1] + m.edge[k]*m.thick[k]
	}
	return m
}

// back fills in modes from one on that were gone after a window, by what it left of them times
// their rates.
func (m *modes) back(run []float64, from int, left float64) {
	for k := range run {
		run[k] = left * m.thick[from+k]
	}
}

// How long the series are and how finely their rates are kept apart: our choice, by
// the tests against finite volumes.
const (
	seriesTerms = 400
	modesPerE   = 1.6 // bins per factor e of rate
)

// modesOf gives the modes of a shape: those of its proportions, which are kept,
// at its size.
func modesOf(s shape.Shape) modes {
	across := float64(max(s.Diameter, s.Length, s.Width, s.Height, s.TopLength))
	of := func(v quantity.Metres) quantity.Metres {
		return quantity.Metres(math.Round(float64(v)/across*1e7) / 1e7)
	}
	key := shape.Shape{Form: s.Form, Diameter: of(s.Diameter), Height: of(s.Height), Length: of(s.Length),
		Width: of(s.Width), TopLength: of(s.TopLength)}
	known.Lock()
	m, ok := known.modes[key]
	known.Unlock()
	if !ok {
		m = newModes(key)
		known.Lock()
		if len(known.modes) >= mostKnown {
			clear(known.modes)
		}
		known.modes[key] = m
		known.Unlock()
	}
	rate := make([]float64, len(m.rate))
	for i, r := range m.rate {
		rate[i] = r / (across * across)
	}
	return modes{gain: m.gain, edge: m.edge, rate: rate}.summed()
}

// known are the modes of proportions that were asked for, a metre across: the
// wheels of a cave have few.
var known = struct {
	sync.Mutex
	modes map[shape.Shape]modes
}{modes: map[shape.Shape]modes{}}

// mostKnown bounds the memory that they take: our choice.
const mostKnown = 1000

// newModes computes the modes of a shape. A truncated pyramid is taken as the
// block of its height and volume on a square base.
func newModes(s shape.Shape) modes {
	d, h := float64(s.Diameter), float64(s.Height)
	switch s.Form {
	case shape.Block:
		return blockModes(float64(s.Length), float64(s.Width), h)
	case shape.Pyramid:
		side := math.Sqrt(s.Volume() / h)
		return blockModes(side, side, h)
	case shape.Sphere:
		one := sphereSeries(d / 2).compliance()
		return one.towards(one)
	}
	v, whole := s.Volume(), s.Surface()
	faces := math.Pi * d * d / 2
	one := cylinderSeries(d / 2).times(slabSeries(h / 2)).compliance()
	flux := slabRun(h/2, faces/whole, v/whole).join(cylinderRun(d/2, 1-faces/whole, v/whole))
	return one.towards(flux)
}

func blockModes(l, w, h float64) modes {
	v, whole := l*w*h, 2*(l*w+l*h+w*h)
	one := slabSeries(l / 2).times(slabSeries(w / 2)).times(slabSeries(h / 2)).compliance()
	flux := slabRun(l/2, 2*w*h/whole, v/whole).join(slabRun(w/2, 2*l*h/whole, v/whole)).join(slabRun(h/2, 2*l*w/whole,
		v/whole))
	return one.towards(flux)
}

// ahead are modes of one kind.
type ahead struct{ gain, rate []float64 }

// slabRun are the modes of a slab of a half-thickness under one flux over all
// of the body's surface, share of which are the slab's faces; depth is the
// body's volume over its surface. Source: Crank, The Mathematics of Diffusion (from
// memory), constant flux at the surface: the surface runs ahead by
// (flux L/D)(1/3 - sum 2/(n pi)^2 exp(-(n pi)^2 D t/L^2)).
func slabRun(half, share, depth float64) ahead {
	var m ahead
	left := 1.0 / 3
	for n := 1; n <= seriesTerms; n++ {
		k := float64(n) * math.Pi
		m.add(2*share*depth/half, k*k/(half*half))
		left -= 2 / (k * k)
	}
	return m.tailed(left * half * share * depth)
}

// cylinderRun is the same for an endless cylinder: (flux R/D)(1/4 - sum 2/b^2
// exp(-b^2 D t/R^2)) with J1(b) = 0.
func cylinderRun(radius, share, depth float64) ahead {
	var m ahead
	left := 1.0 / 4
	for n := 1; n <= seriesTerms; n++ {
		b := besselZero(1, n)
		m.add(2*share*depth/radius, b*b/(radius*radius))
		left -= 2 / (b * b)
	}
	return m.tailed(left * radius * share * depth)
}

func (m *ahead) add(gain, rate float64) {
	m.gain, m.rate = append(m.gain, gain), append(m.rate, rate)
}

// tailed adds what the cut-off series leaves of the sum of gain/rate as one
// quick mode.
func (m ahead) tailed(left float64) ahead {
	if left > 0 {
		rate := 3 * m.rate[len(m.rate)-1]
		m.add(left*rate, rate)
	}
	return m
}

func (m ahead) join(o ahead) ahead {
	return ahead{append(append([]float64(nil), m.gain...), o.gain...),
		append(append([]float64(nil), m.rate...), o.rate...)}
}

// towards brings the modes of both bounds together on one set of rates, in bins
// of like rate that keep the sum of gain/rate of each.
func (m ahead) towards(flux ahead) modes {
	all := m.join(flux)
	order := byRate(all.rate)
	var out modes
	var slow, slowFlux, gain, gainFlux float64
	last, first := math.Inf(-1), all.rate[order[0]]
	for _, i := range order {
		key := math.Floor(math.Log(all.rate[i]/first) * modesPerE)
		if key != last {
			out.gain, out.edge, out.rate = append(out.gain, 0), append(out.edge, 0), append(out.rate, 0)
			last, slow, slowFlux, gain, gainFlux = key, 0, 0, 0, 0
		}
		n := len(out.gain) - 1
		if i < len(m.gain) {
			slow += all.gain[i] / all.rate[i]
			gain += all.gain[i]
		} else {
			slowFlux += all.gain[i] / all.rate[i]
			gainFlux += all.gain[i]
		}
		// The first bound, which holds for most of a wheel's life, sets the rate.
		if slow > 0 {
			out.rate[n] = gain / slow
		} else {
			out.rate[n] = gainFlux / slowFlux
		}
		out.gain[n] = slow * out.rate[n]
		out.edge[n] = (slowFlux - slow) * out.rate[n]
	}
	return out
}

func byRate(rate []float64) []int {
	order := make([]int, len(rate))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return rate[order[a]] < rate[order[b]] })
	return order
}

// besselZero is the nth zero of J0 or J1.
func besselZero(order, n int) float64 { return besselZeros()[order][n-1] }

var besselZeros = sync.OnceValue(func() (z [2][seriesTerms]float64) {
	for order := range z {
		for n := range z[order] {
			z[order][n] = newBesselZero(order, n+1)
		}
	}
	return z
})

// newBesselZero is McMahon's expansion and steps of Newton. Source: Abramowitz and Stegun
// 9.5.12 (from memory).
func newBesselZero(order, n int) float64 {
	nu := float64(order)
	b := (float64(n) + nu/2 - 0.25) * math.Pi
	mu := 4 * nu * nu
	x := b - (mu-1)/(8*b)*(1+4*(7*mu-31)/(3*64*b*b))
	for range 4 {
		j0, j1 := math.J0(x), math.J1(x)
		step := j0 / j1
		if order == 1 {
			step = -j1 / (j0 - j1/x)
		}
		if x += step; math.Abs(step) < 1e-8 { // the next is its square
			break
		}
	}
	return x
}
