package drying

import (
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel/drying/lsq"
)

// What FitWeights says of its result.
const (
	Identified    = "identified"
	NotIdentified = "not identified"
)

// FitResult is what plain least squares makes of a wheel's weights by
//
//	weight(t) = green weight (1 - Curve(q, s, t))
//
// with no prior. Standard errors are those of the linearised problem; +Inf
// where the weights do not tell the value.
type FitResult struct {
	GreenWeightG float64 // g
	FirstDayRate float64 // q, fraction/day; +Inf in the root-time limit
	RootDayRate  float64 // s, fraction/sqrt(day); +Inf in the straight-line limit
	// Standard errors of the three, same units.
	GreenWeightSE, FirstDaySE, RootDaySE float64
	ResidualSDG                          float64 // g, with n - 3 degrees of freedom
	SumSquares                           float64 // g^2
	Points                               int
	Status                               string        // Identified or NotIdentified
	Why                                  reason.Reason // where not identified, else nil
}

// ratioLimit bounds the log of c^2 times the longest day: past it the curve is one of
// its limits as far as any scale can show. Our choice.
const ratioLimit = 16.0

// Why weights can't be fitted.
type (
	// Unpaired is lists of days and weights that differ in length.
	Unpaired struct {
		Days    int `json:"days"`
		Weights int `json:"weights"`
	}
	// FewWeighings is fewer weighings, or fewer times of weighing, than it takes.
	FewWeighings struct {
		Have  int  `json:"have"`
		Need  int  `json:"need"`
		Times bool `json:"times"`
	}
	// OddWeighing is a weighing with a negative day, or without a weight.
	OddWeighing struct {
		Number int            `json:"number"` // from 1
		Day    float64        `json:"day"`
		Weight quantity.Grams `json:"weight_g"`
	}
	// NoGreenWeight is a first weighing of another day than day 0.
	NoGreenWeight struct {
		Day float64 `json:"day"`
	}
)

func (Unpaired) Code() string      { return "unpaired" }
func (FewWeighings) Code() string  { return "few-weighings" }
func (OddWeighing) Code() string   { return "odd-weighing" }
func (NoGreenWeight) Code() string { return "no-green-weight" }

// checkWeights refuses lists of different length, fewer weighings than needed,
// values that are no number, negative days and weights not over 0.
func checkWeights(day, weight []float64, needs int) error {
	if len(day) != len(weight) {
		return reason.Err(Unpaired{len(day), len(weight)})
	}
	if len(day) < needs {
		return reason.Err(FewWeighings{len(day), needs, false})
	}
	for i, d := range day {
		if w := weight[i]; !(d >= 0) || math.IsInf(d, 0) || !(w > 0) || math.IsInf(w, 0) {
			return reason.Err(OddWeighing{i + 1, d, quantity.Grams(w)})
		}
	}
	return nil
}

// FitWeights fits days (from the start of drying) and weights in grams. It refuses
// what checkWeights does for 4 weighings, and fewer than 3 different times. How finely
// the bend is scanned is our choice.
func FitWeights(day, weight []float64) (FitResult, error) {
	if err := checkWeights(day, weight, 4); err != nil {
		return FitResult{}, err
	}
	last, distinct := 0.0, map[float64]bool{}
	for _, d := range day {
		last = math.Max(last, d)
		distinct[d] = true
	}
	if len(distinct) < 3 {
		return FitResult{}, reason.Err(FewWeighings{len(distinct), 3, true})
	}
	v := project{day, weight, last}
	// The ratio of the two rates alone decides the curve's bend; the two
	// numbers left are linear. A scan of the bend, then the best stretch.
	const cells = 65
	best, bestAt := math.Inf(1), 0
	at := func(i int) float64 { return -ratioLimit + 2*ratioLimit*float64(i)/(cells-1) }
	for i := range cells {
		if _, _, ss := v.at(at(i)); ss < best {
			best, bestAt = ss, i
		}
	}
	lo, hi := at(max(bestAt-1, 0)), at(min(bestAt+1, cells-1))
	u := golden(lo, hi, func(u float64) float64 { _, _, ss := v.at(u); return ss })
	g, slope, ss := v.at(u)
	res := FitResult{Points: len(day), GreenWeightG: g, SumSquares: ss, Status: Identified}
	res.FirstDayRate, res.RootDayRate = v.rates(u, g, slope)
	if !(res.FirstDayRate > 0) || !(res.RootDayRate > 0) {
		return v.flat(res)
	}
	if math.Abs(u) > ratioLimit-1.5 {
		return v.limit(res, u)
	}
	out, err := lsq.Fit(v.problem(), []float64{g, math.Log(res.FirstDayRate), math.Log(res.RootDayRate)})
	if err != nil {
		return FitResult{}, reason.Err(NoCurve)
	}
	if drift := math.Log(last) + 2*(out.Params[1]-out.Params[2]) + math.Log(4/math.Pi); math.Abs(drift) > ratioLimit-1.5 {
		return v.limit(res, drift)
	}
	res.GreenWeightG = out.Params[0]
	res.FirstDayRate, res.RootDayRate = math.Exp(out.Params[1]), math.Exp(out.Params[2])
	res.GreenWeightSE = out.StdErr[0]
	res.FirstDaySE, res.RootDaySE = out.StdErr[1]*res.FirstDayRate, out.StdErr[2]*res.RootDayRate
	res.SumSquares = out.SumSquares
	if len(day) > 3 {
		res.ResidualSDG = math.Sqrt(out.SumSquares / float64(len(day)-3))
	}
	switch {
	case out.StdErr[1] > 1 && out.StdErr[2] > 1:
		res.Status, res.Why = NotIdentified, NeitherRate{}
	case out.StdErr[1] > 1:
		res.Status, res.Why = NotIdentified, NoFirstDay{}
	case out.StdErr[2] > 1:
		res.Status, res.Why = NotIdentified, NoRootTime{}
	}
	return res, nil
}

// project is the fit with the linear numbers solved inside.
type project struct {
	day, weight []float64
	last        float64
}

// bend is the curve of unit first-day rate times days for u = ln(c^2 last).
func (v project) bend(u, t float64) float64 {
	c := math.Sqrt(math.Exp(u) / v.last)
	return Curve(1, 2/(c*math.SqrtPi), t)
}

// at solves weight = g - slope bend(u, day) for g and slope.
func (v project) at(u float64) (g, slope, ss float64) {
	var mf, mw float64
	n := float64(len(v.day))
	for i, t := range v.day {
		mf += v.bend(u, t) / n
		mw += v.weight[i] / n
	}
	var ff, fw float64
	for i, t := range v.day {
		f := v.bend(u, t) - mf
		ff += f * f
		fw += f * (v.weight[i] - mw)
	}
	slope = -fw / ff
	g = mw + slope*mf
	for i, t := range v.day {
		r := v.weight[i] - g + slope*v.bend(u, t)
		ss += r * r
	}
	return g, slope, ss
}

// rates turns the bend and the linear numbers into q and s.
func (v project) rates(u, g, slope float64) (q, s float64) {
	q = slope / g
	c := math.Sqrt(math.Exp(u) / v.last)
	return q, 2 * q / (c * math.SqrtPi)
}

// problem is the full fit in (g, ln q, ln s).
func (v project) problem() lsq.Problem {
	return lsq.Problem{Residuals: len(v.day), Params: 3, Eval: func(p, r, jac []float64) {
		q, s := math.Exp(p[1]), math.Exp(p[2])
		for i, t := range v.day {
			l, dq, ds := curveSlopes(q, s, t)
			r[i] = p[0]*(1-l) - v.weight[i]
			if jac != nil {
				jac[3*i], jac[3*i+1], jac[3*i+2] = 1-l, -p[0]*dq, -p[0]*ds
			}
		}
	}}
}

// curveSlopes is Curve, for rates over 0, with its derivatives by ln q and ln s:
// with L = q t f(x), x = c sqrt(t), the erfcx identity gives
// x f' = 2 (erfcx - f).
func curveSlopes(q, s, t float64) (l, dq, ds float64) {
	if !(t > 0) {
		return 0, 0, 0
	}
	x := 2 * q / (s * math.SqrtPi) * math.Sqrt(t)
	e := erfcx(x)
	l = q * t * smallCurve(x)
	if x >= 0.1 {
		l = q * t * (e - 1 + 2*x/math.SqrtPi) / (x * x)
	}
	xf := 2 * (q*t*e - l)
	return l, l + xf, -xf
}

// flat is the answer where the weights do not fall.
func (v project) flat(res FitResult) (FitResult, error) {
	res.FirstDayRate, res.RootDayRate = 0, 0
	res.FirstDaySE, res.RootDaySE, res.GreenWeightSE = math.Inf(1), math.Inf(1), math.Inf(1)
	res.ResidualSDG = math.Sqrt(res.SumSquares / float64(max(1, res.Points-3)))
	res.Status, res.Why = NotIdentified, NoFall{}
	return res, nil
}

// limit is the answer at one of the curve's limits, where one rate alone is
// fitted and the other cannot be told.
func (v project) limit(res FitResult, u float64) (FitResult, error) {
	f := math.Sqrt
	if u < 0 {
		f = func(t float64) float64 { return t }
	}
	n := float64(len(v.day))
	var mf, mw float64
	for i, t := range v.day {
		mf += f(t) / n
		mw += v.weight[i] / n
	}
	var ff, fw, ss float64
	for i, t := range v.day {
		ff += (f(t) - mf) * (f(t) - mf)
		fw += (f(t) - mf) * (v.weight[i] - mw)
	}
	slope := -fw / ff
	g := mw + slope*mf
	for i, t := range v.day {
		r := v.weight[i] - g + slope*f(t)
		ss += r * r
	}
	rate := slope / g
	res.GreenWeightG, res.SumSquares = g, ss
	sd := math.Sqrt(ss / (n - 2))
	res.ResidualSDG = math.Sqrt(ss / math.Max(1, n-3))
	res.GreenWeightSE = sd * math.Sqrt(1/n+mf*mf/ff)
	se := sd / math.Sqrt(ff) / g
	res.Status = NotIdentified
	if u < 0 {
		res.FirstDayRate, res.FirstDaySE = rate, se
		res.RootDayRate, res.RootDaySE = math.Inf(1), math.Inf(1)
		res.Why = StraightLine{}
	} else {
		res.RootDayRate, res.RootDaySE = rate, se
		res.FirstDayRate, res.FirstDaySE = math.Inf(1), math.Inf(1)
		res.Why = RootFromStart{}
	}
	return res, nil
}

// golden is the golden-section minimum of f on lo..hi; r is (sqrt 5 - 1)/2 by
// definition.
func golden(lo, hi float64, f func(float64) float64) float64 {
	const r = 0.6180339887498949
	a, b := hi-r*(hi-lo), lo+r*(hi-lo)
	fa, fb := f(a), f(b)
	for range 40 {
		if fa < fb {
			hi, b, fb = b, a, fa
			a = hi - r*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + r*(hi-lo)
			fb = f(b)
		}
	}
	return (lo + hi) / 2
}
