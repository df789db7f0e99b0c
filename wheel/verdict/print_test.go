package verdict

import (
	"testing"
	"time"

	"rindkeep/wheel"
)

// A kept curve is taken for a case's own where their prints are the same.
func TestAPrintTellsCasesApartThatDryOtherwise(t *testing.T) {
	plain := drying6().of(t, DefaultGate())
	if turned := func() Case {
		b := drying6()
		b.on(5.5, wheel.Entry{Kind: wheel.Did, Job: wheel.Turn})
		return b.of(t, DefaultGate())
	}(); turned.Print() != plain.Print() {
		t.Error("a turning has the curve fitted again")
	}
	by := func(grams ...float64) Case { return (&book{tag: "261120A-01"}).weights(grams...).of(t, DefaultGate()) }
	one, other := Gate{MinLoss: 0.03}, Gate{MinLoss: 0.031}
	seen := map[uint64]string{plain.Print(): "the wheel as it is"}
	for name, c := range map[string]Case{
		"another weight":      by(2000, 1982, 1967, 1955, 1945, 1935),
		"a weight more":       by(2000, 1982, 1967, 1955, 1945, 1936, 1929),
		"a gate":              drying6().of(t, one),
		"another gate":        drying6().of(t, other),
		"damper air":          change(plain, func(c *Case) { c.Air[0].Air.RH += 1e-9 }),
		"air that is stirred": change(plain, func(c *Case) { c.Air[0].Movement = "brisk" }),
		"a hygrometer":        change(plain, func(c *Case) { c.HygrometerSD = 0.02 }),
		"a moisture":          change(plain, func(c *Case) { c.Life.Make.Start.Moisture += 1e-9 }),
		"a shape":             change(plain, func(c *Case) { c.Life.Wheel.Shape.Height += 1e-9 }),
		"later air":           change(plain, func(c *Case) { c.Until = c.Until.Add(time.Hour) }),
		"a coat": change(plain, func(c *Case) {
			c.Life.Coats = []wheel.CoatOn{{At: noon(6), On: made + 6, Coat: "wax"}}
		}),
	} {
		if was, ok := seen[c.Print()]; ok {
			t.Errorf("%s has the print of %s", name, was)
		}
		seen[c.Print()] = name
	}
	if plain.Print("wax") == plain.Print("cloth") {
		t.Error("what else is named makes no difference")
	}
}

// change is a case with something of it otherwise.
func change(c Case, how func(*Case)) Case {
	c.Air = append(c.Air[:0:0], c.Air...)
	how(&c)
	return c
}
