package lsq

import (
	"math"
	"testing"
)

// NIST StRD Misra1a, y = b1 (1 - exp(-b2 x)), certified values; tolerance 8
// digits as the issue of such tables asks of good software.
var (
	misraX = []float64{77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0}
	misraY = []float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78}
)

func misra() Problem {
	return Problem{Residuals: 14, Params: 2, Eval: func(p, r, jac []float64) {
		for i, x := range misraX {
			e := math.Exp(-p[1] * x)
			r[i] = p[0]*(1-e) - misraY[i]
			if jac != nil {
				jac[2*i], jac[2*i+1] = 1-e, p[0]*x*e
			}
		}
	}}
}

func TestMisra1aComesOutToEightDigitsFromBothStarts(t *testing.T) {
	want := []float64{2.3894212918e+02, 5.5015643181e-04}
	sd := []float64{2.7070075241e+00, 7.2668688436e-06}
	for _, start := range [][]float64{{500, 1e-4}, {250, 5e-4}} {
		res, err := Fit(misra(), start)
		if err != nil {
			t.Fatal(err)
		}
		if !res.Converged {
			t.Errorf("from %v: not converged in %d rounds", start, res.Rounds)
		}
		for k := range want {
			if d := math.Abs(res.Params[k]/want[k] - 1); d > 1e-8 {
				t.Errorf("from %v: b%d %.11g, want %.11g (off %.1e)", start, k+1, res.Params[k], want[k], d)
			}
			if d := math.Abs(res.StdErr[k]/sd[k] - 1); d > 1e-8 {
				t.Errorf("from %v: sd of b%d %.11g, want %.11g (off %.1e)", start, k+1, res.StdErr[k], sd[k], d)
			}
		}
	}
}
