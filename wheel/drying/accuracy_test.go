package drying

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/drying/volume"
	"rindkeep/wheel/shape"
)

// within is how near, in points of loss, the forward model must keep to the
// finite volumes. The grid of the truth is itself within 0.04 points of one
// three times finer, which a test below holds it to.
const within = 0.3

var truthGrid = volume.Grid{First: 2e-4, Grow: 1.2, Most: 60}

// apart is the greatest distance of the model from the truth, in points.
func apart(c Cheese, w []window, d12 float64, sub int) (points, day float64) {
	p := newPlant(c, w, d12, 0)
	have := make([]float64, len(w))
	p.run(0, 0, 0, have)
	for i, want := range truth(c, p, truthGrid, sub, 0, 0) {
		if e := 100 * math.Abs(have[i]-want); e > points {
			points, day = e, w[i].to
		}
	}
	return points, day
}

func TestTheForwardModelKeepsToTheFiniteVolumesOverAYear(t *testing.T) {
	worst, where := 0.0, ""
	for _, kg := range []float64{0.5, 2, 10, 25} {
		for _, rh := range []float64{0.75, 0.85, 0.95} {
			for _, temp := range []quantity.Celsius{4, 16} {
				for _, d := range []float64{5e-12, 2e-11, 1e-10} {
					for _, mv := range []air.Movement{air.Still, air.Brisk} {
						c := Cheese{Green: quantity.Grams(kg * 1000), Group: Hard}.filled()
						w := windows([]Span{{Air: air.State{Temp: temp, RH: quantity.Fraction(rh)}, Movement: mv}}, nil, 366, 0)
						off, day := apart(c, w, d/diffusivityAt(1, temp), 2)
						name := fmt.Sprintf("%g kg, %g %%, %g C, D %g, %s", kg, 100*rh, float64(temp), d, mv)
						if off > within {
							t.Errorf("%s: %.2f points off on day %.0f", name, off, day)
						}
						if off > worst {
							worst, where = off, fmt.Sprintf("%s, day %.0f", name, day)
						}
					}
				}
			}
		}
	}
	t.Logf("worst of 144 cases: %.2f points (%s)", worst, where)
}

func TestTheForwardModelKeepsToTheFiniteVolumesInOtherShapes(t *testing.T) {
	for _, c := range []Cheese{
		{Green: 3000, Group: SemiHard, Shape: shape.Shape{Form: shape.Block, Length: 0.2, Width: 0.15, Height: 0.1}},
		{Green: 1000, Group: Hard, Shape: shape.Shape{Form: shape.Sphere, Diameter: 0.12}},
		{Green: 250, Group: Bloomy},
		{Green: 38000, Group: Hard, Shape: wheelOf(65, 11)},
	} {
		for _, rh := range []float64{0.8, 0.93} {
			c := c.filled()
			w := windows([]Span{{Air: air.State{Temp: 11, RH: quantity.Fraction(rh)}, Movement: air.Gentle}}, nil, 200, 0)
			off, day := apart(c, w, 0, 2)
			t.Logf("%v at %v: %.2f points off at most (day %.0f)", c.Shape, rh, off, day)
			if off > within {
				t.Errorf("%v at %v: %.2f points off on day %.0f", c.Shape, rh, off, day)
			}
		}
	}
}

// hourlyLog is a made-up room: a daily swing, a week's weather, a moved wheel.
func hourlyLog(r *rand.Rand, days int, temp, rh float64) []Span {
	var out []Span
	weather, swing := 0.0, 0.02+0.02*r.Float64()
	for h := range days * 24 {
		if h%6 == 0 {
			weather += -0.05*weather + 0.006*r.NormFloat64()
		}
		day := float64(h) / 24
		x := rh + weather + swing*math.Sin(2*math.Pi*day)
		if day > float64(days)/3 && day < float64(days)/2 {
			x -= 0.06
		}
		out = append(out, Span{FromDay: day, Movement: air.Gentle, Air: air.State{
			Temp: quantity.Celsius(temp + 1.5*math.Sin(2*math.Pi*(day+0.4)) + 20*weather),
			RH:   quantity.Fraction(math.Min(0.99, math.Max(0.5, x))),
		}})
	}
	return out
}

func TestHourlyAirKeepsToTheFiniteVolumesTakenHourByHour(t *testing.T) {
	for i, c := range []Cheese{{Green: 600, Group: SemiHard}, {Green: 2000, Group: Hard}, {Green: 12000, Group: Hard}} {
		r := rand.New(rand.NewPCG(7, uint64(i)))
		spans := hourlyLog(r, 60, 12, 0.84)
		c := c.filled()
		have := newCourse(c, spans, nil, 61, 0, 0)
		tr := have.trace(&vec{}, bareUnknowns, len(have.ends))
		// The truth takes every hour by itself.
		var hours []window
		for k := range spans {
			w := window{from: float64(k) / 24, to: float64(k+1) / 24}
			w.average(spans, k)
			hours = append(hours, w)
		}
		p := newPlant(c, hours, 0, 0)
		worst := 0.0
		for k, want := range truth(c, p, truthGrid, 1, 0, 0) {
			if got, _ := tr.at(hours[k].to); k%24 == 23 {
				worst = math.Max(worst, 100*math.Abs(got-want))
			}
		}
		t.Logf("%v: %d steps for %d hours, %.2f points off at most", c.Green, len(have.ends), len(spans), worst)
		if worst > within {
			t.Errorf("%v: %.2f points off", c.Green, worst)
		}
	}
}

func TestACoatedWheelKeepsToTheFiniteVolumes(t *testing.T) {
	for _, k := range Coats() {
		c := Cheese{Green: 2000, Group: Hard}.filled()
		w := windows([]Span{{Air: air.State{Temp: 12, RH: 0.82}, Movement: air.Gentle}}, []CoatOn{{Day: 6, Coat: k}}, 200, 0)
		off, day := apart(c, w, 0, 2)
		if off > within {
			t.Errorf("%s: %.2f points off on day %.0f", k, off, day)
		}
		t.Logf("%s: %.2f points off at most", k, off)
	}
}

func TestHalvingTheStepsMovesNoCurve(t *testing.T) {
	c := Cheese{Green: 1000, Group: Hard}.filled()
	still := []Span{{Air: air.State{Temp: 12, RH: 0.82}, Movement: air.Gentle}}
	w := windows(still, []CoatOn{{Day: 9, Coat: Cloth}}, 366, 0)
	var half []window
	for _, x := range w {
		a, b := x, x
		a.to = (x.from + x.to) / 2
		b.from = a.to
		half = append(half, a, b)
	}
	one, two := make([]float64, len(w)), make([]float64, len(half))
	newPlant(c, w, 0, 0).run(0, 0, 0, one)
	newPlant(c, half, 0, 0).run(0, 0, 0, two)
	worst := 0.0
	for i := range one {
		worst = math.Max(worst, 100*math.Abs(one[i]-two[2*i+1]))
	}
	t.Logf("%.3f points", worst)
	if worst > 0.05 {
		t.Errorf("halving the steps moves the curve by %.3f points", worst)
	}
}

func TestTheTruthDoesNotHangOnItsGrid(t *testing.T) {
	for _, kg := range []float64{0.25, 20} {
		for _, d := range []float64{5e-12, 1e-10} {
			c := Cheese{Green: quantity.Grams(1000 * kg), Group: Hard}.filled()
			w := windows([]Span{{Air: air.State{Temp: 10, RH: 0.8}, Movement: air.Gentle}}, nil, 366, 0)
			p := newPlant(c, w, d/diffusivityAt(1, 10), 0)
			fine := truth(c, p, volume.Fine, 4, 0, 0)
			for _, g := range []struct {
				grid volume.Grid
				most float64
			}{{volume.Coarse, 0.1}, {truthGrid, 0.04}} {
				worst := 0.0
				for i, v := range truth(c, p, g.grid, 2, 0, 0) {
					worst = math.Max(worst, 100*math.Abs(v-fine[i]))
				}
				if worst > g.most {
					t.Errorf("%g kg, D %g, grid %+v: %.3f points from the fine one", kg, d, g.grid, worst)
				}
			}
		}
	}
}
