package store

import (
	"bytes"
	"slices"

	"github.com/google/uuid"

	"rindkeep/wheel"
)

// The index of entries leads from an identity to where its entry is kept. An
// identity that begins as its wheel's, as those of loaded weights do, needs no
// record of its own: one record a wheel says that there are such, and the entry
// is looked for among the wheel's. A load of ten million weights would else
// write as many records of index as of entries.
//
//	entry                          -> subject | at
//	beginning of entry | wheel     -> (nothing)

// idBegins is how much of such an identity is the wheel's, in bytes.
const idBegins = 8

// sharedIDKeySize is the size of the key of a wheel with such entries.
const sharedIDKeySize = idBegins + 16

// beginID makes an identity begin as its wheel's does, as one of version 8.
func beginID(id *uuid.UUID, of uuid.UUID) {
	copy(id[:idBegins], of[:idBegins])
	id[6] = 0x80 | id[6]&0x0f
}

// beginsAs says whether an entry's identity begins as its subject's.
func beginsAs(id, subject uuid.UUID) bool {
	var want uuid.UUID
	beginID(&want, subject)
	return bytes.Equal(id[:idBegins], want[:idBegins])
}

// indexOf is the record of an entry in the index of entries, from the entry's
// key. Entries of one wheel may share it.
func indexOf(k []byte) (key, value []byte) {
	if beginsAs(uuid.UUID(k[24:]), uuid.UUID(k[:16])) {
		return append(append(make([]byte, 0, sharedIDKeySize), k[24:24+idBegins]...), k[:16]...), plain
	}
	return bytes.Clone(k[24:]), versioned(k[:24])
}

// putID puts an entry in the index of entries.
func (t *WriteTx) putID(k []byte) {
	key, value := indexOf(k)
	if len(key) == sharedIDKeySize {
		begins := [idBegins]byte(key)
		if of := uuid.UUID(k[:16]); !slices.Contains(t.sharing[begins], of) {
			if t.sharing == nil {
				t.sharing = map[[idBegins]byte][]uuid.UUID{}
			}
			t.sharing[begins] = append(t.sharing[begins], of)
		}
		if t.get(bIDs, key) != nil {
			return
		}
	}
	t.put(bIDs, key, value)
}

// entryOfWheel finds an entry whose identity begins as its wheel's.
func (t *ReadTx) entryOfWheel(id uuid.UUID) (wheel.Entry, bool, error) {
	if id.Version() != 8 {
		return wheel.Entry{}, false, nil
	}
	wheels := slices.Clone(t.sharing[[idBegins]byte(id[:])])
	if err := t.scan(bIDs, id[:idBegins], func(k, _ []byte) (bool, error) {
		if len(k) == sharedIDKeySize && !slices.Contains(wheels, uuid.UUID(k[idBegins:])) {
			wheels = append(wheels, uuid.UUID(k[idBegins:]))
		}
		return true, nil
	}); err != nil {
		return wheel.Entry{}, false, err
	}
	for _, w := range wheels {
		es, err := t.history(w)
		if err != nil {
			return wheel.Entry{}, false, err
		}
		for i := range es {
			if es[i].ID == id {
				return es[i], true, nil
			}
		}
	}
	return wheel.Entry{}, false, nil
}
