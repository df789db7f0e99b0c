package drying

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

func drawCheese(t *rapid.T) Cheese {
	c := Cheese{
		Green:    quantity.Grams(math.Exp(rapid.Float64Range(math.Log(150), math.Log(40000)).Draw(t, "green"))),
		Group:    rapid.SampledFrom(Groups()).Draw(t, "group"),
		Moisture: quantity.Fraction(rapid.SampledFrom([]float64{0, 0.32, 0.4, 0.5, 0.6}).Draw(t, "moisture")),
		Salt:     quantity.Fraction(rapid.SampledFrom([]float64{0, 0.008, 0.018, 0.035}).Draw(t, "salt")),
	}
	form := rapid.SampledFrom([]shape.Form{"", shape.Cylinder, shape.Block, shape.Sphere, shape.Pyramid}).Draw(t, "form")
	if form != "" {
		c.Shape = shape.Shape{Form: form, Diameter: 0.2,
			Height: quantity.Metres(rapid.Float64Range(0.05, 0.2).Draw(t,
				"height")), Length: 0.2, Width: 0.15, TopLength: 0.1}.ForWeight(c.Green, 1060)
	}
	return c
}

func drawAir(t *rapid.T, most float64) []Span {
	n := rapid.IntRange(1, 5).Draw(t, "spans")
	var out []Span
	for i := range n {
		out = append(out, Span{
			FromDay: float64(i) * rapid.Float64Range(0.2, 20).Draw(t, "every"),
			Air: air.State{
				Temp: quantity.Celsius(rapid.Float64Range(2, 20).Draw(t, "temp")),
				RH:   quantity.Fraction(rapid.Float64Range(0.5, most).Draw(t, "rh")),
			},
			Movement: rapid.SampledFrom(air.Movements()).Draw(t, "movement"),
		})
	}
	return sortedAir(out)
}

func sound(t *rapid.T, what string, e quantity.Estimate) {
	if math.IsNaN(e.Best) || math.IsNaN(e.Low) || math.IsNaN(e.High) || e.Low > e.Best+1e-12 || e.Best > e.High+1e-12 {
		t.Fatalf("%s: %+v", what, e)
	}
}

func TestMoreHumidAirIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, spans := drawCheese(t), drawAir(t, 0.93)
		damp := append([]Span(nil), spans...)
		for i := range damp {
			damp[i].Air.RH += 0.05
		}
		a, b := Estimate(Subject{Cheese: c, Air: spans}), Estimate(Subject{Cheese: c, Air: damp})
		for _, d := range []float64{0.5, 3, 10, 40, 200, 1000} {
			if b.Loss(d).Best > a.Loss(d).Best+2e-5 {
				t.Fatalf("day %g: %.6f in damper air, %.6f in drier", d, b.Loss(d).Best, a.Loss(d).Best)
			}
		}
	})
}

func TestACoatIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCheese(t)
		spans := drawAir(t, 0.95)[:1]
		k := CoatOn{Day: rapid.Float64Range(0, 30).Draw(t, "on"), Coat: rapid.SampledFrom(Coats()).Draw(t, "coat")}
		bare := Estimate(Subject{Cheese: c, Air: spans})
		coated := Estimate(Subject{Cheese: c, Air: spans, Coats: []CoatOn{k}})
		twice := Estimate(Subject{Cheese: c, Air: spans, Coats: []CoatOn{k, {Day: k.Day + 2, Coat: Wax}}})
		for _, d := range []float64{1, 5, 20, 60, 300} {
			// The steps are cut again at a coat: what the cut costs is let through.
			if l, b := coated.Loss(d).Best, max(bare.Loss(d).Best, 0); l > b+3e-4 { // in damp air it keeps gains out
				t.Fatalf("day %g: %.6f coated, %.6f bare", d, l, b)
			}
			if l, b := twice.Loss(d).Best, max(coated.Loss(d).Best, 0); l > b+3e-4 {
				t.Fatalf("day %g: %.6f with two coats, %.6f with one", d, l, b)
			}
		}
		if f := coated.CoatFactor(); !(f.Low >= 0 && f.High <= 1 && f.Low <= f.Best && f.Best <= f.High) {
			t.Fatalf("coat factor %+v", f)
		}
	})
}

func TestAnyWeightsGiveSoundFigures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Subject{Cheese: drawCheese(t), Air: drawAir(t, 1)}
		if rapid.Bool().Draw(t, "coated") {
			s.Coats = []CoatOn{{Day: rapid.Float64Range(-1, 40).Draw(t, "on"), Coat: rapid.SampledFrom(Coats()).Draw(t, "coat")}}
		}
		odd := []float64{-1, 0, math.NaN(), math.Inf(1), 1e-9, 500}
		for range rapid.IntRange(0, 25).Draw(t, "points") {
			p := Point{
				Day:  rapid.OneOf(rapid.Float64Range(0, 100), rapid.SampledFrom(odd)).Draw(t, "day"),
				Loss: quantity.Fraction(rapid.OneOf(rapid.Float64Range(-0.1, 1), rapid.SampledFrom(odd)).Draw(t, "loss")),
				SD:   quantity.Fraction(rapid.OneOf(rapid.Float64Range(0, 0.02), rapid.SampledFrom(odd)).Draw(t, "sd")),
			}
			s.Points = append(s.Points, p)
		}
		f := Estimate(s)
		water := float64(f.Start().Moisture)
		for _, d := range []float64{-3, 0, 0.01, 1, 10, 100, 1000, 1e5, math.Inf(1)} {
			for name, e := range map[string]quantity.Estimate{
				"loss": f.Loss(d), "expected": f.Expected(d), "rate": f.RatePerDay(d),
				"moisture": f.Moisture(d),
			} {
				sound(t, name, e)
			}
			if f.Loss(d).High > water+1e-12 || f.Loss(d).Low < -mostGain {
				t.Fatalf("day %g: loss %+v of %.3f water", d, f.Loss(d), water)
			}
			if w := f.WetRatePerDay(d); math.IsNaN(w) || w < 0 {
				t.Fatalf("wet rate %g", w)
			}
		}
		for _, target := range []quantity.Fraction{0, 0.01, 0.1, 0.9} {
			d, ok := f.DayOfLoss(target)
			if math.IsNaN(d.Best) || d.Low > d.Best || d.Best > d.High || ok == math.IsInf(d.Best, 1) {
				t.Fatalf("%v: %+v %v", target, d, ok)
			}
		}
		sound(t, "q", f.FirstDayRate())
		sound(t, "s", f.RootDayRate())
		if n := len(f.Standings()); n != len(s.Points) {
			t.Fatalf("%d standings of %d points", n, len(s.Points))
		}
		f.Leaking()
		f.Judge(Point{Day: 5, Loss: 0.02})
	})
}

func TestTheCurveRisesAndNeverLosesANumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := math.Exp(rapid.Float64Range(-40, 40).Draw(t, "ln q"))
		s := math.Exp(rapid.Float64Range(-40, 40).Draw(t, "ln s"))
		d := math.Exp(rapid.Float64Range(-10, 10).Draw(t, "ln t"))
		a, b := Curve(q, s, d), Curve(q, s, 1.5*d)
		if math.IsNaN(a) || a < 0 || b < a {
			t.Fatalf("q %g s %g t %g: %g then %g", q, s, d, a, b)
		}
		if a > q*d*(1+1e-9) || a > s*math.Sqrt(d)*(1+1e-9) {
			t.Fatalf("q %g s %g t %g: %g is over q t or s sqrt t", q, s, d, a)
		}
		if c := Curve(1.01*q, s, d); c < a*(1-1e-12) {
			t.Fatalf("more air loses less: %g, %g", a, c)
		}
	})
}

func TestBalanceAndActivityGoThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		law := sorptionOf(rapid.Float64Range(0.002, 0.12).Draw(t, "salt"), rapid.Float64Range(0.1, 0.8).Draw(t, "protein"))
		rh := rapid.Float64Range(0.3, 0.97).Draw(t, "rh")
		x := law.balance(rh)
		if got := law.activity(x); x < 5 && math.Abs(got-rh) > 1e-6 {
			t.Fatalf("balance at %g is %g, whose activity is %g", rh, x, got)
		}
		if law.balance(rh+0.02) < x {
			t.Fatal("damper air holds drier cheese")
		}
	})
}

func TestWhatAWeighingShouldReadIsALossThatCanBe(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Subject{Cheese: drawCheese(t), Air: drawAir(t, 0.97)}
		for range rapid.IntRange(0, 2).Draw(t, "coats") {
			s.Coats = append(s.Coats, CoatOn{Day: rapid.Float64Range(0, 40).Draw(t, "on"),
				Coat: rapid.SampledFrom(Coats()).Draw(t, "coat")})
		}
		pace := rapid.Float64Range(0, 0.02).Draw(t, "pace")
		day := 0.0
		for range rapid.IntRange(1, 8).Draw(t, "points") {
			day += math.Exp(rapid.Float64Range(-3, 6).Draw(t, "ln gap"))
			wrong := rapid.SampledFrom([]float64{0, 0, 0, 0.05, -0.05, 3}).Draw(t, "wrong")
			s.Points = append(s.Points, Point{Day: day, SD: quantity.Fraction(rapid.Float64Range(1e-4, 0.003).Draw(t, "sd")),
				Loss: quantity.Fraction(math.Min(pace*math.Sqrt(day), 0.3) + wrong)})
		}
		f := Estimate(s)
		water := float64(f.Start().Moisture)
		in := func(what string, st WeighingStanding) {
			if e := st.Expected; !(e.Low >= -mostGain && e.Low <= e.Best && e.Best <= e.High && e.High <= water) ||
				math.IsNaN(st.Z) {
				t.Fatalf("%s of day %g: %+v of %.3f water", what, st.Day, st, water)
			}
		}
		for _, st := range f.Standings() {
			in("the weighing", st)
		}
		for _, d := range []float64{0.1, 1, 8, 100, 900} {
			in("a weighing to come", f.Judge(Point{Day: day + d, Loss: 0.1}))
		}
	})
}
