package entries

import (
	"context"
	"slices"
	"strings"
	"time"

	"rindkeep/cmd/app"
)

// AirLine is what one person entered of a room's air on one day, or a reading that they
// cancelled.
type AirLine struct {
	Room      string `json:"room"`
	Written   string `json:"written"` // the first of that day
	Table     bool   `json:"table"`
	File      string `json:"file"`
	Over      bool   `json:"over_others"` // each took the place of a reading
	Cancelled string `json:"cancelled"`   // when that reading was made; "": none
	Why       string `json:"why"`
	By        string `json:"by"`

	at time.Time
}

// AirOf is who entered and cancelled readings of the rooms' air in the days that are asked
// for. A question about wheels, jobs or kinds of entry isn't about air.
func AirOf(ctx context.Context, a *app.App, c app.Caller, q Question) ([]AirLine, error) {
	all := len(q.What) == 0 || len(q.What) == 1 && strings.EqualFold(q.What[0], "all")
	if !all || len(q.Jobs)+len(q.Kinds) > 0 {
		return []AirLine{}, nil
	}
	return app.Ask(ctx, a, c, func(s *app.Session) ([]AirLine, error) {
		lq, err := query(s, q)
		if err != nil {
			return nil, err
		}
		var out []AirLine
		add := func(at time.Time, x AirLine) {
			mine := q.Person == nil || strings.EqualFold(x.By, strings.TrimSpace(*q.Person))
			if mine && !at.Before(lq.From) && (lq.To.IsZero() || at.Before(lq.To)) {
				x.Written, x.at = app.Instant(at, s.Zone), at
				out = append(out, x)
			}
		}
		if err := airLines(s, q.Struck, add); err != nil {
			return nil, err
		}
		slices.SortStableFunc(out, func(a, b AirLine) int { return a.at.Compare(b.at) })
		if q.Most > 0 {
			out = out[max(0, len(out)-q.Most):]
		}
		return app.Filled(out), err
	})
}

// airLines tells of all that was entered, and when, or only of what was cancelled.
func airLines(s *app.Session, struck bool, tell func(at time.Time, x AirLine)) error {
	from, err := s.Tx.AirSources()
	if err != nil {
		return err
	}
	for _, x := range from {
		if !struck {
			tell(x.Written, AirLine{Room: x.Room, Table: x.Table, File: x.File, Over: x.Over, By: x.By})
		}
	}
	rooms, err := s.Tx.Rooms()
	for _, r := range rooms {
		for _, x := range r.Struck {
			tell(x.Written, AirLine{Room: r.Name, Cancelled: app.Instant(x.At, s.Zone), Why: x.Why, By: x.By})
		}
	}
	return err
}
