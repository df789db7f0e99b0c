package wheel

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
)

func TestPressureOfALoadOnALever(t *testing.T) {
	for _, c := range []struct {
		name           string
		p              Press
		newtons, pasca float64
	}{
		{"a kilogram on a square centimetre is 98.0665 kPa", Press{Load: 1000, Lever: 1, Face: 1e-4}, 9.80665, 98066.5},
		{"no lever named is none", Press{Load: 1000, Face: 1e-4}, 9.80665, 98066.5},
		{"ten kilograms four times on a decimetre squared", Press{Load: 10000, Lever: 4, Face: 0.01}, 392.266, 39226.6},
		{"half a lever", Press{Load: 1000, Lever: 0.5, Face: 1e-4}, 4.903325, 49033.25},
		{"no surface", Press{Load: 1000, Lever: 1}, 9.80665, 0},
	} {
		if f, p := c.p.Force(), float64(c.p.Pressure()); !near(f, c.newtons, 1e-9) || !near(p, c.pasca, 1e-6) {
			t.Errorf("%s: %v N, %v Pa; want %v and %v", c.name, f, p, c.newtons, c.pasca)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		p := Press{Load: quantity.Grams(rapid.Float64Range(1, 1e6).Draw(t, "load")),
			Lever: rapid.Float64Range(0.1, 50).Draw(t, "lever"), Face: rapid.Float64Range(1e-4, 1).Draw(t, "face")}
		if back := p.LoadFor(p.Pressure()); !near(float64(back/p.Load), 1, 1e-12) {
			t.Fatalf("%+v: its pressure asks for a load of %v", p, back)
		}
	})
}

func TestTheFaceOfAMould(t *testing.T) {
	for _, c := range []struct {
		name string
		face float64
		err  error
		want float64
		why  string
	}{
		{"round, 15 cm: 176.7146 cm2", must(RoundFace(0.15)), nil, 0.01767146, ""},
		{"sides of 20 and 10 cm", must(SquareFace(0.2, 0.1)), nil, 0.02, ""},
		{"round and tiny", 0, errOf(RoundFace(0.004)), 0, "outside {What:mould-diameter Value:0.004 Low:0.005 High:2}"},
		{"round and huge", 0, errOf(RoundFace(2.01)), 0, "outside {What:mould-diameter Value:2.01"},
		{"one side missing", 0, errOf(SquareFace(0.2, 0)), 0, "outside {What:mould-width Value:0 Low:0.005 High:2}"},
		{"the other missing", 0, errOf(SquareFace(0, 0.2)), 0, "outside {What:mould-length Value:0 Low:0.005 High:2}"},
	} {
		if !near(c.face, c.want, 1e-8) || (c.err == nil) != (c.why == "") || c.err != nil &&
			!strings.Contains(c.err.Error(), c.why) {
			t.Errorf("%s: %v, %v; want %v, %q", c.name, c.face, c.err, c.want, c.why)
		}
	}
}

func TestASlipOfUnitsUnderThePressIsRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		p    Press
		why  string
	}{
		{"a usual load", Press{Load: 10000, Lever: 4, Face: 0.0177}, ""},
		{"just under 10 MPa", Press{Load: 101971, Face: 1e-4}, ""}, // 101.971 kg x 9.80665 = 999.99 N
		{"just over 10 MPa", Press{Load: 101973, Face: 1e-4}, "outside {What:pressure-on-cheese"},
		{"tonnes on a thimble", Press{Load: 4e8, Lever: 1000, Face: 1e-4}, "outside {What:pressure-on-cheese"},
	} {
		if err := c.p.Check(); (err == nil) != (c.why == "") || err != nil && !strings.Contains(err.Error(), c.why) {
			t.Errorf("%s: %v, want %q", c.name, err, c.why)
		}
	}
}
