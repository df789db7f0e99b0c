package makes

import (
	"context"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/photo"
	"rindkeep/wheel"
)

// NewNote asks to put a note on a make.
type NewNote struct {
	Of    string // lot, or the tag of one of its wheels
	Text  string
	Photo []byte // a picture to go with it, as it came from the camera; nil: none
}

// Noted is a note as it was put in the book.
type Noted struct {
	Schema string `json:"schema"`
	Of     string `json:"of"`
	Note   string `json:"note"`
	Same   bool   `json:"no_change"`
}

// Note puts a note on a make.
func Note(ctx context.Context, a *app.App, c app.Caller, q NewNote) (d app.Did[Noted], err error) {
	if q.Photo, err = photo.Fit(q.Photo); err != nil {
		return d, err
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Noted, error) {
		m, err := Lot(s, q.Of)
		d := Noted{Schema: app.Schema("note"), Of: m.Lot, Note: q.Text}
		if err != nil {
			return d, err
		}
		detail, err := s.PhotoDetail(q.Photo)
		if err != nil {
			return d, err
		}
		when, _, err := s.Moment()
		if err != nil {
			return d, err
		}
		if strings.TrimSpace(q.Text) == "" {
			return d, app.Misuse("text", reason.Missing{What: "note"})
		}
		e := wheel.Entry{Subject: m.ID, Kind: wheel.Noted, At: when, Note: q.Text, Detail: detail}
		res, err := s.Write.Put(s.Entry(e))
		d.Same = res.Written == 0
		return d, err
	})
}
