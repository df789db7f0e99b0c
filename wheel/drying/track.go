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
}

// Marks are a track's figures, each on From and trackDays after it. Wet is empty but for a
// wheel without weights, whose moisture follows from nothing else.
type Marks struct{ Losses, Rates, Wet []quantity.Estimate }

// trackDays are the days after its beginning that a track is written down for: close
// together at first, where the rate is taken over parts of a day. Our choice.
var trackDays = [...]float64{
	0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1, 1.25, 1.5, 1.75, 2, 2.5, 3, 4, 5, 6.5, 8, 10, 12, 15, 18, 22, 27,
	33, 40, 48, 58, 70, 85, 100, 120, TrackDays,
}

// trackRoots are the square roots of trackDays: what spreads, spreads with the root of
// time at first.
var trackRoots = func() (r [len(trackDays)]float64) {
	for i, d := range trackDays {
		r[i] = math.Sqrt(d)
	}
	return r
}()

// TrackMarks is how many figures of each kind a track has.
const TrackMarks = len(trackDays)

// TrackDays is how long a track is, days.
const TrackDays = 150

// Track writes the forecast down from a day on.
func (f Forecast) Track(from float64) Track {
	t := Track{From: from}
	for _, d := range trackDays {
		t.Losses, t.Rates = append(t.Losses, f.Loss(from+d)), append(t.Rates, f.RatePerDay(from+d))
		if f.used == 0 {
			t.Wet = append(t.Wet, f.Moisture(from+d))
		}
	}
	return t
}

// Covers says whether the track reaches a day.
func (t Track) Covers(day float64) bool {
	d := day - t.From
	return len(t.Losses) == TrackMarks && d >= 0 && d <= TrackDays
}

// Loss is the loss on a day, as the forecast's; unknown on a day that isn't covered.
func (t Track) Loss(day float64) quantity.Estimate { return t.at(t.Losses, day) }

// RatePerDay is the rate on a day.
func (t Track) RatePerDay(day float64) quantity.Estimate { return t.at(t.Rates, day) }

// Moisture is the moisture on a day of a wheel without weights.
func (t Track) Moisture(day float64) quantity.Estimate { return t.at(t.Wet, day) }

func (t Track) at(marks []quantity.Estimate, day float64) (e quantity.Estimate) {
	if len(marks) != TrackMarks || !t.Covers(day) {
		return quantity.Unknown()
	}
	d := day - t.From
	i, found := slices.BinarySearch(trackDays[:], d)
	if found {
		return marks[i]
	}
	first := min(max(i-2, 0), TrackMarks-4)
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
