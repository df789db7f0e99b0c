package wheels

import (
	"context"

	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/wheel"
)

// Because asks to record something of wheels for a reason.
type Because struct {
	What []string // tags, lots, places
	Why  string
}

// NotHeld refuses to release a wheel that nobody holds.
type NotHeld struct {
	Wheel string `json:"wheel"`
}

// Code implements reason.Reason.
func (NotHeld) Code() string { return "not-held" }

// Hold holds wheels back: they may not leave.
func Hold(ctx context.Context, a *app.App, c app.Caller, q Because) (app.Did[Recorded], error) {
	return because(ctx, a, c, q, wheel.Held)
}

// Release ends the holds that were set by hand. Those of a food law stay.
func Release(ctx context.Context, a *app.App, c app.Caller, q Because) (app.Did[Recorded], error) {
	return because(ctx, a, c, q, wheel.Released)
}

// Lose records that wheels were lost: thrown out, eaten, broken.
func Lose(ctx context.Context, a *app.App, c app.Caller, q Because) (app.Did[Recorded], error) {
	return because(ctx, a, c, q, wheel.Lost)
}

// Void removes wheels that were entered by mistake.
func Void(ctx context.Context, a *app.App, c app.Caller, q Because) (app.Did[Recorded], error) {
	return because(ctx, a, c, q, wheel.Voided)
}

func because(ctx context.Context, a *app.App, c app.Caller, q Because, k wheel.Kind) (d app.Did[Recorded], err error) {
	if err := missing("why", q.Why, "why"); err != nil {
		return d, err
	}
	return each(ctx, a, c, q.What, wheel.Entry{Kind: k, Note: q.Why},
		func(s *app.Session, _ *Recorded, st store.WheelState, _ *wheel.Entry) error {
			if k != wheel.Released {
				return nil
			}
			l, err := s.Tx.Life(st.Wheel)
			if err == nil && len(l.Holds) == 0 {
				return app.Refuse(NotHeld{st.Tag}).Of(st.Tag)
			}
			return err
		})
}
