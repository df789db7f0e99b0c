package wheel

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
)

// twins writes one drying twice, handing each weight to f for the second, and
// wants the same retained fractions of both.
func twins(t *rapid.T, write func(a, b *diary, days, left []float64, green float64)) {
	days, left := anyDrying(t)
	green := rapid.Float64Range(100, 40000).Draw(t, "green")
	var a, b diary
	write(&a, &b, days, left, green)
	if x, y := retained(a.chain()), retained(b.chain()); !sameFigures(x, y, 1e-9) {
		t.Fatalf("retained %v against %v", x, y)
	}
}

func TestACoatOfAnyMassNeverChangesTheLoss(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		twins(t, func(a, b *diary, days, left []float64, green float64) {
			at := rapid.IntRange(0, len(days)-1).Draw(t, "coat after")
			tare := 0.0
			for i, d := range days {
				w := green * left[i]
				a.weigh(d, w)
				b.weigh(d, w+tare)
				if i >= at && rapid.Bool().Draw(t, "coat now") {
					mass := rapid.Float64Range(0.1, 2000).Draw(t, "coat")
					b.on(d, Entry{Kind: CoatedOn, Coat: "wax", Before: quantity.Grams(w + tare),
						Weight: quantity.Grams(w + tare + mass)})
					tare += mass
				}
			}
			if got := float64(b.chain().Tare); !near(got, tare, 1e-6) {
				t.Fatalf("tare %v, want %v", got, tare)
			}
		})
	})
}

func TestCuttingAndCoringNeverChangeTheLoss(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		twins(t, func(a, b *diary, days, left []float64, green float64) {
			share, tare := 1.0, 0.0
			for i, d := range days {
				w := green * left[i]
				a.weigh(d, w)
				b.weigh(d, w*share+tare)
				switch rapid.IntRange(0, 3).Draw(t, "then") {
				case 1:
					k := rapid.Float64Range(0.5, 0.95).Draw(t, "kept") // of a dozen cuts, well over nothing
					gross := w*share + tare
					e := Entry{Kind: Cut, Before: quantity.Grams(gross), Weight: quantity.Grams(gross * k)}
					if rapid.Bool().Draw(t, "by what went") {
						e.Weight, e.Removed = 0, quantity.Grams(gross*(1-k))
					}
					b.on(d, e)
					share, tare = share*k, tare*k
				case 2:
					k := rapid.Float64Range(0.98, 0.999).Draw(t, "kept of a core")
					gross := w*share + tare
					b.on(d, Entry{Kind: Cored, Removed: quantity.Grams(gross * (1 - k))})
					share, tare = share*k, tare*k
				case 3:
					b.on(d, Entry{Kind: CoatedOn, Coat: "wax", Before: quantity.Grams(w*share + tare),
						Weight: quantity.Grams(w*share + tare + 50)})
					tare += 50
				}
			}
		})
	})
}

func TestScalingEveryWeightChangesNoLoss(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(0.01, 10).Draw(t, "scale")
		a := anyDiary(t)
		b := diary{es: append([]Entry(nil), a.es...)}
		for i := range b.es {
			b.es[i].Weight *= quantity.Grams(k)
			b.es[i].Before *= quantity.Grams(k)
			b.es[i].Removed *= quantity.Grams(k)
		}
		x, y := a.chain(), b.chain()
		a1, b1 := retained(x), retained(y)
		for i := range a1 { // unlikely weights make large figures: compare their logs
			a1[i], b1[i] = math.Log(a1[i]), math.Log(b1[i])
		}
		if !sameFigures(a1, b1, 1e-4) {
			t.Fatalf("retained %v, scaled by %v %v", retained(x), k, retained(y))
		}
		if !near(float64(y.Tare), float64(x.Tare)*k, 1e-6*math.Max(1, float64(y.Tare))) {
			t.Fatalf("tare %v, scaled by %v %v", x.Tare, k, y.Tare)
		}
	})
}

// anyDiary draws a wheel's history with everything that changes a weight, with
// weights missing here and there, strikes, and unlikely figures.
func anyDiary(t *rapid.T) *diary {
	d := &diary{}
	n := rapid.IntRange(1, 15).Draw(t, "entries")
	w := func(name string) quantity.Grams {
		if rapid.IntRange(0, 3).Draw(t, name+" taken") == 0 {
			return 0
		}
		return quantity.Grams(rapid.Float64Range(1, 50000).Draw(t, name))
	}
	for range n {
		at := float64(rapid.IntRange(0, 40).Draw(t, "half day")) / 2
		switch rapid.IntRange(0, 5).Draw(t, "kind") {
		case 0, 1, 2:
			d.weigh(at, rapid.Float64Range(1, 50000).Draw(t, "weight"))
		case 3:
			d.on(at, Entry{Kind: CoatedOn, Coat: "wax", Before: w("before"), Weight: w("after")})
		case 4:
			k := rapid.SampledFrom([]Kind{Cut, Cored}).Draw(t, "cut or core")
			d.on(at, Entry{Kind: k, Before: w("before"), Weight: w("after"), Removed: w("removed")})
		case 5:
			if len(d.es) > 0 {
				d.strike(at, rapid.SampledFrom(d.es).Draw(t, "target").ID)
			}
		}
	}
	return d
}

func TestTheOrderInWhichEntriesComeIsIrrelevant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyDiary(t)
		b := diary{es: shuffled(a.es, rapid.Int64().Draw(t, "order"))}
		x, y := a.life(), b.life()
		if !sameFigures(retained(x.Chain), retained(y.Chain), 0) || x.Chain.Tare != y.Chain.Tare ||
			!near(x.Chain.Gap, y.Chain.Gap, 0) ||
			!x.Chain.Notes.Equal(y.Chain.Notes) || x.WeightNow() != y.WeightNow() {
			t.Fatalf("%+v against %+v", x.Chain, y.Chain)
		}
	})
}

func TestEveryFigureOfAChainIsAFiniteNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDiary(t)
		c := d.chain()
		for _, p := range c.Points {
			if !(p.Retained >= 0) || math.IsInf(p.Retained, 0) || !(p.SD >= 0) || math.IsInf(p.SD, 0) || !(p.Net > 0) {
				t.Fatalf("%+v in %+v", p, d.es)
			}
		}
		if !(c.Tare >= 0) || math.IsInf(float64(c.Tare), 0) {
			t.Fatalf("tare %v in %+v", c.Tare, d.es)
		}
	})
}
