package cave

import (
	"math"
	"slices"
	"time"

	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// How long a reading speaks for its room: our defaults.
const (
	// MaxStand is how long a reading is assumed to hold when the next one is
	// late.
	MaxStand = 3 * time.Hour
	// Stale is the age of the last reading from which a room counts as unread.
	Stale = 24 * time.Hour
)

// SensorTest is one comparison of a room's hygrometer with the air over a
// saturated salt. Add Offset to a reading to correct it.
type SensorTest struct {
	At     time.Time         `json:"at"`
	Salt   string            `json:"salt"`
	Temp   quantity.Celsius  `json:"temp_c"`
	Read   quantity.Fraction `json:"read_fraction"`
	True   quantity.Fraction `json:"true_fraction"`
	Offset quantity.Fraction `json:"offset_fraction"`
	By     string            `json:"by,omitempty"`
}

// StruckReading is a cancelled reading: it stays in the book but no longer
// counts.
type StruckReading struct {
	At      time.Time `json:"at"`
	Why     string    `json:"why"`
	By      string    `json:"by,omitempty"`
	Written time.Time `json:"written"`
}

// Counts is false for a cancelled reading. One that was entered again since counts.
func (r Room) Counts(rd Reading) bool {
	return !slices.ContainsFunc(r.Struck, func(s StruckReading) bool {
		return s.At.Equal(rd.At) && !rd.Written.After(s.Written)
	})
}

// Corrected adds the offset of the latest sensor test made before the reading,
// if there is one, and keeps the humidity within 0 and 1.
func (r Room) Corrected(rd Reading) Reading {
	if last := r.test(rd.At); last != nil {
		rd.RH = min(1, max(0, rd.RH+last.Offset))
	}
	return rd
}

// test is the latest sensor test by an instant; nil where there is none.
func (r Room) test(at time.Time) (last *SensorTest) {
	for i := range r.Tests {
		if t := &r.Tests[i]; !t.At.After(at) && (last == nil || t.At.After(last.At)) {
			last = t
		}
	}
	return last
}

// A hygrometer is off by testedSD, one standard deviation, for testHolds after a
// test: the salts are good to 2 points (CRC Handbook), and one of them says little
// of humidities far from its own. Our choice; that it's tested each year is common
// practice, no source.
const (
	testedSD  quantity.Fraction = 0.015
	testHolds                   = 366 * 24 * time.Hour
)

// HygrometerSD is how far off a room's hygrometer may be at an instant, one
// standard deviation; 0 where it wasn't tested in the year before.
func (r Room) HygrometerSD(at time.Time) quantity.Fraction {
	if last := r.test(at); last != nil && at.Sub(last.At) <= testHolds {
		return testedSD
	}
	return 0
}

// Out says how an air is out of the room's limits; nil where it is not.
func (r Room) Out(s air.State) reason.Reason {
	switch {
	case s.Temp < r.TempLow:
		return TooCold{s.Temp, r.TempLow}
	case s.Temp > r.TempHigh:
		return TooWarm{s.Temp, r.TempHigh}
	case s.RH < r.RHLow-1e-9:
		return TooDry{s.RH, r.RHLow}
	case s.RH > r.RHHigh+1e-9:
		return TooHumid{s.RH, r.RHHigh}
	}
	return nil
}

// Alarm says what is wrong with a room's air now, from its last reading (as
// corrected); empty where nothing is.
func (r Room) Alarm(last Reading, now time.Time) reason.List {
	if age := now.Sub(last.At); age > Stale {
		return reason.List{NotRead{int(age.Hours())}}
	}
	return reason.ListOf(r.Out(last.State()))
}

// Range is the lowest, mean and highest value of a figure.
type Range struct{ Min, Mean, Max float64 }

// empty is the range before any value; its mean is still a sum.
var empty = Range{math.Inf(1), 0, math.Inf(-1)}

// widen takes in the extremes of another range.
func (r *Range) widen(low, high float64) { r.Min, r.Max = min(r.Min, low), max(r.Max, high) }

// DayAir is one day of a room's air. HoursOut is how long its air was outside
// the room's limits.
type DayAir struct {
	Date     day.Date
	Readings int
	Temp     Range // C
	RH       Range // percent
	HoursOut float64
}

// Digest summarizes readings by day. Means are weighted by time: a reading holds
// until the next one, but never longer than MaxStand.
type Digest struct {
	Room  Room
	Loc   *time.Location
	Days  []DayAir
	Gaps  int           // intervals between readings longer than MaxStand
	Worst time.Duration // the longest of them

	last  Reading
	any   bool
	hours float64 // that readings of the current day have held so far
}

// Add takes the next reading in time order, already corrected.
func (d *Digest) Add(rd Reading) {
	if d.any {
		gap := rd.At.Sub(d.last.At)
		if gap > MaxStand {
			d.Gaps++
			d.Worst = max(d.Worst, gap)
		}
		d.hold(min(gap, MaxStand))
	}
	on := day.At(rd.At, d.Loc)
	if n := len(d.Days); n == 0 || d.Days[n-1].Date != on {
		d.finish()
		d.Days = append(d.Days, DayAir{Date: on, Temp: empty, RH: empty})
		d.hours = 0
	}
	x := &d.Days[len(d.Days)-1]
	x.Readings++
	x.Temp.widen(float64(rd.Temp), float64(rd.Temp))
	x.RH.widen(rd.RH.Percent(), rd.RH.Percent())
	d.last, d.any = rd, true
}

// hold adds the time that the last reading held to the day it was taken on.
func (d *Digest) hold(t time.Duration) {
	x := &d.Days[len(d.Days)-1]
	h := t.Hours()
	x.Temp.Mean += h * float64(d.last.Temp)
	x.RH.Mean += h * d.last.RH.Percent()
	d.hours += h
	if d.Room.Out(d.last.State()) != nil {
		x.HoursOut += h
	}
}

// finish turns the day's sums into means. A day has at most 25 hours by definition,
// when summer time ends.
func (d *Digest) finish() {
	if len(d.Days) == 0 {
		return
	}
	x := &d.Days[len(d.Days)-1]
	if d.hours > 0 {
		x.Temp.Mean /= d.hours
		x.RH.Mean /= d.hours
	} else {
		x.Temp.Mean, x.RH.Mean = float64(d.last.Temp), d.last.RH.Percent()
	}
	x.HoursOut = min(x.HoursOut, 25)
}

// Close ends the last day: its last reading holds until now or for MaxStand.
func (d *Digest) Close(now time.Time) {
	if d.any {
		d.hold(max(0, min(now.Sub(d.last.At), MaxStand)))
	}
	d.finish()
}

// Over summarizes several days: their extremes, the mean of their means, and
// how many readings they have.
func Over(days []DayAir) (temp, rh Range, readings int) {
	if len(days) == 0 {
		return temp, rh, 0
	}
	temp, rh = empty, empty
	for _, d := range days {
		temp.widen(d.Temp.Min, d.Temp.Max)
		rh.widen(d.RH.Min, d.RH.Max)
		temp.Mean += d.Temp.Mean / float64(len(days))
		rh.Mean += d.RH.Mean / float64(len(days))
		readings += d.Readings
	}
	return temp, rh, readings
}
