package shape

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
)

func near(a, b, rel float64) bool { return math.Abs(a-b) <= rel*math.Max(math.Abs(a), math.Abs(b)) }

// Volumes in cm3 and surfaces in cm2, worked out by hand from the mensuration
// formulas in the comment of each case. Tolerance 1e-6: the figures are given
// to seven digits.
func TestVolumeAndSurfaceAgainstFiguresWorkedByHand(t *testing.T) {
	for _, c := range []struct {
		name            string
		shape           Shape
		volume, surface float64
	}{
		// pi 7.5^2 10; 2 pi 7.5^2 + 2 pi 7.5 10
		{"a cylinder of 15 by 10", Shape{Form: Cylinder, Diameter: 0.15, Height: 0.10}, 1767.1459, 824.66807},
		// the same with d = 32, h = 12: pi 256 12; 512 pi + 384 pi
		{"a wheel of 32 by 12", Shape{Form: Cylinder, Diameter: 0.32, Height: 0.12}, 9650.9726, 2814.8670},
		// 20 10 8; 2 (200 + 160 + 80)
		{"a block of 20 by 10 by 8", Shape{Form: Block, Length: 0.20, Width: 0.10, Height: 0.08}, 1600, 880},
		// 4/3 pi 6^3; 4 pi 6^2
		{"a ball of 12", Shape{Form: Sphere, Diameter: 0.12}, 904.77868, 452.38934},
		// base 7, top 4, height 6: 6 (49 + 28 + 16)/3; 65 + 4 (7+4)/2 sqrt(36 + 1.5^2)
		{"a pyramid of 7 and 4, 6 high", Shape{Form: Pyramid, Length: 0.07, TopLength: 0.04, Height: 0.06}, 186, 201.06249},
	} {
		if got := c.shape.Volume() * 1e6; !near(got, c.volume, 1e-6) {
			t.Errorf("%s: %v cm3, want %v", c.name, got, c.volume)
		}
		if got := c.shape.Surface() * 1e4; !near(got, c.surface, 1e-6) {
			t.Errorf("%s: %v cm2, want %v", c.name, got, c.surface)
		}
		if err := c.shape.Check(); err != nil || !c.shape.Known() {
			t.Errorf("%s is refused: %v", c.name, err)
		}
	}
	var none Shape
	if none.Known() || none.Volume() != 0 || none.Surface() != 0 || none.Check() == nil {
		t.Error("no shape has a volume, a surface or a good name")
	}
}

// The frustum's formulas by another way: a pyramid cut off a taller one, by
// similar triangles, and slices added up.
func TestAPyramidIsATallOneLessItsTop(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0.05, 0.5).Draw(t, "base")
		b := a * rapid.Float64Range(0.2, 0.95).Draw(t, "top share")
		h := rapid.Float64Range(0.02, 0.5).Draw(t, "height")
		s := Shape{Form: Pyramid, Length: quantity.Metres(a), TopLength: quantity.Metres(b), Height: quantity.Metres(h)}
		whole := h * a / (a - b) // height of the pyramid it was cut from
		want := a*a*whole/3 - b*b*(whole-h)/3
		if !near(s.Volume(), want, 1e-9) {
			t.Fatalf("%v: %v m3, want %v", s, s.Volume(), want)
		}
		side := func(edge, high float64) float64 { return 2 * edge * math.Hypot(high, edge/2) } // four triangles
		if want := a*a + b*b + side(a, whole) - side(b, whole-h); !near(s.Surface(), want, 1e-9) {
			t.Fatalf("%v: %v m2, want %v", s, s.Surface(), want)
		}
	})
}

func TestAPyramidAsWideAboveAsBelowIsABlock(t *testing.T) {
	p := Shape{Form: Pyramid, Length: 0.1, TopLength: 0.1, Height: 0.07}
	b := Shape{Form: Block, Length: 0.1, Width: 0.1, Height: 0.07}
	if !near(p.Volume(), b.Volume(), 1e-12) || !near(p.Surface(), b.Surface(), 1e-12) {
		t.Errorf("%v m3 and %v m2, the block has %v and %v", p.Volume(), p.Surface(), b.Volume(), b.Surface())
	}
}

func anyShape(t *rapid.T) Shape {
	m := func(name string) quantity.Metres { return quantity.Metres(rapid.Float64Range(0.01, 1).Draw(t, name)) }
	return Shape{Form: rapid.SampledFrom(Forms).Draw(t, "form"), Diameter: m("diameter"), Height: m("height"),
		Length: m("length"), Width: m("width"), TopLength: m("top")}
}

func TestScalingGoesWithTheSquareAndTheCube(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShape(t)
		k := rapid.Float64Range(0.1, 10).Draw(t, "k")
		if got := s.Scaled(k); !near(got.Volume(), s.Volume()*k*k*k, 1e-9) || !near(got.Surface(), s.Surface()*k*k, 1e-9) {
			t.Fatalf("%v scaled by %v is %v", s, k, got)
		}
	})
}

func TestNoSolidHasLessSurfaceThanTheBallOfItsVolume(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShape(t)
		ball := math.Cbrt(36 * math.Pi * s.Volume() * s.Volume()) // isoperimetric bound
		if s.Surface() < ball*(1-1e-9) {
			t.Fatalf("%v has %v m2, less than a ball's %v", s, s.Surface(), ball)
		}
	})
}

func TestForWeightGivesTheWeightAtTheDensityInTheSameProportions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShape(t)
		w := quantity.Grams(rapid.Float64Range(20, 100000).Draw(t, "weight"))
		got := s.ForWeight(w, 1080)
		if !near(got.Volume()*1080*1000, float64(w), 1e-9) ||
			!near(float64(got.Height/got.Diameter), float64(s.Height/s.Diameter), 1e-9) {
			t.Fatalf("%v for %v g is %v", s, w, got)
		}
	})
	s := Shape{Form: Sphere, Diameter: 0.1}
	for name, got := range map[string]Shape{
		"no weight": s.ForWeight(0, 1080), "no density": s.ForWeight(1000, 0),
		"no volume": Shape{Form: Sphere}.ForWeight(1000, 1080),
	} {
		if got != s && got != (Shape{Form: Sphere}) {
			t.Errorf("%s: %v", name, got)
		}
	}
}

func TestMeasuresSuggestAForm(t *testing.T) {
	for _, c := range []struct {
		name        string
		shape, want Shape
		says        string
	}{
		{"nothing", Shape{}, Shape{}, ""},
		{"a diameter and a height", Shape{Diameter: 0.2, Height: 0.1}, Shape{Form: Cylinder, Diameter: 0.2, Height: 0.1}, ""},
		{"a diameter alone", Shape{Diameter: 0.2}, Shape{}, "needs {What:diameter Other:height}"},
		{"a ball", Shape{Form: Sphere, Diameter: 0.2}, Shape{Form: Sphere, Diameter: 0.2}, ""},
		{"a width alone", Shape{Width: 0.2}, Shape{}, "no-shape"},
		{"a form alone", Shape{Form: Block}, Shape{}, "needs {What:block Other:length}"},
	} {
		got, err := c.shape.Completed()
		if (err != nil) != (c.says != "") || err != nil && !strings.Contains(err.Error(), c.says) || err == nil &&
			got != c.want {
			t.Errorf("%s: %v, %v", c.name, got, err)
		}
	}
}

func TestWhatAShapeIsRefusedFor(t *testing.T) {
	for _, c := range []struct {
		name  string
		shape Shape
		want  string
	}{
		{"no form", Shape{}, "unknown {What:shape Word: Known:cylinder, block, sphere, pyramid}"},
		{"a form there is not", Shape{Form: "star"}, "unknown {What:shape Word:star Known:cylinder, block, sphere, pyramid}"},
		{"a cylinder without its height", Shape{Form: Cylinder, Diameter: 0.1}, "needs {What:cylinder Other:height}"},
		{"a block without its width", Shape{Form: Block, Length: 0.1, Height: 0.1}, "needs {What:block Other:width}"},
		{"a pyramid without its top", Shape{Form: Pyramid, Length: 0.1, Height: 0.1},
			"needs {What:pyramid Other:top-length}"},
		{"a ball of three millimetres", Shape{Form: Sphere, Diameter: 0.003},
			"outside {What:diameter Value:0.003 Low:0.005 High:2}"},
		{"a ball over two metres", Shape{Form: Sphere, Diameter: 2.01}, "outside {What:diameter Value:2.01"},
		{"a negative height", Shape{Form: Cylinder, Diameter: 0.1, Height: -0.1},
			"outside {What:height Value:-0.1 Low:0.005 High:2}"},
		{"no number", Shape{Form: Sphere, Diameter: quantity.Metres(math.NaN())},
			"outside {What:diameter Value:NaN Low:0.005 High:2}"},
	} {
		if err := c.shape.Check(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestHowAShapeIsWritten(t *testing.T) {
	for want, s := range map[string]Shape{
		"cylinder 15 cm across, 10.5 cm high":                  {Form: Cylinder, Diameter: 0.15, Height: 0.105},
		"block 20 cm by 10 cm, 8 cm high":                      {Form: Block, Length: 0.2, Width: 0.1, Height: 0.08},
		"sphere 12 cm across":                                  {Form: Sphere, Diameter: 0.12},
		"pyramid 7 cm at the base, 4 cm at the top, 6 cm high": {Form: Pyramid, Length: 0.07, TopLength: 0.04, Height: 0.06},
		"shape not given":                                      {},
	} {
		if got := s.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestMeasuresThatCannotBelongToAWeightGiveWayToIt(t *testing.T) {
	big := Shape{Form: Cylinder, Diameter: 0.33, Height: 0.11} // 9.4 litres
	for _, c := range []struct {
		name   string
		w      quantity.Grams
		scaled bool
		want   float64 // litres
	}{
		{"a wheel never weighed keeps its measures", 0, false, 9.408},
		{"a wheel of 10 kg has them", 10_000, false, 9.408},
		{"one with holes may be light", 7_000, false, 9.408},
		{"one of 1 kg cannot", 1_000, true, 1000.0 / CheeseDensity},
		{"nor can one of 20 kg", 20_000, true, 20_000.0 / CheeseDensity},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, scaled := big.Fitting(c.w, CheeseDensity)
			if scaled != c.scaled || math.Abs(got.Volume()*1000-c.want) > 0.001*c.want {
				t.Errorf("%v, %v: %.3f litres, want %.3f", got, scaled, got.Volume()*1000, c.want)
			}
			if r := float64(got.Height / got.Diameter); math.Abs(r-1.0/3) > 1e-9 {
				t.Errorf("proportions %.4f", r)
			}
		})
	}
}
