package drying

import (
	"testing"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
)

func TestPlansForAWheelAreComparedSideBySide(t *testing.T) {
	f := Estimate(pressed(1, 1, 2, 4, 7))
	for _, day := range []float64{38, 98, 188} {
		var was quantity.Estimate
		for i, k := range []Coat{Wax, Cloth, ""} {
			l := f.Under(8, Plan{Coat: k}).Loss(day)
			if i > 0 && !(l.Best > was.Best) {
				t.Errorf("day %g: %.4f with coat %q, %.4f with a tighter one", day, l.Best, k, was.Best)
			}
			if !(l.Low < l.Best && l.Best < l.High) {
				t.Errorf("day %g, coat %q: %+v", day, k, l)
			}
			was = l
		}
	}
	bare, late := f.Under(8, Plan{}), f.Under(8, Plan{Coat: Wax, CoatDay: 20})
	if a, b := bare.Loss(20).Best, late.Loss(20).Best; !(a-b < 1e-3 && b-a < 1e-3) {
		t.Errorf("until its coat a wheel loses %.4f, bare %.4f", b, a)
	}
	if early := f.Under(8, Plan{Coat: Wax, CoatDay: 2}); early.Loss(7).Best != f.Loss(7).Best {
		t.Error("a plan changes the days before it")
	}
}

func TestDryAirCracksARindAndWetAirMakesItSlimy(t *testing.T) {
	in := func(rh quantity.Fraction, m air.Movement) []Span {
		return []Span{{Air: air.State{Temp: 12, RH: rh}, Movement: m}}
	}
	usual, dry, draught := []Span(nil), in(0.5, air.Gentle), in(0.76, air.Brisk)
	wet, sodden := in(0.95, air.Gentle), in(0.97, air.Still)
	for _, c := range []struct {
		name         string
		plan         Plan
		damp         quantity.Fraction // what it is used to
		crack, slime Level
	}{
		{"bare in the usual cellar", Plan{Air: usual}, 0.85, LowRisk, LowRisk},
		{"bare in dry air", Plan{Air: dry}, 0.85, HighRisk, LowRisk},
		{"bare in rather dry air", Plan{Air: in(0.7, air.Still)}, 0.85, SomeRisk, LowRisk},
		{"in cloth in a draught", Plan{Coat: Cloth, Air: draught}, 0.85, LowRisk, LowRisk},
		{"bare in a draught", Plan{Air: draught}, 0.85, SomeRisk, LowRisk},
		{"bare in wet air", Plan{Air: wet}, 0.85, LowRisk, HighRisk},
		{"in cloth in dry air", Plan{Coat: Cloth, Air: dry}, 0.85, HighRisk, LowRisk},
		{"in cloth in wet air", Plan{Coat: Cloth, Air: wet}, 0.85, LowRisk, HighRisk},
		{"oiled in wet air", Plan{Coat: Oil, Air: sodden}, 0.85, LowRisk, HighRisk},
		{"smeared in wet air", Plan{Air: wet}, 0.96, LowRisk, LowRisk},
		{"smeared in sodden air", Plan{Air: sodden}, 0.96, LowRisk, HighRisk},
		{"waxed in dry air", Plan{Coat: Wax, Air: dry}, 0.85, LowRisk, LowRisk},
		{"waxed in wet air", Plan{Coat: Wax, Air: sodden}, 0.85, LowRisk, LowRisk},
		{"under a breathable coat in dry air", Plan{Coat: Breathable, Air: dry}, 0.85, LowRisk, LowRisk},
	} {
		f := Estimate(pressed(1, 1, 2, 4, 7)).Under(8, c.plan)
		crack, slime := f.Rind(8, c.damp)
		if crack.Level != c.crack || slime.Level != c.slime {
			t.Errorf("%s: cracks %s %+v, slime %s %+v", c.name, crack.Level, crack.Why, slime.Level, slime.Why)
		}
		if got := (Sealed{c.plan.Coat}); c.plan.Coat.seals() != (crack.Why == got) {
			t.Errorf("%s: %+v", c.name, crack.Why)
		}
	}
}

func TestAWetSurfaceDoesNotCrack(t *testing.T) {
	f := Estimate(pressed(1))
	if crack, _ := f.Rind(0, 0); crack.Level != LowRisk {
		t.Errorf("fresh from the press: cracks %s, %+v", crack.Level, crack.Why)
	}
	dry := []Span{{Air: air.State{Temp: 12, RH: 0.5}}}
	late := Estimate(pressed(1, 1, 2, 4, 7)).Under(8, Plan{Coat: Wax, CoatDay: 12, Air: dry})
	if crack, _ := late.Rind(8, 0); crack.Level != HighRisk {
		t.Errorf("in dry air before its wax: cracks %s, %+v", crack.Level, crack.Why)
	}
	if crack, _ := late.Rind(12, 0); crack.Why != (Sealed{Wax}) {
		t.Errorf("in wax: %+v", crack.Why)
	}
}
