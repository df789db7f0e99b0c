package drying

import "math"

// A coat passes between nothing and all of the bare loss: what is known of the
// share is a normal cut off at 0 and 1.

// cutQuantile is a quantile of a normal cut off at 0 and 1; past 5 standard deviations
// (our choice) the tail is taken as exponential.
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

// cutShare brings unknowns and covariance to what is left of the normal when
// the coat's share is cut off at 0 and 1.
func cutShare(th vec, cov mat) (vec, mat) {
	v := cov[kShare][kShare]
	if !(v > 0) {
		return th, cov
	}
	m, sd := cutNormal(th[kShare], math.Sqrt(v))
	shift, shrink := (m-th[kShare])/v, (1-sd*sd/v)/v
	col := cov[kShare]
	for a := range th {
		th[a] += col[a] * shift
		for b := range th {
			cov[a][b] -= col[a] * col[b] * shrink
		}
	}
	th.bounded()
	return th, cov
}

// cutNormal is mean and standard deviation of a normal cut off at 0 and 1. From where
// the tail's own forms are used is our choice, as is the most that sd then is: past
// 0.3 a share says nothing.
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

// withoutShare is the covariance of the unknowns with the coat's share known.
func withoutShare(cov mat) mat {
	v := cov[kShare][kShare]
	if !(v > 0) {
		return cov
	}
	col := cov[kShare]
	for a := range col {
		for b := range col {
			cov[a][b] -= col[a] * col[b] / v
		}
	}
	return cov
}
