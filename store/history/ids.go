package history

import (
	"bytes"
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// IDs is the index of entries by their identity.
type IDs struct {
	tab     *table.Tx
	sharing map[[layout.IDBegins]byte]*sharers
}

// sharers are what the index holds under one beginning.
type sharers struct {
	wheels []uuid.UUID // those with such entries
	others bool        // records of single entries too
}

// IDsIn is the index in a transaction.
func IDsIn(tab *table.Tx) *IDs {
	return &IDs{tab: tab, sharing: map[[layout.IDBegins]byte]*sharers{}}
}

// Put puts an entry with this key in the index.
func (x *IDs) Put(k []byte) {
	key, value := layout.EntryIndex(k)
	if uuid.UUID(k[24:]).Version() == 8 {
		s := x.sharers([layout.IDBegins]byte(key))
		if of := uuid.UUID(k[:16]); len(key) < layout.SharedIDKeySize {
			s.others = true
		} else if slices.Contains(s.wheels, of) {
			return
		} else {
			s.wheels = append(s.wheels, of)
		}
	}
	x.tab.Put(layout.IDs, key, value)
}

func (x *IDs) sharers(begins [layout.IDBegins]byte) *sharers {
	if s := x.sharing[begins]; s != nil {
		return s
	}
	s := &sharers{}
	for k := range x.tab.In(layout.IDs, begins[:]) {
		if len(k) == layout.SharedIDKeySize {
			s.wheels = append(s.wheels, uuid.UUID(k[layout.IDBegins:]))
		} else {
			s.others = true
		}
	}
	x.sharing[begins] = s
	return s
}

// Among gives the wheels among whose entries one may be, as their identities begin alike.
// single says whether it may be in the index by itself.
func (x *IDs) Among(id uuid.UUID) (wheels []uuid.UUID, single bool) {
	if id.Version() != 8 {
		return nil, true
	}
	s := x.sharers([layout.IDBegins]byte(id[:]))
	return s.wheels, s.others
}

// Key is the key of an entry that is in the index by itself; nil where there's none.
func (x *IDs) Key(id uuid.UUID) ([]byte, error) {
	v := x.tab.Get(layout.IDs, id[:])
	if v == nil {
		return nil, nil
	}
	if len(v) != 1+24 || v[0] != pack.Version {
		return nil, x.tab.Damaged(pack.ErrForm, "index", layout.IDs)
	}
	return append(append(make([]byte, 0, pack.EntryKeySize), v[1:]...), id[:]...), nil
}

// togetherPrefix is how many leading bytes the entries of one command share:
// a writer that puts several at once counts in the last four.
const togetherPrefix = 12

// Together lists the entries written by one command, whose first identity is given, in the
// order they were counted.
func (x *IDs) Together(batch uuid.UUID) (out []uuid.UUID, err error) {
	for k := range x.tab.In(layout.IDs, batch[:togetherPrefix]) {
		if len(k) == layout.SharedIDKeySize { // of loaded weights, which are no command's
			continue
		}
		id, err := uuid.FromBytes(k)
		if err != nil {
			return nil, x.tab.Damaged(pack.ErrForm, "index", layout.IDs)
		}
		out = append(out, id)
	}
	return out, nil
}

// Marked lists the entries anywhere in the book that bear a mark, at most most of them. It
// looks at every identity: about 40 ms a million.
func (x *IDs) Marked(mark string, most int) (out []uuid.UUID, err error) {
	mark = strings.ToLower(mark)
	for k := range x.tab.In(layout.IDs, nil) {
		if len(k) == len(uuid.Nil) {
			if wheel.MarkOf(uuid.UUID(k)) == mark {
				out = append(out, uuid.UUID(k))
			}
		} else if len(k) == layout.SharedIDKeySize {
			of := uuid.UUID(k[layout.IDBegins:])
			for k := range x.tab.In(layout.Entries, of[:]) {
				if len(k) != pack.EntryKeySize {
					return nil, x.tab.Damaged(pack.ErrForm, "entry", k)
				}
				if id := uuid.UUID(k[24:]); layout.BeginsAs(id, of) && wheel.MarkOf(id) == mark {
					out = append(out, id)
				}
			}
		}
		if len(out) >= most {
			break
		}
	}
	return out[:min(most, len(out))], nil
}

// Bounds cuts the identities of all entries into runs of about so many, to be indexed at a
// time.
func (x *IDs) Bounds(together int) []uuid.UUID {
	const every = 64
	var some []uuid.UUID
	n := 0
	for k := range x.tab.In(layout.Entries, nil) {
		if len(k) != pack.EntryKeySize {
			continue
		}
		if n++; n%every == 0 {
			some = append(some, uuid.UUID(k[24:]))
		}
	}
	slices.SortFunc(some, func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	bounds := []uuid.UUID{uuid.Nil}
	for i := together / every; i < len(some); i += together / every {
		bounds = append(bounds, some[i])
	}
	return append(bounds, uuid.Max)
}

// Index makes the index of the entries whose identities are in
// [from, to), in its order; to may be uuid.Max for no end. twice is an identity
// that two entries have, Nil where there is none.
func (x *IDs) Index(from, to uuid.UUID) (twice uuid.UUID, err error) {
	var rs []table.KeyValue
	var last []byte
	for k := range x.tab.In(layout.Entries, nil) {
		if len(k) != pack.EntryKeySize || bytes.Compare(k[24:], from[:]) < 0 ||
			to != uuid.Max && bytes.Compare(k[24:], to[:]) >= 0 {
			continue
		}
		key, value := layout.EntryIndex(k)
		if len(key) < layout.SharedIDKeySize || !bytes.Equal(key, last) {
			rs = append(rs, table.KeyValue{Key: key, Value: value})
		}
		last = key
	}
	slices.SortFunc(rs, func(a, b table.KeyValue) int { return bytes.Compare(a.Key, b.Key) })
	ids := x.tab.Bucket(layout.IDs)
	ids.FillPercent = 0.9
	for i, r := range rs {
		if len(r.Key) == len(uuid.Nil) && i > 0 && bytes.Equal(r.Key, rs[i-1].Key) {
			twice = uuid.UUID(r.Key)
		}
		if err := x.tab.PutAt(ids, layout.IDs, r); err != nil {
			return twice, err
		}
	}
	x.tab.Changed = true
	return twice, nil
}
