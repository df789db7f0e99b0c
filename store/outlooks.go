package store

import (
	"github.com/google/uuid"

	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Kept is a wheel that waits for its coat, with the outlook that is kept of it.
type Kept struct {
	derive.WheelState
	Make    wheel.Make // as its log tells of it
	Outlook verdict.Outlook
	Terms   verdict.Terms
}

// Waiting lists the wheels that wait for their coat, in the order of their identities.
func (t *ReadTx) Waiting() ([]derive.WheelState, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	var out []derive.WheelState
	if t.tab.Bucket(layout.Outlooks) == nil { // an old index, on a machine that may not make it again
		for s, err := range t.states() {
			if err != nil {
				return nil, err
			}
			if s.Gated {
				out = append(out, s)
			}
		}
		return out, nil
	}
	for k := range t.tab.In(layout.Outlooks, nil) {
		id, err := uuid.FromBytes(k)
		if err != nil {
			return nil, t.tab.Damaged(pack.ErrForm, "index", layout.Outlooks)
		}
		s, err := t.State(id)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// Kept is what is kept of a wheel; ok is false where it doesn't wait for its coat, or the
// outlook doesn't read: its history says the same, and Check finds the damage.
func (t *ReadTx) Kept(s derive.WheelState) (k Kept, ok bool, err error) {
	if err := t.ready(); err != nil {
		return k, false, err
	}
	v := t.tab.Get(layout.Outlooks, s.Wheel[:])
	if v == nil {
		return k, false, nil
	}
	k.WheelState = s
	if k.Outlook, err = derive.DecodeOutlook(v); err != nil {
		return k, false, nil
	}
	if k.Make, err = t.MakeFromLog(s.Make); err != nil {
		return k, false, err
	}
	p, err := t.Plan(s.Plan)
	if err != nil {
		return k, false, err
	}
	k.Terms = verdict.Terms{Made: k.Make.Date, Gate: p.Gate, Loc: t.Zone()}
	k.Terms.Variety, err = t.VarietyOf(k.Make)
	return k, err == nil, err
}
