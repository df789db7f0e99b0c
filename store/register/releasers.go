package register

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// Releasers says who may lift safety holds from the moment it was written. It is
// never changed; the latest counts.
type Releasers struct {
	ID      uuid.UUID `json:"id"`
	Names   []string  `json:"names"` // none: the book names nobody
	Note    string    `json:"note,omitempty"`
	Written time.Time `json:"written"`
	By      string    `json:"by,omitempty"`
}

// Has says whether somebody is among them.
func (r Releasers) Has(name string) bool {
	return slices.ContainsFunc(r.Names, func(n string) bool { return strings.EqualFold(n, name) })
}

// Check says what is wrong with it.
func (r Releasers) Check() error {
	if err := checkWritten(r.ID, r.Written, r.By); err != nil {
		return err
	}
	for _, n := range r.Names {
		if err := cave.CheckName("person", n); err != nil {
			return err
		}
	}
	return wheel.CheckNote(r.Note)
}

// Key is the key of its record.
func (r Releasers) Key() []byte { return layout.WrittenKey(r.Written, r.ID) }

// PutReleasers has others lift safety holds from now on. The same again changes
// nothing: written is false then.
func (t *Writer) PutReleasers(r Releasers) (written bool, err error) {
	r.Written = pack.Milli(r.Written)
	if err := t.mayCount(r.Check(), r.Written); err != nil {
		return false, err
	}
	now, err := t.read.Releasers()
	if err != nil || slices.Equal(now.Names, r.Names) {
		return false, err
	}
	return table.PutRecord(t.tab, layout.Releasers, r.Key(), r)
}

// Releasers are those who may lift safety holds now; without Names the book names
// nobody.
func (t *Reader) Releasers() (last Releasers, err error) {
	all, err := t.ReleasersOf()
	if len(all) > 0 {
		last = all[len(all)-1]
	}
	return last, err
}

// ReleasersOf lists who might lift safety holds from when, the earliest first.
func (t *Reader) ReleasersOf() ([]Releasers, error) {
	return table.List[Releasers](t.tab, layout.Releasers, "releasers")
}
