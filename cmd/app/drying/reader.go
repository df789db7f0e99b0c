package drying

import (
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/intake"
)

// NeedsDates refuses a row without a date in a long table.
type NeedsDates struct {
	Over int `json:"over_rows"`
}

// MovingDay refuses a date in a table that is another when it is read again.
type MovingDay struct {
	Word string `json:"word"`
}

// The codes.

func (NeedsDates) Code() string { return "table-needs-dates" }
func (MovingDay) Code() string  { return "moving-day" }

// reader reads when rows were weighed, and their identities.
type reader struct {
	*app.Session
	dates *day.Column
	when  time.Time // of rows without a date
	exact bool
	table bool // rows must say the same whenever it is read, or a second run would record them twice
	over  int  // rows, of a table that is recorded in parts
}

func newReader(s *app.Session) (*reader, error) {
	when, exact, err := s.Moment()
	return &reader{Session: s, dates: s.Column(), when: when, exact: exact}, err
}

// read gives a row's instant, whether that is exact or of its date, and its identity,
// Nil where it has none; or the field that is wrong.
func (r *reader) read(row intake.Weight) (at time.Time, exact bool, id uuid.UUID, field string, err error) {
	if at, exact, err = r.moment(row.When); err != nil {
		return at, exact, id, "date", err
	}
	if row.ID == "" {
		return at, exact, id, "", nil
	}
	if id, err = uuid.Parse(row.ID); err != nil || id == uuid.Nil || id == uuid.Max {
		err = app.Refuse(app.NotUUID{Word: row.ID})
	}
	return at, exact, id, "id", err
}

func (r *reader) moment(word string) (time.Time, bool, error) {
	switch {
	case word == "" && r.over > 0 && r.On == "" && r.At == "":
		return r.when, false, app.Refuse(NeedsDates{r.over})
	case word == "" && r.table && r.On == "" && r.At == "":
		return r.when, false, app.Refuse(app.RowNeedsDate)
	case word == "":
		return r.when, r.exact, nil
	case r.table && day.ClockOnly(word) && r.On == "":
		return r.when, false, app.Refuse(MovingDay{word})
	case r.table && day.ClockOnly(word):
		return r.MomentBy(r.dates.Reader, day.At(r.when, r.Zone).String()+" "+word, "date")
	}
	if !r.table {
		return r.MomentOf(word, "date")
	}
	dates, err := r.dates.For(word)
	if err != nil {
		return r.when, false, app.Misread("date", err)
	}
	at, exact, err := r.MomentBy(dates, word, "date")
	if err == nil && !dates.Absolute(word) {
		err = app.Refuse(MovingDay{word})
	}
	return at, exact, err
}
