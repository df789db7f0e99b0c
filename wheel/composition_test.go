package wheel

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
)

// A kilogram counted out: 380 g water, 320 g fat, 18 g salt. 50 g of water go.
func TestCompositionOfAKilogramCountedOut(t *testing.T) {
	c := Composition{Moisture: 0.38, Fat: 0.32, Salt: 0.018}
	got := c.After(0.05)
	for _, f := range []struct {
		name string
		have quantity.Estimate
		want float64
	}{
		{"moisture is 330 of 950", got.Moisture, 330.0 / 950},
		{"MFFB is water over weight less fat, 330 of 630 (CXS 283)", got.MFFB, 330.0 / 630},
		{"FDM is fat over dry matter, 320 of 620 (CXS 283)", got.FDM, 320.0 / 620},
		{"salt in moisture is 18 over 330", got.SaltInMoisture, 18.0 / 330},
		{"water activity by 18/58.443 mol in 0.330 kg of water", got.WaterActivity, 1 - 0.033*(18/58.443)/0.330},
	} {
		if !near(f.have.Best, f.want, 1e-12) || f.have.Low != f.have.Best || f.have.High != f.have.Best {
			t.Errorf("%s: %+v, want exactly %v", f.name, f.have, f.want)
		}
	}
}

func TestDrySolidsStay(t *testing.T) {
	// The identity m/m0 = (1 - M0)/(1 - M), exact when only water leaves.
	rapid.Check(t, func(t *rapid.T) {
		m0 := rapid.Float64Range(0.15, 0.85).Draw(t, "M0")
		loss := rapid.Float64Range(0, m0*0.999).Draw(t, "loss")
		m := float64(MoistureAfter(quantity.Fraction(m0), quantity.Fraction(loss)))
		if !near((1-loss)*(1-m), 1-m0, 1e-12) {
			t.Fatalf("M0 %v and %v of loss give M %v: %v of solids, not %v", m0, loss, m, (1-loss)*(1-m), 1-m0)
		}
		if back := float64(LossForMoisture(quantity.Fraction(m0), quantity.Fraction(m))); !near(back, loss, 1e-9) {
			t.Fatalf("%v of loss comes back as %v", loss, back)
		}
		got := Composition{Moisture: quantity.Fraction(m0),
			Fat: quantity.Fraction((1 - m0) / 2)}.After(quantity.Fraction(loss))
		if !near(got.Moisture.Best, m, 1e-12) || !near(got.FDM.Best, 0.5, 1e-12) {
			t.Fatalf("moisture %v, want %v; fat in dry matter %v, want a half for ever", got.Moisture, m, got.FDM)
		}
	})
	for _, c := range []struct {
		name      string
		got, want quantity.Fraction
	}{
		{"all of the water gone", MoistureAfter(0.4, 0.4), 0},
		{"more gone than there was", MoistureAfter(0.4, 0.5), 0},
		{"everything gone", MoistureAfter(0.4, 1), 0},
		{"a target it is at already", LossForMoisture(0.4, 0.4), 0},
		{"a target above it", LossForMoisture(0.4, 0.5), 0},
		{"a target of nothing but water", LossForMoisture(1, 1), 0},
		{"bone dry", LossForMoisture(0.4, 0), 0.4},
	} {
		if !near(float64(c.got), float64(c.want), 1e-12) {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
}

func TestWhatIsNotKnownOfTheStartShowsAsAnInterval(t *testing.T) {
	c := Composition{Moisture: 0.38, MoistureSD: 0.015, Fat: 0.32, FatSD: 0.01, Salt: 0.018, SaltSD: 0.002}
	got := c.After(0.05)
	// Moisture is linear in M0: the interval is 1.645 sd/R to either side.
	if w := 1.6448536 * 0.015 / 0.95; !near(got.Moisture.High-got.Moisture.Best, w, 1e-6) ||
		!near(got.Moisture.Best-got.Moisture.Low, w, 1e-6) {
		t.Errorf("moisture %+v, want %v to either side", got.Moisture, w)
	}
	// Salt in moisture: both spreads, by their squares.
	r, m := 0.95, 330.0/950
	ds := 0.002 / r / m
	dm := 0.018 / r * (1/(m-0.015/r) - 1/(m+0.015/r)) / 2
	if w := 1.6448536 * math.Hypot(ds, dm); !near(got.SaltInMoisture.High-got.SaltInMoisture.Best, w, 1e-6) {
		t.Errorf("salt in moisture %+v, want %v to either side", got.SaltInMoisture, w)
	}
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, lo, hi float64) quantity.Fraction {
			return quantity.Fraction(rapid.Float64Range(lo, hi).Draw(t, name))
		}
		c := Composition{Moisture: f("M", 0.15, 0.85), MoistureSD: f("sd M", 0, 0.1), Fat: f("F", 0, 0.5),
			FatSD: f("sd F", 0, 0.1), Salt: f("S", 0, 0.1), SaltSD: f("sd S", 0, 0.05)}
		n := c.After(f("loss", -0.1, 1.1))
		for name, e := range map[string]quantity.Estimate{"moisture": n.Moisture, "MFFB": n.MFFB, "FDM": n.FDM,
			"S/M": n.SaltInMoisture, "aw": n.WaterActivity} {
			if !e.Known() || !(e.Low <= e.Best && e.Best <= e.High) || e.Low < 0 {
				t.Fatalf("%s of %+v is %+v", name, c, e)
			}
		}
		if n.WaterActivity.High > 1 {
			t.Fatalf("water activity %+v", n.WaterActivity)
		}
	})
}

func TestSaltInMoistureIsNotBrineStrength(t *testing.T) {
	// 1.8 % salt in 37 % moisture: 4.86 % S/M, and 4.64 % as brine.
	if got := SaltInMoisture(0.018, 0.37).Percent(); math.Round(got*100) != 486 {
		t.Errorf("S/M %v, want 4.86", got)
	}
	if got := 100 * 0.018 / (0.018 + 0.37); math.Round(got*100) != 464 {
		t.Errorf("brine %v, want 4.64", got)
	}
	if got := SaltInMoisture(0.018, 0); got != 0 {
		t.Errorf("salt in no moisture is %v", got)
	}
}

func TestSaltForCurd(t *testing.T) {
	// Plain proportion; rates of 1.5 to 2.5 % of curd: common practice, no source.
	for _, c := range []struct {
		curd quantity.Grams
		rate quantity.Fraction
		want float64
	}{{4200, 0.018, 75.6}, {10000, 0.016, 160}, {10000, 0.025, 250}, {0, 0.02, 0}} {
		if got := SaltFor(c.curd, c.rate); !near(float64(got), c.want, 1e-9) {
			t.Errorf("%v of %v g is %v g, want %v", c.rate, c.curd, got, c.want)
		}
	}
}

func TestWaterActivityAgainstSaltSolutionsAndTheFormula(t *testing.T) {
	// NaCl at 25 C by Pitzer's equations (agrees with Robinson and Stokes),
	// mol per kg of water and activity. The formula of Marcos et al. 1981 is a
	// straight line through them: within 0.0012 up to 1.5 mol/kg, where it is
	// said to hold. A molality of 1 is 58.443 g of salt in 1000 g of water.
	for _, c := range []struct{ m, aw float64 }{{0.1, 0.9966}, {0.5, 0.9835}, {1, 0.9668}, {1.5, 0.9495}} {
		got := WaterActivity(c.m * 58.443 / 1000)
		if !near(got, 1-0.033*c.m, 1e-12) {
			t.Errorf("%v mol/kg: %v, the formula gives %v", c.m, got, 1-0.033*c.m)
		}
		if !near(got, c.aw, 0.0012) {
			t.Errorf("%v mol/kg: %v, the table has %v", c.m, got, c.aw)
		}
	}
	// 4.86 % S/M by hand: 0.04865 x 1000/58.443 = 0.8324 mol/kg, 1 - 0.02747.
	if got := WaterActivity(0.018 / 0.37); !near(got, 0.97253, 1e-5) {
		t.Errorf("S/M 4.86 %%: %v, want 0.97253", got)
	}
	if got := WaterActivity(0); got != 1 {
		t.Errorf("without salt: %v", got)
	}
	if got := WaterActivity(10); got != 0 {
		t.Errorf("nothing but salt: %v", got)
	}
}

func TestFirmnessByTheCodexTable(t *testing.T) {
	// CXS 283: MFFB < 51 extra hard; 49 to 56 hard; 54 to 69 firm/semi-hard;
	// > 67 soft. The bands overlap, and both names are given there.
	for _, c := range []struct {
		mffb float64
		want string
	}{
		{40, "extra hard"}, {48.99, "extra hard"}, {49, "extra hard, hard"}, {50.99, "extra hard, hard"}, {51, "hard"},
		{53.99, "hard"},
		{54, "hard, firm/semi-hard"}, {56, "hard, firm/semi-hard"}, {56.01, "firm/semi-hard"}, {67, "firm/semi-hard"},
		{67.01, "firm/semi-hard, soft"}, {69, "firm/semi-hard, soft"}, {69.01, "soft"}, {80, "soft"},
	} {
		if got := strings.Join(Firmness(quantity.FromPercent(c.mffb)), ", "); got != c.want {
			t.Errorf("MFFB %v %%: %q, want %q", c.mffb, got, c.want)
		}
	}
}

func TestFatClassByTheCodexTable(t *testing.T) {
	// CXS 283, from memory: 60 and up high fat; 45 to 60 full fat; 25 to 45
	// medium; 10 to 25 partially skimmed; under 10 skim.
	for _, c := range []struct {
		fdm  float64
		want string
	}{{70, "high fat"}, {60, "high fat"}, {59.9, "full fat"}, {45, "full fat"}, {44.9, "medium fat"}, {25,
		"medium fat"}, {24.9, "partially skimmed"}, {10, "partially skimmed"}, {9.9, "skim"}, {0, "skim"}} {
		if got := FatClass(quantity.FromPercent(c.fdm)); got != c.want {
			t.Errorf("FDM %v %%: %q, want %q", c.fdm, got, c.want)
		}
	}
}

func TestEveryMoistureOnFatFreeBasisHasAFirmness(t *testing.T) {
	order := []string{"extra hard", "hard", "firm/semi-hard", "soft"}
	for p := 0.0; p <= 100; p += 0.25 {
		got := Firmness(quantity.FromPercent(p))
		if len(got) < 1 || len(got) > 2 || len(got) == 2 && slices.Index(order, got[1]) != slices.Index(order, got[0])+1 {
			t.Errorf("MFFB %v %%: %q", p, got)
		}
	}
}

func TestWhatACompositionIsRefusedFor(t *testing.T) {
	good := Composition{Moisture: 0.38, Fat: 0.32, Salt: 0.018}
	mustNotFail(t, good.Check())
	for want, c := range map[string]Composition{
		"outside {What:moisture Value:0.9 Low:0.15 High:0.85}": {Moisture: 0.9},
		"outside {What:moisture Value:0.1 Low:0.15 High:0.85}": {Moisture: 0.1},
		"outside {What:moisture Value:NaN Low:0.15 High:0.85}": {Moisture: quantity.Fraction(math.NaN())},
		"outside {What:fat Value:0.61 Low:0 High:0.6}":         {Moisture: 0.3, Fat: 0.61},
		"outside {What:fat Value:NaN Low:0 High:0.6}": {Moisture: 0.3,
			Fat: quantity.Fraction(math.NaN())},
		"outside {What:salt Value:0.16 Low:0 High:0.15}":              {Moisture: 0.3, Salt: 0.16},
		"outside {What:salt Value:-0.01 Low:0 High:0.15}":             {Moisture: 0.3, Salt: -0.01},
		"outside {What:moisture-fat-salt Value:0.99 Low:0 High:0.98}": {Moisture: 0.5, Fat: 0.4, Salt: 0.09},
		"outside {What:moisture Value:38 Low:0.15 High:0.85}":         {Moisture: 38},
	} {
		if err := c.Check(); err == nil || err.Error() != want {
			t.Errorf("%+v: %v, want %q", c, err, want)
		}
	}
}
