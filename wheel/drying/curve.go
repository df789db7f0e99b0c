package drying

import "math"

// Curve is the closed form of a drying solid with an exchange at its surface:
// the fraction lost after t days of a wheel whose first-day rate is q (fraction
// of green weight per day) and whose root-time rate is s (fraction per square
// root of a day).
//
//	c = 2 q/(s sqrt(pi))
//	L = (q/c^2) (exp(c^2 t) erfc(c sqrt(t)) - 1 + 2 c sqrt(t/pi))
//
// Its limits are kept: s = +Inf or c so small that the surface alone decides
// gives q t, q = +Inf gives s sqrt(t), a q or s of 0 gives 0, as does t of 0 or
// less. Negative or NaN rates give NaN. The form knows no end to the water:
// callers bound it.
//
// Source: Crank, The Mathematics of Diffusion, surface evaporation of a
// semi-infinite medium (form from memory, numbers computed).
func Curve(q, s, t float64) float64 {
	if !(q >= 0) || !(s >= 0) {
		return math.NaN()
	}
	if !(t > 0) || q == 0 || s == 0 {
		return 0
	}
	root := math.Sqrt(t)
	if math.IsInf(q, 1) {
		return s * root
	}
	x := 2 * q / (s * math.SqrtPi) * root // c sqrt(t); 0 where s is +Inf
	if math.IsInf(x, 1) {
		return s * root
	}
	if x < 0.1 {
		return q * t * smallCurve(x)
	}
	// q/c^2 = q t/x^2, and 2 q t/(x sqrt(pi)) = s sqrt(t).
	return q * t * (erfcx(x) - 1 + 2*x/math.SqrtPi) / (x * x)
}

// smallCurve is (erfcx(x) - 1 + 2x/sqrt(pi))/x^2 for small x by the power
// series erfcx(x) = sum (-x)^n/Gamma(n/2+1), where the closed form would lose
// its digits to the difference of near equals. The figures are 1/Gamma(n/2+1) for n
// from 2 by definition.
func smallCurve(x float64) float64 {
	return 1 + x*(-0.7522527780636751+x*(0.5+x*(-0.30090111122547003+x*(0.16666666666666666+
		x*(-0.08597174606442003+x*(0.041666666666666664+x*(-0.019104832458760006+
			x*(0.008333333333333333+x*(-0.0034736059015927282+x*0.001388888888888889)))))))))
}

// erfcx is exp(x^2) erfc(x) for x >= 0, scaled so that neither factor over- or
// underflows.
//
// Source: the product of the library's own functions below 5, where erfc still
// has all its digits; above, the continued fraction of erfc (Abramowitz and
// Stegun 7.1.14, from memory), which 20 terms carry past double precision at 5,
// and fewer further out.
func erfcx(x float64) float64 {
	if x < 5 {
		return math.Exp(x*x) * math.Erfc(x)
	}
	if x > 1e8 {
		return 1 / (x * math.SqrtPi)
	}
	f := x
	for n := 4 + int(80/x); n >= 1; n-- {
		f = x + float64(n)/2/f
	}
	return 1 / (f * math.SqrtPi)
}
