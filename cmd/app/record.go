package app

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// Entry fills in what every entry of this act shares.
func (s *Session) Entry(e wheel.Entry) wheel.Entry {
	e.ID, e.Written, e.Clock, e.Unsure, e.By = s.NextID(), s.Time, s.Clock, s.Unsure, s.Who
	return e
}

// Recorded is what one act wrote: the wheels it named, when it happened, and how
// many entries were new.
type Recorded struct {
	Wheels  []derive.WheelState
	At      time.Time
	Written int
}

// Record writes one entry, made by of, for every wheel named.
func (s *Session) Record(what []string, of func(derive.WheelState) (wheel.Entry, error)) (Recorded, error) {
	var r Recorded
	var err error
	if r.At, _, err = s.Moment(); err != nil {
		return r, err
	}
	if r.Wheels, err = s.Pick(what); err != nil {
		return r, err
	}
	var entries []wheel.Entry
	for _, st := range r.Wheels {
		e, err := of(st)
		if err != nil {
			return r, err
		}
		e.Subject, e.At = st.Wheel, r.At
		entries = append(entries, s.Entry(e))
	}
	res, err := s.Write.Put(entries...)
	r.Written = res.Written
	return r, err
}

// AskSisters asks for a hand check of every other wheel of the makes whose wheels
// had a fault, unless one is asked for already. It gives their tags.
func (s *Session) AskSisters(r Recorded, fault string) ([]string, error) {
	asked := []string{}
	if fault == "" || r.Written == 0 {
		return asked, nil
	}
	var entries []wheel.Entry
	done := map[uuid.UUID]bool{}
	for _, w := range r.Wheels {
		if done[w.Make] {
			continue
		}
		done[w.Make] = true
		sisters, err := s.WheelsHere(w.Make)
		if err != nil {
			return nil, err
		}
		why := wheel.AskedFor(wheel.FaultSeen{Faults: fault, Wheels: w.Tag})
		for _, o := range sisters {
			if slices.ContainsFunc(r.Wheels, func(x derive.WheelState) bool { return x.Wheel == o.Wheel }) {
				continue
			}
			l, err := s.Tx.LifeAlone(o.Wheel)
			if err != nil {
				return nil, err
			}
			if _, open := l.Asked[wheel.Check]; open {
				continue
			}
			e := wheel.Entry{Subject: o.Wheel, Kind: wheel.Asked, Job: wheel.Check, At: r.At, Detail: why}
			entries, asked = append(entries, s.Entry(e)), append(asked, o.Tag)
		}
	}
	_, err := s.Write.Put(entries...)
	return asked, err
}

// CaseAt is a wheel's case as it stood at an instant.
func (s *Session) CaseAt(st derive.WheelState, until time.Time) (verdict.Case, error) {
	if until.Before(s.Time) {
		return s.Tx.CaseBefore(st.Wheel, until.Add(time.Millisecond))
	}
	return s.Tx.Case(st.Wheel)
}

// GatedCase is a wheel's case as it stood at an instant, and whether its plan has
// a gate a coat waits at.
func (s *Session) GatedCase(st derive.WheelState, until time.Time) (verdict.Case, bool, error) {
	c, err := s.CaseAt(st, until)
	if err != nil {
		return c, false, err
	}
	gated, err := s.Gated(c.Life.Plan)
	return c, gated, err
}

// Gated says whether a plan has a coat that waits for a gate.
func (s *Session) Gated(plan string) (bool, error) {
	_, gated, err := s.GateCoat(plan)
	return gated, err
}

// GateCoat is the coat of a plan that waits for a gate; ok is false where none does.
func (s *Session) GateCoat(plan string) (coat string, ok bool, err error) {
	p, err := s.PlanOf(plan)
	coat, ok = p.GateCoat()
	return coat, ok, err
}

// PlanOf is the plan that a wheel follows; one without steps where the book hasn't got it, as another
// site's may not have come yet.
func (s *Session) PlanOf(plan string) (schedule.Plan, error) {
	p, err := s.Tx.Plan(plan)
	if IsNotFound(err) {
		return schedule.Plan{Name: plan}, nil
	}
	return p, err
}

// Judged is a wheel's case with its forecast and the answer to "dry enough?". By its
// kept outlook, the case is only what a list says of the wheel, and Forecast is empty.
type Judged struct {
	verdict.Case
	Forecast drying.Forecast
	Dry      verdict.Dry
	Last     drying.Verdict // how its last weighing looks; "" where it was weighed once or never
	Gated    bool           // its plan has a coat that waits for the gate
	Coat     string         // that coat
	Held     reason.List    // by law
}

// Judge answers for one wheel as it stood at an instant.
func (s *Session) Judge(st derive.WheelState, at time.Time) (Judged, error) {
	c, err := s.CaseAt(st, at)
	if err != nil {
		return Judged{}, err
	}
	return s.JudgeCase(c, at)
}

// JudgeCase answers for a wheel by its case as it stood at an instant.
func (s *Session) JudgeCase(c verdict.Case, at time.Time) (Judged, error) {
	coat, gated, err := s.GateCoat(c.Life.Plan)
	if err != nil {
		return Judged{}, err
	}
	f := c.Forecast()
	o := c.Outlook(f)
	j := Judged{
		Case: c, Forecast: f, Dry: o.By(c.Terms(), f, at), Last: o.Last, Gated: gated, Coat: coat, Held: held(c, at),
	}
	if !gated && j.Dry.Answer != verdict.Coated {
		j.Dry.Advice = reason.List{verdict.NoCoat{Plan: c.Life.Plan, Answer: j.Dry.Answer}}
	}
	return j, nil
}

func held(c verdict.Case, at time.Time) (out reason.List) {
	return Each(c.LawHolds(at), func(h verdict.LawHold) reason.Reason { return h.Reason() })
}

// JudgeKept answers for one wheel at an instant from now on, by the outlook that is kept
// of it where there is one that reaches so far.
func (s *Session) JudgeKept(st derive.WheelState, at time.Time) (Judged, error) {
	k, ok, err := s.Tx.Kept(st)
	if err != nil {
		return Judged{}, err
	}
	if !ok || !k.Outlook.Knows(at) {
		return s.Judge(st, at)
	}
	coat, gated, err := s.GateCoat(st.Plan)
	if err != nil {
		return Judged{}, err
	}
	law, err := s.lawOf(k.Make)
	if err != nil {
		return Judged{}, err
	}
	c := verdict.Case{
		Life: wheel.Life{
			Wheel: wheel.Wheel{ID: st.Wheel, Make: k.Make.ID}, Make: k.Make, Tag: st.Tag, Place: st.Place, Plan: st.Plan,
			GoneOn: day.None,
		},
		Variety: k.Terms.Variety, Gate: k.Terms.Gate, Loc: s.Zone, Law: law, Until: k.Outlook.Until,
	}
	j := Judged{Case: c, Dry: k.Outlook.Dry(k.Terms, at), Last: k.Outlook.Last, Gated: gated, Coat: coat}
	if len(c.LawDays(at)) > 0 { // it's the air it lay in that decides
		whole, err := s.Tx.CaseAlone(st.Wheel)
		if err != nil {
			return Judged{}, err
		}
		j.Held = held(whole, at)
	}
	return j, nil
}

// PhotoDetail keeps a photo as photo.Fit gave it, and gives the detail of the note it
// goes with; "" where jpeg is nil.
func (s *Session) PhotoDetail(jpeg []byte) (string, error) {
	if jpeg == nil {
		return "", nil
	}
	p, err := s.Write.PutPhoto(jpeg)
	if err != nil {
		return "", At("photo", err)
	}
	return p.Detail(), nil
}
