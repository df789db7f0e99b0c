// Package entries has the questions and acts about entries of every kind: what was
// recorded, by whom and when, and what of it was struck.
package entries

import (
	"bytes"
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// ToStrike asks to strike entries: they stay in the book, marked, and no longer count.
type ToStrike struct {
	Entries []string // marks, IDs of entries or of whole acts, or the word last
	Why     string
	Sure    bool // of a safety hold: asked again
}

// Struck is what was struck.
type Struck struct {
	Schema string        `json:"schema"`
	Struck []StruckEntry `json:"struck"`
}

// StruckEntry is one entry that was struck.
type StruckEntry struct {
	ID   string `json:"entry"`
	Of   string `json:"of"` // tag, or "lot" and the lot
	What string `json:"what"`
	At   string `json:"at"`

	Entry wheel.Entry `json:"-"`
}

// Why entries can't be struck, and what to do then.
const (
	NoName       reason.Flat = "no-name-of-an-entry"
	Nothing      reason.Flat = "nothing-to-strike"
	NoCommandYet reason.Flat = "nothing-recorded-yet"
	IsAStrike    reason.Flat = "entry-is-a-strike"
	RecordAgain  reason.Flat = "record-it-again"
	LikeAMark    reason.Flat = "like-a-mark"
	ByMark       reason.Flat = "strike-by-mark"
)

// SeveralMarked refuses a mark that several entries have; Of is the wheel or lot that
// was named with it, or "".
type SeveralMarked struct {
	Mark string `json:"mark"`
	Of   string `json:"of"`
}

// ShowsMarks is a remedy: the card of a wheel has the marks of its entries.
type ShowsMarks struct {
	Of string `json:"of"`
}

// LastBy refuses to strike the last act, which was somebody else's.
type LastBy struct {
	Command string    `json:"command"`
	At      time.Time `json:"at"` // in the book's zone
	By      string    `json:"by"`
}

// LastWroteNone refuses to strike the last act, which wrote no entry.
type LastWroteNone struct {
	Command string    `json:"command"`
	At      time.Time `json:"at"` // in the book's zone
}

// LastLongAgo doubts that the last act is meant: it's older than JustNow.
type LastLongAgo struct {
	Command string    `json:"command"`
	At      time.Time `json:"at"` // in the book's zone
}

// JustNow is how long an act is taken for the one just typed where nobody can be asked.
const JustNow = 5 * time.Minute

// UndoCommand is a remedy: how to undo an act that wrote no entry.
type UndoCommand struct {
	Command string `json:"command"`
}

// The codes.

func (SeveralMarked) Code() string { return "several-entries-marked" }
func (ShowsMarks) Code() string    { return "card-shows-marks" }
func (LastBy) Code() string        { return "last-act-by-another" }
func (LastWroteNone) Code() string { return "last-act-wrote-none" }
func (LastLongAgo) Code() string   { return "last-act-long-ago" }
func (UndoCommand) Code() string   { return "undo-command" }

// Strike strikes entries, all of them or none.
func Strike(ctx context.Context, a *app.App, c app.Caller, q ToStrike) (app.Did[Struck], error) {
	if strings.TrimSpace(q.Why) == "" {
		return app.Did[Struck]{}, app.Misuse("why", reason.Missing{What: "why"})
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Struck, error) { return strike(s, q) })
}

func strike(s *app.Session, q ToStrike) (Struck, error) {
	d := Struck{Schema: app.Schema("strike"), Struck: []StruckEntry{}}
	var strikes []wheel.Entry
	for _, word := range q.Entries {
		es, err := Named(s, word)
		if err != nil {
			return d, err
		}
		if strings.EqualFold(word, "last") && !q.Sure {
			if err := justNow(s); err != nil {
				return d, err
			}
		}
		if i := slices.IndexFunc(es, func(e wheel.Entry) bool { return e.Kind == wheel.Struck }); i >= 0 {
			return d, app.Refuse(IsAStrike, RecordAgain).Of(es[i].Mark())
		}
		if es, err = whole(s, es); err != nil {
			return d, err
		}
		for _, e := range es {
			more, err := unadded(s, e, q.Why)
			if err != nil {
				return d, err
			}
			for _, x := range append(more, struckBy(s, e, q.Why)) {
				strikes = append(strikes, s.Entry(x))
			}
			d.Struck = append(d.Struck, struckEntry(s, e))
		}
	}
	if len(strikes) == 0 {
		return d, app.Refuse(Nothing)
	}
	of, ids, err := d.of(s)
	if err != nil {
		return d, err
	}
	// Cancelling what holds a wheel, or what a law counts, may be lifting a hold.
	since := s.Time // from when they lay elsewhere
	for _, x := range d.Struck {
		if x.Entry.Kind == wheel.Moved && x.Entry.At.Before(since) {
			since = x.Entry.At
		}
	}
	return d, s.KeepingLaid(app.Lift{Of: of, Why: q.Why, Field: "why", Sure: q.Sure}, ids, since, func() error {
		_, err := s.Write.Put(strikes...)
		return err
	})
}

// of is the wheels whose holds may end with the entries: with those of a make, all of
// the make. Where they are of one lot, it comes by name.
func (d Struck) of(s *app.Session) (name string, ids []uuid.UUID, err error) {
	var lots []string
	for _, x := range d.Struck {
		if _, err := s.Tx.Wheel(x.Entry.Subject); err == nil {
			ids = append(ids, x.Entry.Subject)
			continue
		}
		ws, err := s.WheelsHere(x.Entry.Subject)
		if err != nil {
			return "", nil, err
		}
		ids = append(ids, app.IDs(ws)...)
		lots = append(lots, x.Of)
	}
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	if lots = slices.Compact(lots); len(lots) == 1 {
		name = lots[0]
	}
	return name, slices.Compact(ids), nil
}

func struckBy(s *app.Session, e wheel.Entry, why string) wheel.Entry {
	return wheel.Entry{Subject: e.Subject, Kind: wheel.Struck, At: s.Time, Target: e.ID, Note: why}
}

// Named finds the entries a word names: a mark like 261120A-03:9f3c1a or 9f3c1a, the
// ID of an entry, the ID an act was sent under, or last.
func Named(s *app.Session, word string) ([]wheel.Entry, error) {
	switch {
	case strings.EqualFold(word, "last"):
		return lastEntries(s)
	case !app.Printable(word):
		return nil, app.Refuse(NoName).In("entry")
	}
	if id, err := uuid.Parse(word); err == nil {
		e, err := s.Tx.EntryByID(id)
		if app.IsNotFound(err) {
			es, terr := s.Tx.EntriesByCommand(app.SharedBy(id))
			if terr != nil || len(es) > 0 {
				return withoutStrikes(es), terr
			}
		}
		return []wheel.Entry{e}, err
	}
	if of, mark, ok := strings.Cut(word, ":"); ok {
		return markedOf(s, word, of, mark)
	}
	found, err := s.Tx.EntriesMarked(word, 2)
	switch {
	case app.IsNotFound(err):
		return nil, unmarked(word, LikeAMark)
	case err != nil:
		return nil, app.About(word, err)
	case len(found) > 1:
		return nil, app.Refuse(SeveralMarked{Mark: word}).Of(word)
	}
	return found, nil
}

// markedOf finds the one entry of a wheel or a lot that has a mark.
func markedOf(s *app.Session, word, of, mark string) ([]wheel.Entry, error) {
	w, err := s.Tx.WheelByTag(of)
	subject := w.ID
	if err != nil {
		m, merr := s.Tx.MakeByLot(of)
		if merr != nil {
			return nil, app.About(of, err)
		}
		subject = m.ID
	}
	found, err := s.Tx.History(subject)
	if err != nil {
		return nil, err
	}
	found = slices.DeleteFunc(found, func(e wheel.Entry) bool { return !strings.EqualFold(e.Mark(), mark) })
	switch len(found) {
	case 0:
		return nil, unmarked(word, ShowsMarks{of})
	case 1:
		return found, nil
	}
	return nil, app.Refuse(SeveralMarked{mark, of}).Of(word)
}

// unmarked refuses a word that is no entry's mark.
func unmarked(word string, remedy reason.Reason) error {
	r := app.AsRefusal(refusal.NotFound{Thing: "entry", Name: word}).Of(word)
	r.Remedy = reason.List{remedy}
	return r
}

// lastEntries are the entries of the last act that wrote to the book. It is refused
// where that was somebody else's, or one that wrote no entry.
func lastEntries(s *app.Session) ([]wheel.Entry, error) {
	last, ok, err := s.Tx.LastCommand()
	switch {
	case err != nil:
		return nil, err
	case !ok:
		return nil, app.Refuse(NoCommandYet)
	case last.By != s.Who:
		return nil, app.Refuse(LastBy{last.Command, last.At.In(s.Zone), last.By}, ByMark)
	}
	es, err := s.Tx.EntriesByCommand(last.Batch)
	if err != nil {
		return nil, err
	}
	if es = withoutStrikes(es); len(es) == 0 {
		return nil, app.Refuse(LastWroteNone{last.Command, last.At.In(s.Zone)}, UndoCommand{last.Command})
	}
	return es, nil
}

// justNow doubts a last act of some time ago: the command just typed may have been
// refused, and this is the one before.
func justNow(s *app.Session) error {
	last, _, err := s.Tx.LastCommand()
	if err == nil && s.Time.Sub(last.At) > JustNow {
		err = app.Unsure(LastLongAgo{last.Command, last.At.In(s.Zone)}, ByMark)
	}
	return err
}

// LastAct is the last act that wrote to the book, as striking it would strike it.
type LastAct struct {
	ID      string // what Strike takes for it
	Command string
	At      time.Time // in the book's zone
	Entries []StruckEntry
}

// Last is what striking the word last would strike. It's refused where that would be.
func Last(ctx context.Context, a *app.App, c app.Caller) (LastAct, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (d LastAct, err error) {
		es, err := lastEntries(s)
		if err != nil {
			return d, err
		}
		last, _, err := s.Tx.LastCommand()
		if err != nil {
			return d, err
		}
		d = LastAct{ID: last.Batch.String(), Command: last.Command, At: last.At.In(s.Zone)}
		if es, err = whole(s, es); err != nil {
			return d, err
		}
		for _, e := range es {
			d.Entries = append(d.Entries, struckEntry(s, e))
		}
		return d, nil
	})
}

func struckEntry(s *app.Session, e wheel.Entry) StruckEntry {
	return StruckEntry{e.ID.String(), s.SubjectName(e.Subject), e.Word(), app.Instant(e.At, s.Zone), e}
}

func withoutStrikes(es []wheel.Entry) []wheel.Entry {
	return slices.DeleteFunc(es, func(e wheel.Entry) bool { return e.Kind == wheel.Struck })
}
