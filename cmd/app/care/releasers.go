package care

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/store/register"
)

// Releasers asks who may lift safety holds, or sets it. Without names it is a
// question, unless None.
type Releasers struct {
	Names []string
	None  bool // the book names nobody
	Note  string
}

// Why the book can't take that.
const (
	NamesAndNone  reason.Flat = "releasers-and-none"
	NoteButNoName reason.Flat = "releasers-note-of-no-change"
)

// MayRelease is who may lift safety holds, and might.
type MayRelease struct {
	Schema  string           `json:"schema"`
	Names   []string         `json:"names"`
	Changed bool             `json:"changed"`
	History []MayReleaseLine `json:"history"`
}

// MayReleaseLine is who might lift safety holds from an instant on.
type MayReleaseLine struct {
	Names []string `json:"names"`
	From  string   `json:"from"`
	By    string   `json:"by"`
	Note  string   `json:"note"`
}

// WhoReleases answers or changes who may lift safety holds. Once the book names
// somebody, only they may change it.
func WhoReleases(ctx context.Context, a *app.App, c app.Caller, q Releasers) (d app.Did[MayRelease], err error) {
	var names []string
	for _, group := range q.Names {
		for n := range strings.SplitSeq(group, ",") {
			n = strings.TrimSpace(n)
			if n != "" && !slices.ContainsFunc(names, func(o string) bool { return strings.EqualFold(o, n) }) {
				names = append(names, n)
			}
		}
	}
	switch {
	case q.None && len(names) > 0:
		return d, app.Misuse("none", NamesAndNone)
	case q.None || len(names) > 0:
		return app.Act(ctx, a, c, func(s *app.Session) (MayRelease, error) {
			if err := mayName(s); err != nil {
				return MayRelease{}, err
			}
			r := register.Releasers{ID: s.NextID(), Names: app.Filled(names), Note: q.Note, Written: s.Time, By: s.Who}
			changed, err := s.Write.PutReleasers(r)
			if err != nil {
				return MayRelease{}, err
			}
			return mayRelease(s, changed)
		})
	case q.Note != "":
		return d, app.Misuse("note", NoteButNoName)
	}
	d.Result, err = app.Ask(ctx, a, c, func(s *app.Session) (MayRelease, error) { return mayRelease(s, false) })
	return d, err
}

// NotOwner refuses the first name from somebody else than who began the book.
type NotOwner struct {
	Who   string `json:"who"`
	Owner string `json:"owner"`
}

// Code implements reason.Reason.
func (NotOwner) Code() string { return "not-the-books-owner" }

// mayName refuses to have others lift safety holds, except from those who may; as long as
// the book names nobody, from its owner. That is who made it, else who recorded first; a
// book that knows nobody by name takes the first one from anybody.
func mayName(s *app.Session) error {
	named, err := s.Tx.Releasers()
	if err != nil || len(named.Names) > 0 {
		return errors.Join(err, s.IsReleaser("", nil))
	}
	owner, err := owner(s.Tx)
	if err != nil || owner == "" || strings.EqualFold(owner, s.Who) {
		return err
	}
	return app.Refuse(NotOwner{s.Who, owner})
}

// owner is who made the book, else who recorded the first room or make in it.
func owner(t *store.ReadTx) (who string, err error) {
	if who = t.Settings().By; who != "" {
		return who, nil
	}
	var first time.Time
	is := func(by string, at time.Time) {
		if by != "" && (who == "" || at.Before(first)) {
			who, first = by, at
		}
	}
	rooms, err := t.Rooms()
	for _, r := range rooms {
		is(r.By, r.Written)
	}
	if err != nil {
		return "", err
	}
	for m, err := range t.Makes() {
		if err != nil {
			return "", err
		}
		is(m.By, m.Written)
	}
	return who, nil
}

// releasers is who may lift safety holds, and who named them, without what was before.
func releasers(t *store.ReadTx, zone *time.Location) (MayReleaseLine, error) {
	r, err := t.Releasers()
	l := MayReleaseLine{Names: app.Filled(r.Names), By: r.By, Note: r.Note}
	if !r.Written.IsZero() {
		l.From = app.Instant(r.Written, zone)
	}
	return l, err
}

func mayRelease(s *app.Session, changed bool) (MayRelease, error) {
	d := MayRelease{Schema: app.Schema("book-releasers"), Names: []string{}, Changed: changed, History: []MayReleaseLine{}}
	all, err := s.Tx.ReleasersOf()
	for _, r := range all {
		d.Names = app.Filled(r.Names)
		d.History = append(d.History, MayReleaseLine{d.Names, app.Instant(r.Written, s.Zone), r.By, r.Note})
	}
	return d, err
}
