package drying

import (
	"math"
	"math/rand/v2"
	"testing"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
)

// weighed is a made-up hard wheel of 2 kg with n weighings over 20 days.
func weighed(n int) Subject {
	s := Subject{
		Cheese: Cheese{Green: 2000, Group: Hard},
		Air:    []Span{{Air: air.State{Temp: 12, RH: 0.85}, Movement: air.Gentle}},
	}
	f := Estimate(s)
	for i := range n {
		d := 20 * float64(i+1) / float64(n)
		wiggle := 0.0005 * float64(i%3-1)
		s.Points = append(s.Points, Point{Day: d, Loss: quantity.Fraction(1.2*f.Loss(d).Best + wiggle), SD: 0.0005})
	}
	return s
}

func BenchmarkEstimateOfTwentyPointsFromThePhysics(b *testing.B) {
	s := weighed(20)
	b.ReportAllocs()
	for b.Loop() {
		Estimate(s)
	}
}

func BenchmarkFitOfTwentyPointsFromATable(b *testing.B) {
	s := weighed(20)
	c := s.Cheese.filled()
	co := newCourse(c, s.Air, nil, 40, 0, 0)
	t := newTable(co, 25)
	p := priorOf(s, c)
	var sv solver
	order := usableByDay(s.Points)
	sv.load(&s, co, order)
	lin := sv.tabled(t, [2]float64{})
	b.ReportAllocs()
	for b.Loop() {
		sv.fit(lin, &p, bareUnknowns, p.mean, math.Inf(1))
	}
}

func BenchmarkEstimateUnderAYearOfHourlyAir(b *testing.B) {
	s := weighed(12)
	s.Air = hourlyLog(rand.New(rand.NewPCG(1, 2)), 365, 12, 0.85)
	for b.Loop() {
		Estimate(s)
	}
}

func BenchmarkForecastAndDate(b *testing.B) {
	s := weighed(12)
	for b.Loop() {
		f := Estimate(s)
		f.Loss(34)
		f.DayOfLoss(0.08)
		f.Standings()
	}
}

// A wheel of twelve weighings over 60 days, a bare one and one in wax, with
// what a list of wheels asks of it: the figures of a day a month on.
func BenchmarkEstimateOfTwelvePointsOverSixtyDays(b *testing.B) {
	for _, c := range []struct {
		name  string
		coats []CoatOn
	}{{"bare", nil}, {"wax", []CoatOn{{Day: 12, Coat: Wax}}}} {
		s := weighed(12)
		s.Coats = c.coats
		f := Estimate(Subject{Cheese: s.Cheese, Air: s.Air, Coats: c.coats})
		for i := range s.Points {
			s.Points[i].Day *= 3
			s.Points[i].Loss = quantity.Fraction(1.2*f.Loss(s.Points[i].Day).Best + 0.0005*float64(i%3-1))
		}
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Estimate(s)
			}
		})
		f = Estimate(s)
		b.Run(c.name+" judged", func(b *testing.B) {
			for b.Loop() {
				g := f
				g.curves = &curves{own: f.curves.own}
				g.Judge(Point{Day: 90, Loss: 0.05})
			}
		})
	}
}
