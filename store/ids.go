package store

import (
	"bytes"
	"slices"

	"github.com/google/uuid"

	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// sharers are what the index of entries holds under one beginning.
type sharers struct {
	wheels []uuid.UUID // those with such entries
	others bool        // records of single entries too
}

// putID puts an entry in the index of entries.
func (t *WriteTx) putID(k []byte) {
	key, value := layout.EntryIndex(k)
	if uuid.UUID(k[24:]).Version() == 8 {
		s := t.sharers([layout.IDBegins]byte(key))
		if of := uuid.UUID(k[:16]); len(key) < layout.SharedIDKeySize {
			s.others = true
		} else if slices.Contains(s.wheels, of) {
			return
		} else {
			s.wheels = append(s.wheels, of)
		}
	}
	t.tab.Put(layout.IDs, key, value)
}

func (t *ReadTx) sharers(begins [layout.IDBegins]byte) *sharers {
	if s := t.sharing[begins]; s != nil {
		return s
	}
	s := &sharers{}
	for k := range t.tab.In(layout.IDs, begins[:]) {
		if len(k) == layout.SharedIDKeySize {
			s.wheels = append(s.wheels, uuid.UUID(k[layout.IDBegins:]))
		} else {
			s.others = true
		}
	}
	t.sharing[begins] = s
	return s
}

// entry finds an entry by its identity.
func (t *ReadTx) entry(id uuid.UUID) (e wheel.Entry, ok bool, err error) {
	single := true
	if id.Version() == 8 {
		s := t.sharers([layout.IDBegins]byte(id[:]))
		for _, w := range s.wheels {
			if e, ok, err = t.entryOf(w, id); ok || err != nil {
				return e, ok, err
			}
		}
		single = s.others
	}
	if !single {
		return e, false, nil
	}
	v := t.tab.Get(layout.IDs, id[:])
	if v == nil {
		return e, false, nil
	}
	if len(v) != 1+24 || v[0] != pack.Version {
		return e, false, t.tab.Damaged(pack.ErrForm, "index", layout.IDs)
	}
	of := uuid.UUID(v[1:17])
	if s := t.subjects[of]; s != nil && s.Has(id) {
		return t.entryOf(of, id)
	}
	k := append(append(make([]byte, 0, pack.EntryKeySize), v[1:]...), id[:]...)
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

// idsTogether is how many records of the index of entries are made at a time. A
// var for the tests.
var idsTogether = 1 << 20

// idBounds cuts the identities of all entries into runs of about idsTogether.
func (t *ReadTx) idBounds() ([]uuid.UUID, error) {
	const every = 64
	var some []uuid.UUID
	n := 0
	for k := range t.tab.In(layout.Entries, nil) {
		if len(k) != pack.EntryKeySize {
			continue
		}
		if n++; n%every == 0 {
			some = append(some, uuid.UUID(k[24:]))
		}
	}
	slices.SortFunc(some, byID)
	bounds := []uuid.UUID{uuid.Nil}
	for i := idsTogether / every; i < len(some); i += idsTogether / every {
		bounds = append(bounds, some[i])
	}
	return append(bounds, uuid.Max), nil
}

// indexEntries makes the index of the entries whose identities lie in
// [from, to), in its order; to may be uuid.Max for no end. twice is an identity
// that two entries have, Nil where there is none.
func (t *WriteTx) indexEntries(from, to uuid.UUID) (twice uuid.UUID, err error) {
	var rs []table.KeyValue
	var last []byte
	for k := range t.tab.In(layout.Entries, nil) {
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
	ids := t.tab.Bucket(layout.IDs)
	ids.FillPercent = 0.9
	for i, r := range rs {
		if len(r.Key) == len(uuid.Nil) && i > 0 && bytes.Equal(r.Key, rs[i-1].Key) {
			twice = uuid.UUID(r.Key)
		}
		if err := t.tab.PutAt(ids, layout.IDs, r); err != nil {
			return twice, err
		}
	}
	t.tab.Changed = true
	return twice, nil
}
