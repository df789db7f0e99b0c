package verdict

import (
	"testing"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

func TestWaxOnADampWheelWeepsAndABareOneCracksInTheEnd(t *testing.T) {
	c := (&book{tag: "a"}).weights(2000, 1990, 1982).of(t, DefaultGate())
	f, now := c.Forecast(), c.Day(noon(2))
	drier := []drying.Span{{Air: air.State{Temp: 12, RH: 0.7}, Movement: air.Gentle}}
	for _, x := range []struct {
		name         string
		plan         drying.Plan
		gated        bool
		weep         string // "": not asked
		crack, slime drying.Level
	}{
		{"left bare", drying.Plan{}, true, "", drying.SomeRisk, drying.LowRisk},
		{"left bare as planned", drying.Plan{}, false, "", drying.LowRisk, drying.LowRisk},
		{"waxed at once", drying.Plan{Coat: drying.Wax}, true, "likely", drying.LowRisk, drying.LowRisk},
		{"waxed in two weeks", drying.Plan{Coat: drying.Wax, CoatDay: 16}, true, "unlikely", drying.LowRisk, drying.LowRisk},
		{"in foil at once", drying.Plan{Coat: drying.Foil}, true, "likely", drying.LowRisk, drying.LowRisk},
		{"in cloth at once", drying.Plan{Coat: drying.Cloth}, true, "", drying.LowRisk, drying.LowRisk},
		{"in drier air", drying.Plan{Air: drier}, true, "", drying.HighRisk, drying.LowRisk},
	} {
		o := c.Under(f, now, x.plan, x.gated)
		weep := ""
		if o.Weep != nil {
			weep = o.Weep.Level.String()
		}
		if weep != x.weep || o.Crack.Level != x.crack || o.Slime.Level != x.slime {
			t.Errorf("%s: weeps %q %+v, cracks %s %+v, slime %s %+v", x.name, weep, o.Weep, o.Crack.Level, o.Crack.Why,
				o.Slime.Level, o.Slime.Why)
		}
		if o.Expected == nil {
			t.Errorf("%s: no date it is dry enough", x.name)
		}
	}
	bare, wax := c.Under(f, now, drying.Plan{}, true), c.Under(f, now, drying.Plan{Coat: drying.Wax, CoatDay: 16}, true)
	if *bare.Expected != *wax.Expected {
		t.Errorf("dry enough %v bare and %v with the wax to come", bare.Expected, wax.Expected)
	}
	if why, ok := bare.Crack.Why.(CracksFrom); !ok || why.Over != 0.12 || why.On < nov(30) {
		t.Errorf("%+v", bare.Crack.Why)
	}
}

func TestWaxBeforeItsDaysWeeps(t *testing.T) {
	c := (&book{tag: "a"}).weights(2000, 1990).of(t, Gate{MinDays: 3, MinLoss: 0.003, MaxSurface: 1, MaxMoisture: 1})
	o := c.Under(c.Forecast(), c.Day(noon(1)), drying.Plan{Coat: drying.Wax}, true)
	if want := (drying.Risk{Level: drying.SomeRisk, Why: WaitUntil{3, nov(23)}}); o.Weep == nil || *o.Weep != want {
		t.Errorf("%+v", o.Weep)
	}
}

func TestACoatedWheelIsOnlyLookedAfter(t *testing.T) {
	b := (&book{tag: "a"}).weights(2000, 1990, 1982, 1974, 1967)
	b.on(5, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax", Before: 1960, Weight: 1990})
	c := b.of(t, DefaultGate())
	o := c.Under(c.Forecast(), c.Day(noon(8)), drying.Plan{Coat: drying.Film}, true)
	if o.Expected != nil || o.Weep != nil || o.Crack.Why != (drying.Sealed{Coat: drying.Wax}) {
		t.Errorf("expected %v, cracks %+v, weeps %+v", o.Expected, o.Crack, o.Weep)
	}
}

func TestWhatIsLeftOfAWheelHasItsGreenWeight(t *testing.T) {
	whole := (&book{tag: "a"}).weights(2000, 1990, 1982)
	if g := whole.of(t, DefaultGate()); g.GreenLeft(g.Forecast()) != 2000 {
		t.Errorf("whole: %v", g.GreenLeft(g.Forecast()))
	}
	cut := (&book{tag: "a"}).weights(2000, 1990, 1982)
	cut.on(2.1, wheel.Entry{Kind: wheel.Cut, Before: 1982, Weight: 991})
	if c := cut.of(t, DefaultGate()); !near(c.GreenLeft(c.Forecast()), 1000, 2) {
		t.Errorf("halved: %v", c.GreenLeft(c.Forecast()))
	}
	if c := (&book{tag: "a"}).of(t, DefaultGate()); c.GreenLeft(c.Forecast()) != c.Variety.Weight {
		t.Errorf("never weighed: %v", c.GreenLeft(c.Forecast()))
	}
}

func near(got, want, by quantity.Grams) bool { return got > want-by && got < want+by }
