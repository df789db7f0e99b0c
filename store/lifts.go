package store

import (
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// Lift is somebody's word that holds may end, or never begin, by what they changed. It is
// never changed itself.
type Lift struct {
	ID      uuid.UUID   `json:"id"`
	Of      string      `json:"of"` // what was changed: "rule us-cheddar", "lot 261101A", "air of cellar"
	Ended   reason.List `json:"ended"`
	Why     string      `json:"why,omitempty"`
	Written time.Time   `json:"written"`
	By      string      `json:"by,omitempty"`
}

// Check says what is wrong with it.
func (l Lift) Check() error {
	switch {
	case l.ID == uuid.Nil:
		return reason.Err(reason.Missing{What: "id"})
	case l.Written.Before(pack.Epoch):
		return reason.Err(refusal.Before1970)
	case len(l.Ended) == 0:
		return reason.Err(reason.Missing{What: "holds"})
	}
	if l.By != "" {
		if err := cave.CheckName("person", l.By); err != nil {
			return err
		}
	}
	if err := wheel.CheckNote(l.Of); err != nil {
		return err
	}
	return wheel.CheckNote(l.Why)
}

func (l Lift) key() []byte { return layout.WrittenKey(l.Written, l.ID) }

// PutLift writes a lift.
func (t *WriteTx) PutLift(l Lift) error {
	l.Written = pack.Milli(l.Written)
	if err := l.Check(); err != nil {
		return refusal.Refused{Cause: err}
	}
	_, err := table.PutRecord(t.tab, layout.Lifts, l.key(), l)
	return err
}

// Lifts lists the lifts, the earliest first.
func (t *ReadTx) Lifts() ([]Lift, error) { return table.List[Lift](t.tab, layout.Lifts, "lift") }
