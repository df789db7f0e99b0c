package wheels

import (
	"context"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/photo"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// NewNote asks to put a note on wheels.
type NewNote struct {
	What  []string // tags, lots, places
	Text  string
	Photo []byte // a picture to go with it, as it came from the camera; nil: none
}

// Note puts a note on wheels.
func Note(ctx context.Context, a *app.App, c app.Caller, q NewNote) (d app.Did[Recorded], err error) {
	if err := missing("text", q.Text, "note"); err != nil {
		return d, err
	}
	if q.Photo, err = photo.Fit(q.Photo); err != nil {
		return d, err
	}
	return each(ctx, a, c, q.What, wheel.Entry{Kind: wheel.Noted, Note: q.Text},
		func(s *app.Session, _ *Recorded, _ derive.WheelState, e *wheel.Entry) (err error) {
			e.Detail, err = s.PhotoDetail(q.Photo)
			return err
		})
}
