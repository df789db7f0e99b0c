package entries

import (
	"slices"

	"github.com/google/uuid"

	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// AddedByIt refuses to strike a correction of a make that added wheels which were
// looked after since.
type AddedByIt struct {
	Wheel string `json:"wheel"`
}

// Code implements reason.Reason.
func (AddedByIt) Code() string { return "added-by-correction" }

// whole adds to entries that correct or remove a make what the same act recorded of
// its wheels, so that all of it is struck: green weights that moved, plans, removals.
func whole(s *app.Session, es []wheel.Entry) ([]wheel.Entry, error) {
	var out []wheel.Entry
	have := map[uuid.UUID]bool{}
	add := func(es ...wheel.Entry) {
		for _, e := range es {
			if !have[e.ID] {
				have[e.ID] = true
				out = append(out, e)
			}
		}
	}
	for _, e := range es {
		if !ofMake(s, e) {
			add(e)
			continue
		}
		act, err := s.Tx.EntriesByCommand(batchOf(e.ID))
		if err != nil {
			return nil, err
		}
		// A removed lot takes its wheels back only once it is back itself; the green
		// weights that moved with a date go before the date does.
		if e.Kind == wheel.Voided {
			add(e)
		}
		if act, err = standing(s, act); err != nil {
			return nil, err
		}
		add(act...)
	}
	slices.SortStableFunc(out, func(a, b wheel.Entry) int { return rank(a) - rank(b) })
	return out, nil
}

func rank(e wheel.Entry) int {
	if e.Kind == wheel.Corrected {
		return 1
	}
	return 0
}

// ofMake says whether an entry corrects or removes a make.
func ofMake(s *app.Session, e wheel.Entry) bool {
	if e.Kind == wheel.Corrected {
		return true
	}
	_, err := s.Tx.Make(e.Subject)
	return e.Kind == wheel.Voided && err == nil
}

// batchOf is what the IDs of an act's entries begin with.
func batchOf(id uuid.UUID) uuid.UUID {
	id[12], id[13], id[14], id[15] = 0, 0, 0, 0
	return id
}

// standing drops entries that were struck since.
func standing(s *app.Session, act []wheel.Entry) ([]wheel.Entry, error) {
	var out []wheel.Entry
	for _, e := range act {
		es, err := s.Tx.History(e.Subject)
		if err != nil {
			return nil, err
		}
		if e.Kind == wheel.Struck || slices.ContainsFunc(wheel.Live(es), func(o wheel.Entry) bool { return o.ID == e.ID }) {
			out = append(out, e)
		}
	}
	return out, nil
}

// unadded removes the wheels that a correction added, as it is struck.
func unadded(s *app.Session, e wheel.Entry, why string) ([]wheel.Entry, error) {
	c, err := wheel.ParseCorrection(e.Detail)
	if err != nil || c.WheelsNow <= c.WheelsWas {
		return nil, nil
	}
	ws, err := s.Tx.WheelsOf(e.Subject)
	var out []wheel.Entry
	for _, w := range ws {
		if batchOf(w.ID) != batchOf(e.ID) {
			continue
		}
		es, err := s.Tx.History(w.ID)
		if err != nil {
			return nil, err
		}
		if live := wheel.Live(es); len(live) > 0 {
			if live[len(live)-1].Kind == wheel.Voided {
				continue
			}
			return nil, app.Refuse(AddedByIt{s.SubjectName(w.ID)}).Of(e.Mark())
		}
		out = append(out, wheel.Entry{Subject: w.ID, Kind: wheel.Voided, At: s.Time, Note: why})
	}
	return out, err
}
