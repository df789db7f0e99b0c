package makes

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// Removal asks to remove a make that was entered by mistake.
type Removal struct {
	Lot  string
	Why  string
	Sure bool // though more is recorded of its wheels than came with them, or they are held for safety

	Lifts bool // asked again whether it's removed despite safety holds; Sure says so too
}

// Removed is a make that was removed. Its lot code stays taken.
type Removed struct {
	Schema string   `json:"schema"`
	Lot    string   `json:"lot"`
	Wheels []string `json:"wheels"` // removed with it
}

// Reasons why a make can't be removed, or looks as if it shouldn't be.
type (
	// WheelsLeft: wheels of it, or pieces of them, were sent or lost.
	WheelsLeft struct {
		Lot  string `json:"lot"`
		Tags string `json:"tags"` // separated by spaces: of all, or of those that were sent if any was
		How  string `json:"how"`  // sent, lost
		Mark string `json:"mark"` // of the first such entry, behind its wheel's tag
		Lost string `json:"lost"` // those that were lost, where others were sent
	}
	// CurdLeft: curd of it went into another lot.
	CurdLeft struct {
		Lot  string `json:"lot"`
		Into string `json:"into"`
	}
	// SampleTaken: a laboratory has a sample of it.
	SampleTaken struct {
		Lot string `json:"lot"`
	}
	// MuchRecorded: it has wheels that were looked after.
	MuchRecorded struct {
		Lot  string `json:"lot"`
		Tags string `json:"tags"` // separated by spaces
	}
	// WheelNamed: the tag of a wheel was given where a whole make is removed.
	WheelNamed struct {
		Wheel string `json:"wheel"`
		Lot   string `json:"lot"`
	}
	// RecallFirst is the remedy for WheelsLeft that were sent.
	RecallFirst struct {
		Lot  string `json:"lot"`
		Mark string `json:"mark"`
	}
	// StrikeEntry is a remedy: the entry is to be cancelled first.
	StrikeEntry struct {
		Mark string `json:"mark"`
	}
	// VoidWheel is a remedy: only the wheel is to be removed.
	VoidWheel struct {
		Wheel string `json:"wheel"`
	}
)

// The codes.

func (WheelsLeft) Code() string   { return "wheels-left" }
func (CurdLeft) Code() string     { return "curd-left" }
func (SampleTaken) Code() string  { return "sample-taken" }
func (MuchRecorded) Code() string { return "much-recorded" }
func (WheelNamed) Code() string   { return "wheel-named" }
func (RecallFirst) Code() string  { return "recall-first" }
func (StrikeEntry) Code() string  { return "strike-entry" }
func (VoidWheel) Code() string    { return "void-wheel" }

// Void removes a make that was entered by mistake, and its wheels: they leave the
// lists, and stay in the log and in exports.
func Void(ctx context.Context, a *app.App, c app.Caller, q Removal) (app.Did[Removed], error) {
	if strings.TrimSpace(q.Why) == "" {
		return app.Did[Removed]{}, app.Misuse("why", reason.Missing{What: "why"})
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Removed, error) { return q.remove(s) })
}

func (q Removal) remove(s *app.Session) (Removed, error) {
	d := Removed{Schema: app.Schema("make-void"), Wheels: []string{}}
	m, err := Lot(s, q.Lot)
	if err != nil {
		return d, err
	}
	if s.Tx.HasTag(q.Lot) {
		return d, app.Refuse(WheelNamed{q.Lot, m.Lot}, VoidWheel{q.Lot}).In("lot")
	}
	if m.Removed {
		return d, app.Refuse(refusal.LotRemoved{Lot: m.Lot}).Of(m.Lot)
	}
	if err := untouched(s, m); err != nil {
		return d, err
	}
	r, err := Correction{}.recount(s, m)
	if err != nil {
		return d, err
	}
	if err := stillHere(s, m, r.left); err != nil {
		return d, err
	}
	lift := app.Lift{Why: q.Why, Field: "why", Sure: q.Sure || q.Lifts}
	if err := s.MayDrop(lift, r.left...); err != nil {
		return d, err
	}
	if err := unhandled(s, m, r.left); err != nil && !q.Sure {
		var why WereHandled
		if w, ok := app.AsRefusal(err).Why.(WereHandled); ok {
			why = w
		} else {
			return d, err
		}
		return d, app.Unsure(MuchRecorded(why))
	}
	fact := s.Entry(wheel.Entry{Subject: m.ID, Kind: wheel.Voided, At: s.Time, Note: q.Why})
	r.drop = r.left
	if err := r.remove(s, q.Why); err != nil {
		return d, err
	}
	_, err = s.Write.Put(fact)
	d.Lot, d.Wheels = m.Lot, app.Tags(r.left)
	return d, err
}

// untouched refuses to remove a make of which curd or a sample is elsewhere.
func untouched(s *app.Session, m wheel.Make) error {
	sheet, err := s.Tx.MakeSheet(m.ID)
	if err != nil {
		return err
	}
	for _, l := range sheet.Lines {
		if l.Log.ToLot != "" {
			return app.Refuse(CurdLeft{m.Lot, l.Log.ToLot}, StrikeEntry{m.Lot + ":" + l.Entry.Mark()})
		}
	}
	es, err := s.Tx.History(m.ID)
	if err != nil {
		return err
	}
	es = wheel.Live(es)
	if i := slices.IndexFunc(es, func(e wheel.Entry) bool { return e.Kind == wheel.Sampled }); i >= 0 {
		return app.Refuse(SampleTaken{m.Lot}, StrikeEntry{m.Lot + ":" + es[i].Mark()})
	}
	return nil
}

// stillHere refuses to remove wheels that left, whole or in part.
func stillHere(s *app.Session, m wheel.Make, ws []derive.WheelState) error {
	sent, lost := WheelsLeft{Lot: m.Lot}, WheelsLeft{Lot: m.Lot, How: wheel.Lost.String()}
	for _, st := range ws {
		es, err := s.Tx.History(st.Wheel)
		if err != nil {
			return err
		}
		for _, e := range wheel.Live(es) {
			why := &sent
			switch e.Kind {
			case wheel.Lost:
				why = &lost
			case wheel.Sent, wheel.SentPart:
				why.How = cmp.Or(why.How, e.Kind.String())
			default:
				continue
			}
			why.Mark = cmp.Or(why.Mark, st.Tag+":"+e.Mark())
			why.Tags = strings.TrimSpace(why.Tags + " " + st.Tag)
			break
		}
	}
	switch {
	case sent.Tags != "":
		sent.Lost = lost.Tags
		return app.Refuse(sent, RecallFirst{m.Lot, sent.Mark})
	case lost.Tags != "":
		return app.Refuse(lost, StrikeEntry{lost.Mark})
	}
	return nil
}
