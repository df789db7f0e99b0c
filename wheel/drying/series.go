package drying

import "math"

// series is how a solid's mean content follows a surface whose content is
// changed and held: 1 - sum part exp(-rate D t). Rates are in 1/m2, the parts
// sum to 1.
//
// Source: Crank, The Mathematics of Diffusion (from memory): slab 8/((2n+1)^2 pi^2),
// cylinder 4/b^2 with J0(b) = 0, sphere 6/(n^2 pi^2); the product for finite bodies.
// TestTheSeriesItselfMeetsThePrintedValues holds it to a printed table.
type series struct{ part, rate []float64 }

func slabSeries(half float64) series {
	var m series
	for n := range seriesTerms {
		k := float64(2*n+1) * math.Pi / 2
		m.add(2/(k*k), k*k/(half*half))
	}
	return m.closed()
}

func cylinderSeries(radius float64) series {
	var m series
	for n := range seriesTerms {
		b := besselZero(0, n+1)
		m.add(4/(b*b), b*b/(radius*radius))
	}
	return m.closed()
}

func sphereSeries(radius float64) series {
	var m series
	for n := range seriesTerms {
		k := float64(n+1) * math.Pi
		m.add(6/(k*k), k*k/(radius*radius))
	}
	return m.closed()
}

func (m *series) add(part, rate float64) {
	m.part, m.rate = append(m.part, part), append(m.rate, rate)
}

// closed puts what the cut-off series leaves out on a rate past the last, and
// bins the rest.
func (m series) closed() series {
	left := 1.0
	for _, p := range m.part {
		left -= p
	}
	if left > 0 {
		m.add(left, 3*m.rate[len(m.rate)-1])
	}
	return m.binned()
}

// times is the product body of two.
func (m series) times(o series) series {
	var out series
	for i, p := range m.part {
		for j, q := range o.part {
			out.add(p*q, m.rate[i]+o.rate[j])
		}
	}
	return out.binned()
}

// binned brings together parts of like rate, keeping the mean of the log of
// their rates. How alike is our choice.
func (m series) binned() series {
	order := byRate(m.rate)
	first := m.rate[order[0]]
	var out series
	last, slow := math.Inf(-1), 0.0
	for _, i := range order {
		key := math.Floor(math.Log(m.rate[i]/first) * 2.2)
		if key != last {
			out.add(0, 0)
			last, slow = key, 0
		}
		n := len(out.part) - 1
		out.part[n] += m.part[i]
		slow += m.part[i] * math.Log(m.rate[i])
		out.rate[n] = math.Exp(slow / out.part[n])
	}
	return out
}

// compliance turns the response to a held content into the response to a flux:
// the mean deficit is H u with H = sum part rate/(p + rate) in Laplace's p, so
// that the surface deficit over the mean's rise is 1/H, whose poles lie one
// between each pair of neighbouring rates.
func (m series) compliance() ahead {
	h := func(p float64) (h, dh float64) {
		for i, r := range m.rate {
			q := 1 / (p + r)
			h += m.part[i] * r * q
			dh -= m.part[i] * r * q * q
		}
		return h, dh
	}
	var out ahead
	for i := range len(m.rate) - 1 {
		// H falls from +Inf just over -rate[i] ... to -Inf just under: seek
		// the zero between -rate[i+1] and -rate[i].
		lo, hi := -m.rate[i+1]*(1-1e-12), -m.rate[i]*(1+1e-12)
		for range 60 {
			mid := (lo + hi) / 2
			if v, _ := h(mid); v > 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		p := (lo + hi) / 2
		_, dh := h(p)
		// u = (1/H) m with m' = J: 1/(p H) = 1/p + sum gain/(p + rate).
		out.add(1/(p*dh), -p)
	}
	return out
}
