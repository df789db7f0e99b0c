package care

import (
	"context"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store"
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
			if err := s.IsReleaser("", nil); err != nil {
				return MayRelease{}, err
			}
			r := store.Releasers{ID: s.NextID(), Names: app.Filled(names), Note: q.Note, Written: s.Time, By: s.Who}
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

func mayRelease(s *app.Session, changed bool) (MayRelease, error) {
	d := MayRelease{Schema: app.Schema("book-releasers"), Names: []string{}, Changed: changed, History: []MayReleaseLine{}}
	all, err := s.Tx.ReleasersOf()
	for _, r := range all {
		d.Names = app.Filled(r.Names)
		d.History = append(d.History, MayReleaseLine{d.Names, app.Instant(r.Written, s.Zone), r.By, r.Note})
	}
	return d, err
}
