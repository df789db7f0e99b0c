package drying

import (
	"cmp"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// FitWithPrior fits a wheel's weights (grams, on days since drying began) with
// physics as the prior: the curve of FitWeights where weights are plenty, the
// expected curve where they are few. The first weight must be of day 0 and is
// the green weight. Standard errors are those of the posterior. It refuses
// what FitWeights refuses but takes as few as one further weighing.
func FitWithPrior(c Cheese, spans []Span, day, weight []float64) (FitResult, error) {
	if err := checkWeights(day, weight, 2); err != nil {
		return FitResult{}, err
	}
	if day[0] != 0 {
		return FitResult{}, reason.Err(NoGreenWeight{day[0]})
	}
	green := weight[0]
	c.Green = quantity.Grams(green)
	if err := cmp.Or(c.Check(), CheckAir(spans)); err != nil {
		return FitResult{}, err
	}
	s := Subject{Cheese: c, Air: spans}
	// One gram of scale and half a per mille of hand: common practice, no source.
	sd := math.Hypot(1/math.Sqrt(12), 0.0005*green) / green
	for i := range day {
		s.Points = append(s.Points, Point{Day: day[i], Loss: quantity.Fraction(1 - weight[i]/green),
			SD: quantity.Fraction(sd)})
	}
	f := Estimate(s)
	q, r := f.FirstDayRate(), f.RootDayRate()
	res := FitResult{
		GreenWeightG: green, FirstDayRate: q.Best, RootDayRate: r.Best, GreenWeightSE: sd * green,
		FirstDaySE: q.SD(), RootDaySE: r.SD(),
		Points: len(day), Status: Identified,
	}
	for i := range day {
		d := weight[i] - green*(1-f.Loss(day[i]).Best)
		res.SumSquares += d * d
	}
	if n := len(day) - 1; n > 0 {
		res.ResidualSDG = math.Sqrt(res.SumSquares / float64(n))
	}
	if len(day) < 4 {
		res.Why = LeansOnPhysics{}
	}
	return res, nil
}
