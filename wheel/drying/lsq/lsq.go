// Package lsq is a small nonlinear least-squares solver: Levenberg and
// Marquardt's method on parameters scaled by their own slopes, with the normal
// system solved by an orthogonal factor so that no digits are lost to squaring.
// It knows nothing of cheese.
//
// Source: Moré 1978, The Levenberg-Marquardt algorithm: implementation and
// theory (from memory); Nielsen 1999 for the damping (from memory).
package lsq

import (
	"errors"
	"math"
)

// Problem is a model to be brought to data.
type Problem struct {
	Residuals int // number of residuals
	Params    int // number of parameters
	// Eval fills r with the residuals at p and, where jac is not nil, jac with
	// their slopes, row by row: jac[i*Params+k] = dr[i]/dp[k].
	Eval func(p, r, jac []float64)
}

// Result is where a fit ended.
type Result struct {
	Params     []float64
	StdErr     []float64 // sqrt of the diagonal of (J'J)^-1 s^2
	SumSquares float64
	ResidualSD float64 // sqrt(SumSquares/(n - k)); 0 where n = k
	Condition  float64 // of J with its columns scaled to length 1; 1 is best, +Inf singular
	Rounds     int
	Converged  bool
}

// ErrThin is returned for fewer residuals than parameters.
var ErrThin = errors.New("fewer values than unknowns")

// ErrLost is returned where the start gives no finite residuals.
var ErrLost = errors.New("the start gives no finite residuals")

// Fit minimises the sum of squares from a start. It stops when a step changes
// no parameter by more than 1e-14 of its size, or after 500 rounds (our choice) with
// Converged false.
func Fit(pr Problem, start []float64) (Result, error) {
	n, k := pr.Residuals, pr.Params
	if n < k {
		return Result{}, ErrThin
	}
	p := append([]float64(nil), start...)
	r, jac := make([]float64, n), make([]float64, n*k)
	try, rt := make([]float64, k), make([]float64, n)
	pr.Eval(p, r, jac)
	cost := norm2(r)
	if math.IsNaN(cost) || math.IsInf(cost, 0) {
		return Result{}, ErrLost
	}
	scale := make([]float64, k)
	mu, grow := 1e-3, 2.0
	res := Result{}
	quiet := 0
	for res.Rounds = 1; res.Rounds <= 500; res.Rounds++ {
		for c := range k {
			s := 0.0
			for i := range n {
				s += jac[i*k+c] * jac[i*k+c]
			}
			scale[c] = math.Max(scale[c]*0.5, math.Sqrt(s))
			if scale[c] == 0 {
				scale[c] = 1
			}
		}
		step := dampedStep(jac, r, scale, mu, n, k)
		small := true
		for c := range k {
			try[c] = p[c] + step[c]
			if math.Abs(step[c]) > 1e-14*math.Abs(p[c])+1e-300 {
				small = false
			}
		}
		pr.Eval(try, rt, nil)
		next := norm2(rt)
		if next <= cost && !math.IsNaN(next) {
			if cost-next <= 1e-15*cost {
				quiet++
			} else {
				quiet = 0
			}
			copy(p, try)
			cost = next
			pr.Eval(p, r, jac)
			mu, grow = mu/5, 2
			if small || quiet >= 4 {
				res.Converged = true
				break
			}
			continue
		}
		if small || mu > 1e20 {
			res.Converged = true
			break
		}
		mu *= grow
		grow *= 2
	}
	res.Params, res.SumSquares = p, cost
	res.StdErr, res.Condition = errorsOf(jac, n, k)
	if n > k {
		res.ResidualSD = math.Sqrt(cost / float64(n-k))
	}
	for c := range k {
		res.StdErr[c] *= res.ResidualSD
	}
	return res, nil
}

func norm2(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return s
}

// dampedStep solves min |J d + r|^2 + mu |S d|^2 by Householder reflections on
// the scaled columns.
func dampedStep(jac, r, scale []float64, mu float64, n, k int) []float64 {
	rows := n + k
	a := make([]float64, rows*k)
	b := make([]float64, rows)
	for i := range n {
		for c := range k {
			a[i*k+c] = jac[i*k+c] / scale[c]
		}
		b[i] = -r[i]
	}
	for c := range k {
		a[(n+c)*k+c] = math.Sqrt(mu)
	}
	triangle(a, b, rows, k)
	d := back(a, b, k)
	for c := range k {
		d[c] /= scale[c]
	}
	return d
}

// triangle brings a (rows x k) to upper triangular form in place and turns b
// along.
func triangle(a, b []float64, rows, k int) {
	for c := range k {
		s := 0.0
		for i := c; i < rows; i++ {
			s += a[i*k+c] * a[i*k+c]
		}
		alpha := math.Sqrt(s)
		if alpha == 0 {
			continue
		}
		if a[c*k+c] > 0 {
			alpha = -alpha
		}
		v0 := a[c*k+c] - alpha
		vv := v0 * v0
		for i := c + 1; i < rows; i++ {
			vv += a[i*k+c] * a[i*k+c]
		}
		if vv == 0 {
			continue
		}
		reflect := func(get func(i int) *float64) {
			dot := v0 * *get(c)
			for i := c + 1; i < rows; i++ {
				dot += a[i*k+c] * *get(i)
			}
			dot *= 2 / vv
			*get(c) -= dot * v0
			for i := c + 1; i < rows; i++ {
				*get(i) -= dot * a[i*k+c]
			}
		}
		reflect(func(i int) *float64 { return &b[i] })
		for cc := c + 1; cc < k; cc++ {
			reflect(func(i int) *float64 { return &a[i*k+cc] })
		}
		a[c*k+c] = alpha
	}
}

func back(a, b []float64, k int) []float64 {
	d := make([]float64, k)
	for c := k - 1; c >= 0; c-- {
		s := b[c]
		for cc := c + 1; cc < k; cc++ {
			s -= a[c*k+cc] * d[cc]
		}
		if a[c*k+c] != 0 {
			d[c] = s / a[c*k+c]
		}
	}
	return d
}

// errorsOf gives the roots of the diagonal of (J'J)^-1 and the condition of the
// column-scaled J (an upper bound from the norms of R and its inverse).
func errorsOf(jac []float64, n, k int) (se []float64, condition float64) {
	a := append([]float64(nil), jac...)
	scale := make([]float64, k)
	for c := range k {
		for i := range n {
			scale[c] += jac[i*k+c] * jac[i*k+c]
		}
		scale[c] = math.Sqrt(scale[c])
		for i := range n {
			if scale[c] > 0 {
				a[i*k+c] /= scale[c]
			}
		}
	}
	triangle(a, make([]float64, n), n, k)
	se = make([]float64, k)
	var normR, normI float64
	for c := range k {
		e := make([]float64, k)
		e[c] = 1
		// Column c of R^-1; rows of it summed give the diagonal.
		x := back(a, e, k)
		if a[c*k+c] == 0 || scale[c] == 0 {
			for i := range se {
				se[i] = math.Inf(1)
			}
			return se, math.Inf(1)
		}
		for i := range k {
			se[i] += x[i] * x[i]
			normI += x[i] * x[i]
			if i <= c {
				normR += a[i*k+c] * a[i*k+c]
			}
		}
	}
	for i := range k {
		se[i] = math.Sqrt(se[i]) / scale[i]
	}
	return se, math.Sqrt(normR * normI)
}
