package wheel

import "math"

// table interpolates a handbook's table by monotone cubics through its points.
// Past the last point it continues with the last slope; before the first it
// stays at the first value.
//
// Source: Fritsch and Butland 1984, SIAM J Sci Stat Comput 5:300 (from memory):
// Hermite cubics with the weighted harmonic mean of the neighbouring slopes.
type table struct{ x, y, slope []float64 }

// tableOf takes x and y alternately, with ascending x.
func tableOf(xy ...float64) table {
	n := len(xy) / 2
	t := table{make([]float64, n), make([]float64, n), make([]float64, n)}
	for i := range n {
		t.x[i], t.y[i] = xy[2*i], xy[2*i+1]
	}
	secant := func(i int) float64 { return (t.y[i+1] - t.y[i]) / (t.x[i+1] - t.x[i]) }
	for i := 1; i < n-1; i++ {
		a, b := secant(i-1), secant(i)
		if a*b <= 0 {
			continue // an extreme: level
		}
		h0, h1 := t.x[i]-t.x[i-1], t.x[i+1]-t.x[i]
		w0, w1 := 2*h1+h0, h1+2*h0
		t.slope[i] = (w0 + w1) / (w0/a + w1/b)
	}
	t.slope[0], t.slope[n-1] = secant(0), secant(n-2)
	return t
}

func (t table) at(x float64) float64 {
	n := len(t.x)
	switch {
	case !(x > t.x[0]):
		return t.y[0]
	case x >= t.x[n-1]:
		return t.y[n-1] + t.slope[n-1]*(x-t.x[n-1])
	}
	i := 0
	for x >= t.x[i+1] {
		i++
	}
	h := t.x[i+1] - t.x[i]
	u := (x - t.x[i]) / h
	v := 1 - u
	return t.y[i]*v*v*(1+2*u) + t.y[i+1]*u*u*(1+2*v) + h*u*v*(t.slope[i]*v-t.slope[i+1]*u)
}

// solve finds by bisection where an increasing function reaches a value, or the
// nearer end of the range; 200 halvings (our choice) are more than a float64 has.
func solve(lo, hi, want float64, f func(float64) float64) float64 {
	for range 200 {
		mid := lo + (hi-lo)/2
		if mid == lo || mid == hi {
			break
		}
		if f(mid) < want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo + (hi-lo)/2
}

// besselZero0 is the n-th zero of J0, n from 1: McMahon's expansion (Abramowitz
// and Stegun 9.5.12, from memory) and three Newton steps.
func besselZero0(n int) float64 {
	b := (float64(n) - 0.25) * math.Pi
	z := b + 1/(8*b)
	for range 3 {
		z += math.J0(z) / math.J1(z)
	}
	return z
}
