package drying

import "math"

// The unknowns of a fit, in the order of a vec. The first five bend the curve;
// the last two shift the weights and leave the curve alone.
const (
	kAir    = iota // log of the multiplier of the air side
	kInside        // log of the multiplier of the root of the diffusivity
	kDamp          // how much damper the air at the rind is than the book has it, fraction of RH
	kShare         // share of the bare loss that the coats pass
	kClose         // how fast the rind closes: fall of the inside's log per e-fold of age
	kGreen         // what the green weight's own error adds to every loss, fraction of green weight
	kTare          // what the coat's error adds to every loss after the coat, fraction of green weight

	bends    = kClose + 1
	unknowns = kTare + 1
)

type (
	vec [unknowns]float64
	mat [unknowns][unknowns]float64
)

// sparse are the unknowns in play, in rising order.
type sparse []int

// factors are the unknowns that multiply.
var factors = sparse{kAir, kInside}

var bareUnknowns = sparse{kAir, kInside, kDamp, kGreen}

// inverse of the rows and columns in play, and the log of their determinant.
// The matrix must be symmetric and positive; the rest of the result is 0.
func (k sparse) inverse(m *mat) (inv mat, logDet float64) {
	var l, u mat // Cholesky factor, and its inverse
	for a, i := range k {
		for _, j := range k[:a+1] {
			s := m[i][j]
			for _, c := range k {
				if c >= j {
					break
				}
				s -= l[i][c] * l[j][c]
			}
			if i == j {
				l[i][i] = math.Sqrt(math.Max(s, 1e-300))
				logDet += 2 * math.Log(l[i][i])
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	for a, j := range k {
		u[j][j] = 1 / l[j][j]
		for _, i := range k[a+1:] {
			var s float64
			for _, c := range k {
				if c >= i {
					break
				}
				s -= l[i][c] * u[c][j]
			}
			u[i][j] = s / l[i][i]
		}
	}
	for a, i := range k {
		for _, j := range k[:a+1] {
			var s float64
			for _, c := range k[a:] {
				s += u[c][i] * u[c][j]
			}
			inv[i][j], inv[j][i] = s, s
		}
	}
	return inv, logDet
}

// quad is g' m g over the unknowns in play, never under 0.
func (k sparse) quad(m *mat, g *vec) float64 {
	var q float64
	for _, i := range k {
		for _, j := range k {
			q += g[i] * m[i][j] * g[j]
		}
	}
	return math.Max(q, 0)
}
