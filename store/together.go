package store

import (
	"strings"

	"github.com/google/uuid"

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
	var ids []uuid.UUID
	err := t.scan(bIDs, batch[:togetherPrefix], func(k, _ []byte) (bool, error) {
		switch len(k) {
		case 16:
			ids = append(ids, uuid.UUID(k))
		case sharedIDKeySize: // of loaded weights, which are no command's
		default:
			return false, t.damaged(errPacked, "the index of entries")
		}
		return true, nil
	})
	if err != nil {
		return nil, err
	}
	out := make([]wheel.Entry, 0, len(ids))
	for _, id := range ids {
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
	err := t.scan(bIDs, nil, func(k, _ []byte) (bool, error) {
		switch len(k) {
		case 16:
			if wheel.MarkOf(uuid.UUID(k)) == mark {
				ids = append(ids, uuid.UUID(k))
			}
		case sharedIDKeySize:
			of := uuid.UUID(k[idBegins:])
			if err := t.scan(bEntries, of[:], func(k, _ []byte) (bool, error) {
				if len(k) != entryKeySize {
					return false, t.damaged(errPacked, "entry %x", k)
				}
				if id := uuid.UUID(k[24:]); beginsAs(id, of) && wheel.MarkOf(id) == mark {
					ids = append(ids, id)
				}
				return len(ids) < most, nil
			}); err != nil {
				return false, err
			}
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
