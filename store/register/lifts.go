package register

import (
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
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
	if err := checkWritten(l.ID, l.Written, l.By); err != nil {
		return err
	}
	if len(l.Ended) == 0 {
		return reason.Err(reason.Missing{What: "holds"})
	}
	if err := wheel.CheckNote(l.Of); err != nil {
		return err
	}
	return wheel.CheckNote(l.Why)
}

// Key is the key of its record.
func (l Lift) Key() []byte { return layout.WrittenKey(l.Written, l.ID) }

// PutLift writes a lift.
func (t *Writer) PutLift(l Lift) error {
	l.Written = pack.Milli(l.Written)
	if err := t.mayCount(l.Check(), l.Written); err != nil {
		return err
	}
	_, err := table.PutRecord(t.tab, layout.Lifts, l.Key(), l)
	return err
}
