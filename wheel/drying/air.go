package drying

import (
	"cmp"
	"math"
	"sort"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Span is a stretch of air that holds from FromDay (days since drying started)
// until the next span, the last for ever. The first holds from the start
// whatever its FromDay says. Hourly logs give thousands of them.
type Span struct {
	FromDay  float64
	Air      air.State
	Movement air.Movement
}

// defaultAir is taken where no air is known: 12 C, 85 %, gentle. Common
// practice, no source; the band is widened for it.
var defaultAir = Span{Air: air.State{Temp: 12, RH: 0.85}, Movement: air.Gentle}

// AirOutOfOrder is a span of air that doesn't start after the one before it.
type AirOutOfOrder struct {
	Day   float64 `json:"day"`
	After float64 `json:"after_day"`
}

// Code is air-out-of-order.
func (AirOutOfOrder) Code() string { return "air-out-of-order" }

// CheckAir refuses spans out of order, and an air that air.State.Check refuses. No
// spans is good.
func CheckAir(spans []Span) error {
	for i, s := range spans {
		if i > 0 && s.FromDay < spans[i-1].FromDay {
			return reason.Err(AirOutOfOrder{s.FromDay, spans[i-1].FromDay})
		}
		err := cmp.Or(reason.Within("day", s.FromDay, -math.MaxFloat64, math.MaxFloat64), s.Air.Check())
		if err != nil {
			return err
		}
	}
	return nil
}

// window is a stretch the solver takes in one step: mean air, constant coat.
type window struct {
	from, to   float64 // days
	temp       float64 // C, mean
	vapour     float64 // Pa, mean
	convection float64 // W/(m2 K), mean
	pressure   float64 // Pa
	coat       float64 // resistance of the coats, Pa m2 s/kg
	breaks     bool    // air or coat changes by a step at from
}

// stepOf is how long a solver step may be, in days: short after a start or a
// change, where the rind dries, then in proportion to the age, as diffusion
// forgets. Our calibration: halving it moves no curve by 0.05 points
// (TestHalvingTheStepsMovesNoCurve).
func stepOf(sinceBreak, age float64) float64 {
	return min(0.03+0.15*sinceBreak, max(0.75, 0.06*age))
}

// sortedAir is the spans by day, the caller's own where they are so already.
func sortedAir(spans []Span) []Span {
	before := func(i, j int) bool { return spans[i].FromDay < spans[j].FromDay }
	if !sort.SliceIsSorted(spans, before) {
		spans = append([]Span(nil), spans...)
		sort.SliceStable(spans, before)
	}
	return spans
}

// windows cuts 0 to horizon into solver steps. A change of air that holds as
// long as a step, or a coat, starts a new one; what changes faster is averaged,
// vapour pressure and temperature apart. One ends on the day cut, if that is over 0.
// Neither list need be sorted.
func windows(spans []Span, coats []CoatOn, horizon, cut float64) []window {
	if len(spans) == 0 {
		spans = []Span{defaultAir}
	}
	spans = sortedAir(spans)
	coats = append([]CoatOn(nil), coats...)
	sort.SliceStable(coats, func(i, j int) bool { return coats[i].Day < coats[j].Day })
	lasts := func(k int) float64 { // how long span k holds
		if k+1 < len(spans) {
			return spans[k+1].FromDay - spans[k].FromDay
		}
		return math.Inf(1)
	}
	out := make([]window, 0, 128) // our choice: a year or more in steady air takes fewer
	t, since, resist, breaks := 0.0, 0.0, 0.0, true
	span, coat, same := 0, 0, -1 // same: the span that all of the last window lay in
	for t < horizon-1e-9 && len(out) < maxWindows {
		for span+1 < len(spans) && spans[span+1].FromDay <= t+1e-9 {
			span++
			if t > 0 && lasts(span) >= stepOf(math.Inf(1), t) && changed(spans[span-1], spans[span]) {
				since, breaks = 1, true // milder than a fresh wheel or a coat
			}
		}
		for coat < len(coats) && coats[coat].Day <= t+1e-9 {
			resist += coats[coat].Coat.resistance()
			coat++
			since, breaks = 0, true
		}
		end := math.Min(t+stepOf(since, t), horizon)
		if coat < len(coats) && coats[coat].Day < end {
			end = coats[coat].Day
		}
		if cut > t && cut < end {
			end = cut
		}
		for k := span + 1; k < len(spans) && spans[k].FromDay < end; k++ {
			if lasts(k) >= stepOf(math.Inf(1), t) && changed(spans[k-1], spans[k]) {
				end = spans[k].FromDay
			}
		}
		w := window{from: t, to: end, coat: resist, breaks: breaks}
		whole := span+1 == len(spans) || spans[span+1].FromDay >= end
		if n := len(out); n > 0 && whole && span == same {
			o := &out[n-1]
			w.temp, w.vapour, w.convection, w.pressure = o.temp, o.vapour, o.convection, o.pressure
		} else {
			w.average(spans, span)
		}
		same = -1
		if whole {
			same = span
		}
		out = append(out, w)
		since, t, breaks = since+end-t, end, false
	}
	return out
}

// maxWindows bounds the work of a log that breaks at every step: our choice.
const maxWindows = 5000

// changed says whether the air differs enough for a new window: our choice.
func changed(a, b Span) bool {
	return math.Abs(float64(a.Air.Temp-b.Air.Temp)) > 0.5 || math.Abs(float64(a.Air.RH-b.Air.RH)) > 0.01 ||
		a.Movement != b.Movement
}

// average sets the window's air to the mean of the spans over it, from the span
// in force at its start.
func (w *window) average(spans []Span, from int) {
	if from+1 >= len(spans) || spans[from+1].FromDay >= w.to {
		s := spans[from]
		w.temp, w.vapour = float64(s.Air.Temp), float64(air.VapourPressure(s.Air))
		w.convection, w.pressure = s.Movement.Convection(), float64(s.Air.Pressure)
		if w.pressure == 0 {
			w.pressure = float64(air.StandardPressure)
		}
		return
	}
	var temp, vapour, conv, press, total float64
	t := w.from
	for {
		end := w.to
		if from+1 < len(spans) && spans[from+1].FromDay < end {
			end = math.Max(spans[from+1].FromDay, t)
		}
		d := end - t
		s := spans[from]
		p := float64(s.Air.Pressure)
		if p == 0 {
			p = float64(air.StandardPressure)
		}
		temp += d * float64(s.Air.Temp)
		vapour += d * float64(air.VapourPressure(s.Air))
		conv += d * s.Movement.Convection()
		press += d * p
		total += d
		t = end
		if t >= w.to-1e-12 {
			break
		}
		from++
	}
	w.temp, w.vapour, w.convection, w.pressure = temp/total, vapour/total, conv/total, press/total
}

// sameAir says whether two windows have the same air.
func (w *window) sameAir(o *window) bool {
	return w.temp == o.temp && w.vapour == o.vapour && w.convection == o.convection && w.pressure == o.pressure
}

// state is the window's mean air.
func (w window) state() air.State {
	t := quantity.Celsius(w.temp)
	rh := math.Min(1, w.vapour/float64(air.SaturationPressure(t)))
	return air.State{Temp: t, RH: quantity.Fraction(rh), Pressure: quantity.Pascals(w.pressure)}
}
