// Package register keeps what a book knows besides makes, wheels and entries: rooms and
// their air, varieties, plans, laws and limits, who wheels go to, where the cheese is kept,
// who may lift holds, how tables are read, pictures, and the phones that entries come from.
package register

import (
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
	"rindkeep/wheel/holdrule"
)

// Reader reads the registers in one transaction.
type Reader struct {
	tab     *table.Tx
	created string // the countries that the book was made for

	rooms  map[string]cave.Room
	listed bool            // the records of the rooms are rooms
	parsed map[textKey]any // varieties, plans, rules and limits that were read

	misnamed map[string][]string // by bucket, the keys under which no text of theirs can be read
	laws     []holdrule.Rule     // all of them; nil: not read yet
	follows  []Follow            // nil: not read yet
	pacts    []Pact              // nil: not read yet
}

// Read begins to read the registers of a book that was made for some countries.
func Read(tab *table.Tx, countries string) *Reader {
	return &Reader{tab: tab, created: countries, rooms: map[string]cave.Room{}, parsed: map[textKey]any{},
		misnamed: map[string][]string{}}
}

// Writer changes the registers.
type Writer struct {
	tab     *table.Tx
	read    *Reader
	changed func(Change) error
}

// Change is a change that what is derived of wheels may follow from: of a variety, a plan, a
// rule, whose law the book follows, or a room's air from an instant on.
type Change struct {
	Thing reason.Thing // "variety", "plan", "rule", "limit", "follow", "air", or "room": its rest
	Name  string
	From  time.Time
}

// Write begins to change the registers, and tells changed. The reader shows what was changed.
func (t *Reader) Write(changed func(Change) error) *Writer {
	return &Writer{tab: t.tab, read: t, changed: changed}
}

// checkWritten says what is wrong with the identity of a record, or when and by whom it
// was written.
func checkWritten(id uuid.UUID, written time.Time, by string) error {
	switch {
	case id == uuid.Nil:
		return reason.Err(reason.Missing{What: "id"})
	case written.Before(pack.Epoch):
		return reason.Err(refusal.Before1970)
	}
	return checkName("person", by)
}

// checkName says what is wrong with a name, where there is one.
func checkName(thing reason.Thing, name string) error {
	if name == "" {
		return nil
	}
	return cave.CheckName(thing, name)
}

// mayCount refuses a record that counts from when it was written, if it's not as it should
// be, or from the future.
func (t *Writer) mayCount(check error, written time.Time) error {
	if check != nil {
		return refusal.Refused{Cause: check}
	}
	if written.After(t.tab.Latest()) {
		return refusal.Because("", refusal.FutureTime{At: written.In(t.tab.Zone())})
	}
	return nil
}
