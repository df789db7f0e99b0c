package store

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// idsTogether is how many records of the index of entries are made at a time. A
// var for the tests.
var idsTogether = 1 << 20

// Entry finds an entry by its identity; ok is false where there is none.
func (t *ReadTx) Entry(id uuid.UUID) (e wheel.Entry, ok bool, err error) {
	wheels, single := t.ids.Among(id)
	for _, w := range wheels {
		if e, ok, err = t.entryOf(w, id); ok || err != nil {
			return e, ok, err
		}
	}
	if !single {
		return e, false, nil
	}
	k, err := t.ids.Key(id)
	if k == nil || err != nil {
		return e, false, err
	}
	of := uuid.UUID(k[:16])
	if s := t.subjects[of]; s != nil && s.Has(id) {
		return t.entryOf(of, id)
	}
	if e, err = pack.ReadEntry(k, t.tab.Get(layout.Entries, k)); err != nil {
		return e, false, t.tab.Damaged(err, "entry", id)
	}
	return e, true, nil
}

// entryOf finds an entry among those of its subject.
func (t *ReadTx) entryOf(subject, id uuid.UUID) (wheel.Entry, bool, error) {
	if s := t.subjects[subject]; s != nil && !s.Has(id) {
		return wheel.Entry{}, false, nil
	}
	es, err := t.history(subject)
	if err != nil {
		return wheel.Entry{}, false, err
	}
	i := slices.IndexFunc(es, func(e wheel.Entry) bool { return e.ID == id })
	if i < 0 {
		return wheel.Entry{}, false, nil
	}
	return es[i], true, nil
}

// EntriesByCommand gives the entries written by one command, whose first identity is
// given: those that share its beginning, in the order they were counted,
// strikes among them.
func (t *ReadTx) EntriesByCommand(batch uuid.UUID) ([]wheel.Entry, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	ids, err := t.ids.Together(batch)
	if err != nil {
		return nil, err
	}
	return t.entries(ids)
}

// EntriesMarked finds the entries anywhere in the book that bear a mark, at
// most most of them. It looks at every identity: about 40 ms a million.
func (t *ReadTx) EntriesMarked(mark string, most int) ([]wheel.Entry, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	ids, err := t.ids.Marked(mark, most)
	if err == nil && len(ids) == 0 {
		err = refusal.NotFound{Thing: "entry", Name: strings.ToLower(mark)}
	}
	if err != nil {
		return nil, err
	}
	return t.entries(ids)
}

func (t *ReadTx) entries(ids []uuid.UUID) ([]wheel.Entry, error) {
	out := []wheel.Entry{}
	for _, id := range ids {
		e, ok, err := t.Entry(id)
		if err != nil {
			return nil, err
		}
		if ok {
			out = append(out, e)
		}
	}
	return out, nil
}

// Unfinished lists the acts that stopped half-way. One whose entries were cancelled since
// isn't among them.
func (t *ReadTx) Unfinished() (out []register.Unfinished, err error) {
	err = t.EachUnfinished(func(u register.Unfinished) error {
		es, err := t.EntriesByCommand(u.Batch)
		if err != nil || len(es) == 0 {
			return err
		}
		s, err := t.Subject(es[0].Subject) // they're cancelled together
		if err == nil && !s.Struck[es[0].ID] {
			out = append(out, u)
		}
		return err
	})
	return out, err
}
