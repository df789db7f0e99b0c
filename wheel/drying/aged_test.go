package drying

import (
	"math"
	"testing"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
)

// cameAt is what a book has of a made-up wheel that it received on a day: nothing from
// before, the room's air since, losses from the weight on arrival. With only the first
// so many weighings.
func (g grown) cameAt(day float64, weighings int) (Subject, float64) {
	s := g.subject
	grams := func(loss quantity.Fraction) float64 { return float64(s.Cheese.Green) * (1 - float64(loss)) }
	out := Subject{Cheese: s.Cheese}
	out.Cheese.Age = day
	usual := Span{FromDay: -day, Air: air.State{Temp: 12, RH: 0.85}, Movement: air.Gentle}
	out.Air = append(out.Air, usual)
	for _, x := range s.Air {
		if x.FromDay >= day {
			x.FromDay -= day
			out.Air = append(out.Air, x)
		}
	}
	arrived, last := 0.0, 0.0
	for _, p := range s.Points {
		switch {
		case p.Day < day:
		case arrived == 0:
			arrived = grams(p.Loss)
			out.Cheese.Green = quantity.Grams(arrived)
			out.Cheese.Age = p.Day
			for i := range out.Air[1:] {
				out.Air[1+i].FromDay += day - p.Day
			}
			out.Air[0].FromDay = -p.Day
		case len(out.Points) < weighings:
			last = p.Day - out.Cheese.Age
			out.Points = append(out.Points, Point{
				Day: last, Loss: quantity.Fraction(1 - grams(p.Loss)/arrived),
				SD: p.SD * quantity.Fraction(float64(s.Cheese.Green)/arrived),
			})
		}
	}
	return out, last
}

// Wheels that come weeks or months old: the 90 % intervals of what they lose from then on
// and of their moisture hold the truth, whether they are weighed again or not.
func TestIntervalsHoldOfWheelsThatCameOld(t *testing.T) {
	lots := 5
	if everything() {
		lots = 60
	}
	g := regimes()[1]
	for _, family := range []family{power, steep, skinning} {
		made := worlds(g, 4000+uint64(family), lots, 4, family)
		for _, weighings := range []int{0, 1, 3, 30} {
			var loss, later, wide cell
			for lot, l := range made {
				for i, w := range l {
					s, last := w.cameAt([]float64{10, 25, 40, 55}[i%4], weighings)
					if s.Cheese.Age > w.now-5 {
						continue
					}
					f := Estimate(s)
					from := w.at(s.Cheese.Age)
					since := func(day float64) float64 { return (w.at(s.Cheese.Age+day) - from) / (1 - from) }
					loss.add(lot, f.Loss(last+7), since(last+7), 0)
					later.add(lot, f.Loss(last+60), since(last+60), 0)
					wide.add(lot, f.Before(), from, 0)
				}
			}
			for name, c := range map[string]*cell{"loss in a week": &loss, "in 60 days": &later, "loss before": &wide} {
				p, half, n := c.percent()
				t.Logf("family %d, %d weighings, %s: %.0f ± %.0f %% of %d, %.2f times as wide as needed, off %.2f points",
					family, weighings, name, p, half, n, c.width(), quantileOf(c.off, 0.5))
				if p+math.Max(half, 4) < 85 {
					t.Errorf("family %d, %d weighings, %s: the 90 %% interval holds %.0f ± %.0f %%", family, weighings, name, p, half)
				}
			}
		}
	}
}
