package drying

import (
	"context"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// HandCheck asks to record what somebody felt and saw on rinds.
type HandCheck struct {
	What  []string // tags, lots, places
	Found wheel.HandCheck
	Note  string
}

// Checked is what was recorded of a hand check.
type Checked struct {
	Schema  string      `json:"schema"`
	At      string      `json:"at"`
	Wheels  []string    `json:"wheels"`
	Found   string      `json:"found"` // in words, filled by cmd/words
	Reasons reason.List `json:"reasons"`
	Sound   bool        `json:"sound"`
	Asked   []string    `json:"checks_asked"` // other wheels of the makes, where there was a fault
	Remarks []string    `json:"remarks"`      // what to do about it, filled by cmd/words
	app.Cautioned

	When     time.Time       `json:"-"` // in the book's zone; zero: now
	Check    wheel.HandCheck `json:"-"`
	Same     bool            `json:"-"` // it was in the book already
	Verdicts []Verdict       `json:"-"` // on the wheels that wait for a coat, where they are few
}

// mostJudged is up to how many checked wheels get their verdict.
const mostJudged = 12

// What a hand check can't be.
const (
	NothingFound reason.Flat = "nothing-found"
	NoteAlone    reason.Flat = "note-without-check"
)

// NoteIt is the remedy for NoteAlone.
type NoteIt struct {
	Wheel string `json:"wheel"`
}

// Code implements reason.Reason.
func (NoteIt) Code() string { return "note-it" }

// Check records a hand check. After a fault it asks for one of the other wheels of the
// make.
func Check(ctx context.Context, a *app.App, c app.Caller, q HandCheck) (app.Did[Checked], error) {
	switch {
	case !q.Found.Said() && q.Note == "":
		return app.Did[Checked]{}, app.Misuse("", NothingFound)
	case !q.Found.Said():
		return app.Did[Checked]{}, app.Misuse("note", NoteAlone, NoteIt{q.What[0]})
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Checked, error) { return check(s, q) })
}

func check(s *app.Session, q HandCheck) (Checked, error) {
	r, err := s.Record(q.What, func(derive.WheelState) (wheel.Entry, error) {
		return wheel.Entry{Kind: wheel.Checked, Found: q.Found, Note: q.Note}, nil
	})
	if err != nil {
		return Checked{}, err
	}
	d := Checked{
		Schema: app.Schema("check"), At: app.Instant(r.At, s.Zone), Wheels: app.Tags(r.Wheels),
		Reasons: reason.List{q.Found}, Sound: q.Found.Sound(), When: s.Earlier(r.At), Check: q.Found, Same: r.Written == 0,
	}
	if q.Found.Mites == wheel.Yes || q.Found.Mould == wheel.Yes {
		d.Warn(app.Dust)
	}
	if d.Asked, err = s.AskSisters(r, q.Found.Faults()); err != nil || d.Same || len(r.Wheels) > mostJudged {
		return d, err
	}
	for _, st := range r.Wheels {
		c, gated, err := s.GatedCase(st, r.At)
		if err != nil {
			return d, err
		}
		if gated && len(c.Life.Coats) == 0 {
			d.Verdicts = append(d.Verdicts, Verdict{st.Tag, c.Dry(r.At)})
		}
	}
	return d, nil
}
