package store

import (
	"errors"

	"github.com/google/uuid"

	"rindkeep/store/history"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// Subject gives what an entry is about. The error may be a NotFound.
func (t *ReadTx) Subject(id uuid.UUID) (*history.Subject, error) {
	if s := t.subjects[id]; s != nil {
		return s, nil
	}
	mk, isWheel, err := t.about(id)
	if err != nil {
		return nil, err
	}
	es, err := t.history(id)
	if err != nil {
		return nil, err
	}
	s := history.Of(mk, isWheel, t.Zone(), es)
	t.subjects[id] = s
	return s, nil
}

// about finds the make an entry is about, itself or through its wheel.
func (t *ReadTx) about(id uuid.UUID) (mk wheel.Make, isWheel bool, err error) {
	w, err := t.Wheel(id)
	var nf refusal.NotFound
	switch {
	case err == nil:
		mk, err = t.Make(w.Make)
		return mk, true, err
	case !errors.As(err, &nf):
		return mk, false, err
	}
	mk, merr := t.Make(id)
	if errors.As(merr, &nf) {
		return mk, false, err // most entries are about wheels
	}
	return mk, false, merr
}
