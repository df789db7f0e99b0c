package verdict

import (
	"math"
	"testing"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// A wheel that came at 40 days: nothing is a green weight, losses count from the first
// weight here, and what was lost before is a guess that the gate and the moisture use.
func TestAWheelThatCameHasNoGreenWeight(t *testing.T) {
	loc := time.UTC
	v := cheddar(t)
	made := wheel.Make{Date: 20000, Lot: "F-1", Variety: v.Name, Start: wheel.Composition{
		Moisture: 0.38, MoistureSD: 0.015, Fat: 0.32, FatSD: 0.01, Salt: 0.018, SaltSD: 0.002,
	}}
	came := (made.Date + 40).Noon(loc)
	entry := func(days float64, e wheel.Entry) wheel.Entry {
		e.At = came.Add(time.Duration(days * 24 * float64(time.Hour)))
		e.Written, e.ID = e.At, [16]byte{15: byte(10*days) + byte(e.Kind)}
		return e
	}
	life := func(es ...wheel.Entry) Case {
		w := wheel.Wheel{Tag: "F-1-01", Place: "cellar", Plan: "waxed-hard", Since: came}
		c := Case{Life: wheel.NewLife(w, made, es, loc, nil), Variety: v, Gate: DefaultGate(), Loc: loc}
		c.Air, c.HygrometerSD = c.Spans(came.AddDate(0, 0, 14), cellars{})
		c.Kept = KeptIn(c.Life, v, cellars{})
		return c
	}
	arrival := entry(0, wheel.Entry{Kind: wheel.Received, Detail: wheel.Arrival{Supplier: "Fern Bank"}.Detail()})
	c := life(arrival, entry(0, wheel.Entry{Kind: wheel.Weighed, Weight: 2000}),
		entry(7, wheel.Entry{Kind: wheel.Weighed, Weight: 1992}))

	if age := c.Age(); math.Abs(age-39) > 0.01 {
		t.Errorf("it had dried %v days, want 39", age)
	}
	if first := c.Air[0]; math.Abs(first.FromDay+39) > 0.01 {
		t.Errorf("before it came the air is %+v", first)
	}
	f := c.Forecast()
	b := f.Before()
	if !(b.Low > 0.005 && b.Low < b.Best && b.Best < b.High && b.High < 0.2) {
		t.Errorf("lost before it came: %+v", b)
	}
	d := c.Dry(came.AddDate(0, 0, 7))
	if math.Abs(float64(d.Loss)-0.004) > 1e-9 {
		t.Errorf("loss %v, want 0.4 %% since it came", d.Loss)
	}
	if m := d.Moisture; !(m.Best < 0.375 && m.High-m.Low > 0.04) {
		t.Errorf("moisture %+v, want less than the fresh cheese's, and wide", m)
	}
	// 60 days at 1.7 C: none of those elsewhere count.
	days, unread, away := c.warmDays(made.Date.Start(loc), came.AddDate(0, 0, 7), 1.7)
	if math.Abs(days-7) > 0.01 || math.Abs(unread-7) > 0.01 || math.Abs(away-40.5) > 0.01 {
		t.Errorf("%v days, %v of them without a reading, %v elsewhere", days, unread, away)
	}

	// The model's guess of the moisture stays what it is with the room's.
	same := c.Start(f).After(0).Moisture
	if at := f.Moisture(0); math.Abs(at.Best-same.Best) > 1e-9 || math.Abs(at.SD()-same.SD()) > 1e-3 {
		t.Errorf("%+v and %+v", at, same)
	}

	// Never weighed, and of a make without a date.
	made.MadeBefore = true
	c = life(arrival)
	if age := c.Age(); age < float64(v.ReadyDays)/2-1 {
		t.Errorf("of an unknown make date its age is taken as %v days", age)
	}
	if w := c.Windows(); w.WeighFrom != made.Date+47 {
		t.Errorf("weigh it from day %d", w.WeighFrom-made.Date)
	}
	if c.Forecast().Basis() != drying.FromPrior {
		t.Error("nothing was weighed")
	}
	if r := life(entry(30, wheel.Entry{Kind: wheel.Weighed, Weight: 2000})).late(came); r != nil {
		t.Errorf("a make without a date: %v", r)
	}
	made.MadeBefore = false
	if r := life(entry(0, wheel.Entry{Kind: wheel.Weighed, Weight: 2000})).late(came); r != (LateFirst{40}) {
		t.Errorf("a first weight 40 days after the make: %v", r)
	}
}

// Whatever the model guesses of the time before a wheel came, it isn't dry enough by one weight: it's weighed again.
func TestAWheelWeighedOnceIsNeverDryEnough(t *testing.T) {
	for _, c := range []struct {
		name    string
		weights []float64 // a day apart from the day it came
		want    Answer
		coat    bool
	}{
		{"weighed once", []float64{2000}, WeighAgain, false},
		{"weighed twice", []float64{2000, 1999}, DryEnough, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := &book{tag: "a"}
			b.on(0, wheel.Entry{Kind: wheel.TakenOver})
			b.weights(c.weights...).check(float64(len(c.weights)), sound)
			k := b.of(t, Gate{MaxSurface: 100, MaxMoisture: 1, CheckDays: 2, WeighDays: 14})
			v := k.Dry(noon(len(c.weights)))
			if v.Answer != c.want || c.want == WeighAgain && !v.Advice.Equal(reason.List{WeighedOnce{}}) {
				t.Errorf("%s, %s; want %s", v.Answer, said(v.Advice), c.want)
			}
			if w := k.Windows(); (w.CoatFrom != day.None) != c.coat || w.CheckFrom != day.None && !c.coat {
				t.Errorf("to coat from %v, to check from %v, to weigh from %v", w.CoatFrom, w.CheckFrom, w.WeighFrom)
			}
		})
	}
}
