// Package sheets has what printed sheets show that no other use case gives.
package sheets

import (
	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
)

// Label is what stands on a wheel's label.
type Label struct {
	Tag   string
	Title string // of its variety
	Lot   string
	Made  day.Date
}

// NobodyHere refuses labels where every wheel named is gone.
const NobodyHere = reason.Flat("no-wheel-left-to-label")

// mostLabels keeps a slip like "labels all" in a warehouse from filling the memory:
// a label takes about 20 KB.
const mostLabels = 10000

// Labels gives the labels of wheels, in the order they are named.
func Labels(s *app.Session, what []string) ([]Label, error) {
	ws, err := s.Pick(what)
	switch {
	case err != nil:
		return nil, err
	case len(ws) == 0:
		return nil, app.Refuse(NobodyHere).In("what")
	case len(ws) > mostLabels:
		return nil, app.Refuse(reason.TooLong{What: "labels", Has: len(ws), Most: mostLabels}).In("what")
	}
	makes := map[uuid.UUID]Label{}
	var out []Label
	for _, w := range ws {
		l, ok := makes[w.Make]
		if !ok {
			m, err := s.Tx.Make(w.Make)
			if err != nil {
				return nil, err
			}
			v, err := s.Tx.VarietyOf(m)
			if err != nil {
				return nil, err
			}
			l = Label{Title: v.Title, Lot: m.Lot, Made: m.Date}
			makes[w.Make] = l
		}
		l.Tag = w.Tag
		out = append(out, l)
	}
	return out, nil
}
