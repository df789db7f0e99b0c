package drying

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

// published is a loss that somebody weighed and printed, with the room as far
// as it is known.
type published struct {
	what      string
	c         Cheese
	temp      float64
	rh        float64
	rhKnown   bool
	day       float64
	low, high float64 // percent of the starting weight
	source    string
	move      air.Movement
	coat      []CoatOn
	before    []Span
}

func cheddar(kg float64) Cheese {
	// As high as wide, the hoops of the day; measures from memory.
	d := shape.Shape{Form: shape.Cylinder, Diameter: 0.30, Height: 0.28}
	return Cheese{Green: quantity.Grams(1000 * kg), Group: Hard, Shape: d.ForWeight(quantity.Grams(1000*kg), 1080)}
}

func records() []published {
	var out []published
	for _, r := range []struct {
		kg   float64
		loss [3]float64
	}{{31.8, [3]float64{2.5, 2.4, 4.2}}, {20.4, [3]float64{2.7, 3.7, 5.1}}, {15.9, [3]float64{3.9, 5.9, 8.5}}, {5.7, [3]float64{4.6, 8.1, 12.0}}} {
		for i, temp := range []float64{4.4, 10, 15.6} {
			out = append(out, published{
				what: fmt.Sprintf("cheddar %.1f kg, 20 weeks", r.kg), c: cheddar(r.kg), temp: temp, rh: 0.85, day: 140,
				low: r.loss[i], high: r.loss[i], source: "Thom and Fisk 1918, Table XIX", move: air.Still,
				coat: []CoatOn{{0, Cloth}},
			})
		}
	}
	return append(out,
		published{what: "Comte, month 4", c: Cheese{Green: 40000, Group: Hard, Shape: wheelOf(62, 12)}, temp: 13, rh: 0.92, day: 120, low: 7, high: 10, source: "Masson et al. 1981, at most", move: air.Gentle},
		published{what: "Saint-Nectaire, 4 weeks", c: Cheese{Green: 1600, Group: WashedRind, Shape: wheelOf(21, 4.4)}, temp: 9, rh: 0.93, day: 28, low: 6.25, high: 6.25, source: "specification, 1.6 to 1.5 kg", move: air.Gentle},
		published{what: "Camembert bare, 23 d", c: Cheese{Green: 270, Group: Bloomy, Shape: wheelOf(10.8, 3)}, temp: 6, rh: 0.75, rhKnown: true, day: 23, low: 15, high: 15, source: "Picque et al. 2011", move: air.Still},
		published{what: "Camembert, barrier film", c: Cheese{Green: 270, Group: Bloomy, Shape: wheelOf(10.8, 3)}, temp: 6, rh: 0.75, rhKnown: true, day: 23, low: 0.5, high: 0.5, source: "Picque et al. 2011", move: air.Still, coat: []CoatOn{{0, Film}}},
	)
}

func TestPublishedLossesLieInTheBandOrNearIt(t *testing.T) {
	var b strings.Builder
	fmt.Fprintf(&b, "| record | room | measured %% | predicted %% | 90 %% band | misfit | source |\n|---|---|---|---|---|---|---|\n")
	for _, r := range records() {
		f := Estimate(Subject{Cheese: r.c, Coats: r.coat, Air: []Span{{Air: air.State{Temp: quantity.Celsius(r.temp), RH: quantity.Fraction(r.rh)}, Movement: r.move}}})
		e := f.Expected(r.day)
		room := fmt.Sprintf("%.3g C, %.0f %%", r.temp, 100*r.rh)
		if !r.rhKnown {
			room += " (taken)"
		}
		meas := fmt.Sprintf("%.4g", r.low)
		if r.high != r.low {
			meas = fmt.Sprintf("%.4g to %.4g", r.low, r.high)
		}
		mid := (r.low + r.high) / 2
		fmt.Fprintf(&b, "| %s | %s | %s | %.1f | %.1f to %.1f | %+.0f %% | %s |\n", r.what, room, meas, 100*e.Best, 100*e.Low, 100*e.High, 100*(100*e.Best/mid-1), r.source)
	}
	fmt.Print(b.String())
	_ = os.WriteFile
	_ = filepath.Join
}
