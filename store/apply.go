package store

import (
	"bytes"
	"errors"

	"github.com/google/uuid"

	"rindkeep/store/layout"
)

// retag is a wheel that has come to be called something else.
type retag struct {
	wheel    uuid.UUID
	from, to string
}

// apply writes what came of one wheel where it differs from what was there.
func (t *WriteTx) apply(j *lotUpdate, d *derived) (r retag, err error) {
	c, err := t.count()
	if err != nil {
		return r, err
	}
	now, id := d.now, d.now.Wheel
	old := WheelState{Gone: 0, Plan: "", Place: ""}
	if d.old != nil {
		old = *d.old
	}
	was, is := d.old != nil && old.Here(), now.Here()
	if was != is {
		if is {
			c.Here++
		} else {
			c.Here--
		}
	}
	c.Closed = max(c.Closed, now.closed)
	if t.rebuilding {
		r = retag{wheel: id, to: now.Tag}
	} else if d.old == nil {
		// The tag it came with is in the index already.
		if now.Tag != d.file.life.Wheel.Tag {
			r = retag{id, d.file.life.Wheel.Tag, now.Tag}
		}
	} else if old.Tag != now.Tag {
		r = retag{id, old.Tag, now.Tag}
	}
	t.lay(old, now, was, is)

	keys := make(map[string]bool, len(now.slots))
	for i, task := range d.tasksOf(j.lot.mk) {
		k := layout.DueKey(now.slots[i], now.Place, id)
		keys[string(k)] = true
		v := encodeTask(task)
		if d.old == nil || !bytes.Equal(t.get(layout.Due, k), v) {
			t.put(layout.Due, k, v)
		}
	}
	for _, s := range old.slots {
		if k := layout.DueKey(s, old.Place, id); !keys[string(k)] {
			t.put(layout.Due, k, nil)
		}
	}
	switch {
	case d.outlook != nil:
		if v := encodeOutlook(*d.outlook); !bytes.Equal(t.get(layout.Outlooks, id[:]), v) {
			t.put(layout.Outlooks, id[:], v)
		}
	case !now.gated && old.gated:
		t.put(layout.Outlooks, id[:], nil)
	}
	if v := encodeState(now); d.old == nil || !bytes.Equal(t.get(layout.Standings, id[:]), v) {
		t.put(layout.Standings, id[:], v)
	}
	delete(t.fresh, id)
	return r, nil
}

// lay keeps the index of places and the counts of shelves.
func (t *WriteTx) lay(old, now WheelState, was, is bool) {
	id := now.Wheel
	was, is = was && old.Place != "", is && now.Place != ""
	if was && (!is || old.Place != now.Place) {
		t.put(layout.Places, layout.PlaceKey(old.Place, id), nil)
		t.shelves[old.Place]--
	}
	if is && (!was || old.Place != now.Place) {
		t.put(layout.Places, layout.PlaceKey(now.Place, id), layout.Versioned([]byte(now.Tag)))
		t.shelves[now.Place]++
	} else if is && old.Tag != now.Tag {
		t.put(layout.Places, layout.PlaceKey(now.Place, id), layout.Versioned([]byte(now.Tag)))
	}
}

// retag changes the index of tags, all old ones out before the new ones go in,
// so that two wheels may swap. A tag that another wheel has is refused.
func (t *WriteTx) retag(rs []retag) error {
	for _, r := range rs {
		if r.from == "" {
			continue
		}
		if v := t.get(layout.Tags, layout.Fold(r.from)); v != nil {
			if id, err := layout.DecodeID(v); err != nil {
				return t.damaged(err, "tag", r.from)
			} else if id == r.wheel {
				t.put(layout.Tags, layout.Fold(r.from), nil)
			}
		}
	}
	for _, r := range rs {
		if v := t.get(layout.Tags, layout.Fold(r.to)); v != nil {
			if id, err := layout.DecodeID(v); err != nil || id != r.wheel {
				return errors.Join(err, refuse(r.from, Taken{"tag", r.to}))
			}
		}
		t.put(layout.Tags, layout.Fold(r.to), layout.IDValue(r.wheel))
	}
	return nil
}
