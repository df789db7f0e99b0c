package drying

import (
	"math"
	"math/rand/v2"
	"testing"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

// herd is made-up wheels of a few lots: sizes a few percent apart, a lot's air
// and composition shared, n weighings each.
func herd(wheels, n int) []Subject {
	r := rand.New(rand.NewPCG(9, 9))
	out := make([]Subject, wheels)
	const lot = 1000
	var spans []Span
	var c Cheese
	var base Forecast
	for i := range out {
		if i%lot == 0 {
			spans = []Span{{Air: air.State{Temp: quantity.Celsius(10 + 4*r.Float64()),
				RH: quantity.Fraction(0.8 + 0.1*r.Float64())}, Movement: air.Gentle}}
			c = Cheese{Green: quantity.Grams(1500 + 6000*r.Float64()), Group: Hard,
				Moisture: quantity.Fraction(0.37 + 0.03*r.Float64())}
			c.Shape = shape.Shape{Form: shape.Cylinder, Diameter: 0.2, Height: 0.1}.ForWeight(c.Green, 1080)
			base = Estimate(Subject{Cheese: c, Air: spans})
		}
		w := c
		w.Green *= quantity.Grams(math.Exp(0.02 * r.NormFloat64()))
		w.Shape = c.Shape.ForWeight(w.Green, 1080)
		s := Subject{Cheese: w, Air: spans}
		own := math.Exp(0.2 * r.NormFloat64())
		for k := range n {
			d := 30 * float64(k+1) / float64(n)
			s.Points = append(s.Points, Point{Day: d,
				Loss: quantity.Fraction(own*base.Loss(d).Best + 0.0006*r.NormFloat64()), SD: 0.0006})
		}
		out[i] = s
	}
	return out
}

func TestManyWheelsAtOnceGetWhatEachWouldGetAlone(t *testing.T) {
	subjects := herd(60, 12)
	subjects[7].Coats = []CoatOn{{Day: 9, Coat: Wax}}
	subjects[8].Points = nil
	got := Estimates(subjects)
	for i, s := range subjects {
		want := Estimate(s)
		if got[i].Basis() != want.Basis() || got[i].Used() != want.Used() {
			t.Errorf("wheel %d: %s of %d, alone %s of %d", i, got[i].Basis(), got[i].Used(), want.Basis(), want.Used())
		}
		for _, d := range []float64{3, 30, 44, 90} {
			a, b := got[i].Loss(d), want.Loss(d)
			if math.Abs(a.Best-b.Best) > 0.001 || math.Abs(a.Low-b.Low) > 0.0015 || math.Abs(a.High-b.High) > 0.0015 {
				t.Errorf("wheel %d day %g: %.5f (%.5f to %.5f), alone %.5f (%.5f to %.5f)", i, d, a.Best, a.Low, a.High, b.Best,
					b.Low, b.High)
			}
		}
	}
}

func TestAFitFromATableAllocatesNothing(t *testing.T) {
	s := weighed(20)
	c := s.Cheese.filled()
	table := newTable(newCourse(c, s.Air, nil, 40, 0, 0), 25)
	p := priorOf(s, c)
	var sv solver
	co := newCourse(c, s.Air, nil, 40, 0, 0)
	sv.load(&s, co, usableByDay(s.Points))
	lin := sv.tabled(table, [2]float64{})
	if n := testing.AllocsPerRun(50, func() { sv.fit(lin, &p, bareUnknowns, p.mean, math.Inf(1)) }); n != 0 {
		t.Errorf("%v allocations a fit, want 0", n)
	}
}

// A hundred thousand wheels of twelve weighings: what matters is seconds for the
// lot, wanted under 5 on two cores.
func BenchmarkRefitOfAHundredThousandWheels(b *testing.B) {
	subjects := herd(100000, 12)
	for b.Loop() {
		Estimates(subjects)
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/100k-wheels")
}
