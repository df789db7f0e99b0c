package drying

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
)

var cellar = []Span{{Air: air.State{Temp: 12, RH: 0.85}, Movement: air.Gentle}}

// pressed is a made-up 2 kg hard wheel whose weighings follow own times the
// expected curve, on the days given.
func pressed(own float64, days ...float64) Subject {
	s := Subject{Cheese: Cheese{Green: 2000, Group: Hard}, Air: cellar}
	f := Estimate(s)
	for _, d := range days {
		s.Points = append(s.Points, Point{Day: d, Loss: quantity.Fraction(own * f.Expected(d).Best), SD: 0.0006})
	}
	return s
}

func width(e quantity.Estimate) float64 { return e.High - e.Low }

func TestWithoutAWeightThePriorSpeaksAndSaysSo(t *testing.T) {
	f := Estimate(pressed(1))
	if f.Basis() != FromPrior || f.Used() != 0 {
		t.Errorf("basis %s of %d", f.Basis(), f.Used())
	}
	a, b := f.Loss(10), f.Expected(10)
	if a.Best != b.Best || a.Low > b.Low || a.High < b.High {
		t.Errorf("own %+v is not the expected %+v, or narrower", a, b)
	}
	one := Estimate(pressed(1.3, 3))
	if one.Basis() != FromOwn || one.Used() != 1 {
		t.Errorf("one weighing: basis %s of %d", one.Basis(), one.Used())
	}
	if e := one.Loss(10); !(e.Best > a.Best && width(e)/e.Best < width(a)/a.Best && width(e) > 0.3*width(a)) {
		t.Errorf("one weighing narrows %+v to %+v; want somewhat", a, e)
	}
}

func TestWeighingsInAnyOrderGiveOneAnswer(t *testing.T) {
	s := pressed(1.2, 1, 2, 4, 7, 11)
	r := s
	r.Points = nil
	for _, i := range []int{3, 0, 4, 2, 1} {
		r.Points = append(r.Points, s.Points[i])
	}
	a, b := Estimate(s), Estimate(r)
	if a.Loss(20) != b.Loss(20) {
		t.Errorf("%+v in order, %+v out of it", a.Loss(20), b.Loss(20))
	}
	for i, k := range []int{3, 0, 4, 2, 1} {
		if math.Abs(a.Standings()[k].Z-b.Standings()[i].Z) > 1e-9 {
			t.Errorf("standing %d is not that of point %d", i, k)
		}
	}
}

func TestIntervalsAreAsWideAsTheWeightsAreFew(t *testing.T) {
	base := width(Estimate(pressed(1.1, 1, 2, 3, 5, 7, 9, 11, 14)).Loss(14))
	for _, c := range []struct {
		name string
		s    Subject
		at   float64
		less bool // narrower than base
	}{
		{"fewer weighings widen it", pressed(1.1, 2, 14), 14, false},
		{"one a month leaves a wide interval between", pressed(1.1, 2, 32, 62), 50, false},
		{"the days since the last weighing widen it", pressed(1.1, 1, 2, 3, 5, 7, 9, 11, 14), 28, false},
		{"two in one minute help a little", pressed(1.1, 1, 2, 3, 5, 7, 9, 11, 14, 14.0005), 14, true},
	} {
		w := width(Estimate(c.s).Loss(c.at))
		t.Logf("%s: %.2f points, %.2f before", c.name, 100*w, 100*base)
		if (w < base) != c.less {
			t.Errorf("%s: %.5f, was %.5f", c.name, w, base)
		}
	}
}

func TestACoatWithNoWeightAfterItIsUnsure(t *testing.T) {
	s := pressed(1.1, 1, 3, 5, 7)
	bare := Estimate(s)
	s.Coats = []CoatOn{{Day: 8, Coat: Wax}}
	waxed := Estimate(s)
	lost := func(f Forecast) float64 { return f.Loss(90).Best - f.Loss(8).Best }
	if r := lost(waxed) / lost(bare); r < 0.1 || r > 0.6 {
		t.Errorf("waxed loses %.2f of bare by day 90, want near a third", r)
	}
	if f := waxed.CoatFactor(); f.High/f.Low < 3 {
		t.Errorf("with no weight after it the coat is known to %+v", f)
	}
	if why, leak := waxed.Leaking(); leak || why != (Leaks{}) {
		t.Errorf("a coat nobody weighed leaks: %+v", why)
	}
}

func TestAfterACoatTheWeightsSayWhetherItHolds(t *testing.T) {
	s := pressed(1, 1, 3, 5, 7)
	bare := Estimate(s)
	s.Coats = []CoatOn{{Day: 8, Coat: Wax}}
	add := func(share float64) Subject {
		c := s
		c.Points = append([]Point(nil), s.Points...)
		for _, d := range []float64{15, 30, 45, 60} {
			c.Points = append(c.Points, Point{Day: d, SD: 0.0006,
				Loss: quantity.Fraction(bare.Loss(8).Best + share*(bare.Loss(d).Best-bare.Loss(8).Best))})
		}
		return c
	}
	sound := Estimate(add(0.15))
	if f := sound.CoatFactor(); math.Abs(f.Best-0.15) > 0.05 {
		t.Errorf("a coat that lets 0.15 through is fitted as %+v", f)
	}
	if why, leak := sound.Leaking(); leak {
		t.Errorf("a sound coat leaks: %+v", why)
	}
	leaky := Estimate(add(0.9))
	if f := leaky.CoatFactor(); f.Best < 0.75 {
		t.Errorf("a coat that lets 0.9 through is fitted as %+v", f)
	}
	if why, leak := leaky.Leaking(); !leak || why.Passes < 0.75 || why.Low > why.Passes || why.High < why.Passes ||
		why.Usual > 0.5 {
		t.Errorf("a coat that lets 0.9 through is sound (%+v)", why)
	}
}

func TestAWeighingStandsByAllTheOthers(t *testing.T) {
	s := pressed(1, 1, 2, 3, 5, 7, 9)
	s.Points[3].Loss += 0.02
	for i, st := range Estimate(s).Standings() {
		if want := map[bool]Verdict{true: Unlikely, false: OnCurve}[i == 3]; st.Verdict != want {
			t.Errorf("weighing %d: %s (z %.1f), want %s", i, st.Verdict, st.Z, want)
		}
	}
	fast := Estimate(pressed(2.6, 1, 2, 3, 5, 7, 9)).Standings()
	if fast[5].Verdict != Fast {
		t.Errorf("a wheel that loses 2.6 times what is expected: %+v", fast[5])
	}
	slow := Estimate(pressed(0.35, 1, 2, 3, 5, 7, 9)).Standings()
	if slow[5].Verdict != Slow {
		t.Errorf("a wheel that loses a third of what is expected: %+v", slow[5])
	}
}

func TestAnotherWheelsWeightIsDoubtedAndFitsItsOwn(t *testing.T) {
	mine, sister := Estimate(pressed(0.8, 1, 2, 4, 6, 8)), Estimate(pressed(1.5, 1, 2, 4, 6, 8))
	p := Point{Day: 9, Loss: quantity.Fraction(sister.Loss(9).Best), SD: 0.0006}
	a, b := mine.Judge(p), sister.Judge(p)
	if a.Verdict != Unlikely || b.Verdict == Unlikely || math.Abs(b.Z) > 1 {
		t.Errorf("for the wheel %s (z %.1f), for the sister %s (z %.1f)", a.Verdict, a.Z, b.Verdict, b.Z)
	}
}

func TestOneWildWeightMovesLittle(t *testing.T) {
	good := Estimate(pressed(1, 1, 2, 3, 5, 7, 9))
	for _, off := range []float64{0.05, -0.05, 0.3, -0.3, 0.9} {
		s := pressed(1, 1, 2, 3, 5, 7, 9)
		s.Points[4].Loss += quantity.Fraction(off)
		a, b := good.Loss(14), Estimate(s).Loss(14)
		if math.Abs(a.Best-b.Best) > 0.0015 {
			t.Errorf("a weight off by %+.2f moves day 14 from %.4f to %.4f", off, a.Best, b.Best)
		}
	}
}

func TestDatesFollowTheCurve(t *testing.T) {
	f := Estimate(pressed(1.1, 1, 2, 4, 7))
	d, ok := f.DayOfLoss(quantity.Fraction(f.Loss(20).Best))
	if !ok || math.Abs(d.Best-20) > 0.01 || !(d.Low < 20 && d.High > 20) {
		t.Errorf("the loss of day 20 is reached on %+v, %v", d, ok)
	}
	if d, ok := f.DayOfLoss(0.7); ok || !math.IsInf(d.Best, 1) || !math.IsInf(d.High, 1) {
		t.Errorf("more than the water there is, on %+v", d)
	}
	past, _ := f.DayOfLoss(quantity.Fraction(f.Loss(4).Best))
	if width(past) > width(d) || past.High > 7 {
		t.Errorf("a day that is past is known to %+v", past)
	}
}

func TestOtherAirChangesWhatIsToComeAndNothingBefore(t *testing.T) {
	f := Estimate(pressed(1.2, 1, 2, 4, 7))
	damp := f.WithAir(8, []Span{{Air: air.State{Temp: 12, RH: 0.93}, Movement: air.Gentle}})
	if a, b := f.Loss(7).Best, damp.Loss(7).Best; math.Abs(a-b) > 2e-4 {
		t.Errorf("day 7 was %.5f, is %.5f", a, b)
	}
	if a, b := f.Loss(60).Best, damp.Loss(60).Best; b > 0.9*a {
		t.Errorf("day 60: %.4f at 93 %%, %.4f at 85 %%", b, a)
	}
	same := f.WithAir(8, cellar)
	if a, b := f.Loss(60).Best, same.Loss(60).Best; math.Abs(a-b) > 3e-4 {
		t.Errorf("the same air moves day 60 from %.5f to %.5f", a, b)
	}
	coated := f.WithCoat(CoatOn{Day: 8, Coat: Film})
	if a, b := f.Loss(60).Best-f.Loss(8).Best, coated.Loss(60).Best-coated.Loss(8).Best; b > 0.3*a {
		t.Errorf("in film %.4f from day 8 to 60, bare %.4f", b, a)
	}
}

func TestTheRegimeTellsAWetSurfaceFromADryOne(t *testing.T) {
	f := Estimate(pressed(1))
	early, late := f.RatePerDay(0.1).Best/f.WetRatePerDay(0.1), f.RatePerDay(30).Best/f.WetRatePerDay(30)
	if early < 0.6 || late > 0.25 {
		t.Errorf("rate over wet rate: %.2f in the first hours, %.2f on day 30", early, late)
	}
}

func TestMoistureFollowsTheLoss(t *testing.T) {
	// By hand: 38 % at the start and 5 % lost leave 1 - 0.62/0.95 = 34.74 %.
	s := pressed(1)
	s.Cheese.Moisture = 0.38
	f := Estimate(s)
	d, _ := f.DayOfLoss(0.05)
	if m := f.Moisture(d.Best); math.Abs(m.Best-0.34737) > 1e-4 || m.Low >= m.Best {
		t.Errorf("moisture %+v", m)
	}
}

func TestARoomsWaterIsTheSumOfItsWheels(t *testing.T) {
	f := Estimate(pressed(1.1, 1, 2, 4, 7))
	var one, two Load
	one.Add(f, 2000, 7)
	if want := f.RatePerDay(7).Best * 2000 / 24; math.Abs(one.Now.Best-want) > 1e-9 {
		t.Errorf("%.3f g/h, want %.3f", one.Now.Best, want)
	}
	two.Add(f, 2000, 7)
	two.Add(f, 2000, 7)
	if math.Abs(two.InAWeek.Best-2*one.InAWeek.Best) > 1e-9 || two.Now.Best <= two.InAWeek.Best {
		t.Errorf("two wheels give %+v, one %+v", two, one)
	}
}

// waxed is a made-up 2 kg hard wheel with a coat on day 8, weighed on the days
// given with the losses given.
func waxed(k Coat, dayLoss ...float64) Subject {
	s := Subject{Cheese: Cheese{Green: 2000, Group: Hard}, Air: cellar, Coats: []CoatOn{{Day: 8, Coat: k}}}
	for i := 0; i < len(dayLoss); i += 2 {
		s.Points = append(s.Points, Point{Day: dayLoss[i], Loss: quantity.Fraction(dayLoss[i+1]), SD: 0.0006})
	}
	return s
}

func verdicts(f Forecast) (v []Verdict) {
	for _, s := range f.Standings() {
		v = append(v, s.Verdict)
	}
	return v
}

func TestWeighingsAfterACoatAreJudgedByWhatACoatMayDo(t *testing.T) {
	on := OnCurve
	for _, c := range []struct {
		name  string
		s     Subject
		want  []Verdict
		leaks bool
	}{
		{"weighed green, on day 2 and at the coat, then three months later in sound wax",
			waxed(Wax, 2, 0.012, 8, 0.030, 100, 0.034), []Verdict{on, on, on}, false},
		{"2 % at the coat, 2.3 % three months later is the good case", waxed(Wax, 2, 0.011, 8, 0.020, 98, 0.023),
			[]Verdict{on, on, on}, false},
		{"not a gram lost under the wax", waxed(Wax, 2, 0.012, 5, 0.022, 8, 0.031, 40, 0.031, 70, 0.031),
			[]Verdict{on, on, on, on, on}, false},
		{"a leak weighed every four weeks", waxed(Wax, 2, 0.016, 8, 0.034, 36, 0.061, 63, 0.080),
			[]Verdict{on, on, on, on}, true},
		{"wax dipped thin is no leak", waxed(Wax, 2, 0.012, 5, 0.022, 8, 0.031, 36, 0.042, 63, 0.050),
			[]Verdict{on, on, on, on, on}, false},
		{"a film that leaks is a leak and no slip of the hand",
			waxed(Film, 1, 0.009, 2, 0.016, 4, 0.023, 8, 0.034, 36, 0.068, 63, 0.086, 90, 0.100), []Verdict{on, on, on, on,
				Fast, Fast, Fast}, true},
		{"one slip of the hand under a film is no leak",
			waxed(Film, 1, 0.009, 2, 0.016, 4, 0.023, 8, 0.034, 36, 0.055, 63, 0.0355, 90, 0.036), []Verdict{on, on, on, on,
				Unlikely, on, on}, false},
		{"one weighing after the coat tells of no leak yet", waxed(Wax, 2, 0.012, 8, 0.030, 36, 0.065),
			[]Verdict{on, on, on}, false},
	} {
		f := Estimate(c.s)
		if d := cmp.Diff(c.want, verdicts(f)); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
		if why, leaks := f.Leaking(); leaks != c.leaks || leaks != (why != Leaks{}) {
			t.Errorf("%s: leaks %v, %+v", c.name, leaks, why)
		}
		for i, s := range f.Standings() {
			p := c.s.Points[i]
			if s.Verdict != Unlikely && math.Abs(f.Loss(p.Day).Best-float64(p.Loss)) > 0.0025 {
				t.Errorf("%s: the own curve has %.4f on day %g, where %.4f was weighed", c.name, f.Loss(p.Day).Best, p.Day, p.Loss)
			}
		}
	}
	if f := Estimate(waxed(Wax, 2, 0.011, 8, 0.020, 98, 0.023)).CoatFactor(); f.Best > 0.1 || f.High > 0.2 {
		t.Errorf("wax that holds passes %+v", f)
	}
}

func TestTheOwnCurveFollowsTheLastWeighingAndForgetsItSlowly(t *testing.T) {
	for _, own := range []float64{0.6, 1, 1.5} {
		s := pressed(own, 1, 2, 4, 7, 11, 16)
		last := &s.Points[5]
		last.Loss += 0.002
		last.SD = 0.0002
		f := Estimate(s)
		if e := f.Loss(16); math.Abs(e.Best-float64(last.Loss)) > 0.0006 || e.Low > float64(last.Loss) ||
			e.High < float64(last.Loss) {
			t.Errorf("%g: %+v on the day %.4f was weighed", own, e, last.Loss)
		}
		prev := 0.0
		for _, d := range []float64{16, 20, 30, 60, 120, 250, 500, 1000} {
			e := f.Loss(d)
			if w := width(e); w < prev-1e-4 || w > 0.2 {
				t.Errorf("%g: on day %g the interval is %+v", own, d, e)
			} else {
				prev = w
			}
		}
	}
}
