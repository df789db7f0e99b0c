package wheels

import (
	"context"
	"maps"
	"slices"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// NewPlan asks to give wheels another rind plan.
type NewPlan struct {
	What []string // tags, lots, places
	Plan string
}

// Plan gives wheels another rind plan.
func Plan(ctx context.Context, a *app.App, c app.Caller, q NewPlan) (app.Did[Recorded], error) {
	return each(ctx, a, c, q.What, wheel.Entry{Kind: wheel.Planned, Plan: q.Plan},
		func(s *app.Session, _ *Recorded, _ derive.WheelState, e *wheel.Entry) error {
			p, err := s.Tx.Plan(q.Plan)
			e.Plan = p.Name
			return app.About(q.Plan, err)
		})
}

// NewTag asks to give a wheel another tag.
type NewTag struct {
	Wheel string // its tag until now
	Tag   string
	Sure  bool // though another wheel had it
}

// TagHadBefore doubts a tag that another wheel had: a label or a recall may mean that one.
type TagHadBefore app.NowTagged

// Code implements reason.Reason.
func (TagHadBefore) Code() string { return "tag-had-before" }

// OneWheel refuses a choice of wheels where one has to be named by its tag.
const OneWheel reason.Flat = "one-wheel-by-its-tag"

// Tag gives a wheel another tag.
func Tag(ctx context.Context, a *app.App, c app.Caller, q NewTag) (d app.Did[Recorded], err error) {
	if err := cave.CheckTag("tag", q.Tag); err != nil {
		return d, app.About(q.Tag, err)
	}
	return each(ctx, a, c, []string{q.Wheel}, wheel.Entry{Kind: wheel.Tagged, Tag: q.Tag},
		func(s *app.Session, _ *Recorded, st derive.WheelState, _ *wheel.Entry) error {
			if !strings.EqualFold(st.Tag, q.Wheel) {
				return app.Misuse("wheel", OneWheel)
			}
			if err := q.fresh(s, st); err != nil {
				return err
			}
			return tagHeld(s, st)
		})
}

// fresh doubts a tag that another wheel had.
func (q NewTag) fresh(s *app.Session, st derive.WheelState) error {
	had, err := s.HadTag(q.Tag)
	had = slices.DeleteFunc(had, func(o derive.WheelState) bool { return o.Wheel == st.Wheel })
	if err != nil || len(had) == 0 || q.Sure {
		return err
	}
	return app.Unsure(TagHadBefore{q.Tag, strings.Join(app.Tags(had), ", ")}).Of(st.Tag)
}

// tagHeld refuses a new tag for a wheel on a safety hold, except from somebody who may
// lift the hold: another wheel could leave under the old tag, or this one unnoticed.
func tagHeld(s *app.Session, st derive.WheelState) error {
	held, err := s.Safety(st.Wheel)
	if err != nil || len(held) == 0 {
		return err
	}
	why := app.Each(slices.Sorted(maps.Keys(held)), func(key string) reason.Reason { return held[key] })
	return s.IsReleaser(st.Tag, why)
}
