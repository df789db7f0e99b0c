package drying

import (
	"math"
	"slices"

	"rindkeep/cave/quantity"
)

// Track is a forecast written down: the loss and its rate on some days from one on,
// and between them by cubics of the root of time through the four nearest. Its losses are
// the forecast's to 0.05 points, mostly far less, and so are its rates; the ends of its
// intervals to some hundredths of their width. The zero value covers nothing.
type Track struct {
	From float64 // days since drying began
	Marks
	Green quantity.Grams // the weight that losses are shares of
	Left  float64        // the share of it that was left when the wheel's mass was last known
}

// Marks are a track's figures, each on From and trackDays after it. Wet is empty but for a
// wheel without weights, whose moisture follows from nothing else.
type Marks struct{ Losses, Rates, Wet []quantity.Estimate }

// LongTrack is a track of LongMarks figures, without Wet, and what a coat to come makes of it.
type LongTrack struct {
	Track
	Sealed []quantity.Estimate // the loss from the coat's day on, on trackDays after it; none: no coat
}

// trackDays are the days after its beginning that a track is written down for: close
// together at first, where the rate is taken over parts of a day. Our choice.
var trackDays = [...]float64{
	0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1, 1.25, 1.5, 1.75, 2, 2.5, 3, 4, 5, 6.5, 8, 10, 12, 15, 18, 22, 27,
	33, 40, 48, 58, 70, 85, 100, 120, TrackDays, 200, 270, 365, 500, 700, longDays,
}

// TrackStep is the distance of a track's figures on its first day, days: our choice.
const TrackStep = 0.125

// trackRoots are the square roots of trackDays: what spreads, spreads with the root of
// time at first.
var trackRoots = func() (r [len(trackDays)]float64) {
	for i, d := range trackDays {
		r[i] = math.Sqrt(d)
	}
	return r
}()

// How long tracks are, days: our choice. A year can be looked ahead at a wheel that was weighed
// long ago.
const TrackDays, longDays = 150, 1000

// LongMarks and TrackMarks are how many figures of each kind a long track and a track have.
const (
	LongMarks  = len(trackDays)
	TrackMarks = LongMarks - 6 // up to TrackDays: by definition
)

// Track writes the forecast down from a day on. The wheel's mass was last known on the day
// known.
func (f Forecast) Track(from, known float64) Track {
	t := f.track(from, known, trackDays[:TrackMarks])
	if f.used == 0 {
		for _, d := range trackDays[:TrackMarks] {
			t.Wet = append(t.Wet, f.Moisture(from+d))
		}
	}
	return t
}

// LongTrack is Track for longer, with a coat to come where on isn't nil.
func (f Forecast) LongTrack(from, known float64, on *CoatOn) LongTrack {
	f.Ahead(from + longDays)
	t := LongTrack{Track: f.track(from, known, trackDays[:])}
	if on == nil {
		return t
	}
	sealed := f.WithCoat(*on)
	sealed.Ahead(on.Day + longDays)
	for _, d := range trackDays {
		t.Sealed = append(t.Sealed, sealed.Loss(on.Day+d))
	}
	return t
}

func (f Forecast) track(from, known float64, days []float64) Track {
	t := Track{From: from, Green: f.Start().Green, Left: 1}
	if known > 0 {
		t.Left = 1 - f.Loss(known).Best
	}
	t.Losses, t.Rates = make([]quantity.Estimate, 0, len(days)), make([]quantity.Estimate, 0, len(days))
	for _, d := range days {
		t.Losses, t.Rates = append(t.Losses, f.Loss(from+d)), append(t.Rates, f.RatePerDay(from+d))
	}
	return t
}

// Covers says whether the track reaches a day.
func (t Track) Covers(day float64) bool { return len(t.Losses) > 0 && t.Near(day) == day }

// Near is the day nearest to a day that the track covers.
func (t Track) Near(day float64) float64 {
	return math.Min(math.Max(day, t.From), t.From+trackDays[max(len(t.Losses), 1)-1])
}

// Loss is the loss on a day, as the forecast's; unknown on a day that isn't covered.
func (t Track) Loss(day float64) quantity.Estimate { return at(t.Losses, day-t.From) }

// RatePerDay is the rate on a day.
func (t Track) RatePerDay(day float64) quantity.Estimate { return at(t.Rates, day-t.From) }

// Moisture is the moisture on a day of a wheel without weights.
func (t Track) Moisture(day float64) quantity.Estimate { return at(t.Wet, day-t.From) }

// Between is what is lost from one day to another; days that aren't covered count as the
// nearest.
func (t LongTrack) Between(from, to float64) quantity.Estimate {
	return less(t.Loss(t.Near(to)), t.Loss(t.Near(from)))
}

// Under is what is lost in days after the coat went on; as without one if there's none.
func (t LongTrack) Under(coat, days float64) quantity.Estimate {
	if len(t.Sealed) == 0 {
		return t.Between(coat, coat+days)
	}
	return less(at(t.Sealed, math.Min(days, longDays)), t.Sealed[0])
}

func less(a, b quantity.Estimate) quantity.Estimate {
	return quantity.Estimate{Best: a.Best - b.Best, Low: a.Low - b.Low, High: a.High - b.High}
}

// at is what marks say d days after their beginning.
func at(marks []quantity.Estimate, d float64) (e quantity.Estimate) {
	n := len(marks)
	if n == 0 || !(d >= 0) || d > trackDays[n-1] {
		return quantity.Unknown()
	}
	i, found := slices.BinarySearch(trackDays[:n], d)
	if found {
		return marks[i]
	}
	first := min(max(i-2, 0), n-4)
	x := math.Sqrt(d)
	for k := first; k < first+4; k++ {
		w := 1.0
		for m := first; m < first+4; m++ {
			if m != k {
				w *= (x - trackRoots[m]) / (trackRoots[k] - trackRoots[m])
			}
		}
		e.Best, e.Low, e.High = e.Best+w*marks[k].Best, e.Low+w*marks[k].Low, e.High+w*marks[k].High
	}
	e.Low, e.High = math.Min(e.Low, e.Best), math.Max(e.High, e.Best)
	return e
}
