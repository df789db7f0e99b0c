package wheels

import (
	"context"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/entries"
	"rindkeep/wheel"
)

// Picture is the photo of a note.
type Picture struct {
	Schema string `json:"schema"`
	File   string `json:"file"` // that the edge wrote it to
	wheel.Photo

	JPEG []byte `json:"-"`
}

// NoPhoto refuses an entry that isn't a note with a photo.
const NoPhoto reason.Flat = "no-photo"

// Photo is the photo of a note, named by its entry's code or UUID.
func Photo(ctx context.Context, a *app.App, c app.Caller, entry string) (Picture, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (Picture, error) {
		d := Picture{Schema: app.Schema("photo")}
		es, err := entries.Named(s, entry)
		if err != nil {
			return d, err
		}
		if len(es) != 1 || es[0].Kind != wheel.Noted || es[0].Detail == "" {
			return d, app.Refuse(NoPhoto).Of(entry)
		}
		if d.Photo, err = wheel.ParsePhoto(es[0].Detail); err != nil {
			return d, err
		}
		d.JPEG, err = s.Tx.Photo(d.Photo)
		return d, err
	})
}
