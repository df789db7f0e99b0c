package wheels

import (
	"context"

	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// TakeOver asks to start the plan of wheels afresh that had ripened before.
type TakeOver struct {
	What      []string // tags, lots, places
	HereSince string   // at their places since, a date as typed
	Note      string
}

// Take takes wheels over that are in the book: their plan starts when the caller says.
func Take(ctx context.Context, a *app.App, c app.Caller, q TakeOver) (app.Did[Recorded], error) {
	return each(ctx, a, c, q.What, wheel.Entry{Kind: wheel.TakenOver, Note: q.Note},
		func(s *app.Session, _ *Recorded, _ derive.WheelState, e *wheel.Entry) error {
			if q.HereSince == "" {
				return nil
			}
			d, err := s.Dates().ParsePast(q.HereSince)
			if err != nil {
				return app.Misread("here", err)
			}
			e.Detail = wheel.Arrival{Here: &d}.Detail()
			return nil
		})
}
