package drying

import (
	"math"
	"testing"
)

func TestTheCurveKeepsItsLimitsWithoutLosingANumber(t *testing.T) {
	for _, c := range []struct {
		name             string
		q, s, t, want, p float64
	}{
		{"a surface that alone decides loses in a straight line", 0.01, math.Inf(1), 7, 0.07, 1e-12},
		{"so does one with an inside far quicker than the air", 0.01, 1e9, 7, 0.07, 1e-9},
		{"an air that takes all at once leaves the root of time", math.Inf(1), 0.02, 9, 0.06, 1e-12},
		{"so does one far quicker than the inside", 1e9, 0.02, 9, 0.06, 1e-6},
		{"nothing is lost on day 0", 0.01, 0.02, 0, 0, 0},
		{"a dead inside loses nothing", 0.01, 0, 5, 0, 0},
		{"a dead air loses nothing", 0, 0.02, 5, 0, 0},
	} {
		if got := Curve(c.q, c.s, c.t); !(math.Abs(got-c.want) <= c.p*math.Max(1, c.want)) {
			t.Errorf("%s: have %.12g, want %.12g", c.name, got, c.want)
		}
	}
	if a, b := Curve(0.01, 2*0.01/(0.0999999*math.SqrtPi), 1), Curve(0.01, 2*0.01/(0.1000001*math.SqrtPi),
		1); math.Abs(a/b-1) > 1e-6 {
		t.Errorf("the series and the closed form part at their seam: %.12g, %.12g", a, b)
	}
}

func TestAForecastOfABareWheelReads(t *testing.T) {
	f := Estimate(Subject{Cheese: Cheese{Green: 2000, Group: Hard}})
	if f.Basis() != FromPrior || f.Used() != 0 {
		t.Errorf("no weighing is the prior: have %s, %d", f.Basis(), f.Used())
	}
	for _, d := range []float64{1, 7, 30, 90, 180} {
		e := f.Loss(d)
		t.Logf("day %v: loss %.2f %% (%.2f to %.2f), %.3f %%/day", d, 100*e.Best, 100*e.Low, 100*e.High,
			100*f.RatePerDay(d).Best)
		if !(e.Low > 0 && e.Low < e.Best && e.Best < e.High && e.High < 0.4) {
			t.Errorf("day %v: %+v", d, e)
		}
	}
}
