package makes

import (
	"context"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// NewNote asks to put a note on a make or a wheel.
type NewNote struct {
	Of    string // lot or tag
	Text  string
	Photo []byte // a JPEG to go with it; nil: none
}

// Noted is a note as it was put in the book.
type Noted struct {
	Schema string `json:"schema"`
	Of     string `json:"of"`
	Note   string `json:"note"`
	Same   bool   `json:"no_change"`
}

// Note puts a note on a make.
func Note(ctx context.Context, a *app.App, c app.Caller, q NewNote) (app.Did[Noted], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (Noted, error) {
		m, err := Lot(s, q.Of)
		if err != nil {
			return Noted{}, err
		}
		return AddNote(s, m.ID, m.Lot, q)
	})
}

// AddNote puts a note on a make or a wheel, named as its document has it, in an act
// that is open.
func AddNote(s *app.Session, subject uuid.UUID, name string, q NewNote) (Noted, error) {
	d := Noted{Schema: app.Schema("note"), Of: name, Note: q.Text}
	detail := ""
	if q.Photo != nil {
		p, err := s.Write.PutPhoto(q.Photo)
		if err != nil {
			return d, app.At("photo", err)
		}
		detail = p.Detail()
	}
	when, _, err := s.Moment()
	if err != nil {
		return d, err
	}
	if strings.TrimSpace(q.Text) == "" {
		return d, app.Misuse("text", reason.Missing{What: "note"})
	}
	e := wheel.Entry{Subject: subject, Kind: wheel.Noted, At: when, Note: q.Text, Detail: detail}
	res, err := s.Write.Put(s.Entry(e))
	d.Same = res.Written == 0
	return d, err
}
