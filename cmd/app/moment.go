package app

import (
	"time"

	"rindkeep/cave/day"
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

// MomentOf is Moment for a word of one of the request's fields. A day of the week
// is the last such day.
func (s *Session) MomentOf(word, field string) (t time.Time, exact bool, err error) {
	latest := s.Time.Add(ClockSlack)
	t, exact, err = day.ParsePastMoment(word, s.Today, latest, s.Zone)
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
	t, exact, err := day.ParseMoment(word, s.Today, s.Zone)
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
		if first, err = day.ParsePast(from, s.Today); err != nil {
			return first, last, Misread("from", err)
		}
	}
	if to != "" {
		if last, err = day.ParsePast(to, s.Today); err != nil {
			return first, last, Misread("to", err)
		}
		if last < first {
			return first, last, Misuse("to", ToBeforeFrom{first, last})
		}
	}
	return first, last, nil
}

// Misread is a word of a field that can't be read, for the error its reader gave.
func Misread(field string, err error) *Refusal {
	r := AsRefusal(err)
	r.Kind, r.At.Field = Misused, field
	return r
}
