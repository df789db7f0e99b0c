package verdict

import (
	"math"
	"testing"
	"time"

	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety"
)

// 21 CFR 133.113: cheddar of raw milk is cured at least 60 days at not less
// than 35 F (1.67 C); only time at or above it counts.
func TestRawMilkDaysCountOnlyWhileTheAirIsWarmEnough(t *testing.T) {
	made := day.Of(2026, 9, 1)
	v := variety.Variety{Limits: variety.Limits{RawMinDays: 60, RawMinTemp: 1.67, Source: "21 CFR 133.113"}}
	at := func(days float64) time.Time {
		return made.Start(time.UTC).Add(time.Duration(days * 24 * float64(time.Hour)))
	}
	span := func(from float64, temp quantity.Celsius) drying.Span {
		return drying.Span{FromDay: from, Air: air.State{Temp: temp, RH: 0.85}, Movement: air.Gentle}
	}
	for _, c := range []struct {
		name string
		milk wheel.Treatment
		air  []drying.Span
		day  float64
		have float64
		held bool
	}{
		{"pasteurised milk is not held", wheel.Pasteurised, []drying.Span{span(0, 11)}, 5, 0, false},
		{"raw milk is held for sixty days", wheel.Raw, []drying.Span{span(0, 11)}, 59, 59, true},
		{"and free after them", wheel.Raw, []drying.Span{span(0, 11)}, 60, 60, false},
		{"days in a colder room do not count", wheel.Raw, []drying.Span{span(0, 11), span(20, 1), span(30, 11)}, 61, 51, true},
		{"exactly the lawful temperature counts", wheel.Raw, []drying.Span{span(0, 1.67)}, 60, 60, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			// Unweighed, drying begins at noon of the day after the make: day 0
			// of the spans is 1.5 days after the make's first hour.
			air := append([]drying.Span(nil), c.air...)
			for i := range air {
				if i > 0 {
					air[i].FromDay -= 1.5
				}
			}
			k := Case{Life: wheel.Life{Make: wheel.Make{Date: made, Milk: wheel.Milk{Treatment: c.milk}}}, Variety: v, Air: air, Loc: time.UTC}
			h, held := k.RawMilk(at(c.day))
			if held != c.held || c.milk == wheel.Raw && math.Abs(h.Have-c.have) > 1e-9 {
				t.Errorf("held %v with %.3f days, want %v with %.3f", held, h.Have, c.held, c.have)
			}
		})
	}
}
