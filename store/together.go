package store

import (
	"strings"

	"github.com/google/uuid"

	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// togetherPrefix is how many leading bytes the entries of one command share:
// a writer that puts several at once counts in the last four.
const togetherPrefix = 12

// EntriesByCommand gives the entries written by one command, whose first identity is
// given: those that share its beginning, in the order they were counted,
// strikes among them.
func (t *ReadTx) EntriesByCommand(batch uuid.UUID) ([]wheel.Entry, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	out := []wheel.Entry{}
	for k := range t.tab.In(layout.IDs, batch[:togetherPrefix]) {
		if len(k) == layout.SharedIDKeySize { // of loaded weights, which are no command's
			continue
		}
		id, err := uuid.FromBytes(k)
		if err != nil {
			return nil, t.tab.Damaged(pack.ErrForm, "index", layout.IDs)
		}
		e, ok, err := t.entry(id)
		if err != nil {
			return nil, err
		}
		if ok {
			out = append(out, e)
		}
	}
	return out, nil
}

// EntriesMarked finds the entries anywhere in the book that bear a mark, at
// most most of them. It looks at every identity: about 40 ms a million.
func (t *ReadTx) EntriesMarked(mark string, most int) ([]wheel.Entry, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	mark = strings.ToLower(mark)
	var ids []uuid.UUID
	for k := range t.tab.In(layout.IDs, nil) {
		if len(k) == len(uuid.Nil) {
			if wheel.MarkOf(uuid.UUID(k)) == mark {
				ids = append(ids, uuid.UUID(k))
			}
		} else if len(k) == layout.SharedIDKeySize {
			of := uuid.UUID(k[layout.IDBegins:])
			for k := range t.tab.In(layout.Entries, of[:]) {
				if len(k) != pack.EntryKeySize {
					return nil, t.tab.Damaged(pack.ErrForm, "entry", k)
				}
				if id := uuid.UUID(k[24:]); layout.BeginsAs(id, of) && wheel.MarkOf(id) == mark {
					ids = append(ids, id)
				}
			}
		}
		if len(ids) >= most {
			break
		}
	}
	if len(ids) == 0 {
		return nil, refusal.NotFound{Thing: "entry", Name: mark}
	}
	var out []wheel.Entry
	for _, id := range ids[:min(most, len(ids))] {
		e, _, err := t.entry(id)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
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
