package verdict

import (
	"math"
	"testing"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
)

// sure writes a weight that the writer confirmed.
func (b *book) sure(days, grams float64) *book {
	b.on(days, wheel.Entry{Kind: wheel.Weighed, Weight: quantity.Grams(grams), Sure: true})
	return b
}

func (b *book) did(days float64, j wheel.Job) *book {
	b.on(days, wheel.Entry{Kind: wheel.Did, Job: j})
	return b
}

func TestAnUnlikelyWeightDecidesNothing(t *testing.T) {
	for _, c := range []struct {
		name  string
		book  *book
		gate  Gate
		loss  quantity.Fraction // that the answer rests on
		weigh int               // age at which to weigh again
	}{
		{"enough lost by an unlikely weight", (&book{}).weights(2000, 1990, 1982).sure(3, 1900).check(3, sound),
			DefaultGate(),
			0.009, 3},
		{"too dry by an unlikely weight", drying6().sure(6, 1700).check(6, sound), DefaultGate(), 0.032, 6},
		{"too little lost by an unlikely weight", drying6().sure(6, 1986).check(6, sound), DefaultGate(), 0.032, 6},
		{"dry enough, but for an unlikely weight", drying6().sure(6, 1880).check(6, sound), DefaultGate(), 0.032, 6},
		{"two unlikely weights unlike each other", drying6().sure(6, 1700).sure(7, 1800).check(7, sound), DefaultGate(),
			0.032,
			7},
		{"nothing but the green weight and an unlikely one", (&book{}).weights(2000).sure(3, 1700), DefaultGate(), 0, 3},
		{"before anything is met", (&book{}).weights(2000, 1990).sure(2, 1600), Gate{MinLoss: 0.3, MaxSurface: 100}, 0.005,
			2},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := c.book.of(t, c.gate)
			v := k.Dry(k.Life.Last)
			if v.Answer != WeighAgain || math.Abs(float64(v.Loss-c.loss)) > 1e-9 || v.On != nil {
				t.Errorf("%s by a loss of %v, expected %v; want %v", v.Answer, v.Loss, v.On, c.loss)
			}
			_, off := v.Advice[1].(OffCurve)
			if _, heavy := v.Advice[1].(Heavier); len(v.Advice) != 2 || v.Advice[0] != reason.Reason(InDoubt{}) || !off &&
				!heavy {
				t.Errorf("advice %s", said(v.Advice))
			}
			want := Shut()
			want.WeighFrom, want.WeighWhy = made+day.Date(c.weigh), reason.List{InDoubt{}}
			w := k.Windows()
			if !w.WeighWhy.Equal(want.WeighWhy) || w.WeighFrom != want.WeighFrom || w.CoatFrom != day.None ||
				w.CheckFrom != day.None {
				t.Errorf("%+v", w)
			}
			if e := k.ExpectedBy(k.Forecast()); e != nil && e.Best < made {
				t.Errorf("expected %+v", e)
			}
		})
	}
}

func TestALaterWeightClearsADoubt(t *testing.T) {
	for _, grams := range []float64{1700, 1880, 1986} {
		b := drying6().sure(6, grams)
		b.weigh(7, 1922)
		k := b.check(7, sound).of(t, DefaultGate())
		if v := k.Dry(noon(7)); v.Answer != DryEnough || math.Abs(float64(v.Loss)-0.039) > 1e-9 {
			t.Errorf("after %v g: %s by a loss of %v, %s", grams, v.Answer, v.Loss, said(v.Advice))
		}
		if w := k.Windows(); w.CoatFrom != made+7 {
			t.Errorf("after %v g: %+v", grams, w)
		}
	}
}

// Two weights that agree are a step that nobody recorded, and say so.
func TestAWeightThatTheNextConfirmsCounts(t *testing.T) {
	for _, c := range []struct {
		name   string
		book   *book
		answer Answer
		loss   quantity.Fraction
		from   int // the first point of the step
	}{
		{"a piece cut off", drying6().sure(6, 1880).sure(7, 1872).check(7, sound), DryEnough, 0.064, 6},
		{"three of them", drying6().sure(6, 1880).sure(7, 1872).sure(8, 1866).check(8, sound), DryEnough, 0.067, 6},
		{"heavier", drying6().sure(6, 1986).sure(7, 1979).check(7, sound), NotYet, 0.0105, 6},
		{"a wrong green weight", (&book{}).weights(2000).sure(3, 1700).sure(4, 1690), TooDry, 0.155, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := c.book.of(t, DefaultGate())
			v := k.Dry(k.Life.Last)
			p := k.Life.Chain.Points
			want := Jumped{p[c.from-1].Gross, p[c.from].Gross, p[c.from].At}
			if v.Answer != c.answer || math.Abs(float64(v.Loss-c.loss)) > 1e-9 ||
				v.Advice[len(v.Advice)-1] != reason.Reason(want) {
				t.Errorf("%s by %v, %s; want %s by %v", v.Answer, v.Loss, said(v.Advice), c.answer, c.loss)
			}
			if math.Abs(v.Present.Best-float64(c.loss)) > 0.002 {
				t.Errorf("by the curve %v", v.Present)
			}
			if d := k.Doubts(k.Forecast(), func(id uuid.UUID) bool { return id == p[len(p)-1].Entry }); d != nil {
				t.Errorf("the one that confirms it: %+v", d)
			}
		})
	}
}

func TestTheNextWeightIsJudgedByThoseBelieved(t *testing.T) {
	for _, c := range []struct {
		name  string
		bad   float64
		grams float64
		why   reason.Reason // nil where it is believed
	}{
		{"good after far too light", 1700, 1922, nil},
		{"good after too light", 1880, 1922, nil},
		{"good after too heavy", 1986, 1922, nil},
		{"too heavy after too light", 1700, 1990, Heavier{54, 1936, noon(5)}},
		{"still too heavy after too heavy", 1980, 1999, Heavier{63, 1936, noon(5)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, _ := doubts(t, drying6().sure(6, c.bad), 7, c.grams)
			if d.Why != c.why {
				t.Errorf("%+v; want %+v", d, c.why)
			}
			k := drying6().sure(6, c.bad)
			id := k.weigh(7, c.grams)
			only := func(e uuid.UUID) bool { return e == id }
			if got := PlausibleRun(k.es, only, 2000, noon(0)); got && c.why != nil {
				t.Error("passed at a quick look")
			}
		})
	}
	// A load with the bad weight and the good one.
	b := drying6()
	bad, good := b.weigh(6, 1880), b.weigh(7, 1922)
	k := b.of(t, DefaultGate())
	d := k.Doubts(k.Forecast(), func(e uuid.UUID) bool { return e == bad || e == good })
	if _, ok := d[bad]; !ok || len(d) != 1 {
		t.Errorf("in one load: %+v", d)
	}
}

// A wheel of 2 kg has 9 dm2: a film of 13.6 g, and 4.5 g of oil.
func TestWhatIsPutOnARindMayWeigh(t *testing.T) {
	for _, c := range []struct {
		name     string
		job      wheel.Job
		at, gain float64
		doubted  bool
	}{
		{"turned", wheel.Turn, 5.8, 8, true},
		{"brushed", wheel.Brush, 5.8, 8, true},
		{"washed", wheel.Wash, 5.8, 7, false},
		{"washed yesterday", wheel.Wash, 5.2, 7, false},
		{"washed, and far heavier than a film", wheel.Wash, 5.8, 40, true},
		{"washed, and dry again", wheel.Wash, 1.5, 8, true},
		{"rubbed", wheel.Rub, 5.8, 7, false},
		{"brined or salted", wheel.Salt, 5.8, 7, false},
		{"oiled", wheel.Oil, 5.8, 4, false},
		{"oiled, and far heavier than oil", wheel.Oil, 5.8, 40, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := drying6().did(c.at, c.job)
			if d, doubted := doubts(t, b, 6, 1936+c.gain); doubted != c.doubted {
				t.Errorf("doubted %v: %+v", doubted, d)
			}
			if v := b.check(6, sound).of(t, DefaultGate()).Dry(noon(6)); (v.Answer == WeighAgain) != c.doubted {
				t.Errorf("%s, %s", v.Answer, said(v.Advice))
			}
		})
	}
}

func TestHowOldAWeightMayBe(t *testing.T) {
	week := DefaultGate()
	week.WeighDays = 7
	dry := (&book{}).weights(2000, 1900, 1800, 1740) // over 12 %, by day 3
	for _, c := range []struct {
		name   string
		book   *book
		gate   Gate
		on     int
		want   Answer
		advice reason.List
	}{
		{"met, of today", drying6().check(5, sound), week, 5, DryEnough, reason.List{CoatBy{nov(27)}}},
		{"met, a week old", drying6().check(12, sound), week, 12, DryEnough,
			reason.List{CoatBy{nov(34)}, ByWeight{7}}},
		{"met, over a week old", drying6().check(13, sound), week, 13, WeighAgain, reason.List{TooOld{8, 7}}},
		{"met, not felt, and over a week old", drying6(), week, 13, WeighAgain, reason.List{TooOld{8, 7}}},
		{"met, over the days of its own plan", drying6().check(7, sound),
			Gate{MaxSurface: 100, MaxMoisture: 1, CheckDays: 2, WeighDays: 1}, 7, WeighAgain, reason.List{TooOld{2, 1}}},
		{"over the loss where rinds crack: for good", dry, week, 60, TooDry,
			reason.List{CracksLikely{0.12}, ByWeight{57}}},
		{"over it by the curve", drying6(), Gate{MaxLoss: 0.035, MaxSurface: 100, WeighDays: 7}, 7, TooDry,
			reason.List{CracksLikely{0.035}, ByWeight{2}}},
		{"over it by the curve, from an old weight", drying6(), Gate{MaxLoss: 0.035, MaxSurface: 100, WeighDays: 7}, 15,
			WeighAgain, reason.List{TooOld{10, 7}}},
		{"over it by the model alone, 140 days after the green weight", (&book{}).weights(2000), week, 140,
			WeighAgain, reason.List{TooOld{140, 7}}},
		{"over it by the model alone, within a week", (&book{}).weights(2000),
			Gate{MinLoss: 0.03, MaxLoss: 0.031, MaxSurface: 100, WeighDays: 7}, 7, NotYet, nil},
		{"not yet, expected later", (&book{}).weights(2000, 1990, 1981), Gate{MinLoss: 0.08, MaxSurface: 100, WeighDays: 7},
			12, NotYet, nil},
		{"not yet, and expected before", (&book{}).weights(2000, 1990, 1981), week, 20, WeighAgain,
			reason.List{TooOld{18, 7}}},
		{"never in this air", (&book{}).weights(2000, 1999, 1999), Gate{MinLoss: 0.5, MaxSurface: 100, WeighDays: 7}, 9,
			NotYet,
			reason.List{RoomSlow{}, ByWeight{7}}},
		{"never in this air, by an old weight", (&book{}).weights(2000, 1999, 1999),
			Gate{MinLoss: 0.5, MaxSurface: 100, WeighDays: 7}, 10, WeighAgain, reason.List{TooOld{8, 7}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := c.book.of(t, c.gate).Dry(noon(c.on))
			if v.Answer != c.want || c.advice != nil && !v.Advice.Equal(c.advice) {
				t.Errorf("%s, %s; want %s, %s", v.Answer, said(v.Advice), c.want, said(c.advice))
			}
			age := c.on - int(day.At(v.WeighedAt, c.book.of(t, c.gate).Loc)-made)
			old := c.gate.WeighDays > 0 && age > c.gate.WeighDays
			for _, r := range v.Rules {
				if r.Code == LossRule && r.Have[1] != reason.Reason(ByWeight{age}) {
					t.Errorf("it has %s, of a weight %d days old", said(r.Have), age)
				}
				stale := r.Have[len(r.Have)-1] == reason.Reason(Stale{})
				switch r.Code {
				case LossRule, RateRule, MoistureRule, TooDryRule:
					if stale != old || old && r.Met {
						t.Errorf("%+v, of a weight %d days old", r, age)
					}
				}
			}
		})
	}
}

// Whatever a wheel does, a weight off by more than 2 % at its end is weighed again,
// and once a good one follows the answer is what it would be without it.
func TestAWildWeightNeverDecides(t *testing.T) {
	model := (&book{}).of(t, DefaultGate()).Forecast()
	rapid.Check(t, func(rt *rapid.T) {
		speed := rapid.Float64Range(0.8, 1.25).Draw(rt, "speed")
		n := rapid.IntRange(3, 12).Draw(rt, "weighings")
		off := rapid.Float64Range(0.02, 0.3).Draw(rt, "off") * rapid.SampledFrom([]float64{-1, 1}).Draw(rt, "side")
		good := func(d float64) float64 {
			scale := rapid.Float64Range(-1, 1).Draw(rt, "scale")
			return math.Round(2000*(1-speed*model.Loss(d).Best) + scale)
		}
		with, without := &book{}, &book{}
		for i := range n {
			g := good(float64(i))
			with.weigh(float64(i), g)
			without.weigh(float64(i), g)
		}
		last := float64(n)
		with.sure(last, math.Round(good(last)*(1+off)))
		k := with.of(t, DefaultGate())
		if v, w := k.Dry(noon(n)), k.Windows(); v.Answer != WeighAgain || w.CoatFrom != day.None || w.WeighFrom == day.None {
			rt.Fatalf("%s, %+v", v.Answer, w)
		}
		g := good(last + 1)
		with.weigh(last+1, g)
		without.weigh(last+1, g)
		a, b := with.of(t, DefaultGate()).Dry(noon(n+1)), without.of(t, DefaultGate()).Dry(noon(n+1))
		if a.Answer != b.Answer || a.Loss != b.Loss {
			rt.Fatalf("%s by %v; without it %s by %v", a.Answer, a.Loss, b.Answer, b.Loss)
		}
	})
}
