package round

import (
	"cmp"
	"context"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/register"
)

// OnPhone is what a phone says of the entries that it has and the book hasn't.
type OnPhone struct {
	Phone   uuid.UUID
	New     bool           // it has just named itself: nothing was there before
	Cleared bool           // its storage was cleared: Had is from what was left
	Last    int            // the highest number it gave
	Open    []register.Tap // what it has now
	Had     []register.Tap // what it last knew to have
	Seen    []uuid.UUID    // phones whose missing entries the person has read about
}

// Missing is what phones announced and never sent.
type Missing struct {
	Schema  string        `json:"schema"`
	Missing []MissingTaps `json:"missing"`
}

// MissingTaps are the missing entries of one phone.
type MissingTaps struct {
	Phone   string `json:"phone"`
	Here    bool   `json:"this_phone"`
	Cleared bool   `json:"cleared"` // its storage was cleared; else it may still send them
	By      string `json:"by"`
	Entries int    `json:"entries"`
	From    string `json:"from,omitempty"` // when the first was entered, if known
	To      string `json:"to,omitempty"`
	Heard   string `json:"heard"` // when the phone last said something new
}

// longSilent is after how long another phone that has entries is worth a word: a round
// takes hours, and a cellar may have no signal.
const longSilent = 12 * time.Hour

// forgotten is after how long a phone that nothing is missing of is no longer kept.
const forgotten = 400 * 24 * time.Hour

// Announce notes what a phone has, and tells what is missing that concerns its user.
func Announce(ctx context.Context, a *app.App, c app.Caller, q OnPhone) (Missing, error) {
	if q.Phone == uuid.Nil {
		return Missing{}, app.Misuse("phone", reason.Missing{What: "phone"})
	}
	d, err := app.Act(ctx, a, c, func(s *app.Session) (Missing, error) {
		out := Missing{Schema: app.Schema("phone"), Missing: []MissingTaps{}}
		if err := forget(s, q.Seen, q.Phone); err != nil {
			return out, err
		}
		p, err := s.Tx.Phone(q.Phone)
		if err != nil {
			return out, err
		}
		was := p
		if q.Cleared {
			p.Lost = append(slices.Clone(p.Lost), lost(p, q.Had)...)
		}
		p.Open, p.Last, p.By = enteredBy(q.Open, p.Open, s.Who), max(p.Last, q.Last), s.Who
		if !reflect.DeepEqual(p, was) {
			p.Heard = s.Time
			if err := s.Write.PutPhone(p); err != nil {
				return out, err
			}
		}
		if len(p.Lost) > 0 {
			out.Missing = append(out.Missing, missing(s, p, p.Lost, true, true)...)
		}
		elsewhere, err := others(s, q)
		out.Missing = append(out.Missing, elsewhere...)
		return out, err
	})
	return d.Result, err
}

// others is what is missing of the user's other phones.
func others(s *app.Session, q OnPhone) ([]MissingTaps, error) {
	var out []MissingTaps
	all, err := s.Tx.Phones()
	for _, o := range all {
		if o.ID == q.Phone || slices.Contains(q.Seen, o.ID) {
			continue
		}
		silent := s.Time.Sub(o.Heard)
		if q.New && len(o.Open)+len(o.Lost) == 0 && silent > forgotten {
			s.Write.ForgetPhone(o.ID)
		}
		another := func(x register.Tap) bool { return !strings.EqualFold(x.By, s.Who) }
		out = append(out, missing(s, o, slices.DeleteFunc(o.Lost, another), false, true)...)
		if q.New || silent >= longSilent {
			out = append(out, missing(s, o, slices.DeleteFunc(o.Open, another), false, false)...)
		}
	}
	return out, err
}

// forget lets go of the missing entries that a person has read about.
func forget(s *app.Session, seen []uuid.UUID, here uuid.UUID) error {
	for _, id := range seen {
		p, err := s.Tx.Phone(id)
		if err != nil {
			return err
		}
		own := func(x register.Tap) bool { return strings.EqualFold(x.By, s.Who) }
		switch {
		case slices.ContainsFunc(p.Lost, own) || id != here:
			p.Lost = slices.DeleteFunc(p.Lost, own)
		default: // somebody else's, on a phone that they share
			p.Lost = nil
		}
		if id != here {
			p.Open = slices.DeleteFunc(p.Open, own)
		}
		if err := s.Write.PutPhone(p); err != nil {
			return err
		}
	}
	return nil
}

// lost are the entries that a phone had before its storage was cleared and that never
// came: those it announced, and those beyond the last number known here.
func lost(p register.Phone, had []register.Tap) []register.Tap {
	out := slices.Clone(p.Open)
	for _, x := range had {
		if x.By = p.By; x.Number > p.Last {
			out = append(out, x)
		}
	}
	return out
}

// enteredBy names who was on a phone as it said for the first time that it had an entry.
func enteredBy(open, was []register.Tap, who string) []register.Tap {
	by := map[int]string{}
	for _, x := range was {
		by[x.Number] = x.By
	}
	for i, x := range open {
		open[i].By = cmp.Or(by[x.Number], who)
	}
	return open
}

// missing sums up entries of a phone by who entered them.
func missing(s *app.Session, p register.Phone, taps []register.Tap, here, cleared bool) (out []MissingTaps) {
	for len(taps) > 0 {
		who := taps[0].By
		var own, rest []register.Tap
		for _, x := range taps {
			if strings.EqualFold(x.By, who) {
				own = append(own, x)
			} else {
				rest = append(rest, x)
			}
		}
		m := MissingTaps{Phone: p.ID.String(), Here: here, Cleared: cleared, By: who, Entries: len(own),
			Heard: app.Instant(p.Heard, s.Zone)}
		m.period(own, s.Zone)
		out, taps = append(out, m), rest
	}
	return out
}

// period fills in when the first and the last of the entries were entered.
func (m *MissingTaps) period(taps []register.Tap, zone *time.Location) {
	var first, last time.Time
	for _, x := range taps {
		if x.At.IsZero() {
			continue
		}
		if first.IsZero() || x.At.Before(first) {
			first = x.At
		}
		if x.At.After(last) {
			last = x.At
		}
	}
	if !first.IsZero() {
		m.From, m.To = app.Instant(first, zone), app.Instant(last, zone)
	}
}
