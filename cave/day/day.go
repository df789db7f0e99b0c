// Package day is the calendar: a Date is a day on a wall calendar in the
// book's own zone, never an instant. Ages and intervals count dates, so a
// night of 23 or 25 hours moves nothing.
package day

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Date is a calendar day, counted from 1 January 1970 (0). The zero value is
// that day; use None for no date.
type Date int32

// None stands for no date.
const None Date = -1 << 31

// MaxDate is the last day the book can hold, 31 December 9999.
const MaxDate Date = 2932896

// Of gives the date of a year, month and day of the month; out-of-range days
// roll over as in the time package.
func Of(year int, month time.Month, d int) Date {
	return Date(time.Date(year, month, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// At gives the date that the instant t has in the zone loc.
func At(t time.Time, loc *time.Location) Date {
	y, m, d := t.In(loc).Date()
	return Of(y, m, d)
}

// Start is the first instant of the date in the zone loc.
func (d Date) Start(loc *time.Location) time.Time { return d.Clock(0, 0, loc) }

// Noon is 12:00 on the date in the zone loc: the time given to things of which
// only the date is known.
func (d Date) Noon(loc *time.Location) time.Time { return d.Clock(12, 0, loc) }

// Clock is the time h:m on the date in the zone loc. A time that summer time
// skips is moved on as the time package does.
func (d Date) Clock(h, m int, loc *time.Location) time.Time {
	y, mo, dd := d.Civil()
	return time.Date(y, mo, dd, h, m, 0, 0, loc)
}

// Civil gives year, month and day of the month.
func (d Date) Civil() (int, time.Month, int) { return d.utc().Date() }

// Weekday gives the day of the week.
func (d Date) Weekday() time.Weekday { return d.utc().Weekday() }

func (d Date) utc() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// Known says whether d is a date at all.
func (d Date) Known() bool { return d != None }

// String writes 2026-11-25, or "" for None.
func (d Date) String() string {
	if d == None {
		return ""
	}
	return d.utc().Format("2006-01-02")
}

// Short writes "Wed 25 Nov".
func (d Date) Short() string {
	if d == None {
		return ""
	}
	return d.utc().Format("Mon 2 Jan")
}

// Long writes "Wednesday 25 November 2026".
func (d Date) Long() string {
	if d == None {
		return ""
	}
	return d.utc().Format("Monday 2 January 2006")
}

// MarshalText writes the date as 2026-11-25.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads 2026-11-25, or nothing for None.
func (d *Date) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = None
		return nil
	}
	v, err := ParseISO(string(b))
	if err != nil {
		return err
	}
	*d = v
	return nil
}

// ParseISO reads 2026-11-25 and nothing else. Dates before 1970 and after 9999
// are refused.
func ParseISO(s string) (Date, error) {
	t, err := time.Parse("2006-01-02", s)
	if err != nil {
		return None, fmt.Errorf("%q is not a date; write it like 2026-11-25", s)
	}
	d := Date(t.Unix() / 86400)
	if t.Unix() < 0 {
		return None, fmt.Errorf("%s is before 1970, earlier than the book can hold", s)
	}
	return d, nil
}

var weekdays = map[string]time.Weekday{
	"mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday, "thu": time.Thursday,
	"fri": time.Friday, "sat": time.Saturday, "sun": time.Sunday,
}

// weekday reads a day of the week, by its name or the first three letters.
func weekday(s string) (time.Weekday, bool) {
	w := strings.ToLower(strings.TrimSpace(s))
	if len(w) < 3 {
		return 0, false
	}
	wd, ok := weekdays[w[:3]]
	return wd, ok && (len(w) == 3 || w == strings.ToLower(wd.String()))
}

// Parse reads a date as people write it: 2026-11-25, today, yesterday,
// tomorrow, mon to sun (the next such day, today included), +3d, -2d, +2w.
func Parse(s string, today Date) (Date, error) {
	d, err := parse(s, today)
	if err == nil && (d < 0 || d > MaxDate) {
		return None, fmt.Errorf("%q falls outside the years 1970 to 9999", s)
	}
	return d, err
}

// ParsePast is Parse for what has been: a day of the week is the last such day,
// today included.
func ParsePast(s string, today Date) (Date, error) {
	if _, ok := weekday(s); ok && today >= 6 {
		today -= 6
	}
	return Parse(s, today)
}

func parse(s string, today Date) (Date, error) {
	w := strings.ToLower(strings.TrimSpace(s))
	switch w {
	case "today":
		return today, nil
	case "yesterday":
		return today - 1, nil
	case "tomorrow":
		return today + 1, nil
	}
	if wd, ok := weekday(w); ok {
		return today + Date((int(wd)-int(today.Weekday())+7)%7), nil
	}
	if len(w) > 2 && (w[0] == '+' || w[0] == '-') {
		unit := 0
		switch w[len(w)-1] {
		case 'd':
			unit = 1
		case 'w':
			unit = 7
		}
		n, err := strconv.ParseUint(w[1:len(w)-1], 10, 32) // no second sign
		if unit > 0 && err == nil && n <= 36525 {
			if w[0] == '-' {
				unit = -unit
			}
			return today + Date(int(n)*unit), nil
		}
	}
	if d, err := ParseISO(w); err == nil || strings.Contains(err.Error(), "1970") {
		return d, err
	}
	return None, fmt.Errorf("%q is not a date; write 2026-11-25, today, yesterday, tomorrow, mon to sun, +3d or -2d", s)
}

// ParseMoment reads a date, a clock time, or both: 2026-11-25T08:30,
// "2026-11-25 08:30", RFC 3339 with its own offset, 08:30 (today), or any form
// Parse reads. For a bare date exact is false and the instant is its noon.
func ParseMoment(s string, today Date, loc *time.Location) (t time.Time, exact bool, err error) {
	w := strings.TrimSpace(s)
	for _, f := range []string{time.RFC3339Nano, "2006-01-02T15:04Z07:00"} {
		if t, err := time.Parse(f, w); err == nil {
			return t, true, early(t, s)
		}
	}
	for _, f := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02 15:04"} {
		if t, err := time.ParseInLocation(f, w, loc); err == nil {
			return t, true, early(t, s)
		}
	}
	datePart, clock := parted(w)
	if c, err := time.Parse("15:04", clock); err == nil {
		d, err := Parse(datePart, today)
		if err != nil {
			return time.Time{}, false, err
		}
		t := d.Clock(c.Hour(), c.Minute(), loc)
		return t, true, early(t, s)
	}
	d, err := Parse(w, today)
	if err != nil {
		return time.Time{}, false, fmt.Errorf("%q is not a date or time; write 2026-11-25, 2026-11-25T08:30, 08:30, tue 18:00, yesterday or -2d", s)
	}
	return d.Noon(loc), false, early(d.Noon(loc), s)
}

// parted splits a moment into its date, today where none is said, and the rest.
func parted(w string) (date, clock string) {
	if i := strings.LastIndexAny(w, "T "); i > 0 { // the last: Tue 07:15 begins with one
		return w[:i], w[i+1:]
	}
	return "today", w
}

// ParsePastMoment is ParseMoment for what has happened by the instant latest: a
// day of the week, alone or with a clock time, is the last such day on which it
// can have.
func ParsePastMoment(s string, today Date, latest time.Time, loc *time.Location) (t time.Time, exact bool, err error) {
	w := strings.TrimSpace(s)
	date, _ := parted(w)
	_, alone := weekday(w)
	if _, ok := weekday(date); !ok && !alone || today < 7 {
		return ParseMoment(s, today, loc)
	}
	t, exact, err = ParseMoment(s, today-6, loc)
	if err == nil && exact && t.After(latest) {
		return ParseMoment(s, today-7, loc)
	}
	return t, exact, err
}

func early(t time.Time, s string) error {
	if t.Unix() < 0 {
		return fmt.Errorf("%s is before 1970, earlier than the book can hold", s)
	}
	if t.Year() > 9999 {
		return fmt.Errorf("%s is after the year 9999", s)
	}
	return nil
}
