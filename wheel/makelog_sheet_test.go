package wheel

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/quantity"
)

// vat writes a make's log, an hour for each line.
func vat(m Make, lines ...MakeLog) MakeSheet {
	d := &diary{}
	for i, l := range lines {
		d.on(float64(i)/24, Entry{Kind: Logged, Detail: l.Detail()})
	}
	return NewMakeSheet(m, d.es)
}

func TestMilkOfSeveralSourcesIsAddedUp(t *testing.T) {
	milk := func(l quantity.Litres, tr Treatment, fat quantity.Fraction) MakeLog {
		return MakeLog{What: LogMilk, Litres: l, Treatment: tr, Fat: fat, Species: "cow"}
	}
	for _, c := range []struct {
		name  string
		make  Milk
		lines []MakeLog
		want  Milk
	}{
		{"no line: what the make was told", Milk{Litres: 40, Treatment: Raw, Species: "goat"}, nil,
			Milk{Litres: 40, Treatment: Raw, Species: "goat"}},
		{"fat by volume: (30 x 4 + 10 x 2)/40", Milk{}, []MakeLog{milk(30, Raw, 0.04), milk(10, Raw, 0.02)},
			Milk{Litres: 40, Treatment: Raw, Fat: 0.035, Species: "cow"}},
		{"fat of one is not known: none", Milk{}, []MakeLog{milk(30, Raw, 0.04), milk(10, Raw, 0)},
			Milk{Litres: 40, Treatment: Raw, Species: "cow"}},
		{"raw in part is raw", Milk{}, []MakeLog{milk(30, Pasteurised, 0), milk(10, Raw, 0)},
			Milk{Litres: 40, Treatment: Raw, Species: "cow"}},
		{"raw beside what nobody said is raw", Milk{}, []MakeLog{milk(30, "", 0), milk(10, Raw, 0)},
			Milk{Litres: 40, Treatment: Raw, Species: "cow"}},
		{"the make was told raw", Milk{Treatment: Raw}, []MakeLog{milk(30, Pasteurised, 0)},
			Milk{Litres: 30, Treatment: Raw, Species: "cow"}},
		{"not said for one: not known", Milk{}, []MakeLog{milk(30, Pasteurised, 0), milk(10, "", 0)},
			Milk{Litres: 40, Species: "cow"}},
		{"not said for one, but for the make", Milk{Treatment: Pasteurised}, []MakeLog{milk(30, "", 0)},
			Milk{Litres: 30, Treatment: Pasteurised, Species: "cow"}},
		{"the gentler of two heats", Milk{}, []MakeLog{milk(30, Pasteurised, 0), milk(10, Thermised, 0)},
			Milk{Litres: 40, Treatment: Thermised, Species: "cow"}},
		{"two species", Milk{}, []MakeLog{milk(30, Raw, 0), {What: LogMilk, Litres: 10, Treatment: Raw, Species: "sheep"}},
			Milk{Litres: 40, Treatment: Raw, Species: "cow and sheep"}},
	} {
		got := vat(Make{Milk: c.make}, c.lines...).Milk()
		got.Fat = quantity.Fraction(math.Round(float64(got.Fat)*1e12) / 1e12)
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

func TestCurdIsFollowedThroughTheLog(t *testing.T) {
	curd, aside, from := func(g quantity.Grams) MakeLog { return MakeLog{What: LogCurd, Weight: g} }, func(
		g quantity.Grams) MakeLog {
		return MakeLog{What: LogSetAside, Weight: g}
	},
		func(g quantity.Grams) MakeLog { return MakeLog{What: LogFrom, Weight: g, FromLot: "A"} }
	for _, c := range []struct {
		name    string
		make    Make
		lines   []MakeLog
		want    Curd
		refused string
	}{
		{"nothing said", Make{}, nil, Curd{}, ""},
		{"what the make was told", Make{Curd: 6000, SetAside: 500}, nil, Curd{Total: 6000, Aside: 500, Left: 5500}, ""},
		{"weighed, then some set aside", Make{}, []MakeLog{curd(24500), aside(5000)},
			Curd{Total: 24500, Aside: 5000, Left: 19500}, ""},
		{"some set aside, then weighed", Make{}, []MakeLog{aside(5000), curd(19500)},
			Curd{Total: 24500, Aside: 5000, Left: 19500}, ""},
		{"weighed twice, the later counts", Make{}, []MakeLog{curd(24500), curd(23000)}, Curd{Total: 23000, Left: 23000}, ""},
		{"set aside, never weighed", Make{}, []MakeLog{aside(5000)}, Curd{Aside: 5000}, ""},
		{"the log's set-aside in the place of the make's", Make{Curd: 6000, SetAside: 500}, []MakeLog{aside(700)},
			Curd{Total: 6000, Aside: 700, Left: 5300}, ""},
		{"curd of another lot", Make{}, []MakeLog{from(5000)}, Curd{Total: 5000, Came: 5000, Left: 5000}, ""},
		{"curd of another lot to curd of its own", Make{}, []MakeLog{curd(1000), from(5000)},
			Curd{Total: 6000, Came: 5000, Left: 6000}, ""},
		{"more set aside than there was", Make{Lot: "X"}, []MakeLog{curd(5000), aside(3000), aside(2500)},
			Curd{Total: 5000, Aside: 5500, Left: -500}, "more-curd-aside {Lot:X Aside:2500 Was:2000}"},
		{"all of it set aside", Make{}, []MakeLog{curd(5000), aside(5000)}, Curd{Total: 5000, Aside: 5000}, ""},
	} {
		s := vat(c.make, c.lines...)
		if d := cmp.Diff(c.want, s.Curd()); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
		got := ""
		if err := s.Check(); err != nil {
			got = err.Error()
		}
		if got != c.refused {
			t.Errorf("%s: %q, want %q", c.name, got, c.refused)
		}
	}
}

// Doses by hand: 1.8 % of 19 500 g is 351 g (common practice for the rate, no
// source).
func TestTheDoseComputedStandsBesideTheDoseGiven(t *testing.T) {
	curd := MakeLog{What: LogCurd, Weight: 24500}
	aside := MakeLog{What: LogSetAside, Weight: 5000}
	for _, c := range []struct {
		name  string
		make  Make
		lines []MakeLog
		want  Dose
	}{
		{"of the curd that was kept", Make{}, []MakeLog{curd, aside, {What: LogSalt, Weight: 355, Rate: 0.018,
			Where: "curd"}}, Dose{Given: 355, Computed: 351, Curd: 19500, Rate: 0.018}},
		{"of the curd there was just then", Make{}, []MakeLog{curd, {What: LogSalt, Weight: 441, Rate: 0.018, Where: "curd"},
			aside}, Dose{Given: 441, Computed: 441, Curd: 24500, Rate: 0.018}},
		{"in two halves", Make{},
			[]MakeLog{curd, aside, {What: LogSalt, Weight: 170, Rate: 0.009, Where: "curd"}, {What: LogSalt, Weight: 180,
				Rate: 0.009, Where: "curd"}}, Dose{Given: 350, Computed: 351, Curd: 19500, Rate: 0.018}},
		{"no rate", Make{}, []MakeLog{curd, {What: LogSalt, Weight: 355, Where: "curd"}}, Dose{Given: 355, Curd: 24500}},
		{"no curd", Make{}, []MakeLog{{What: LogSalt, Weight: 355, Rate: 0.018, Where: "curd"}}, Dose{Given: 355}},
		{"in a brine no rate counts", Make{}, []MakeLog{curd, {What: LogSalt, Weight: 5000, Rate: 0.018, Where: "brine"}},
			Dose{Given: 5000}},
		{"as the make was told", Make{Curd: 4200, SetAside: 200, SaltMass: 70, SaltRate: 0.018}, nil,
			Dose{Given: 70, Computed: 72, Curd: 4000, Rate: 0.018}},
		{"nothing said", Make{}, nil, Dose{}},
	} {
		got := vat(c.make, c.lines...).Dose()
		for _, x := range []*quantity.Grams{&got.Computed, &got.Given} {
			*x = quantity.Grams(math.Round(float64(*x)*1e9) / 1e9)
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

// By hand: 10 kg x 4 x 9.80665 N/kg = 392.266 N on pi 0.15^2/4 = 0.0176715 m2
// is 22 197.7 Pa.
func TestLeverAndMouldHoldOnFromThePressLineBefore(t *testing.T) {
	s := vat(Make{}, MakeLog{What: LogPress, Load: 5000}, MakeLog{What: LogPress, Load: 10000, Lever: 4, Diameter: 0.15},
		MakeLog{What: LogCurd, Weight: 1}, MakeLog{What: LogPress, Load: 20000}, MakeLog{What: LogPress, Load: 20000,
			Lever: 2})
	for _, c := range []struct {
		line  int
		lever float64
		want  float64 // Pa
	}{{0, 1, 0}, {1, 4, 22197.7}, {3, 4, 44395.4}, {4, 2, 22197.7}} {
		p := s.PressAt(c.line)
		if p.Lever != c.lever || math.Abs(float64(p.Pressure())-c.want) > 0.05 {
			t.Errorf("press line %d: lever %v and %.1f Pa, want %v and %.1f",
				c.line, p.Lever, float64(p.Pressure()), c.lever, c.want)
		}
	}
}

// By hand, after Van Slyke as in Mullan 2008: fat 4 %, protein 3.2 % so casein
// 0.78 x 3.2 = 2.496 %, moisture 38 %: (0.93 x 4 + 2.496 - 0.1) x 1.09/0.62 =
// 10.7526 kg from 100 kg. 200 l at 1.03 kg/l are 206 kg: 22.150 kg.
func TestYieldIsComparedWithWhatTheMilkShouldGive(t *testing.T) {
	start := Composition{Moisture: 0.38}
	milk := MakeLog{What: LogMilk, Litres: 200, Fat: 0.04, Protein: 0.032}
	curd, aside := MakeLog{What: LogCurd, Weight: 25000}, MakeLog{What: LogSetAside, Weight: 5000}
	for _, c := range []struct {
		name  string
		lines []MakeLog
		got   quantity.Grams
		want  Yield
		ok    bool
	}{
		{"all of the curd", []MakeLog{milk}, 21000,
			Yield{Milk: 206000, Expected: 22150, Kept: 1, Got: 21000, OfMilk: 0.1019, Of: 0.9481}, true},
		{"four fifths of the curd", []MakeLog{milk, curd, aside}, 17720,
			Yield{Milk: 164800, Expected: 17720, Kept: 0.8, Got: 17720, OfMilk: 0.1075, Of: 1}, true},
		{"no wheel weighed yet", []MakeLog{milk}, 0, Yield{Milk: 206000, Expected: 22150, Kept: 1}, true},
		{"set aside of nobody knows how much", []MakeLog{milk, aside}, 17720, Yield{}, false},
		{"all set aside", []MakeLog{milk, curd, {What: LogSetAside, Weight: 25000}}, 0, Yield{}, false},
		{"curd of another lot", []MakeLog{milk, {What: LogFrom, Weight: 100, FromLot: "A"}}, 21000, Yield{}, false},
		{"protein not known", []MakeLog{{What: LogMilk, Litres: 200, Fat: 0.04}}, 21000, Yield{}, false},
	} {
		y, ok := vat(Make{Start: start}, c.lines...).Yield(c.got)
		if ok != c.ok || ok &&
			(math.Abs(float64(y.Milk-c.want.Milk)) > 0.5 || math.Abs(float64(y.Expected-c.want.Expected)) > 1 ||
				math.Abs(float64(y.Kept-c.want.Kept)) > 1e-9 || y.Got != c.want.Got ||
				math.Abs(float64(y.OfMilk-c.want.OfMilk)) > 1e-4 || math.Abs(float64(y.Of-c.want.Of)) > 1e-4) {
			t.Errorf("%s: %+v, %v, want %+v, %v", c.name, y, ok, c.want, c.ok)
		}
	}
}

func TestALotsYieldWaitsForItsLastWheelAndLeavesOutThoseEnteredByMistake(t *testing.T) {
	wheelOf := func(green float64, void bool) Life {
		d := &diary{}
		if green > 0 {
			d.weigh(0, green)
			d.weigh(5, green-100) // what it lost since is no part of it
		}
		if void {
			d.on(6, Entry{Kind: Voided})
		}
		return d.life()
	}
	sheet := vat(Make{Start: Composition{Moisture: 0.38}}, MakeLog{What: LogMilk, Litres: 200, Fat: 0.04, Protein: 0.032})
	var g Green
	for _, c := range []struct {
		name string
		add  Life
		want Green
		got  quantity.Grams
	}{
		{"one in its mould", wheelOf(0, false), Green{Wheels: 1}, 0},
		{"one weighed, one in its mould", wheelOf(10000, false), Green{Wheels: 2, Weighed: 1, Total: 10000}, 0},
		{"one entered by mistake", wheelOf(5000, true), Green{Wheels: 2, Weighed: 1, Total: 10000}, 0},
	} {
		g.Add(c.add)
		if y, ok := sheet.YieldOf(g); g != c.want || !ok || y.Got != c.got {
			t.Errorf("%s: %+v, yield of %v, %v; want %+v, %v", c.name, g, y.Got, ok, c.want, c.got)
		}
	}
	var all Green
	all.Add(wheelOf(10000, false))
	all.Add(wheelOf(11000, false))
	if y, ok := sheet.YieldOf(all); !ok || y.Got != 21000 || !near(float64(y.Of), 0.9481, 1e-4) {
		t.Errorf("all weighed: %+v, %v, want 21000 g and 0.9481 of what was expected", y, ok)
	}
}

func TestTheLogIsInTheOrderThingsHappenedAndWithoutWhatWasStruck(t *testing.T) {
	d := &diary{}
	d.on(0.5, Entry{Kind: Logged, Detail: MakeLog{What: LogAcidity, PH: 5.4}.Detail()})
	wrong := d.on(0.2, Entry{Kind: Logged, Detail: MakeLog{What: LogAcidity, PH: 3.6}.Detail()})
	d.on(0.1, Entry{Kind: Logged, Detail: MakeLog{What: LogAcidity, PH: 6.6, Acid: 0.0016}.Detail()})
	d.on(0.3, Entry{Kind: Noted, Note: "slow"})
	d.strike(0.6, wrong)
	s := NewMakeSheet(Make{}, d.es)
	var got []float64
	for _, r := range s.PH() {
		got = append(got, r.Value)
	}
	if d := cmp.Diff([]float64{6.6, 5.4}, got); d != "" {
		t.Errorf("pH in order (-want +got):\n%s", d)
	}
	if a := s.Acid(); len(a) != 1 || math.Abs(a[0].Value-0.16) > 1e-9 {
		t.Errorf("titratable acidity: %+v, want 0.16 once", a)
	}
	if len(s.Lines) != 2 {
		t.Errorf("%d lines, want 2: a note is none and one was struck", len(s.Lines))
	}
}

// 21 CFR 1240.61, from memory: 63 C for 30 minutes, 72 C for 15 seconds, 89 C
// for a second.
func TestUsualFiguresOfPasteurising(t *testing.T) {
	for _, c := range []struct {
		name    string
		temp    quantity.Celsius
		seconds float64
		want    bool
	}{{"vat", 63, 1800, true}, {"vat too short", 63, 1799, false}, {"plates", 72, 15, true}, {"plates too cool", 71.9, 15,
		false}, {"plates too short", 72, 14, false}, {"hot and short", 89, 1, true}, {"long and warm", 57, 86400, false}} {
		if got := (MakeLog{What: LogMilk, HeatTemp: c.temp, HeatFor: c.seconds}).Pasteurises(); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestTheTwoHalvesOfASettingAsideKnowEachOther(t *testing.T) {
	a := MakeLine{Entry{At: began.Noon(time.UTC)}, MakeLog{What: LogSetAside, Weight: 5000, For: "fresh curd", ToLot: "B"}}
	b := MakeLine{Entry{At: began.Noon(time.UTC)}, MakeLog{What: LogFrom, Weight: 5000, For: "fresh curd", FromLot: "A"}}
	if !SameTransfer(a, "A", b, "B") {
		t.Error("the two halves are not known as such")
	}
	for _, c := range []struct {
		name   string
		change func(a, b *MakeLine)
	}{
		{"another weight", func(a, _ *MakeLine) { a.Log.Weight++ }},
		{"another use", func(a, _ *MakeLine) { a.Log.For = "whey" }},
		{"another lot", func(a, _ *MakeLine) { a.Log.ToLot = "C" }},
		{"from another lot", func(_, b *MakeLine) { b.Log.FromLot = "C" }},
		{"at another time", func(a, _ *MakeLine) { a.Entry.At = a.Entry.At.Add(1) }},
		{"two set-asides", func(_, b *MakeLine) { b.Log.What = LogSetAside }},
	} {
		x, y := a, b
		c.change(&x, &y)
		if SameTransfer(x, "A", y, "B") {
			t.Errorf("%s: taken for halves of one", c.name)
		}
	}
}

func TestWhatALabMeasuredStandsForTheMakesFigures(t *testing.T) {
	usual := Composition{Moisture: 0.38, MoistureSD: 0.015, Fat: 0.32, FatSD: 0.01, Salt: 0.017, SaltSD: 0.002, PH: 5.2}
	lab := func(m MakeLog) MakeLog { m.What = LogComposition; return m }
	for _, c := range []struct {
		name    string
		lines   []MakeLog
		want    Composition
		refused string
	}{
		{"nothing measured", nil, usual, ""},
		{"the moisture alone, known as an oven knows it", []MakeLog{lab(MakeLog{Moisture: 0.372})},
			Composition{Moisture: 0.372, MoistureSD: 0.005, Fat: 0.32, FatSD: 0.01, Salt: 0.017, SaltSD: 0.002, PH: 5.2,
				Measured: true}, ""},
		{"the moisture with its own spread", []MakeLog{lab(MakeLog{Moisture: 0.372, SD: 0.002})}, Composition{Moisture: 0.372,
			MoistureSD: 0.002, Fat: 0.32, FatSD: 0.01, Salt: 0.017, SaltSD: 0.002, PH: 5.2, Measured: true}, ""},
		{"fat, salt and pH without the moisture", []MakeLog{lab(MakeLog{Fat: 0.33, Salt: 0.018, PH: 5.1})},
			Composition{Moisture: 0.38, MoistureSD: 0.015, Fat: 0.33, FatSD: 0.01, Salt: 0.018, SaltSD: 0.002, PH: 5.1}, ""},
		{"the last word on each figure", []MakeLog{lab(MakeLog{Moisture: 0.372, Fat: 0.33}), lab(MakeLog{Moisture: 0.375})},
			Composition{Moisture: 0.375, MoistureSD: 0.005, Fat: 0.33, FatSD: 0.01, Salt: 0.017, SaltSD: 0.002, PH: 5.2,
				Measured: true}, ""},
		{"a moisture that leaves no room beside the fat there was", []MakeLog{lab(MakeLog{Moisture: 0.7})}, usual,
			"outside {What:moisture-fat-salt Value:1.037 Low:0 High:0.98}"},
	} {
		s := vat(Make{Lot: "X", Start: usual}, c.lines...)
		if d := cmp.Diff(c.want, s.Start()); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
		got := ""
		if err := s.Check(); err != nil {
			got = err.Error()
		}
		if got != c.refused {
			t.Errorf("%s: %q, want %q", c.name, got, c.refused)
		}
		if d := cmp.Diff(c.want, s.FromLog().Start); d != "" {
			t.Errorf("%s, told (-want +got):\n%s", c.name, d)
		}
	}
}

func TestAMakeBeganAsItWasToldOrWithItsFirstMilk(t *testing.T) {
	told := time.Date(2026, 9, 1, 6, 0, 0, 0, time.UTC)
	milk := MakeLog{What: LogMilk, Litres: 10}
	first := vat(Make{}, MakeLog{What: LogStep, Stage: "swept"}, milk, milk)
	for _, c := range []struct {
		name string
		s    MakeSheet
		want time.Time
	}{
		{"nobody said", vat(Make{}), time.Time{}},
		{"a log without milk", vat(Make{}, MakeLog{What: LogStep, Stage: "cut"}), time.Time{}},
		{"the first milk", first, first.Lines[1].Entry.At},
		{"as it was told, whatever the milk", vat(Make{Began: told}, milk), told},
	} {
		if got := c.s.Began(); !got.Equal(c.want) {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}
