package store

import (
	"strings"

	"github.com/google/uuid"

	"rindkeep/wheel"
)

// togetherPrefix is how many leading bytes the entries of one command share:
// a writer that puts several at once counts in the last four.
const togetherPrefix = 12

// LastTogether gives the entries that the latest command by one person wrote,
// strikes and what they withdrew left out; none where that person wrote
// nothing among the last few thousand entries. An empty name is anybody.
func (t *Tx) LastTogether(by string) ([]wheel.Entry, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	const far = 5000
	c := t.bucket(bIDs).Cursor()
	looked := 0
	var prefix string
	var ids []uuid.UUID
	struck := map[uuid.UUID]bool{}
	for k, _ := c.Last(); k != nil; k, _ = c.Prev() {
		if len(k) != 16 {
			return nil, t.damaged(errPacked, "the index of entries")
		}
		id := uuid.UUID(k)
		if prefix != "" {
			if !strings.HasPrefix(string(k), prefix) {
				break
			}
			ids = append(ids, id)
			continue
		}
		if looked++; looked > far {
			break
		}
		e, ok, err := t.entry(id)
		if err != nil {
			return nil, err
		}
		if !ok || by != "" && e.By != by {
			continue
		}
		if e.Kind == wheel.Struck {
			struck[e.Target] = true
			continue
		}
		if struck[e.ID] {
			continue
		}
		prefix = string(k[:togetherPrefix])
		ids = append(ids, id)
	}
	var out []wheel.Entry
	for i := len(ids) - 1; i >= 0; i-- {
		e, _, err := t.entry(ids[i])
		if err != nil {
			return nil, err
		}
		if e.Kind != wheel.Struck && !struck[e.ID] {
			out = append(out, e)
		}
	}
	return out, nil
}

// EntriesMarked finds the entries anywhere in the book that bear a mark, at
// most most of them. It looks at every identity: about 40 ms a million.
func (t *Tx) EntriesMarked(mark string, most int) ([]wheel.Entry, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	mark = strings.ToLower(mark)
	var ids []uuid.UUID
	err := t.scan(bIDs, nil, func(k, _ []byte) (bool, error) {
		if len(k) == 16 && wheel.MarkOf(uuid.UUID(k)) == mark {
			ids = append(ids, uuid.UUID(k))
		}
		return len(ids) < most, nil
	})
	if err != nil {
		return nil, err
	}
	if len(ids) == 0 {
		return nil, NotFound{Thing: "entry", Name: mark}
	}
	var out []wheel.Entry
	for _, id := range ids {
		e, _, err := t.entry(id)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	return out, nil
}
