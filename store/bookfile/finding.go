package bookfile

import (
	"fmt"

	"rindkeep/cave/reason"
)

// Finding is one thing Check found wrong. Rebuild mends those that are
// Derived; for the others there is the last backup. Those of History come
// first: they say what was altered, and others may follow from that.
type Finding struct {
	At      Spot          `json:"at"`
	What    reason.Reason `json:"what"`
	Derived bool          `json:"index,omitzero"`
	History bool          `json:"history,omitzero"` // the record reads, but is not what the program wrote
}

// Undecodable is a record that can't be read.
const Undecodable = reason.Flat("does-not-decode")

// String is for logs and tests.
func (f Finding) String() string {
	return fmt.Sprintf("%s %s: %s", f.At.Thing, f.At.Name, reason.Err(f.What))
}

// Damage is a finding as an error about the file of that path.
func (f Finding) Damage(path string) error { return Damaged(path, reason.Err(f.What), f.At) }

// MaxFindings bounds a report: a book with more is not mended by reading on.
const MaxFindings = 200
