package wheels

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Because asks to record something of wheels for a reason.
type Because struct {
	What []string // tags, lots, places
	Why  string
	Sure bool // of a safety hold that it ends: asked again

	Destroyed bool // of wheels that are lost: so that nobody eats them
}

// Holds asks to hold wheels, or to release them.
type Holds struct {
	Because
	Kind string // one of wheel.HoldKinds; "": not said; a release of that kind alone, or of any
}

// NotHeld refuses to release a wheel that nobody holds.
type NotHeld struct {
	Wheel string         `json:"wheel"`
	Kind  wheel.HoldKind `json:"kind"` // "": by any
}

// OnlyByLaw refuses to release a wheel that nobody holds but a law.
type OnlyByLaw struct {
	Wheel string      `json:"wheel"`
	Why   reason.List `json:"why"`
	Ends  reason.List `json:"ends"` // what ends them
}

// SendDespite is the remedy for OnlyByLaw.
type SendDespite struct {
	Wheel string `json:"wheel"`
}

// KindUnsaid notes that a hold without a kind is taken as one for safety.
type KindUnsaid struct{}

// MaybeOther notes that a wheel which was held has a tag that others had: they may be meant.
type MaybeOther app.NowTagged

// The codes.

func (MaybeOther) Code() string  { return "others-had-tag" }
func (NotHeld) Code() string     { return "not-held" }
func (OnlyByLaw) Code() string   { return "held-only-by-law" }
func (SendDespite) Code() string { return "send-despite-law" }
func (KindUnsaid) Code() string  { return "hold-kind-unsaid" }

// Hold holds wheels back: they may not leave.
func Hold(ctx context.Context, a *app.App, c app.Caller, q Holds) (d app.Did[Recorded], err error) {
	kind, err := q.check()
	if err != nil {
		return d, err
	}
	e := wheel.Entry{Kind: wheel.Held, Note: q.Why, Detail: wheel.Holding{Kind: kind}.Detail()}
	return each(ctx, a, c, q.What, e, func(s *app.Session, d *Recorded, st derive.WheelState, _ *wheel.Entry) error {
		if kind == "" {
			note(&d.Notes, KindUnsaid{})
		}
		had, err := s.HadTag(st.Tag)
		if len(had) > 0 {
			note(&d.Notes, MaybeOther{st.Tag, strings.Join(app.Tags(had), ", ")})
		}
		return err
	})
}

func (q Holds) check() (wheel.HoldKind, error) {
	if err := missing("why", q.Why, "why"); err != nil {
		return "", err
	}
	kind, err := wheel.ParseHoldKind(q.Kind)
	if err != nil {
		return "", app.Misread("kind", err)
	}
	return kind, nil
}

// Release ends holds that were set by hand, all or those of a kind. Those of a food
// law stay. Any writer ends ordinary ones; see app.MayLift for those for safety.
func Release(ctx context.Context, a *app.App, c app.Caller, q Holds) (d app.Did[Recorded], err error) {
	kind, err := q.check()
	if err != nil {
		return d, err
	}
	return each(ctx, a, c, q.What, wheel.Entry{Kind: wheel.Released, Note: q.Why},
		func(s *app.Session, _ *Recorded, st derive.WheelState, e *wheel.Entry) error {
			when, _, err := s.Moment()
			if err != nil {
				return err
			}
			c, err := s.CaseAt(st, when) // a release from before a hold would end nothing
			if err != nil {
				return err
			}
			l := c.Life
			others, err := s.HoldsOfLot(l)
			if err != nil {
				return err
			}
			l.Holds = slices.Concat(l.Holds, others)
			hs := slices.DeleteFunc(slices.Clone(l.Holds), func(h wheel.Hold) bool { return kind != "" && h.Kind != kind })
			if len(hs) == 0 {
				return notHeld(s, c, kind)
			}
			e.Detail = wheel.ReleaseOf(hs).Detail()
			return s.MayLift(app.Lift{
				Of: st.Tag, Holds: app.SafetyHolds(hs), Why: q.Why, Field: "why", Sure: q.Sure, Knows: app.PeopleOf(l),
			})
		})
}

// notHeld refuses to release a wheel on which nobody put a hold of a kind.
func notHeld(s *app.Session, c verdict.Case, kind wheel.HoldKind) error {
	tag, law := c.Life.Tag, OnlyByLaw{Wheel: c.Life.Tag}
	for _, h := range c.LawHolds(s.Time) {
		law.Why = append(law.Why, h.Reason())
		note(&law.Ends, lawEnds(s.Today, c.Life, h))
	}
	if kind != "" || len(law.Why) == 0 {
		return app.Refuse(NotHeld{tag, kind}).Of(tag)
	}
	return app.Refuse(law, SendDespite{tag}).Of(tag)
}

// SayDestroyed is a remedy: a wheel on hold that was destroyed is recorded as that.
const SayDestroyed reason.Flat = "say-destroyed"

// Lose records that wheels were lost: thrown out, eaten, broken. One that's held for
// safety isn't lost without somebody who may release it, but for one that was destroyed: that
// anybody may record who says why, and the entry keeps what it was held for.
func Lose(ctx context.Context, a *app.App, c app.Caller, q Because) (app.Did[Recorded], error) {
	return because(ctx, a, c, q, wheel.Lost)
}

// Void removes wheels that were entered by mistake, as Lose does those on safety holds.
func Void(ctx context.Context, a *app.App, c app.Caller, q Because) (app.Did[Recorded], error) {
	return because(ctx, a, c, q, wheel.Voided)
}

func because(ctx context.Context, a *app.App, c app.Caller, q Because, k wheel.Kind) (d app.Did[Recorded], err error) {
	if err := missing("why", q.Why, "why"); err != nil {
		return d, err
	}
	return each(ctx, a, c, q.What, wheel.Entry{Kind: k, Note: q.Why},
		func(s *app.Session, _ *Recorded, st derive.WheelState, e *wheel.Entry) error {
			if q.Destroyed {
				return q.destroy(s, st, e)
			}
			err := s.MayDrop(app.Lift{Why: q.Why, Field: "why", Sure: q.Sure}, st)
			if r := new(app.Refusal); k == wheel.Lost && errors.As(err, &r) {
				r.Remedy = append(r.Remedy, SayDestroyed)
			}
			return err
		})
}

// destroy completes the entry of a wheel that was destroyed.
func (q Because) destroy(s *app.Session, st derive.WheelState, e *wheel.Entry) error {
	holds, err := s.Safety(st.Wheel)
	if err != nil {
		return err
	}
	var d wheel.Disposal
	for _, key := range slices.Sorted(maps.Keys(holds)) {
		d.Held = append(d.Held, holds[key])
	}
	if len(d.Held) > 0 && !wheel.SaysWhy(q.Why) {
		return app.Refuse(app.NoRealReason{Words: q.Why, Field: "why", Holds: nil}, app.SayWhy).Of(st.Tag).In("why")
	}
	e.Detail = d.Detail()
	return nil
}
