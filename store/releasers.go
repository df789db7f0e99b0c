package store

import (
	"slices"
	"strings"
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
	switch {
	case r.ID == uuid.Nil:
		return reason.Err(reason.Missing{What: "id"})
	case r.Written.Before(pack.Epoch):
		return reason.Err(refusal.Before1970)
	}
	for _, n := range r.Names {
		if err := cave.CheckName("person", n); err != nil {
			return err
		}
	}
	if r.By != "" {
		if err := cave.CheckName("person", r.By); err != nil {
			return err
		}
	}
	return wheel.CheckNote(r.Note)
}

func (r Releasers) key() []byte { return layout.WrittenKey(r.Written, r.ID) }

// PutReleasers has others lift safety holds from now on. The same again changes
// nothing: written is false then.
func (t *WriteTx) PutReleasers(r Releasers) (written bool, err error) {
	r.Written = pack.Milli(r.Written)
	if err := r.Check(); err != nil {
		return false, refusal.Refused{Cause: err}
	}
	if late := t.tab.Latest(); r.Written.After(late) {
		return false, refusal.Because("", refusal.FutureTime{At: r.Written.In(t.Zone())})
	}
	now, err := t.Releasers()
	if err != nil || slices.Equal(now.Names, r.Names) {
		return false, err
	}
	return table.PutRecord(t.tab, layout.Releasers, r.key(), r)
}

// Releasers are those who may lift safety holds now; without Names the book names
// nobody.
func (t *ReadTx) Releasers() (last Releasers, err error) {
	all, err := t.ReleasersOf()
	if len(all) > 0 {
		last = all[len(all)-1]
	}
	return last, err
}

// ReleasersOf lists who might lift safety holds from when, the earliest first.
func (t *ReadTx) ReleasersOf() ([]Releasers, error) {
	return table.List[Releasers](t.tab, layout.Releasers, "releasers")
}
