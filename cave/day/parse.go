package day

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Order is how a date in figures is read, such as 5/6/2026.
type Order uint8

// The orders. Dates that can only be read one way need none.
const (
	Unclear    Order = iota // nobody knows
	DayFirst                // 5 June
	MonthFirst              // 6 May
)

// Reader reads dates and times as people write them.
type Reader struct {
	Today Date
	Order Order
}

// errNoDate is a text that isn't a date in any form.
var errNoDate = errors.New("not a date")

// shortMonth is an errNoDate: a day that the month doesn't have.
type shortMonth struct {
	year  int
	month time.Month
}

func (shortMonth) Is(err error) bool { return err == errNoDate }

func (e shortMonth) Error() string {
	name := e.month.String()
	if e.month == time.February {
		name = fmt.Sprint(name, " ", e.year)
	}
	return fmt.Sprintf("%s has %d days", name, Of(e.year, e.month+1, 1)-Of(e.year, e.month, 1))
}

// notA says of a text that isn't a date what is wrong with it, or else what to write.
func notA(thing, s string, err error, write string) error {
	if short := (shortMonth{}); errors.As(err, &short) {
		return fmt.Errorf("%q is not %s: %v", s, thing, short)
	}
	return fmt.Errorf("%q is not %s; write %s", s, thing, write)
}

// Parse reads a date: 2026-11-25, 25/11/2026, 25.11.2026, 25 Nov, Wed 25 Nov 2026,
// today, yesterday, tomorrow, mon to sun (the next such day, today included), last
// friday, +3d, -2d, +2w. A day of a month without its year is the nearest, or the
// nearest that fits its day of the week.
func (r Reader) Parse(s string) (Date, error) { return r.date(s, false) }

// ParsePast is Parse for what has happened: a day of the week or of a month is the
// last such day, today included. A day of a month that has its day of the week too
// may be ahead.
func (r Reader) ParsePast(s string) (Date, error) { return r.date(s, true) }

func (r Reader) date(s string, past bool) (Date, error) {
	d, err := r.read(s, past)
	switch {
	case errors.Is(err, errNoDate):
		return None, notA("a date", s, err, "2026-11-25, 25 Nov, today, yesterday, tomorrow, mon to sun, +3d or -2d")
	case err == nil && (d < 0 || d > MaxDate):
		return None, fmt.Errorf("%q falls outside the years 1970 to 9999", s)
	}
	return d, err
}

// read is date without the sentence for what is no date at all.
func (r Reader) read(s string, past bool) (Date, error) {
	w := strings.ToLower(strings.TrimSpace(s))
	switch w {
	case "today":
		return r.Today, nil
	case "yesterday":
		return r.Today - 1, nil
	case "tomorrow":
		return r.Today + 1, nil
	}
	last, before := strings.CutPrefix(w, "last ")
	switch wd, ok := weekday(last); {
	case ok && before:
		return r.Today - 1 - since(wd, r.Today-1), nil
	case ok && past && r.Today >= 6:
		return r.Today - since(wd, r.Today), nil
	case ok:
		return r.Today + 6 - since(wd, r.Today+6), nil
	}
	if n, ok := offset(w); ok {
		return r.Today + n, nil
	}
	if _, err := time.Parse(time.DateOnly, w); err == nil {
		return ParseISO(w)
	}
	if d, err := r.figures(w); err != errNoDate {
		return d, err
	}
	return r.named(strings.TrimSpace(s), past)
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

// since is how many days before the date the last such day of the week was.
func since(wd time.Weekday, d Date) Date { return Date((int(d.Weekday()) - int(wd) + 7) % 7) }

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

// civil is the date of a year, month and day of the month; ok is false where there
// is none.
func civil(year, month, d int) (date Date, ok bool) {
	date = Of(year, time.Month(month), d)
	y, m, dd := date.Civil()
	return date, y == year && int(m) == month && dd == d
}

// noSuchDay is what is wrong with a date that civil doesn't find. Every month has 28 days: by definition.
func noSuchDay(year, month, d int) error {
	if month < 1 || month > 12 || d <= 28 {
		return errNoDate
	}
	return shortMonth{year, time.Month(month)}
}

// digits reads a figure of so many digits, and nothing else; 16 bits hold every year:
// our choice.
func digits(s string, least, most int) (int, bool) {
	n, err := strconv.ParseUint(s, 10, 16)
	return int(n), err == nil && len(s) >= least && len(s) <= most
}

// figures reads 25/11/2026, 25.11.2026 and 2026/11/25.
func (r Reader) figures(w string) (Date, error) {
	if iso := strings.ReplaceAll(w, "/", "-"); strings.IndexByte(iso, '-') == 4 {
		if d, err := ParseISO(iso); err == nil {
			return d, nil
		}
		if parts := strings.Split(iso, "-"); len(parts) == 3 {
			y, yok := digits(parts[0], 4, 4)
			m, mok := digits(parts[1], 2, 2)
			d, dok := digits(parts[2], 2, 2)
			if yok && mok && dok {
				return None, noSuchDay(y, m, d)
			}
		}
		return None, errNoDate
	}
	order, parts := r.Order, strings.Split(w, "/")
	if len(parts) == 1 {
		// Dots put the day first. One who writes the month first elsewhere may mean either.
		order = map[Order]Order{Unclear: DayFirst, DayFirst: DayFirst, MonthFirst: Unclear}[order]
		parts = strings.Split(w, ".")
	}
	if len(parts) != 3 {
		return None, errNoDate
	}
	a, aok := digits(parts[0], 1, 2)
	b, bok := digits(parts[1], 1, 2)
	y, yok := digits(parts[2], 4, 4)
	if !aok || !bok || !yok {
		return None, errNoDate
	}
	dayFirst, isDay := civil(y, b, a)
	monthFirst, isMonth := civil(y, a, b)
	switch {
	case !isDay && !isMonth && b > 12:
		return None, noSuchDay(y, a, b)
	case !isDay && !isMonth:
		return None, noSuchDay(y, b, a)
	case !isDay || isMonth && order == MonthFirst:
		return monthFirst, nil
	case !isMonth || a == b || order == DayFirst:
		return dayFirst, nil
	}
	return None, TwoWays{w, dayFirst, monthFirst}
}

// month reads the name of a month, in full or as its first three letters, or Sept; 0 is
// none.
func month(w string) time.Month {
	for m := time.January; m <= time.December; m++ {
		if name := m.String(); strings.EqualFold(w, name) || strings.EqualFold(w, name[:3]) {
			return m
		}
	}
	if strings.EqualFold(w, "sept") {
		return time.September
	}
	return 0
}

// named reads a date with the name of its month: 25 Nov, Wed 25 Nov 2026, Nov 25, 2026.
func (r Reader) named(s string, past bool) (Date, error) {
	words := strings.FieldsFunc(s, func(c rune) bool { return strings.ContainsRune(" ,.", c) })
	if len(words) == 0 {
		return None, errNoDate
	}
	wd, fixed := weekday(words[0])
	if fixed {
		words = words[1:]
	}
	if len(words) != 2 && len(words) != 3 {
		return None, errNoDate
	}
	if month(words[0]) != 0 {
		words[0], words[1] = words[1], words[0]
	}
	m := month(words[1])
	d, ok := digits(words[0], 1, 2)
	if !ok || m == 0 {
		return None, errNoDate
	}
	year, _, _ := r.Today.Civil()
	if len(words) == 3 {
		if year, ok = digits(words[2], 4, 4); !ok {
			return None, errNoDate
		}
	} else if near := r.nearest(year, m, d, func(x Date) bool {
		if fixed { // the weekday fits one of three years, and others too far away to be meant: our choice
			return x.Weekday() == wd && abs(x-r.Today) < 550
		}
		return !past || x <= r.Today
	}); near != None {
		return near, nil
	}
	x, ok := civil(year, int(m), d)
	switch {
	case !ok:
		return None, noSuchDay(year, int(m), d)
	case fixed && x.Weekday() != wd:
		return None, fmt.Errorf("%q can't be right: %s is a %s", s, x.utc().Format("2 January 2006"), x.Weekday())
	}
	return x, nil
}

// nearest is the day of a month that fits and is nearest to today, None if none does.
// A leap day may be eight years off.
func (r Reader) nearest(year int, m time.Month, d int, fits func(Date) bool) Date {
	best := None
	for y := year - 8; y <= year+8; y++ {
		x, ok := civil(y, int(m), d)
		if ok && fits(x) && (best == None || abs(x-r.Today) < abs(best-r.Today)) {
			best = x
		}
	}
	return best
}

func abs(d Date) Date { return max(d, -d) }

// Absolute is true where s names its year, month and day, so that it means the same
// whenever it is read.
func (r Reader) Absolute(s string) bool {
	if _, err := ParseISO(s[:min(len(s), len("2026-11-25"))]); err == nil {
		return true
	}
	// Read on two days (our choice), of which no weekday or day of a month is the nearest
	// to both.
	a, _, err := Reader{Of(1990, time.July, 1), r.Order}.ParseMoment(s, time.UTC)
	if err != nil {
		return false
	}
	b, _, err := Reader{Of(2010, time.July, 3), r.Order}.ParseMoment(s, time.UTC)
	return err == nil && a.Equal(b)
}

// ParseMoment reads a date, a clock time, or both: 2026-11-25T08:30,
// "2026-11-25 08:30", RFC 3339 with its own offset, 08:30, 18.30 or 6pm (today), or
// any form that Parse reads, with or without a clock time. For a bare date exact is
// false and the instant is its noon.
func (r Reader) ParseMoment(s string, loc *time.Location) (t time.Time, exact bool, err error) {
	return r.moment(s, loc, false)
}

func (r Reader) moment(s string, loc *time.Location, past bool) (t time.Time, exact bool, err error) {
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
	if c, ok := parseClock(clock); ok {
		if d, ok := dotted(w, r.Today); ok {
			return time.Time{}, false, fmt.Errorf("%q could be a time or %s; write %s or %q", s,
				d.utc().Format("2 January"), c.Format("15:04"), d.utc().Format("2 Jan"))
		}
		d, err := r.date(datePart, past)
		if err != nil {
			return time.Time{}, false, err
		}
		t := d.Clock(c.Hour(), c.Minute(), loc)
		return t, true, inRange(t, s)
	}
	d, err := r.read(w, past)
	switch {
	case errors.Is(err, errNoDate):
		return t, false, notA("a date or time", s, err,
			"2026-11-25, 2026-11-25T08:30, 08:30, 6pm, tue 18:00, 25 Nov, yesterday or -2d")
	case err != nil:
		return t, false, err
	}
	return d.Noon(loc), false, inRange(d.Noon(loc), s)
}

// splitMoment parts a moment into its date, today by default, and its time.
func splitMoment(w string) (date, clock string) {
	end := len(w)
	if half := strings.ToLower(w[max(0, end-3):]); half == " am" || half == " pm" {
		end -= 3
	}
	if i := strings.LastIndexAny(w[:end], "T "); i > 0 { // the last one: Tue 07:15 begins with a T
		return w[:i], w[i+1:]
	}
	return "today", w
}

var clockForms = []string{"15:04", "15.04", "3PM", "3 PM", "3:04PM", "3:04 PM", "3.04PM", "3.04 PM"}

// parseClock reads a time of day: 08:30, 18.30, 6pm, 6:30 pm.
func parseClock(s string) (t time.Time, ok bool) {
	if len(s) > len("12:04 PM") { // most of a table's words are dates
		return t, false
	}
	s = strings.ToUpper(s)
	for _, f := range clockForms {
		if t, err := time.Parse(f, s); err == nil {
			return t, true
		}
	}
	return t, false
}

// ClockOnly says whether a word is a time of day without its date.
func ClockOnly(word string) bool {
	_, ok := parseClock(word)
	return ok
}

// dotted is the day and month that a time of day with a dot may be meant as: 18.11.
func dotted(w string, today Date) (Date, bool) {
	a, b, ok := strings.Cut(w, ".")
	d, dok := digits(a, 1, 2)
	m, mok := digits(b, 2, 2)
	if !ok || !dok || !mok {
		return None, false
	}
	year, _, _ := today.Civil()
	return civil(year, m, d)
}

// ParsePastMoment is ParseMoment for what happened no later than the instant
// latest: a day of the week, with or without a clock time, is the last such day
// that fits, and a day of a month the last such day.
func (r Reader) ParsePastMoment(s string, latest time.Time, loc *time.Location) (t time.Time, exact bool, err error) {
	t, exact, err = r.moment(s, loc, true)
	date, _ := splitMoment(strings.TrimSpace(s))
	if _, ok := weekday(date); ok && r.Today >= 7 && err == nil && exact && t.After(latest) {
		r.Today -= 7
		return r.moment(s, loc, true)
	}
	return t, exact, err
}
