package cave

import (
	"fmt"
	"math"
	"time"

	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
)

// Standing times of a reading: our defaults, common practice, no source.
const (
	// MaxStand is how long a reading is taken to hold when the next is late,
	// for hours out of limits.
	MaxStand = 3 * time.Hour
	// Stale is the age at which a room that is being read counts as not read.
	Stale = 24 * time.Hour
)

// SensorTest is one comparison of a room's hygrometer with the air over a
// saturated salt. Offset is what must be added to a reading.
type SensorTest struct {
	At     time.Time         `json:"at"`
	Salt   string            `json:"salt"`
	Temp   quantity.Celsius  `json:"temp_c"`
	Read   quantity.Fraction `json:"read_fraction"`
	True   quantity.Fraction `json:"true_fraction"`
	Offset quantity.Fraction `json:"offset_fraction"`
	By     string            `json:"by,omitempty"`
}

// StruckReading is a reading taken back: it stays in the book and counts no
// more.
type StruckReading struct {
	At      time.Time `json:"at"`
	Why     string    `json:"why"`
	By      string    `json:"by,omitempty"`
	Written time.Time `json:"written"`
}

// Counts says whether a reading was not taken back.
func (r Room) Counts(rd Reading) bool {
	for _, s := range r.Struck {
		if s.At.Equal(rd.At) {
			return false
		}
	}
	return true
}

// Corrected is a reading with the offset of the latest sensor test made before
// it; without one it is as read. Humidity stays within 0 and 1.
func (r Room) Corrected(rd Reading) Reading {
	var last *SensorTest
	for i := range r.Tests {
		if t := &r.Tests[i]; !t.At.After(rd.At) && (last == nil || t.At.After(last.At)) {
			last = t
		}
	}
	if last != nil {
		rd.RH = min(1, max(0, rd.RH+last.Offset))
	}
	return rd
}

// Out says in words how an air is out of the room's limits, or "".
func (r Room) Out(s air.State) string {
	switch {
	case s.Temp < r.TempLow:
		return fmt.Sprintf("%.1f C is under its limit of %.1f C", float64(s.Temp), float64(r.TempLow))
	case s.Temp > r.TempHigh:
		return fmt.Sprintf("%.1f C is over its limit of %.1f C", float64(s.Temp), float64(r.TempHigh))
	case s.RH < r.RHLow-1e-9:
		return fmt.Sprintf("%.0f %% humidity is under its limit of %.0f %%", s.RH.Percent(), r.RHLow.Percent())
	case s.RH > r.RHHigh+1e-9:
		return fmt.Sprintf("%.0f %% humidity is over its limit of %.0f %%", s.RH.Percent(), r.RHHigh.Percent())
	}
	return ""
}

// Alarm says what is wrong with a room's air now, from its last reading (as
// corrected), or "".
func (r Room) Alarm(last Reading, now time.Time) string {
	if age := now.Sub(last.At); age > Stale {
		return fmt.Sprintf("not read for %s", ago(age))
	}
	return r.Out(last.State())
}

func ago(d time.Duration) string {
	if h := int(d.Hours()); h < 48 {
		return fmt.Sprintf("%d hours", h)
	}
	return fmt.Sprintf("%d days", int(d.Hours()/24))
}

// Range is the least, mean and greatest of a figure.
type Range struct{ Min, Mean, Max float64 }

// DayAir is one day of a room's air. HoursOut is how long a reading out of the
// room's limits held.
type DayAir struct {
	Date     day.Date
	Readings int
	Temp     Range // C
	RH       Range // percent
	HoursOut float64
}

// Digest sums readings up by day as they come, in time order. Means are over
// time: each reading holds until the next, MaxStand at the most.
type Digest struct {
	Room  Room
	Loc   *time.Location
	Days  []DayAir
	Gaps  int           // times between readings longer than MaxStand
	Worst time.Duration // the longest of them

	last  Reading
	any   bool
	hours float64 // of the day being summed
}

// Add takes the next reading, as corrected.
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
		d.Days = append(d.Days, DayAir{Date: on, Temp: Range{math.Inf(1), 0, math.Inf(-1)}, RH: Range{math.Inf(1), 0, math.Inf(-1)}})
		d.hours = 0
	}
	x := &d.Days[len(d.Days)-1]
	x.Readings++
	x.Temp.Min, x.Temp.Max = min(x.Temp.Min, float64(rd.Temp)), max(x.Temp.Max, float64(rd.Temp))
	x.RH.Min, x.RH.Max = min(x.RH.Min, rd.RH.Percent()), max(x.RH.Max, rd.RH.Percent())
	d.last, d.any = rd, true
}

// hold gives the last reading its time in the day it was taken.
func (d *Digest) hold(t time.Duration) {
	x := &d.Days[len(d.Days)-1]
	h := t.Hours()
	x.Temp.Mean += h * float64(d.last.Temp)
	x.RH.Mean += h * d.last.RH.Percent()
	d.hours += h
	if d.Room.Out(d.last.State()) != "" {
		x.HoursOut += h
	}
}

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

// Close lets the last reading hold until now, MaxStand at the most, and ends
// the last day.
func (d *Digest) Close(now time.Time) {
	if d.any {
		d.hold(max(0, min(now.Sub(d.last.At), MaxStand)))
	}
	d.finish()
}
