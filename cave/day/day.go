// Package day is the calendar: a Date is a day on a wall calendar in the book's
// time zone, never an instant. Ages and intervals count dates, so changes of the
// clock don't shift them.
package day

import (
	"fmt"
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

// Twice gives both instants that have the same date and time of day as t in the zone loc;
// ok is false where there's one: the clock shows it twice only where it goes back.
func Twice(t time.Time, loc *time.Location) (first, second time.Time, ok bool) {
	const far = 26 * time.Hour // either side of a change: our choice
	_, before := t.Add(-far).In(loc).Zone()
	_, after := t.Add(far).In(loc).Zone()
	back := time.Duration(before-after) * time.Second
	for _, u := range []time.Time{t.Add(-back), t.Add(back)} {
		if back > 0 && u.In(loc).Format(time.DateTime) == t.In(loc).Format(time.DateTime) {
			if u.Before(t) {
				return u.In(loc), t.In(loc), true
			}
			return t.In(loc), u.In(loc), true
		}
	}
	return t, t, false
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
