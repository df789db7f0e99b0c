package store

import (
	"bytes"
	"cmp"
	"iter"
	"maps"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/sorts"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// Make gives a make by its identity, as it was corrected. The error may be a
// NotFound.
func (t *ReadTx) Make(id uuid.UUID) (wheel.Make, error) {
	if m, ok := t.makes[id]; ok {
		return m, nil
	}
	if c, ok, err := table.Record[derive.CorrectedMake](t.tab, layout.Corrected, id[:], "make"); ok || err != nil {
		c.Make.Removed = c.Removed
		return remember(t.makes, id, c.Make), err
	}
	m, err := t.firstMake(id)
	if err != nil {
		return m, err
	}
	return remember(t.makes, id, m), nil
}

// firstMake is a make as it was first written.
func (t *ReadTx) firstMake(id uuid.UUID) (wheel.Make, error) {
	m, ok, err := table.Record[wheel.Make](t.tab, layout.Makes, id[:], "make")
	if !ok || err != nil {
		return m, cmp.Or[error](err, refusal.NotFound{Thing: "make", Name: id.String()})
	}
	return m, nil
}

// MakeByLot gives a make by its lot code, in any case. The error may be a
// NotFound with lots that may have been meant.
func (t *ReadTx) MakeByLot(lot string) (wheel.Make, error) {
	id, err := t.named(layout.Lots, "lot", lot, func(id uuid.UUID) (string, error) {
		m, err := t.Make(id)
		return m.Lot, err
	})
	if err != nil {
		return wheel.Make{}, err
	}
	return t.Make(id)
}

// named finds what has a lot code or tag.
func (t *ReadTx) named(bucket string, thing reason.Thing, name string, nameOf func(uuid.UUID) (string,
	error)) (uuid.UUID, error) {
	idOf := func(key []byte) (uuid.UUID, error) {
		id, err := layout.DecodeID(t.tab.Get(bucket, key))
		if err != nil {
			err = t.tab.Damaged(err, thing, key)
		}
		return id, err
	}
	if t.Shared() {
		ids, err := t.MeantBy(bucket, name)
		if err == nil && bucket == layout.Tags && len(ids) > 1 {
			ids, err = t.atHand(ids)
		}
		if err != nil || len(ids) == 1 {
			return one(ids), err
		}
		if len(ids) > 1 {
			return t.oneOf(thing, name, ids, nameOf)
		}
	} else if t.tab.Get(bucket, layout.Fold(name)) != nil {
		return idOf(layout.Fold(name))
	}
	near, err := t.near(bucket, name)
	if err != nil {
		return uuid.Nil, err
	}
	for i, key := range near {
		id, err := idOf([]byte(key))
		if err != nil {
			return uuid.Nil, err
		}
		if near[i], err = nameOf(id); err != nil {
			return uuid.Nil, err
		}
	}
	return uuid.Nil, refusal.NotFound{Thing: string(thing), Name: name, Near: near}
}

func one(ids []uuid.UUID) (id uuid.UUID) {
	if len(ids) > 0 {
		id = ids[0]
	}
	return id
}

// HasLot says whether a lot code is taken.
func (t *ReadTx) HasLot(lot string) bool { return t.tab.Get(layout.Lots, layout.Fold(lot)) != nil }

// Makes goes through the makes that weren't removed, newest make date first and,
// within a date, the one written last first. After an error there is nothing more.
func (t *ReadTx) Makes() iter.Seq2[wheel.Make, error] {
	return func(yield func(wheel.Make, error) bool) {
		if err := t.ready(); err != nil {
			yield(wheel.Make{}, err)
			return
		}
		for k := range t.tab.KeysBackward(layout.Dates) {
			if len(k) != 20 {
				yield(wheel.Make{}, t.tab.Damaged(pack.ErrForm, "index", layout.Dates))
				return
			}
			m, err := t.Make(uuid.UUID(k[4:]))
			if t.leftOut(t.harm(uuid.UUID(k[4:]), err)) {
				continue
			}
			if !yield(m, err) || err != nil {
				return
			}
		}
	}
}

// AllMakes is Makes, and then those that were removed.
func (t *ReadTx) AllMakes() iter.Seq2[wheel.Make, error] {
	return func(yield func(wheel.Make, error) bool) {
		for m, err := range t.Makes() {
			if !yield(m, err) || err != nil {
				return
			}
		}
		for c, err := range table.Records[derive.CorrectedMake](t.tab, layout.Corrected, "make") {
			if c.Make.Removed = c.Removed; c.Removed || err != nil {
				if !yield(c.Make, err) || err != nil {
					return
				}
			}
		}
	}
}

// WheelsOf lists the wheels of a make by number. A make without wheels gives
// none.
func (t *ReadTx) WheelsOf(mk uuid.UUID) ([]wheel.Wheel, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	ids, err := t.wheelIDs(mk)
	if err != nil {
		return nil, err
	}
	out := make([]wheel.Wheel, 0, len(ids))
	for _, id := range ids {
		w, err := t.Wheel(id)
		if err != nil {
			return nil, err
		}
		out = append(out, w)
	}
	return out, nil
}

func (t *ReadTx) wheelIDs(mk uuid.UUID) ([]uuid.UUID, error) {
	var ids []uuid.UUID
	for k := range t.tab.In(layout.MakeWheels, mk[:]) {
		if len(k) != 36 {
			return nil, t.tab.Damaged(pack.ErrForm, "index", layout.MakeWheels)
		}
		ids = append(ids, uuid.UUID(k[20:]))
	}
	for _, k := range t.tab.Tried(layout.MakeWheels, mk[:]) {
		ids = append(ids, uuid.UUID(k[20:]))
	}
	return ids, nil
}

// indexRecord is a record of an index that follows from one fact alone.
type indexRecord struct {
	bucket     string
	key, value []byte
}

func wheelIndex(w wheel.Wheel) []indexRecord {
	return []indexRecord{{layout.MakeWheels, layout.MakeWheelKey(w.Make, w.Number, w.ID), layout.Plain}}
}

// hadTags are the tags that an entry leaves a wheel known by, if it gives it another:
// cancelled or not, labels with both may be about. None where its wheel can't be read.
func (t *ReadTx) hadTags(e wheel.Entry) []indexRecord {
	if e.Kind != wheel.Tagged {
		return nil
	}
	w, err := t.Wheel(e.Subject)
	if err != nil {
		return nil
	}
	return []indexRecord{
		{layout.HadTags, layout.HadTagKey(w.Tag, w.ID), layout.Plain},
		{layout.HadTags, layout.HadTagKey(e.Tag, w.ID), layout.Plain},
	}
}

func (t *WriteTx) index(rs []indexRecord) {
	for _, r := range rs {
		if r.bucket == layout.Lots && t.Shared() {
			id, err := layout.DecodeID(r.value)
			if err == nil && t.tab.Get(layout.Twins, twinKey(r.bucket, r.key, id)) != nil {
				continue
			}
		}
		t.tab.Put(r.bucket, r.key, r.value)
	}
}

// PutMake writes a make. Its variety must be known and its lot free. The same
// make again changes nothing; another content under the same identity is
// refused, as nothing in the book is ever edited.
func (t *WriteTx) PutMake(m wheel.Make) error {
	m.Written, m.Began = pack.Milli(m.Written), pack.Milli(m.Began)
	if err := m.Check(); err != nil {
		return refusal.Refused{Cause: err}
	}
	if err := t.tab.CheckOwn("lot", m.Lot); err != nil {
		return refusal.Refused{Cause: err}
	}
	if err := t.checkMake(m); err != nil {
		return refusal.Refused{Subject: m.Lot, Cause: err}
	}
	if _, err := t.Variety(m.Variety); err != nil {
		return err
	}
	rec, err := pack.JSON(m)
	switch old := t.tab.Get(layout.Makes, m.ID[:]); {
	case err != nil:
		return err
	case bytes.Equal(old, rec):
		return nil
	case old != nil:
		return refusal.Because(m.Lot, refusal.DifferentContent)
	case t.HasLot(m.Lot) && !t.tab.TakesAll():
		return refusal.Because("", refusal.Taken{What: "lot", Name: m.Lot})
	}
	t.tab.Put(layout.Makes, m.ID[:], rec)
	c, err := t.count()
	if err != nil {
		return err
	}
	c.Makes++
	rs, err := makeIndex(m, m)
	if err == nil {
		err = t.name(layout.Lots, m.Lot, m.ID)
	}
	if err != nil {
		return err
	}
	t.index(rs[1:]) // the first is the lot's
	t.makes[m.ID] = m
	return nil
}

// checkMake says what is wrong with a make in this book.
func (t *ReadTx) checkMake(m wheel.Make) error {
	switch on := day.At(m.Began, t.Zone()); {
	case m.ID == uuid.Nil:
		return reason.Err(reason.Missing{What: "id"})
	case m.Written.Before(pack.Epoch):
		return reason.Err(refusal.Before1970)
	case !m.Began.IsZero() && on != m.Date:
		return reason.Err(refusal.BeganElse{On: on, Made: m.Date})
	case m.Began.After(t.tab.Latest()):
		return reason.Err(refusal.FutureTime{At: m.Began.In(t.Zone())})
	case m.Date > t.tab.Today()+1:
		return reason.Err(refusal.FutureDate{On: m.Date})
	}
	return sorts.CheckFields(m)
}

// near finds the keys like a name: those that begin as it does, from the longest
// such beginning to none, as far as a bounded search goes.
func (t *ReadTx) near(bucket, name string) ([]string, error) {
	if err := t.ready(); err != nil || len(name) > 80 {
		return nil, err
	}
	const enough, limit = 200, 5000
	word := string(layout.Fold(name))
	found := map[string]bool{}
	looked := 0
	for n := len(word); n >= 0 && len(found) < enough && looked < limit; n-- {
		for k := range t.tab.In(bucket, []byte(word[:n])) {
			looked++
			found[string(k)] = true
			if looked == limit || len(found) >= enough && n > 0 {
				break
			}
		}
	}
	return refusal.Nearest(word, slices.Collect(maps.Keys(found))), nil
}
