// Package day is the calendar: a Date is a day on a wall calendar in the book's
// time zone, never an instant. Ages and intervals count dates, so changes of the
// clock don't shift them.
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

// None means no date: our choice, the least that a Date can be.
const None Date = -1 << 31

// MaxDate is the last day the book can hold, 31 December 9999: our choice.
const MaxDate Date = 2932896

// Of gives the date of a year, month and day of the month. Days out of range
// roll over, as in the time package.
func Of(year int, month time.Month, d int) Date {
	return Date(time.Date(year, month, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// At gives the date of the instant t in the zone loc.
func At(t time.Time, loc *time.Location) Date {
	y, m, d := t.In(loc).Date()
	return Of(y, m, d)
}

// Start is the first instant of the date in the zone loc.
func (d Date) Start(loc *time.Location) time.Time { return d.Clock(0, 0, loc) }

// Noon is 12:00 on the date in the zone loc, the time assumed where only a date
// is known.
func (d Date) Noon(loc *time.Location) time.Time { return d.Clock(12, 0, loc) }

// Clock is the time h:m on the date in the zone loc. A time that the clock skips
// is moved as the time package moves it.
func (d Date) Clock(h, m int, loc *time.Location) time.Time {
	y, mo, dd := d.Civil()
	return time.Date(y, mo, dd, h, m, 0, 0, loc)
}

// Civil gives year, month and day of the month.
func (d Date) Civil() (int, time.Month, int) { return d.utc().Date() }

// AddMonths is the same day so many months later, or the last of the month where it
// has no such day: a month after 31 January is 28 February.
func (d Date) AddMonths(n int) Date {
	y, m, dd := d.Civil()
	last := Of(y, m+time.Month(n)+1, 0)
	return min(Of(y, m+time.Month(n), dd), last)
}

// Weekday gives the day of the week.
func (d Date) Weekday() time.Weekday { return d.utc().Weekday() }

func (d Date) utc() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// Known is false for None.
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

// UnmarshalText reads 2026-11-25, or an empty text as None.
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

// ParseISO reads only 2026-11-25. It refuses dates before 1970 and after 9999.
func ParseISO(s string) (Date, error) {
	t, err := time.Parse("2006-01-02", s)
	if err != nil {
		return None, fmt.Errorf("%q is not a date; write it like 2026-11-25", s)
	}
	if err := inRange(t, s); err != nil {
		return None, err
	}
	return Date(t.Unix() / 86400), nil
}

var weekdays = map[string]time.Weekday{
	"mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday, "thu": time.Thursday,
	"fri": time.Friday, "sat": time.Saturday, "sun": time.Sunday,
}

// weekday reads a day of the week, in full or as its first three letters.
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

// ParsePast is Parse for what has happened: a day of the week is the last such
// day, today included.
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
	if n, ok := offset(w); ok {
		return today + n, nil
	}
	if d, err := ParseISO(w); err == nil || strings.Contains(err.Error(), "1970") {
		return d, err
	}
	return None, fmt.Errorf("%q is not a date; write 2026-11-25, today, yesterday, tomorrow, mon to sun, +3d or -2d", s)
}

// offset reads +3d, -2d or +2w as days, up to a hundred years (our choice).
func offset(w string) (days Date, ok bool) {
	digits, ok := strings.CutSuffix(w, "d")
	unit := Date(1)
	if !ok {
		digits, ok = strings.CutSuffix(w, "w")
		unit = 7
	}
	if !ok || len(digits) < 2 || digits[0] != '+' && digits[0] != '-' {
		return 0, false
	}
	n, err := strconv.ParseUint(digits[1:], 10, 32) // unsigned: no second sign
	if err != nil || n > 36525 {
		return 0, false
	}
	if digits[0] == '-' {
		unit = -unit
	}
	return Date(n) * unit, true
}

// Absolute is true where s begins with a year, month and day, so that it means
// the same whenever it is read.
func Absolute(s string) bool {
	_, err := ParseISO(s[:min(len(s), len("2026-11-25"))])
	return err == nil
}

// ParseMoment reads a date, a clock time, or both: 2026-11-25T08:30,
// "2026-11-25 08:30", RFC 3339 with its own offset, 08:30 (today), or any form
// that Parse reads. For a bare date exact is false and the instant is its noon.
func ParseMoment(s string, today Date, loc *time.Location) (t time.Time, exact bool, err error) {
	w := strings.TrimSpace(s)
	if len(w) > len("2026-11-25") {
		iso := strings.Replace(w, " ", "T", 1)
		for _, f := range []string{
			"2006-01-02T15:04", "2006-01-02T15:04:05", time.RFC3339Nano, "2006-01-02T15:04Z07:00",
		} {
			if t, err := time.ParseInLocation(f, iso, loc); err == nil {
				return t, true, inRange(t, s)
			}
		}
	}
	datePart, clock := splitMoment(w)
	if c, err := time.Parse("15:04", clock); err == nil {
		d, err := Parse(datePart, today)
		if err != nil {
			return time.Time{}, false, err
		}
		t := d.Clock(c.Hour(), c.Minute(), loc)
		return t, true, inRange(t, s)
	}
	d, err := Parse(w, today)
	if err != nil {
		return time.Time{}, false, fmt.Errorf("%q is not a date or time; write 2026-11-25, 2026-11-25T08:30, 08:30, "+
			"tue 18:00, yesterday or -2d", s)
	}
	return d.Noon(loc), false, inRange(d.Noon(loc), s)
}

// splitMoment parts a moment into its date, today by default, and its time.
func splitMoment(w string) (date, clock string) {
	if i := strings.LastIndexAny(w, "T "); i > 0 { // the last one: Tue 07:15 begins with a T
		return w[:i], w[i+1:]
	}
	return "today", w
}

// ParsePastMoment is ParseMoment for what happened no later than the instant
// latest: a day of the week, with or without a clock time, is the last such day
// that fits.
func ParsePastMoment(s string, today Date, latest time.Time, loc *time.Location) (t time.Time, exact bool, err error) {
	w := strings.TrimSpace(s)
	date, _ := splitMoment(w)
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

// inRange refuses instants that the book can't hold: our choice, as MaxDate.
func inRange(t time.Time, s string) error {
	if t.Unix() < 0 {
		return fmt.Errorf("%s is before 1970, earlier than the book can hold", s)
	}
	if t.Year() > 9999 {
		return fmt.Errorf("%s is after the year 9999", s)
	}
	return nil
}
