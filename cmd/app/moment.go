package app

import (
	"errors"
	"regexp"
	"strings"
	"sync"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/register"
)

// ClockSlack is how far ahead of the clock an instant may be: clocks differ a little.
const ClockSlack = 2 * time.Minute

// When is the caller's word for a time, and the field it came in.
func (c Caller) when() (word, field string) {
	if c.On != "" {
		return c.On, "on"
	}
	return c.At, "at"
}

// Moment is when what is being recorded happened. exact is false where only a
// date was given; the instant is then its noon, or now where the date is today.
// Nothing given is now. The future is refused, and so is what is further back than
// the caller's Within.
func (s *Session) Moment() (t time.Time, exact bool, err error) {
	word, field := s.when()
	if word == "" {
		return s.Time, true, nil
	}
	return s.MomentOf(word, field)
}

// DateOrder is how dates in figures are read in countries (ISO codes): in the US the
// month is first, in Canada and the Philippines it may be either, elsewhere the day is
// first (from memory).
func DateOrder(countries []string) day.Order {
	order := day.Unclear
	for i, c := range countries {
		here := day.DayFirst
		switch c, _, _ := strings.Cut(c, "-"); c {
		case "US":
			here = day.MonthFirst
		case "CA", "PH":
			return day.Unclear
		}
		if i > 0 && order != here {
			return day.Unclear
		}
		order = here
	}
	return order
}

// Dates reads dates as the book's people write them: in the order that somebody said,
// else that of the countries whose law the book follows.
func (s *Session) Dates() day.Reader {
	r := day.Reader{Today: s.Today}
	if site, err := s.Tx.Site(); err == nil && site.Dates != "" {
		r.Order = map[string]day.Order{register.DayFirst: day.DayFirst, register.MonthFirst: day.MonthFirst}[site.Dates]
	} else if countries, err := s.Tx.Countries(s.Time.Add(time.Millisecond)); err == nil {
		r.Order = DateOrder(countries)
	}
	return r
}

// Column reads the dates of a table's column.
func (s *Session) Column() *day.Column { return &day.Column{Reader: s.Dates()} }

// MomentOf is Moment for a word of one of the request's fields. A day of the week
// is the last such day.
func (s *Session) MomentOf(word, field string) (t time.Time, exact bool, err error) {
	t, exact, err = s.MomentBy(s.Dates(), word, field)
	if err == nil && exact && !offset().MatchString(word) {
		if first, second, twice := day.Twice(t, s.Zone); twice {
			err = Misuse(field, ClockTwice{word, first, second})
		}
	}
	return t, exact, err
}

// offset is how a time ends that says how far it is from UTC.
var offset = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)\d(z|[+-]\d\d:\d\d)\s*$`)
})

// ClockTwice refuses a time that the clock shows twice, as it goes back.
type ClockTwice struct {
	Word   string    `json:"word"`
	First  time.Time `json:"first"`
	Second time.Time `json:"second"`
}

// Code implements reason.Reason.
func (ClockTwice) Code() string { return "clock-shows-it-twice" }

// MomentBy is MomentOf for a word that dates are read of in their own way.
func (s *Session) MomentBy(dates day.Reader, word, field string) (t time.Time, exact bool, err error) {
	latest := s.Time.Add(ClockSlack)
	t, exact, err = dates.ParsePastMoment(word, latest, s.Zone)
	if err != nil {
		return t, false, Misread(field, err)
	}
	if !exact {
		switch d := day.At(t, s.Zone); {
		case d == s.Today:
			return s.Time, false, nil
		case d > s.Today:
			return t, false, Refuse(FutureDate{On: d}).In(field)
		}
	}
	if t.After(latest) {
		return t, exact, Refuse(FutureTime{At: t.In(s.Zone)}).In(field)
	}
	if s.Within > 0 && t.Before(s.Time.Add(-s.Within)) {
		return t, exact, Refuse(TooLongAgo{t.In(s.Zone), int(s.Within / time.Hour)}).In(field)
	}
	return t.UTC().Truncate(time.Millisecond), exact, nil
}

// Earlier is an instant in the book's zone where it isn't now, and the zero time
// where it is, for words.Printer.When.
func (s *Session) Earlier(t time.Time) time.Time {
	if t.Equal(s.Time) {
		return time.Time{}
	}
	return t.In(s.Zone)
}

// AsOf is the instant a question is about: now, the time given, or the end of the
// date given. Dates to come are allowed.
func (s *Session) AsOf() (time.Time, day.Date, error) {
	word, field := s.when()
	if word == "" {
		return s.Time, s.Today, nil
	}
	t, exact, err := s.Dates().ParseMoment(word, s.Zone)
	if err != nil {
		return t, 0, Misread(field, err)
	}
	d := day.At(t, s.Zone)
	if !exact {
		t = (d + 1).Start(s.Zone).Add(-time.Millisecond)
		if d == s.Today {
			t = s.Time
		}
	}
	return t.UTC(), d, nil
}

// Period reads the first and the last date of a period in the past. Either may be
// left out, and is day.None then.
func (s *Session) Period(from, to string) (first, last day.Date, err error) {
	first, last = day.None, day.None
	if from != "" {
		if first, err = s.Dates().ParsePast(from); err != nil {
			return first, last, Misread("from", err)
		}
	}
	if to != "" {
		if last, err = s.Dates().ParsePast(to); err != nil {
			return first, last, Misread("to", err)
		}
		if last < first {
			return first, last, Misuse("to", ToBeforeFrom{first, last})
		}
	}
	return first, last, nil
}

// SayOrder is a remedy: say for the whole book whether the day or the month is first.
const SayOrder reason.Flat = "say-date-order"

// Misread is a word of a field that can't be read, for the error its reader gave.
func Misread(field string, err error) *Refusal {
	r := AsRefusal(err)
	r.Kind, r.At.Field = Misused, field
	if errors.As(err, new(day.TwoWays)) {
		r.Remedy = reason.List{SayOrder}
	}
	return r
}
