package verdict

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// six daily weights of a wheel that loses 3.2 % by day 5.
func drying6() *book {
	return (&book{tag: "261120A-01"}).weights(2000, 1982, 1967, 1955, 1945, 1936)
}

func TestEveryAnswer(t *testing.T) {
	wax := wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax", Before: 1936, Weight: 2010}
	for _, c := range []struct {
		name   string
		book   *book
		gate   Gate
		on     int
		want   Answer
		advice reason.Reason
	}{
		{"never weighed", &book{}, DefaultGate(), 5, NoWeights, WeighFirst{}},
		{"checked and sound, but never weighed", (&book{}).check(5, sound), DefaultGate(), 5, NoWeights, WeighFirst{}},
		{"weighed once, today", (&book{}).weights(2000), DefaultGate(), 0, NotYet, WeighAbout{nov(24)}},
		{"too little lost", (&book{}).weights(2000, 1990), DefaultGate(), 1, NotYet, WeighAbout{nov(25)}},
		{"enough lost in too few days", (&book{}).weights(2000, 1980), Gate{MinDays: 3, MaxSurface: 100, MaxMoisture: 1},
			1, NotYet, WaitUntil{3, nov(23)}},
		{"figures met, nobody felt it", drying6(), DefaultGate(), 5, CheckByHand, Feel{}},
		{"figures met, felt and sound", drying6().check(5, sound), DefaultGate(), 5, DryEnough, CoatBy{nov(27)}},
		{"felt two days ago, which still holds", drying6().check(5, sound), DefaultGate(), 7, DryEnough, CoatBy{nov(27)}},
		{"felt three days ago, which is stale", drying6().check(5, sound), DefaultGate(), 8, CheckByHand, Feel{}},
		{"looked at, and not felt", drying6().check(5, wheel.HandCheck{Cracks: wheel.No, Gas: wheel.No}), DefaultGate(),
			5, CheckByHand, FeelAgain{}},
		{"looked at, not felt, and cracked", drying6().check(5, wheel.HandCheck{Cracks: wheel.Yes}), DefaultGate(), 5,
			CheckByHand, SeeTo{wheel.HandCheck{Cracks: wheel.Yes}}},
		{"felt and still damp", drying6().check(5, wheel.HandCheck{DryToTouch: wheel.No}), DefaultGate(), 5, CheckByHand,
			SeeTo{damp}},
		{"felt dry, with cracks", drying6().check(5, wheel.HandCheck{DryToTouch: wheel.Yes, Cracks: wheel.Yes}),
			DefaultGate(), 5, CheckByHand, SeeTo{wheel.HandCheck{DryToTouch: wheel.Yes, Cracks: wheel.Yes}}},
		{"felt dry, and blown", drying6().check(5, blown), DefaultGate(), 5, CheckByHand, KeepApart{nov(25)}},
		{"blown, and felt since by somebody who says nothing of gas", drying6().check(4, blown).check(5, sound),
			DefaultGate(), 5, CheckByHand, KeepApart{nov(24)}},
		{"blown by a mistake that was put right",
			drying6().check(4, blown).check(5, wheel.HandCheck{DryToTouch: wheel.Yes,
				Gas: wheel.No}), DefaultGate(), 5, DryEnough, CoatBy{nov(27)}},
		{"blown long ago", drying6().check(2, blown), DefaultGate(), 6, CheckByHand, KeepApart{nov(22)}},
		{"blown before the figures are met", (&book{}).weights(2000, 1990).check(1, blown), DefaultGate(), 1, NotYet,
			KeepApart{nov(21)}},
		{"blown and never weighed", (&book{}).check(5, blown), DefaultGate(), 5, NoWeights, KeepApart{nov(25)}},
		{"blown and drier than is safe: no hurry to coat", (&book{}).weights(2000, 1900, 1800, 1740).check(3, blown),
			DefaultGate(), 3, CheckByHand, KeepApart{nov(23)}},
		{"blown under its coat", func() *book { b := drying6(); b.on(5, wax); return b.check(6, blown) }(), DefaultGate(),
			6, Coated, FindGas{nov(26)}},
		{"found damp, then dry", drying6().check(4, wheel.HandCheck{DryToTouch: wheel.No}).check(5, sound), DefaultGate(),
			5, DryEnough, CoatBy{nov(27)}},
		{"found dry, then damp", drying6().check(4, sound).check(5, wheel.HandCheck{DryToTouch: wheel.No}), DefaultGate(),
			5, CheckByHand, SeeTo{damp}},
		{"over the loss where rinds crack", (&book{}).weights(2000, 1900, 1800, 1740), DefaultGate(), 3, TooDry,
			CracksLikely{0.12}},
		{"over it by the curve, some days after the last weight", drying6(),
			Gate{MaxLoss: 0.035, MaxSurface: 100, CheckDays: 2}, 7, TooDry, CracksLikely{0.035}},
		{"over it, and sound all the same", (&book{}).weights(2000, 1900, 1800, 1740).check(3, sound), DefaultGate(), 3,
			TooDry, CracksLikely{0.12}},
		{"coated", func() *book { b := drying6(); b.on(5, wax); return b }(), DefaultGate(), 6, Coated, CoatedOn{nov(25)}},
		{"coated and never weighed", func() *book { b := &book{}; b.on(5, wax); return b }(), DefaultGate(), 6, Coated,
			CoatedOn{nov(25)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := c.book.of(t, c.gate).Dry(noon(c.on))
			if v.Answer != c.want {
				t.Errorf("it is %s, want %s: %+v", v.Answer, c.want, v)
			}
			if len(v.Advice) == 0 || v.Advice[0] != c.advice {
				t.Errorf("advice %s, want %+v first", said(v.Advice), c.advice)
			}
			if _, gas := c.advice.(FindGas); gas && !v.Advice[1:].Equal(reason.List{CoatedOn{nov(25)}}) {
				t.Errorf("then %s", said(v.Advice[1:]))
			}
			wantOn := v.Answer == NotYet || v.Answer == NoWeights
			if (v.On != nil) != wantOn {
				t.Errorf("expected on %+v", v.On)
			}
		})
	}
}

// One gate after another lets through all figures but one.
func TestEveryRuleMetAndNot(t *testing.T) {
	for _, c := range []struct {
		name string
		rule RuleCode
		met  func(*Gate) // the gate at which the rule is just met
		not  func(*Gate) // and the one at which it is not
		have reason.Reason
		need [2]reason.Reason
	}{
		{"days since drying began", DaysRule, func(g *Gate) { g.MinDays = 5 }, func(g *Gate) { g.MinDays = 6 }, Days{5},
			[2]reason.Reason{LeastDays{5}, LeastDays{6}}},
		{"loss since green weight", LossRule, func(g *Gate) { g.MinLoss = 0.032 }, func(g *Gate) { g.MinLoss = 0.0325 },
			Share{0.032}, [2]reason.Reason{AtLeast{0.032}, AtLeast{0.0325}}},
		{"rate over a wet surface's", RateRule, func(g *Gate) { g.MaxSurface = 0.5 },
			func(g *Gate) { g.MaxSurface = 0.3 }, OfWetRind{0.39}, [2]reason.Reason{AtMostOfWet{0.5}, AtMostOfWet{0.3}}},
		// 1 - 0.62/0.968 = 35.95 %
		{"moisture by the loss", MoistureRule, func(g *Gate) { g.MaxMoisture = 0.36 },
			func(g *Gate) { g.MaxMoisture = 0.3594 }, nil, [2]reason.Reason{AtMost{0.36}, AtMost{0.3594}}},
		{"the loss where rinds crack", TooDryRule, func(g *Gate) { g.MaxLoss = 0.035 },
			func(g *Gate) { g.MaxLoss = 0.031 }, Share{0.032}, [2]reason.Reason{AtMost{0.035}, AtMost{0.031}}},
		{"a hand check that holds", HandRule, func(g *Gate) { g.CheckDays = 1 }, func(g *Gate) { g.CheckDays = 0 },
			Felt{sound, nov(24)}, [2]reason.Reason{SoundCheck{1}, SoundCheck{0}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for i, change := range []func(*Gate){c.met, c.not} {
				g := open()
				change(&g)
				b := drying6().check(4, sound) // a day old on day 5
				v := b.of(t, g).Dry(noon(5))
				found := false
				for _, r := range v.Rules {
					if r.Code != c.rule {
						if !r.Met {
							t.Errorf("%s is not met either: %+v", r.Code, r)
						}
						continue
					}
					found = true
					if c.have != nil && r.Have[0] != c.have || c.have == nil && !(r.Have[0].(About).Share < 0.4) {
						t.Errorf("it has %s, want %+v", said(r.Have), c.have)
					}
					if r.Met != (i == 0) || !r.Need.Equal(reason.List{c.need[i]}) {
						t.Errorf("%+v; want met %v, have %v, need %v", r, i == 0, c.have, c.need[i])
					}
				}
				if !found {
					t.Fatalf("no rule %q in %+v", c.rule, v.Rules)
				}
				want := map[RuleCode]Answer{HandRule: CheckByHand, TooDryRule: TooDry}[c.rule]
				if want == "" {
					want = NotYet
				}
				if i == 0 {
					want = DryEnough
				}
				if v.Answer != want {
					t.Errorf("it is %s, want %s", v.Answer, want)
				}
			}
		})
	}
}

func TestTheRulesAreTheGatesAndTheVarietys(t *testing.T) {
	rules := func(c Case) (out []Rule) {
		for _, r := range c.Dry(noon(5)).Rules {
			out = append(out, Rule{Code: r.Code, Need: r.Need})
		}
		return out
	}
	first := []Rule{
		{Code: DaysRule, Need: reason.List{LeastDays{3}}}, {Code: LossRule, Need: reason.List{AtLeast{0.025}}},
		{Code: RateRule, Need: reason.List{AtMostOfWet{0.75}}},
	}
	hand := Rule{Code: HandRule, Need: reason.List{SoundCheck{2}}}
	c := drying6().of(t, DefaultGate())
	if diff := cmp.Diff(slices.Concat(first, []Rule{
		{Code: MoistureRule, Need: reason.List{AtMost{0.37}}}, {Code: TooDryRule, Need: reason.List{AtMost{0.12}}}, hand,
	}), rules(c)); diff != "" {
		t.Error(diff)
	}
	c.Variety.DryTarget, c.Gate.MaxLoss = 0, 0
	if diff := cmp.Diff(slices.Concat(first, []Rule{hand}), rules(c)); diff != "" {
		t.Errorf("neither target nor crack limit:\n%s", diff)
	}
	for _, r := range (&book{}).of(t, DefaultGate()).Dry(noon(5)).Rules {
		want, ok := map[RuleCode]reason.Reason{DaysRule: Days{4}, HandRule: NoCheck{}}[r.Code]
		if !ok {
			want = NotWeighed{}
		}
		if !r.Have.Equal(reason.List{want}) || !ok && r.Met {
			t.Errorf("unweighed: %+v", r)
		}
	}
}

func TestAirTooWetToDryItIsSaid(t *testing.T) {
	c := (&book{}).weights(2000, 1999, 1999).of(t, DefaultGate())
	c.Air = []drying.Span{{Air: air.State{Temp: 12, RH: 1}, Movement: air.Still}}
	v := c.Dry(noon(2))
	if v.Answer != NotYet || v.On != nil || !v.Advice.Equal(reason.List{RoomTooWet{1, nov(27)}}) {
		t.Errorf("%s, %+v, %s", v.Answer, v.On, said(v.Advice))
	}
	for _, r := range v.Rules {
		if r.Code == RateRule && (r.Met || !r.Have.Equal(reason.List{NoDrying{}})) {
			t.Errorf("%+v", r)
		}
	}
}

func TestAFlatCurveInWetAirIsSaid(t *testing.T) {
	flat := func() *book { return (&book{}).weights(2000, 1999, 1999, 1998, 1998, 1998) }
	until := DefaultGate()
	until.UntilDay = 22
	for _, c := range []struct {
		name string
		book *book
		gate Gate
		rh   quantity.Fraction
		on   int
		want reason.Reason // nil: nothing of the air
	}{
		{"by the days its variety usually dries", flat(), DefaultGate(), 0.95, 5, RoomTooWet{0.95, nov(27)}},
		{"which are over", flat(), DefaultGate(), 0.95, 8, RoomTooWet{0.95, day.None}},
		{"by its plan", flat(), until, 0.95, 8, RoomTooWet{0.95, day.Of(2026, 12, 12)}},
		{"flat in air that should dry it", flat(), until, 0.82, 5, nil},
		{"drying well in wet air", (&book{}).weights(2000, 1991, 1984, 1978, 1973, 1968), until, 0.93, 5, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := c.book.of(t, c.gate)
			k.Air = []drying.Span{{Air: air.State{Temp: 12, RH: c.rh}, Movement: air.Gentle}}
			v := k.Dry(noon(c.on))
			if _, wet := v.Advice[0].(RoomTooWet); v.Answer != NotYet || wet != (c.want != nil) || wet && v.Advice[0] != c.want {
				t.Errorf("%s, %s, losing %v a day; want %+v", v.Answer, said(v.Advice), v.Rate.Best, c.want)
			}
		})
	}
}

func TestTheLossAndMoistureOfTheLastWeighingAreExact(t *testing.T) {
	v := drying6().of(t, DefaultGate()).Dry(noon(8))
	if math.Abs(float64(v.Loss)-0.032) > 1e-12 || v.Weighings != 6 || !v.WeighedAt.Equal(noon(5)) ||
		math.Abs(v.Moisture.Best-(1-0.62/0.968)) > 1e-12 {
		t.Errorf("%+v", v)
	}
	if v.Present.Best <= 0.032 || v.Basis != drying.FromOwn {
		t.Errorf("three days on it should have lost more: %+v, %s", v.Present, v.Basis)
	}
}

// anyBook draws a wheel's first weeks: weights that fall, hand checks, seldom
// a coat.
func anyBook(t *rapid.T) (*book, int) {
	b := &book{tag: "261120A-01"}
	w, last := 2000.0, 0
	for d := range rapid.IntRange(1, 14).Draw(t, "days") {
		last = d
		if rapid.IntRange(0, 3).Draw(t, "weighed") > 0 {
			w *= 1 - rapid.Float64Range(0, 0.025).Draw(t, "lost")
			b.weigh(float64(d), math.Round(w))
		}
		if rapid.IntRange(0, 2).Draw(t, "checked") == 0 {
			b.check(float64(d)+0.2, wheel.HandCheck{DryToTouch: rapid.SampledFrom([]wheel.Seen{wheel.No, wheel.Yes,
				wheel.Yes}).Draw(t, "dry"),
				Mould: rapid.SampledFrom([]wheel.Seen{wheel.NotSaid, wheel.No, wheel.No, wheel.Yes}).Draw(t, "mould")})
		}
	}
	return b, last
}

func anyGate(t *rapid.T) Gate {
	g := DefaultGate()
	g.MinDays = rapid.IntRange(0, 8).Draw(t, "min days")
	g.MinLoss = quantity.Fraction(rapid.Float64Range(0, 0.05).Draw(t, "min loss"))
	g.MaxLoss = quantity.Fraction(rapid.SampledFrom([]float64{0, 0.06, 0.12}).Draw(t, "max loss"))
	g.MaxSurface = quantity.Fraction(rapid.Float64Range(0.2, 1).Draw(t, "max surface"))
	g.MaxMoisture = quantity.Fraction(rapid.SampledFrom([]float64{0, 0.36, 0.375}).Draw(t, "max moisture"))
	g.CheckDays = rapid.IntRange(0, 4).Draw(t, "check days")
	return g
}

func TestTheWindowsAgreeWithTheVerdictOnEveryDate(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b, last := anyBook(rt)
		c := b.of(t, anyGate(rt))
		w, f := c.Windows(), c.Forecast()
		for d := last; d < last+12; d++ {
			on := made + day.Date(d)
			a := c.DryBy(f, on.Clock(23, 0, time.UTC)).Answer
			coat := w.CoatFrom != day.None && on >= w.CoatFrom && on <= w.CoatUntil
			check := w.CheckFrom != day.None && on >= w.CheckFrom
			weigh := w.WeighFrom != day.None && on >= w.WeighFrom
			switch {
			case coat && a != DryEnough && a != TooDry:
				rt.Fatalf("day %d is within %+v, and the verdict is %s", d, w, a)
			case a == DryEnough && !coat:
				rt.Fatalf("day %d is dry enough, and not within %+v", d, w)
			case coat && check:
				rt.Fatalf("day %d may be coated and is asked about again: %+v", d, w)
			case a == NotYet && (coat || check):
				rt.Fatalf("day %d is not yet dry, and within %+v", d, w)
			case (a == NoWeights) != w.WeighWhy.Equal(reason.List{NeverWeighed{}}):
				rt.Fatalf("day %d: %s with %+v", d, a, w)
			case weigh && (a == DryEnough || a == CheckByHand):
				rt.Fatalf("day %d is %s and wants a weight: %+v", d, a, w)
			case a == CheckByHand && !check && d > last+1:
				rt.Fatalf("day %d wants a hand check, and none is asked for: %+v", d, w)
			}
		}
	})
}

func TestAnExpectedDateIsOrderedAndNeverBeforeTheLastWeight(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b, last := anyBook(rt)
		c := b.of(t, anyGate(rt))
		v := c.Dry(noon(last))
		if (v.On != nil) && v.Answer != NotYet && v.Answer != NoWeights {
			rt.Fatalf("%s is expected on %+v", v.Answer, v.On)
		}
		if v.On == nil {
			return
		}
		if !(v.On.Low <= v.On.Best) || v.On.High != day.None && v.On.Best > v.On.High || !v.On.Best.Known() ||
			!v.On.Low.Known() {
			rt.Fatalf("%+v", v.On)
		}
		if p, ok := c.Life.Chain.Last(); ok && v.On.Low < day.At(p.At, time.UTC) {
			rt.Fatalf("%+v, weighed on %s", v.On, day.At(p.At, time.UTC))
		}
		if first := day.At(c.Began(), time.UTC) + day.Date(c.Gate.MinDays); v.On.Low < first {
			rt.Fatalf("%+v, and the days are over on %s", v.On, first)
		}
	})
}

func TestTheDaysOfTheGateAreDatesOverASummerTimeNight(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		began time.Time
	}{
		{"the short night of March, begun late in the evening", day.Of(2026, time.March, 26).Clock(23, 30, dublin)},
		{"the long night of October, begun after midnight", day.Of(2026, time.October, 22).Clock(0, 30, dublin)},
	} {
		b := &book{tag: "a"}
		id := b.weigh(0, 2000)
		on := day.At(c.began, dublin)
		for i := range b.es {
			if b.es[i].ID == id {
				b.es[i].At = c.began
			}
		}
		gate := open()
		gate.MinDays = 4
		k := b.of(t, gate)
		k.Loc = dublin
		k.Life = wheel.NewLife(k.Life.Wheel, wheel.Make{Date: on, Start: k.Life.Make.Start}, b.es, dublin, nil)
		v := k.Dry((on + 1).Noon(dublin))
		if want := on + 4; v.Answer != NotYet || v.On == nil || v.On.Best != want || v.On.Low != want || v.On.High != want {
			t.Errorf("%s: %s, expected %+v, want %s", c.name, v.Answer, v.On, want)
		}
		if v := k.Dry((on + 4).Start(dublin)); v.Answer != WeighAgain { // it was weighed once
			t.Errorf("%s: on the day itself it is %s", c.name, v.Answer)
		}
	}
}

func TestACoatWithNoWeightAfterIsReckonedByTheCurve(t *testing.T) {
	b := drying6()
	b.on(6, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax"})
	b.weigh(7, 2006)
	b.weigh(20, 2004)
	c := b.of(t, DefaultGate())
	points := c.Life.Chain.Points
	before, after := points[5], points[6]
	// A day of drying and a day under wax: between nothing and a bare wheel's
	// two days.
	f := drying6().of(t, DefaultGate()).Forecast()
	bare := f.Loss(7).Best - f.Loss(5).Best
	if lost := float64(after.Loss() - before.Loss()); !(lost > 0 && lost < bare*1.05) {
		t.Errorf("over the gap it lost %v, a bare wheel would have lost %v", lost, bare)
	}
	if !(after.SD > before.SD) || c.Life.Chain.Gap != 5 {
		t.Errorf("SD %v after the gap, %v before; gap on day %v", after.SD, before.SD, c.Life.Chain.Gap)
	}
	n := c.Life.Chain.Notes
	earlier, coat := n[0].(wheel.BeforeByCurve), n[1].(wheel.CoatByCurve)
	if earlier.Event != wheel.CoatedOn || earlier.Weight < 1900 || earlier.Weight > 1999 || coat.Coat < 70 ||
		coat.Coat > 79 {
		t.Errorf("notes %s", said(n))
	}
	if v := c.Dry(noon(20)); v.Answer != Coated || len(v.Leak) > 0 {
		t.Errorf("%s, leak %s", v.Answer, said(v.Leak))
	}
}

func TestWhatComesAfterAGapDoesNotBendTheCurveThatBridgesIt(t *testing.T) {
	bridge := func(later float64) float64 {
		b := drying6()
		b.on(6, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax"})
		b.weigh(7, 2006)
		b.weigh(20, later)
		return b.of(t, DefaultGate()).Life.Chain.Points[6].Retained
	}
	if a, b := bridge(2004), bridge(1950); a != b {
		t.Errorf("over the gap %v is left, and %v with another weight two weeks later", a, b)
	}
}

func TestACoatThatLeaksIsSaidToLeak(t *testing.T) {
	bare := drying6().of(t, DefaultGate()).Forecast()
	coated := func(share float64) Dry { // of what it would have lost bare
		b := drying6()
		b.on(5, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax", Before: 1936, Weight: 2010})
		for d := 12.0; d <= 40; d += 7 {
			b.weigh(d, math.Round(2010-2000*share*(bare.Loss(d).Best-bare.Loss(5).Best)))
		}
		return b.of(t, DefaultGate()).Dry(noon(40))
	}
	if v := coated(0.05); len(v.Leak) > 0 || !v.Advice.Equal(reason.List{CoatedOn{nov(25)}}) {
		t.Errorf("a twentieth of a bare wheel's loss: %s, %s", said(v.Leak), said(v.Advice))
	}
	if v := coated(1); len(v.Leak) == 0 || !v.Advice.Equal(append(reason.List{MendCoat{}}, v.Leak...)) {
		t.Errorf("all of a bare wheel's loss: %s, %s", said(v.Leak), said(v.Advice))
	}
}

func TestTheTargetIsTheHarderOfLossAndMoisture(t *testing.T) {
	c := drying6().of(t, DefaultGate())
	// 38 to 37 %: 1 - 0.62/0.63 = 1.59 %; the gate's 2.5 % is the harder.
	if got := float64(c.TargetLoss(c.Forecast())); math.Abs(got-0.025) > 1e-12 {
		t.Errorf("target %v", got)
	}
	c.Gate.MaxMoisture = 0.35 // 1 - 0.62/0.65 = 4.62 %
	if got := float64(c.TargetLoss(c.Forecast())); math.Abs(got-(1-0.62/0.65)) > 1e-12 {
		t.Errorf("target %v", got)
	}
}

// A figure just short of its limit must not look as if it met it.
func TestAFigureJustShortOfItsLimitIsWrittenFinely(t *testing.T) {
	for _, c := range []struct {
		have, limit quantity.Fraction
		want        quantity.Fraction
	}{{0.02476, 0.025, 0.0248}, {0.025, 0.025, 0.025}, {0.021, 0.025, 0.021}, {0.02504, 0.025, 0.025}, {0.36951, 0.37,
		0.3695}} {
		if got := apart(c.have, c.limit); got != c.want {
			t.Errorf("%v against %v: %v, want %v", c.have, c.limit, got, c.want)
		}
	}
}

func TestAWheelPastItsExpectedDateIsOverdueAndSaysWhatItLacks(t *testing.T) {
	gate := Gate{MinDays: 3, MinLoss: 0.036, MaxSurface: 100, CheckDays: 2}
	for _, c := range []struct {
		at      int
		overdue bool
		advice  reason.List
	}{
		{5, false, reason.List{WeighAbout{nov(26)}}},
		{6, false, reason.List{WeighNow{}, ByWeight{1}}},
		{8, true, reason.List{Overdue{nov(26)}, ByWeight{3}}},
	} {
		v := drying6().of(t, gate).Dry(noon(c.at))
		if v.Answer != NotYet || v.Overdue != c.overdue || !v.Advice.Equal(c.advice) {
			t.Errorf("on day %d: %s, overdue %v, %s; want %s", c.at, v.Answer, v.Overdue, said(v.Advice), said(c.advice))
		}
		if l := v.Lacks(); len(l) != 1 || l[0].Code != LossRule ||
			!l[0].Have.Equal(reason.List{Share{0.032}, ByWeight{c.at - 5}}) || !l[0].Need.Equal(reason.List{AtLeast{0.036}}) {
			t.Errorf("on day %d it lacks %v", c.at, l)
		}
	}
	if l := drying6().of(t, open()).Dry(noon(5)).Lacks(); l != nil {
		t.Errorf("its figures are met, and it lacks %v", l)
	}
}
