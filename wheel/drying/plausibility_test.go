package drying

import (
	"fmt"
	"os"
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
	ofBare    bool // the figures are percent of the bare wheel's loss
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
	}{{31.8, [3]float64{2.5, 2.4, 4.2}}, {20.4, [3]float64{2.7, 3.7, 5.1}}, {15.9, [3]float64{3.9, 5.9, 8.5}}, {5.7,
		[3]float64{4.6, 8.1, 12.0}}} {
		for i, temp := range []float64{4.4, 10, 15.6} {
			out = append(out, published{
				what: fmt.Sprintf("cheddar %.1f kg, 20 weeks", r.kg), c: cheddar(r.kg), temp: temp, rh: 0.825, day: 140,
				low: r.loss[i], high: r.loss[i], source: "Thom and Fisk 1918, Table XIX", move: air.Still,
				coat: []CoatOn{{Day: 0, Coat: Cloth}},
			})
		}
	}
	return append(out,
		published{what: "Comte, month 4", c: Cheese{Green: 40000, Group: Hard, Shape: wheelOf(62, 12)}, temp: 13,
			rh: 0.92, day: 120, low: 7, high: 10, source: "Masson et al. 1981, at most", move: air.Gentle},
		published{what: "Saint-Nectaire, 4 weeks", c: Cheese{Green: 1600, Group: WashedRind, Shape: wheelOf(21, 4.4)},
			temp: 9, rh: 0.93, day: 28, low: 6.25, high: 6.25, source: "specification, 1.6 to 1.5 kg", move: air.Gentle},
		published{what: "cheddar dipped in thin paraffin, loss of bare", c: cheddar(15), temp: 10, rh: 0.85, day: 90,
			low: 20, high: 50, source: "trials of 1909 and 1918", move: air.Still, coat: []CoatOn{{Day: 5,
				Coat: Wax}}, ofBare: true},
		published{what: "Camembert bare, 23 d", c: Cheese{Green: 270, Group: Bloomy, Shape: wheelOf(10.8, 3)}, temp: 6,
			rh: 0.75, rhKnown: true, day: 23, low: 15, high: 15, source: "Picque et al. 2011", move: air.Still},
		published{what: "Camembert, barrier film", c: Cheese{Green: 270, Group: Bloomy, Shape: wheelOf(10.8, 3)}, temp: 6,
			rh: 0.75, rhKnown: true, day: 23, low: 0.5, high: 0.5, source: "Picque et al. 2011", move: air.Still,
			coat: []CoatOn{{Day: 0, Coat: Film}}},
	)
}

func plausibility() (table string, inBand, all int) {
	var b strings.Builder
	b.WriteString("| record | room | measured % | predicted % | 90 % band | misfit | in band | source |\n" +
		"|---|---|---|---|---|---|---|---|\n")
	for _, r := range records() {
		f := Estimate(Subject{Cheese: r.c, Coats: r.coat,
			Air: []Span{{Air: air.State{Temp: quantity.Celsius(r.temp), RH: quantity.Fraction(r.rh)}, Movement: r.move}}})
		e := f.Expected(r.day).Times(100)
		if r.ofBare {
			e = f.CoatFactor().Times(100)
		}
		room := fmt.Sprintf("%.3g C, %.0f %%", r.temp, 100*r.rh)
		if !r.rhKnown {
			room += " (taken)"
		}
		measured := fmt.Sprintf("%.4g", r.low)
		if r.high != r.low {
			measured = fmt.Sprintf("%.4g to %.4g", r.low, r.high)
		}
		misfit := "none"
		switch {
		case e.Best < r.low:
			misfit = fmt.Sprintf("%+.0f %%", 100*(e.Best/r.low-1))
		case e.Best > r.high:
			misfit = fmt.Sprintf("%+.0f %%", 100*(e.Best/r.high-1))
		}
		in := "no"
		if e.Low <= r.high && e.High >= r.low {
			in = "yes"
			inBand++
		}
		all++
		fmt.Fprintf(&b, "| %s | %s | %s | %.1f | %.1f to %.1f | %s | %s | %s |\n", r.what, room, measured, e.Best, e.Low,
			e.High, misfit, in, r.source)
	}
	return b.String(), inBand, all
}

// corrections are what was moved so that no kind of record is missed one way.
const corrections = "Corrected for these records: the diffusivity of very hard, hard and semi-hard cheese, " +
	"once 0.7, 1.0 and 1.2e-11\nm2/s at 12 C, is 1.3, 1.8 and 1.8e-11, " +
	"as every long record of them lay low (Comte by 31 %, " +
	"small cheddars by a third);\nthat is between the two measured (7.8e-12, and 2.5e-11 when brought to 12 C). " +
	"The humidity taken for the cheddar rooms,\nonce 85 %, is 82.5 %, the middle of what is published for dry rinds. " +
	"Small cheddars in the warm rooms stay low and large\nones in the cold rooms high: " +
	"no one figure mends both, and no record was left out.\n"

// The table is held to its golden file, so that a change of a default shows in
// the diff; RINDKEEP_GOLDEN=1 rewrites it.
func TestPublishedLossesLieInTheBandForMostRecords(t *testing.T) {
	table, in, all := plausibility()
	text := "<!-- Written by the tests of wheel/drying; what each source is stands in their code. " +
		"Humidity marked (taken) is not in the source: 82.5 % is taken for the cheddar rooms, " +
		"the middle of the 80 to 85 % that the University of Guelph gives for dry rinds, 92 and 93 % for the others; " +
		"the cheddars are taken as bandaged from the first day, in still air. -->\n\n" +
		table + fmt.Sprintf("\n%d of %d records lie in the 90 %% band.\n\n%s", in, all, corrections)
	file := reference + "plausibility.md"
	if os.Getenv("RINDKEEP_GOLDEN") == "1" {
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != text {
		t.Errorf("the table is not that of %s:\n%s", file, text)
	}
	t.Logf("\n%s", table)
	if in*10 < all*8 {
		t.Errorf("%d of %d records in the band, want four in five", in, all)
	}
}
