// Package wheels has the questions and acts about wheels: what and where they are,
// what was done with them, how they left.
package wheels

import (
	"cmp"
	"context"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// Recorded is what one act recorded of wheels.
type Recorded struct {
	Schema  string   `json:"schema"`
	What    string   `json:"what"` // in words, filled by cmd/words
	At      string   `json:"at"`
	Wheels  []string `json:"wheels"`
	Same    bool     `json:"no_change"`    // all of it was in the book before
	Remarks []string `json:"remarks"`      // Notes and Duties in words, filled by cmd/words
	Unknown []string `json:"without_data"` // received wheels whose data hasn't come yet
	app.Cautioned

	Entry  wheel.Entry `json:"-"` // of the last wheel: its kind, place, customer
	When   time.Time   `json:"-"` // in the book's zone; zero: now
	Notes  reason.List `json:"-"` // what the writer may want to know
	Duties reason.List `json:"-"` // what food laws ask of wheels that were sent
	Came   bool        `json:"-"` // from another site
}

// each records one entry for every wheel named. fill completes the entry of a wheel;
// nil leaves it as it is.
func each(ctx context.Context, a *app.App, c app.Caller, what []string, like wheel.Entry,
	fill func(*app.Session, *Recorded, derive.WheelState, *wheel.Entry) error) (app.Did[Recorded], error) {
	act := func(s *app.Session) (Recorded, error) { return record(s, what, like, fill) }
	switch like.Kind {
	case wheel.Moved, wheel.Noted, wheel.Planned: // the others hold wheels or let them go: all or none
		return app.ActOn(ctx, a, c, act, (*Recorded).add)
	}
	return app.Act(ctx, a, c, act)
}

// record is each in a transaction that is open.
func record(s *app.Session, what []string, like wheel.Entry,
	fill func(*app.Session, *Recorded, derive.WheelState, *wheel.Entry) error) (Recorded, error) {
	d := Recorded{Schema: app.Schema("recorded"), Entry: like, Unknown: []string{}}
	var r app.Recorded
	write := func() (err error) {
		r, err = s.Record(what, func(st derive.WheelState) (wheel.Entry, error) {
			d.Entry = like
			if fill == nil {
				return like, nil
			}
			err := fill(s, &d, st, &d.Entry)
			return d.Entry, err
		})
		return err
	}
	err := backdated(s, what, like, write)
	d.At, d.When = app.Instant(r.At, s.Zone), s.Earlier(r.At)
	d.Wheels, d.Same = app.Tags(r.Wheels), r.Written == 0
	if err != nil {
		return d, err
	}
	return d, d.caution(s, r.Wheels)
}

// add adds what was recorded of more wheels.
func (d *Recorded) add(o Recorded) {
	d.Wheels, d.Same = append(d.Wheels, o.Wheels...), d.Same && o.Same
	for _, r := range o.Notes {
		note(&d.Notes, r)
	}
	for _, r := range o.Duties {
		note(&d.Duties, r)
	}
	d.Warn(o.Hazards()...)
}

// backdated keeps wheels in their safety holds that were in another room before today: a
// law counts only the days in a room that was read, or will be.
func backdated(s *app.Session, what []string, like wheel.Entry, write func() error) error {
	at, _, err := s.Moment()
	if err == nil && (like.Kind != wheel.Moved || day.At(at, s.Zone) >= s.Today) {
		return write()
	}
	ws, perr := s.Pick(what)
	if err = cmp.Or(err, perr); err != nil {
		return err
	}
	lift := app.Lift{Why: like.Note, Field: "note", Sure: true}
	return s.KeepingLaid(lift, app.IDs(ws), at, write)
}

// caution adds what handling these wheels can do to somebody.
func (d *Recorded) caution(s *app.Session, ws []derive.WheelState) error {
	switch d.Entry.Kind {
	case wheel.Sent, wheel.SentPart:
		if len(ws) == 0 {
			return nil
		}
		d.Warn(app.SellingFood)
	case wheel.Moved:
	default:
		return nil
	}
	hs, err := s.Hazards(wheel.Move, "", ws)
	d.Warn(hs...)
	return err
}

// missing refuses a request with an empty field.
func missing(field, value string, what reason.Thing) error {
	if strings.TrimSpace(value) == "" {
		return app.Misuse(field, reason.Missing{What: what})
	}
	return nil
}
