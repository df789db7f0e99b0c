package store

import (
	"rindkeep/store/layout"
	"rindkeep/wheel/limit"
)

// Limit gives a limit by name: the user's own where there is one, else the one inside
// the program. The error may be a NotFound with names that may have been meant.
func (t *ReadTx) Limit(name string) (limit.Limit, error) { return limits.one(t, name) }

// Limits lists all limits by name, the user's own in place of the program's.
func (t *ReadTx) Limits() ([]limit.Limit, error) { return limits.all(t) }

// OwnLimit says whether the user wrote a limit of that name.
func (t *ReadTx) OwnLimit(name string) bool { return t.tab.Get(layout.Limits, []byte(name)) != nil }

// PutLimit adds a limit of the user's own, or puts it in the place of one of that name.
// file is the name errors give. Results that were entered keep the limits of their day.
func (t *WriteTx) PutLimit(file string, text []byte) (limit.Limit, error) {
	l, _, err := limits.put(t, file, text, func(limit.Limit) error { return nil })
	return l, err
}
