package day

import (
	"math"
	"time"
)

// Moments is ParseMoment for long lists: the plain ways to write a date and
// time (2026-11-25, "2026-11-25 08:30", 2026-11-25T08:30:15) are read by their
// digits, and what the zone makes of a day is remembered from one to the next.
// All else goes to ParseMoment. It is for one goroutine.
type Moments struct {
	today Date
	loc   *time.Location

	last  Date
	shift int64 // ms to add to UTC's to have the zone's clock on last
	even  bool  // the zone's clock goes evenly all through last
}

// NewMoments reads moments as seen on the day today in the zone loc.
func NewMoments(today Date, loc *time.Location) *Moments {
	return &Moments{today: today, loc: loc, last: None}
}

// Parse is ParseMoment.
func (m *Moments) Parse(s string) (t time.Time, exact bool, err error) {
	d, ms, exact, ok := digits(s)
	if ok {
		if d != m.last {
			m.look(d)
		}
		if m.even {
			if !exact {
				ms = 12 * 3600_000
			}
			return time.UnixMilli(int64(d)*86400_000 + ms - m.shift), exact, nil
		}
	}
	return ParseMoment(s, m.today, m.loc)
}

// Absolute says whether s names its day by year, month and day, so that it
// means the same whenever it is read.
func Absolute(s string) bool {
	_, _, _, ok := digits(s[:min(len(s), 10)])
	return ok
}

// look finds how the zone's clock goes on a date. Its first days are left to
// ParseMoment, which refuses what is before 1970.
func (m *Moments) look(d Date) {
	m.last, m.even = d, false
	if d < 2 {
		return
	}
	noon := d.Noon(m.loc)
	_, offset := noon.Zone()
	// Even where no change falls from a day before to a day after: the bounds
	// of the stretch of one offset that noon lies in.
	from, to := noon.ZoneBounds()
	if !from.IsZero() && from.After(noon.Add(-36*time.Hour)) || !to.IsZero() && to.Before(noon.Add(36*time.Hour)) {
		return
	}
	m.shift, m.even = int64(offset)*1000, true
}

var monthDays = [13]int{0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

// digits reads YYYY-MM-DD, alone or with a clock time of hours and minutes or
// seconds behind a space or T. ms is the time of day.
func digits(s string) (d Date, ms int64, clock, ok bool) {
	two := func(i int) int {
		a, b := s[i]-'0', s[i+1]-'0'
		if a > 9 || b > 9 {
			return -1 << 20
		}
		return int(a)*10 + int(b)
	}
	n := len(s)
	if n != 10 && n != 16 && n != 19 || s[4] != '-' || s[7] != '-' {
		return 0, 0, false, false
	}
	year, month, mday := two(0)*100+two(2), two(5), two(8)
	if year < 1970 || month < 1 || month > 12 || mday < 1 {
		return 0, 0, false, false
	}
	last := monthDays[month]
	leap := year%4 == 0 && (year%100 != 0 || year%400 == 0)
	if month == 2 && leap {
		last = 29
	}
	if mday > last {
		return 0, 0, false, false
	}
	if n > 10 {
		h, mi, sec := two(11), two(14), 0
		if n == 19 {
			sec = two(17)
		}
		if s[10] != ' ' && s[10] != 'T' || s[13] != ':' || n == 19 && s[16] != ':' || h < 0 || h > 23 || mi < 0 || mi > 59 || sec < 0 || sec > 59 {
			return 0, 0, false, false
		}
		ms, clock = int64(h)*3600_000+int64(mi)*60_000+int64(sec)*1000, true
	}
	// Days from civil: years begin in March, so that the leap day ends them.
	y, mo := year, month-3
	if mo < 0 {
		y, mo = y-1, mo+12
	}
	days := y*365 + y/4 - y/100 + y/400 + (153*mo+2)/5 + mday - 1 - 719468
	return Date(days), ms, clock, true
}

// Days is At for many instants in one zone: how far the zone's clock is ahead
// of UTC's is remembered from one to the next. It is for one goroutine.
type Days struct {
	loc      *time.Location
	from, to int64 // s; the clock goes evenly from from until to
	shift    int64 // s by which it is ahead there
}

// NewDays gives dates in the zone loc.
func NewDays(loc *time.Location) *Days { return &Days{loc: loc} }

// At is the date that the instant t has in the zone.
func (d *Days) At(t time.Time) Date {
	u := t.Unix()
	if u < d.from || u >= d.to {
		in := t.In(d.loc)
		_, offset := in.Zone()
		from, to := in.ZoneBounds()
		d.shift, d.from, d.to = int64(offset), math.MinInt64, math.MaxInt64
		if !from.IsZero() {
			d.from = from.Unix()
		}
		if !to.IsZero() {
			d.to = to.Unix()
		}
	}
	u += d.shift
	n := u / 86400
	if u%86400 < 0 {
		n--
	}
	return Date(n)
}
