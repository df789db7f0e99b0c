package wheels

import (
	"context"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// Taken asks to record that something was taken off a wheel. Weights are of the
// wheel with its coat; 0 where nobody took one.
type Taken struct {
	Wheel   string
	Before  quantity.Grams
	After   quantity.Grams
	Removed quantity.Grams // weight of what was taken
	Note    string
	Sure    bool
	Lifts   bool // asked again whether it's cut despite a safety hold; Sure says so too
}

// Core records a core taken with a trier.
func Core(ctx context.Context, a *app.App, c app.Caller, q Taken) (app.Did[Recorded], error) {
	return take(ctx, a, c, q, wheel.Cored)
}

// Cut records that a piece was cut off or trimmed. One is cut off a wheel that's held for
// safety only by somebody who may release it, as with Lose: nobody knows where it goes.
func Cut(ctx context.Context, a *app.App, c app.Caller, q Taken) (app.Did[Recorded], error) {
	return take(ctx, a, c, q, wheel.Cut)
}

func take(ctx context.Context, a *app.App, c app.Caller, q Taken, k wheel.Kind) (d app.Did[Recorded], err error) {
	if q.Before > 0 && q.After > q.Before {
		return d, app.Refuse(wheel.MoreThanThere{Before: q.Before}).In("after")
	}
	if q.Before > 0 && q.Removed >= q.Before {
		return d, app.Refuse(wheel.MoreThanThere{Before: q.Before}).In("removed")
	}
	e := wheel.Entry{Kind: k, Before: q.Before, Weight: q.After, Removed: q.Removed, Note: q.Note}
	return each(ctx, a, c, []string{q.Wheel}, e,
		func(s *app.Session, _ *Recorded, st derive.WheelState, e *wheel.Entry) error {
			if err := s.Reweighed(st, *e, q.Sure); err != nil || k != wheel.Cut {
				return err
			}
			return s.MayDrop(app.Lift{Why: q.Note, Field: "note", Sure: q.Sure || q.Lifts}, st)
		})
}
