package verdict

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/air"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// doubts writes a further weighing to a wheel and gives what is thought of it.
func doubts(t *testing.T, b *book, at, grams float64, sisters ...*book) (Doubt, bool) {
	t.Helper()
	id := b.weigh(at, grams)
	c := b.of(t, DefaultGate())
	for _, s := range sisters {
		c.Sisters = append(c.Sisters, s.of(t, DefaultGate()))
	}
	d, ok := c.Doubts(c.Forecast(), func(e uuid.UUID) bool { return e == id })[id]
	return d, ok
}

func TestWhichWeightsAreDoubted(t *testing.T) {
	for _, c := range []struct {
		name      string
		book      *book
		at, grams float64
		why       reason.Reason // nil where it is believed
	}{
		{"on its curve", drying6(), 6, 1929, nil},
		{"a gram heavier is the scale's business", drying6(), 6, 1937, nil},
		{"fifty grams heavier", drying6(), 6, 1986, Heavier{50, 1936, noon(5)}},
		{"a slip of a digit", drying6(), 6, 1293, OffCurve{}},
		{"another wheel altogether", drying6(), 6, 1700, OffCurve{}},
		{"a first weight of a usual size", &book{}, 0, 2100, nil},
		{"a first weight in kilograms", &book{}, 0, 2, UnlikeVariety{"cheddar-waxed", 2000}},
		{"a first weight a hundred times over", &book{}, 0, 200000, UnlikeVariety{"cheddar-waxed", 2000}},
		{"from before the green weight", (&book{}).weights(2000, 1985), -0.5, 2010, BeforeGreen{}},
		{"heavier than the weight before it, as a late entry", (&book{}).weights(2000, 1985), 0.5, 2090,
			Heavier{90, 2000, noon(0)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, doubted := doubts(t, c.book, c.at, c.grams)
			if off, ok := d.Why.(OffCurve); ok && off.Low < off.High && (off.Loss < off.Low || off.Loss > off.High) {
				d.Why = OffCurve{}
			}
			if doubted != (c.why != nil) || d.Why != c.why {
				t.Errorf("doubted %v: %+v; want %+v", doubted, d, c.why)
			}
		})
	}
}

func TestAWeightThatFitsASisterNamesHer(t *testing.T) {
	sister := (&book{tag: "261120A-02"}).weights(2300, 2279, 2262, 2248, 2237, 2227)
	other := (&book{tag: "261120A-03"}).weights(1700, 1685, 1672, 1662, 1653, 1646)
	if d, ok := doubts(t, drying6(), 6, 2218, sister, other); !ok || d.Sister != "261120A-02" {
		t.Errorf("heavier: %+v", d)
	}
	if d, ok := doubts(t, drying6(), 6, 1639, sister, other); !ok || d.Sister != "261120A-03" {
		t.Errorf("lighter: %+v", d)
	}
	if d, ok := doubts(t, drying6(), 6, 900, sister, other); !ok || d.Sister != "" {
		t.Errorf("like none of them: %+v", d)
	}
	if d, ok := doubts(t, &book{tag: "261120A-04"}, 0, 5000, sister, other); !ok ||
		d.Why != reason.Reason(UnlikeSisters{2300}) {
		t.Errorf("a first weight unlike its sisters': %+v", d)
	}
	if d, ok := doubts(t, &book{tag: "261120A-04"}, 0, 1900, sister, other); ok {
		t.Errorf("a first weight like its sisters': %+v", d)
	}
}

func TestACoatExplainsAHeavierWeight(t *testing.T) {
	b := drying6()
	b.on(5.5, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax", Before: 1932, Weight: 2006})
	if d, ok := doubts(t, b, 6, 2006); ok {
		t.Errorf("doubted: %+v", d)
	}
	b = drying6()
	b.on(5.5, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax"})
	if d, ok := doubts(t, b, 6, 2006); ok {
		t.Errorf("doubted after a coat nobody weighed: %+v", d)
	}
}

func TestWeightsThatWereThereAreNotDoubted(t *testing.T) {
	b := drying6()
	b.weigh(6, 2500)
	c := b.of(t, DefaultGate())
	if d := c.Doubts(c.Forecast(), func(uuid.UUID) bool { return false }); d != nil {
		t.Errorf("%+v", d)
	}
}

func TestACaseWithFurtherEntriesIsTheCaseThatHadThemFromTheStart(t *testing.T) {
	b := drying6()
	c := b.of(t, DefaultGate())
	e := wheel.Entry{ID: uuid.UUID{9}, Kind: wheel.Weighed, Weight: 1929, At: noon(6), Written: noon(6)}
	got := c.With(e)
	b.es = append(b.es, e)
	want := b.of(t, DefaultGate())
	a, z := got.Dry(noon(6)), want.Dry(noon(6))
	if a.Loss != z.Loss || a.Answer != z.Answer || a.Present != z.Present || got.Life.Chain.Weighings() != 7 ||
		c.Life.Chain.Weighings() != 6 {
		t.Errorf("%+v against %+v", a, z)
	}
	if !got.Life.Last.Equal(noon(6)) || got.Day(noon(6)) != 6 || !got.Time(6).Equal(noon(6)) ||
		got.Began().In(time.UTC) != noon(0) {
		t.Errorf("last %v, day %v", got.Life.Last, got.Day(noon(6)))
	}
}

func TestSistersTellAnUnweighedWheelsCurve(t *testing.T) {
	c := (&book{tag: "261120A-04"}).of(t, DefaultGate())
	alone := c.Forecast()
	fast := (&book{tag: "261120A-02"}).weights(2000, 1960, 1930, 1905, 1885, 1868)
	c.Sisters = []Case{fast.of(t, DefaultGate())}
	if with := c.Forecast(); !(with.Loss(5).Best > alone.Loss(5).Best) || with.Basis() != "lot" ||
		alone.Basis() != "prior" {
		t.Errorf("with a fast sister %v (%s), alone %v (%s)", with.Loss(5), with.Basis(), alone.Loss(5), alone.Basis())
	}
}

func TestSistersThatShowTheSameShiftSpeakForAWeight(t *testing.T) {
	sister := func(tag string, last float64) *book {
		return (&book{tag: "261120A-" + tag}).weights(2040, 2022, 2007, 1994, 1984, 1975, last)
	}
	for _, c := range []struct {
		name     string
		grams    float64
		sisters  []*book
		believed bool
	}{
		{"alone", 1950, nil, false},
		{"all of them 20 g over their curves", 1950, []*book{sister("02", 1988), sister("03", 1991)}, true},
		{"one sister is too few", 1950, []*book{sister("02", 1988)}, false},
		{"one of them on her curve", 1950, []*book{sister("02", 1988), sister("03", 1968)}, false},
		{"one of them as far the other way", 1950, []*book{sister("02", 1988), sister("03", 1948)}, false},
		{"far more than a wash", 2030, []*book{sister("02", 2068), sister("03", 2070)}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := drying6()
			if d, doubted := doubts(t, b, 6, c.grams, c.sisters...); doubted == c.believed {
				t.Errorf("doubted %v: %+v", doubted, d)
			}
			k := b.of(t, DefaultGate())
			for _, o := range c.sisters {
				k.Sisters = append(k.Sisters, o.of(t, DefaultGate()))
			}
			if s := k.Standing(k.Forecast(), 6); c.believed != (s.Verdict == drying.Slow) {
				t.Errorf("stands %s", s.Verdict)
			}
		})
	}
}

// In damp air a rind takes up a few grams again.
func TestDampAirMayAddAFewGrams(t *testing.T) {
	wet := func(gain float64) bool {
		b := &book{tag: "261120A-01"}
		for i, g := range []float64{2000, 1993, 1989, 1987, 1985, 1984} {
			b.weigh(float64(4*i), g)
		}
		id := b.weigh(27, 1984+gain)
		c := b.of(t, DefaultGate())
		c.Air = []drying.Span{{Air: air.State{Temp: 12, RH: 0.95}, Movement: air.Gentle}}
		_, doubted := c.Doubts(c.Forecast(), func(e uuid.UUID) bool { return e == id })[id]
		return doubted
	}
	for _, gain := range []float64{2, 8, 15} {
		if wet(gain) {
			t.Errorf("%v g more is doubted", gain)
		}
	}
	if !wet(40) {
		t.Error("40 g more is believed")
	}
}
