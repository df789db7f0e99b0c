package wheel

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
)

// Van Slyke's formula as in Mullan 2008; 9.945 is worked out from it by hand:
// (0.93 x 3.6 + 2.5 - 0.1) x 1.09/0.63 = 5.748 x 1.730159.
func TestCheddarYieldByVanSlyke(t *testing.T) {
	for _, c := range []struct {
		name                  string
		fat, casein, moisture quantity.Fraction
		want                  float64
		why                   string
	}{
		{"F 3.6, C 2.5, M 0.37", 0.036, 0.025, 0.37, 9.945, ""},
		{"skimmed milk", 0, 0.025, 0.37, 2.4 * 1.09 / 0.63, ""},
		{"rich milk", 0.06, 0.045, 0.38, (5.58 + 4.4) * 1.09 / 0.62, ""},
		{"no casein", 0.036, 0, 0.37, 0, "outside {What:milk-casein"},
		{"cream", 0.3, 0.02, 0.37, 0, "outside {What:milk-fat Value:0.3 Low:0 High:0.2}"},
		{"all casein", 0.03, 0.5, 0.37, 0, "outside {What:milk-casein"},
		{"a cheese of water", 0.036, 0.025, 1, 0, "outside {What:moisture"},
		{"a dry cheese", 0.036, 0.025, 0.1, 0, "outside {What:moisture"},
		{"more cheese than milk", 0.2, 0.15, 0.85, 0, "more-than-milk {Fat:0.2 Casein:0.15 Moisture:0.85}"},
	} {
		got, err := VanSlyke(c.fat, c.casein, c.moisture)
		if !near(got.Percent(), c.want, 5e-4) || (err == nil) != (c.why == "") || err != nil &&
			!strings.Contains(err.Error(), c.why) {
			t.Errorf("%s: %v %%, %v; want %v, %q", c.name, got.Percent(), err, c.want, c.why)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		f := quantity.Fraction(rapid.Float64Range(0, 0.1).Draw(t, "fat"))
		c := quantity.Fraction(rapid.Float64Range(0.01, 0.06).Draw(t, "casein"))
		m := quantity.Fraction(rapid.Float64Range(0.3, 0.5).Draw(t, "moisture"))
		y := must(VanSlyke(f, c, m))
		if must(VanSlyke(f+0.001, c, m)) <= y || must(VanSlyke(f, c+0.001, m)) <= y || must(VanSlyke(f, c, m+0.001)) <= y {
			t.Fatalf("richer milk or a moister cheese than %v %v %v does not yield more than %v", f, c, m, y)
		}
	})
}

func TestCheeseGotBesideCheeseExpected(t *testing.T) {
	v := VatOf(MilkMass(100), 0.1)
	if v != (Vat{Milk: 103000, Cheese: 10300}) {
		t.Errorf("100 l at 10 %%: %+v", v)
	}
	for _, c := range []struct {
		name     string
		v        Vat
		got      quantity.Grams
		milk, of quantity.Fraction
	}{
		{"half of what was expected", v, 5150, 0.05, 0.5},
		{"as expected", v, 10300, 0.1, 1},
		{"no milk", Vat{}, 100, 0, 0},
	} {
		if m, of := c.v.Got(c.got); !near(float64(m), float64(c.milk), 1e-12) || !near(float64(of), float64(c.of), 1e-12) {
			t.Errorf("%s: %v of the milk, %v of the expected; want %v and %v", c.name, m, of, c.milk, c.of)
		}
	}
}
