package wheel

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
)

func pct(p float64) quantity.Fraction { return quantity.FromPercent(p) }

// Density: tables of WNT 1974, kg/m3 at 20 C, without their 1012.2 at 2 %, which isn't
// in line with the others. Freezing: Lange's Handbook, 15th ed. What is interpolated goes
// through every one of the points.
func TestBrineIsAsTheHandbooksPrintIt(t *testing.T) {
	for s, want := range map[float64]float64{4: 1026.8, 6: 1041.3, 8: 1055.9, 10: 1070.7, 12: 1085.7,
		14: 1100.9, 16: 1116.2, 18: 1131.9, 20: 1147.8, 22: 1164.0, 24: 1180.4, 26: 1197.2} {
		if got := 1000 * BrineDensity(pct(s)); !near(got, want, 1e-9) {
			t.Errorf("density at %v %% is %v kg/m3, printed is %v", s, got, want)
		}
	}
	for s, want := range map[float64]float64{2: -1.13, 4: -2.35, 6: -3.63, 8: -5.03, 16: -11.90, 18: -14.03, 20: -16.46,
		22: -19.19, 23.3: -21.1} {
		b, err := BrineOf(pct(s))
		if err != nil || !near(float64(b.Freezing), want, 1e-9) || b.SaltFirst {
			t.Errorf("a brine of %v %% freezes at %v, printed is %v; salt first: %v, %v", s, b.Freezing, want, b.SaltFirst, err)
		}
	}
}

func TestBetweenThePrintedPointsBrineKeepsItsCourse(t *testing.T) {
	for _, c := range []struct {
		name            string
		got, want, slip float64
	}{
		// The printed points bend downwards, so at 12 % the truth lies between
		// the chord, -8.47, and the line through 6 and 8 % drawn on, -7.83.
		{"12 % freezes between the chord and the line drawn on", float64(must(BrineOf(0.12)).Freezing), (-8.465 - 7.83) / 2,
			0.31},
		{"past the eutectic all is frozen at -21.1 C", float64(must(BrineOf(0.25)).Freezing), -21.1, 0},
		{"water does not freeze below 0 C", float64(must(BrineOf(0)).Freezing), 0, 0},
		// 1026.8 at 4 % less a step of 14.4, as the steps up to 10 %, 14.5, 14.6 and
		// 14.8, go on downwards.
		{"2 % lies in line with its neighbours", BrineDensity(0.02), 1.0124, 1e-4},
		{"19 % lies midway in density to 1 in 10000", BrineDensity(0.19), (1.1319 + 1.1478) / 2, 1e-4},
		// The salometer's printed scale: 100 degrees is 26.395 % at 60 F.
		{"26.395 % is 100 salometer degrees", Salometer(0.26395), 100, 1e-9},
		// At 60 F brine is denser than at 20 C by more than water is: Baume lies
		// above what the densities of 20 C would give, by 0.2 at the most.
		{"20 % lies just above its Baume at 20 C", BrineBaume(0.20), 145 - 145*0.9982/1.1478 + 0.1, 0.1},
		{"26 % lies just above its Baume at 20 C", BrineBaume(0.26), 145 - 145*0.9982/1.1972 + 0.1, 0.1},
		{"water shows 0 Baume", BrineBaume(0), 0, 1e-12},
		{"20 % by the formula, 145 - 145/SG", BrineBaume(0.20), 145 - 145/BrineGravity(0.20), 1e-12},
		// 26.4 g to 100 g of brine and 35.9 g to 100 g of water are one strength.
		{"full brine is 35.9 g to 100 g of water", 100 * float64(PerWater(BrineSaturation)), 35.9, 0.05},
		{"20 % of brine is 25 % of water", float64(PerWater(0.20)), 0.25, 1e-12},
		{"25 % of water is 20 % of brine", float64(OfPerWater(0.25)), 0.20, 1e-12},
	} {
		if !(math.Abs(c.got-c.want) <= c.slip) {
			t.Errorf("%s: %v, want %v within %v", c.name, c.got, c.want, c.slip)
		}
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func TestStrongerBrineIsHeavierAndFreezesLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(0, 0.2639).Draw(t, "weaker")
		hi := rapid.Float64Range(lo, 0.264).Draw(t, "stronger")
		a, b := must(BrineOf(quantity.Fraction(lo))), must(BrineOf(quantity.Fraction(hi)))
		if b.Density < a.Density || b.SG60 < a.SG60 || b.Baume < a.Baume || b.Salometer < a.Salometer ||
			b.PerWater < a.PerWater || b.Freezing > a.Freezing {
			t.Fatalf("%v %% is %+v, %v %% is %+v", 100*lo, a, 100*hi, b)
		}
		if back := float64(OfBaume(a.Baume)); !near(back, lo, 1e-9) {
			t.Fatalf("%v by its Baume is %v", lo, back)
		}
		if back := float64(OfSalometer(a.Salometer)); !near(back, lo, 1e-12) {
			t.Fatalf("%v by its salometer is %v", lo, back)
		}
		if back := float64(OfPerWater(a.PerWater)); !near(back, lo, 1e-12) {
			t.Fatalf("%v by its water is %v", lo, back)
		}
	})
}

func TestABrineBroughtBackHoldsTheSaltItHadAndWhatWasAdded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := quantity.Litres(rapid.Float64Range(0.1, 10000).Draw(t, "litres"))
		now := quantity.Fraction(rapid.Float64Range(0, 0.264).Draw(t, "now"))
		to := quantity.Fraction(rapid.Float64Range(0.001, 0.264).Draw(t, "to"))
		x, err := CorrectBrine(v, now, to)
		if err != nil {
			t.Fatal(err)
		}
		salt := float64(x.Before)*float64(now) + float64(x.Salt)
		water := float64(x.Before)*(1-float64(now)) + float64(x.Water)
		if !near(salt, float64(x.After)*float64(to), 1e-9*float64(x.After)) ||
			!near(salt+water, float64(x.After), 1e-9*float64(x.After)) {
			t.Fatalf("%v of salt and %v of water are no brine of %v: %+v", salt, water, to, x)
		}
		if x.Salt < 0 || x.Water < 0 || x.Salt > 0 && x.Water > 0 {
			t.Fatalf("%+v: one of the two is added, or none", x)
		}
		if !near(float64(x.Volume)*BrineDensity(to)*1000, float64(x.After), 1e-9*float64(x.After)) {
			t.Fatalf("%+v: the volume is not the mass over the density", x)
		}
		// Brought there and back, it is as salt as before.
		y, err := NewBrine(v, to)
		if err != nil || !near(float64(y.Salt/y.After), float64(to), 1e-12) ||
			!near(float64(y.Salt+y.Water), float64(y.After), 1e-6) {
			t.Fatalf("new brine %+v, %v", y, err)
		}
	})
	// 80 l of 17 % are 80 x 1.1240 = 89.92 kg; 89.92 x 3/80 = 3.372 kg of salt.
	x := must(CorrectBrine(80, 0.17, 0.20))
	if !near(float64(x.Salt), 3372, 1) || !near(float64(x.Before), 89920, 20) || x.Water != 0 {
		t.Errorf("80 l from 17 to 20 %%: %+v, want 3372 g of salt to 89920 g", x)
	}
	// Back from 20 to 17 %: 3/17 of the mass in water.
	x = must(CorrectBrine(80, 0.20, 0.17))
	if !near(float64(x.Water), 80*1147.8*3/17, 1e-6) || x.Salt != 0 {
		t.Errorf("80 l from 20 to 17 %%: %+v, want %v g of water", x, 80*1147.8*3/17)
	}
}

func TestAStrengthNoBrineHasIsRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		err  error
		why  string
	}{
		{"over saturation", CheckBrine(0.2641), "outside {What:brine"},
		{"at saturation", CheckBrine(BrineSaturation), ""},
		{"below nothing", CheckBrine(-0.01), "outside {What:brine"},
		{"no number", CheckBrine(quantity.Fraction(math.NaN())), "outside {What:brine"},
		{"a brine from over saturation", errOf(CorrectBrine(80, 0.3, 0.2)), "outside {What:brine"},
		{"a brine to over saturation", errOf(CorrectBrine(80, 0.2, 0.3)), "outside {What:brine"},
		{"a brine made water again", errOf(CorrectBrine(80, 0.2, 0)), "never-fresh {Now:0.2}"},
		{"a new one over saturation", errOf(NewBrine(80, 0.3)), "outside {What:brine"},
	} {
		if got := c.err; (got == nil) != (c.why == "") || got != nil && !strings.Contains(got.Error(), c.why) {
			t.Errorf("%s: %v, want %q", c.name, got, c.why)
		}
	}
}

func errOf[T any](_ T, err error) error { return err }

// Mean left at Fo: the reference table of the Crank series with a held surface.
func TestTheSeriesOfTheSoakAreThoseOfTheReferenceTable(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"slab at 0.1", slabLeft(0.1), 0.643177}, {"slab at 0.5", slabLeft(0.5), 0.236050},
		{"cylinder at 0.1", cylinderLeft(0.1), 0.394176}, {"cylinder at 0.5", cylinderLeft(0.5), 0.038379},
		{"slab at the seam", slabLeft(0.02), slabLeft(0.02 - 1e-13)},
		{"cylinder at the seam", cylinderLeft(0.002), cylinderLeft(0.002 - 1e-13)},
		{"slab at the start", slabLeft(0), 1}, {"cylinder at the start", cylinderLeft(0), 1},
	} {
		if !near(c.got, c.want, 2e-6) {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
}

func TestTimeInBrine(t *testing.T) {
	// The rule: 2 kg are 4.409 lb, 8 cm are 3.150 in; 13.9 h.
	if got := float64(BrineTimeByRule(2000, 0.08)); !near(got, 4.409245*3.149606, 1e-4) {
		t.Errorf("2 kg, 8 cm by the rule: %v h", got)
	}
	k := Soak{Weight: 2000, Thick: 0.08, Brine: 0.20, Salt: 0.018, Moisture: 0.42}
	// Across: 2/1080 m3 over 0.08 m high.
	if got := float64(k.diameter()); !near(got, math.Sqrt(4*2/1080.0/math.Pi/0.08), 1e-12) {
		t.Errorf("across: %v", got)
	}
	got, err := k.Time()
	if err != nil {
		t.Fatal(err)
	}
	// The ends lie as the diffusivities do: 5.3 to 1, the middle between.
	if !near(float64(got.Long/got.Short), 5.3, 1e-9) ||
		!near(float64(got.Middle*got.Middle), float64(got.Long*got.Short), 1e-6) {
		t.Errorf("%+v: want a ratio of 5.3 with the middle as geometric mean", got)
	}
	// Put back into the series it must give the uptake asked for, 0.18/1.05.
	d := 1e-10 * float64(got.Long) * 3600
	if u := 1 - slabLeft(d/0.0016)*cylinderLeft(d/math.Pow(float64(k.diameter())/2, 2)); !near(u, 0.018/0.42/0.25, 1e-9) ||
		!near(k.uptake(), u, 1e-9) {
		t.Errorf("after %v h the wheel has %v of the brine's salt, want %v", got.Long, u, 0.018/0.42/0.25)
	}
	for _, c := range []struct {
		name string
		k    Soak
		why  string
	}{
		{"a cheese saltier than its brine", Soak{Weight: 2000, Thick: 0.08, Brine: 0.03, Salt: 0.02, Moisture: 0.4},
			"weak-brine {Salt:0.02 Moisture:0.4 In:0.049999999999999996"},
		{"water for a brine", Soak{Weight: 2000, Thick: 0.08, Salt: 0.02, Moisture: 0.4},
			"weak-brine {Salt:0.02 Moisture:0.4 In:0.049999999999999996"},
		{"a cheese without salt", Soak{Weight: 2000, Thick: 0.08, Brine: 0.2, Moisture: 0.4}, "no-salt"},
		{"a thread of a cheese", Soak{Weight: 1, Thick: 1, Brine: 0.2, Salt: 0.02, Moisture: 0.4},
			"odd-diameter {Weight:1 Thick:1 Across:0.0010857833597842665}"},
		{"a cheese as high as a house", Soak{Weight: 2e6, Thick: 5, Brine: 0.2, Salt: 0.02, Moisture: 0.4},
			"odd-diameter {Weight:2e+06 Thick:5 Across:0.6867096924856704}"},
		{"a cheese without water", Soak{Weight: 2000, Thick: 0.08, Brine: 0.2, Salt: 0.02}, "no-moisture"},
	} {
		if got, err := c.k.Time(); err == nil || !strings.Contains(err.Error(), c.why) || got != (SoakTime{}) {
			t.Errorf("%s: %+v, %v; want %q", c.name, got, err, c.why)
		}
	}
}

func TestMoreSaltTakesLongerInTheBrine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := Soak{
			Weight:   quantity.Grams(rapid.Float64Range(100, 90000).Draw(t, "g")),
			Thick:    quantity.Metres(rapid.Float64Range(0.03, 0.5).Draw(t, "m")),
			Brine:    quantity.Fraction(rapid.Float64Range(0.1, 0.26).Draw(t, "brine")),
			Moisture: quantity.Fraction(rapid.Float64Range(0.3, 0.6).Draw(t, "moisture")),
		}
		k.Salt = quantity.Fraction(rapid.Float64Range(0.001, 0.9).Draw(t, "of the brine's")) * PerWater(k.Brine) * k.Moisture
		a, err := k.Time()
		if err != nil || !(a.Short > 0 && a.Short < a.Middle && a.Middle < a.Long) {
			t.Fatalf("%+v: %+v, %v", k, a, err)
		}
		k.Salt *= 1.05
		if b, err := k.Time(); err != nil || b.Middle <= a.Middle {
			t.Fatalf("%+v takes %+v, less salt %+v", k, b, a)
		}
	})
}

func TestATableGoesThroughItsPointsAndNeverSwings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 9).Draw(t, "points")
		var points []float64
		x, y := 0.0, 0.0
		for range n {
			x += rapid.Float64Range(0.1, 10).Draw(t, "dx")
			y += rapid.Float64Range(0, 10).Draw(t, "dy")
			points = append(points, x, y)
		}
		tab := tableOf(points...)
		for i := 0; i < len(points); i += 2 {
			if got := tab.at(points[i]); !near(got, points[i+1], 1e-9) {
				t.Fatalf("at %v: %v, printed %v", points[i], got, points[i+1])
			}
		}
		u := rapid.Float64Range(points[0]-1, x+1).Draw(t, "u")
		v := rapid.Float64Range(u, x+1).Draw(t, "v")
		if tab.at(u) > tab.at(v)+1e-9 {
			t.Fatalf("%v gives %v and %v gives %v", u, tab.at(u), v, tab.at(v))
		}
	})
	straight := tableOf(0, 1, 1, 3, 4, 9)
	if d := cmp.Diff([]float64{1, 1, 2, 5, 9, 11}, []float64{straight.at(-1), straight.at(0), straight.at(0.5),
		straight.at(2), straight.at(4), straight.at(5)}); d != "" {
		t.Errorf("a straight line (-want +got):\n%s", d)
	}
	fall := tableOf(0, 0, 1, 2, 2, 1)
	if got := fall.at(1.5); got > 2 || got < 1 {
		t.Errorf("past its top the table gives %v", got)
	}
}

// Zeros of J0: Abramowitz and Stegun, table 9.5 (from memory): 2.40483, 5.52008,
// 8.65373; and J0 is nought there.
func TestZerosOfJ0(t *testing.T) {
	for i, want := range []float64{2.40483, 5.52008, 8.65373} {
		if got := besselZero0(i + 1); !near(got, want, 1e-5) {
			t.Errorf("zero %d is %v, want %v", i+1, got, want)
		}
	}
	for n := 1; n <= 40; n++ {
		if v := math.J0(besselZero0(n)); math.Abs(v) > 1e-13 {
			t.Errorf("J0 of its zero %d is %v", n, v)
		}
	}
}
