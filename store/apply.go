package store

import (
	"bytes"
	"errors"

	"github.com/google/uuid"

	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/refusal"
)

// retag is a wheel that has come to be called something else.
type retag struct {
	wheel    uuid.UUID
	from, to string
}

// apply writes what came of one wheel where it differs from what was there.
func (t *WriteTx) apply(j *derive.Update, d *derive.Outcome) (r retag, err error) {
	c, err := t.count()
	if err != nil {
		return r, err
	}
	now, id := d.Now, d.Now.Wheel
	old := derive.WheelState{Gone: 0, Plan: "", Place: ""}
	if d.Old != nil {
		old = *d.Old
	}
	was, is := d.Old != nil && old.Here(), now.Here()
	c.Closed = max(c.Closed, now.Closed)
	if t.tab.Remaking {
		r = retag{wheel: id, to: now.Tag}
	} else if d.Old == nil {
		// The tag it came with is in the index already.
		if now.Tag != d.File.Life.Wheel.Tag {
			r = retag{id, d.File.Life.Wheel.Tag, now.Tag}
		}
	} else if old.Tag != now.Tag {
		r = retag{id, old.Tag, now.Tag}
	}
	t.lay(c, old, now, was, is)

	t.putTasks(j, d, old)
	switch {
	case d.Outlook != nil:
		if v := d.EncodeOutlook(); !bytes.Equal(t.tab.Get(layout.Outlooks, id[:]), v) {
			t.tab.Put(layout.Outlooks, id[:], v)
		}
	case !now.Gated && old.Gated:
		t.tab.Put(layout.Outlooks, id[:], nil)
	}
	if v := derive.EncodeState(now); d.Old == nil || !bytes.Equal(t.tab.Get(layout.Standings, id[:]), v) {
		t.tab.Put(layout.Standings, id[:], v)
	}
	if own, shared := t.Own(); shared {
		k := clashKey(id)
		if d.File.Life.Clashes(own.Name) != nil {
			t.tab.Put(layout.Twins, k, layout.Plain)
		} else if t.tab.Get(layout.Twins, k) != nil {
			t.tab.Put(layout.Twins, k, nil)
		}
	}
	delete(t.fresh, id)
	return r, nil
}

// putTasks keeps the index of what is due.
func (t *WriteTx) putTasks(j *derive.Update, d *derive.Outcome, old derive.WheelState) {
	now, id := d.Now, d.Now.Wheel
	keys := make(map[string]bool, len(now.Slots))
	for i, task := range d.TasksOf(j.Lot.Make) {
		k := layout.DueKey(now.Slots[i], now.Place, id)
		keys[string(k)] = true
		v := derive.EncodeTask(task)
		if d.Old == nil || !bytes.Equal(t.tab.Get(layout.Due, k), v) {
			t.tab.Put(layout.Due, k, v)
		}
	}
	for _, s := range old.Slots {
		if k := layout.DueKey(s, old.Place, id); !keys[string(k)] {
			t.tab.Put(layout.Due, k, nil)
		}
	}
}

// lay keeps the index of places and the counts of shelves and of wheels that are here.
func (t *WriteTx) lay(c *counts, old, now derive.WheelState, was, is bool) {
	id := now.Wheel
	switch {
	case is && !was:
		c.Here++
	case was && !is:
		c.Here--
	}
	was, is = was && old.Place != "", is && now.Place != ""
	if was && (!is || old.Place != now.Place) {
		t.tab.Put(layout.Places, layout.PlaceKey(old.Place, id), nil)
		t.shelves[old.Place]--
	}
	if is && (!was || old.Place != now.Place) {
		t.tab.Put(layout.Places, layout.PlaceKey(now.Place, id), layout.Versioned([]byte(now.Tag)))
		t.shelves[now.Place]++
	} else if is && old.Tag != now.Tag {
		t.tab.Put(layout.Places, layout.PlaceKey(now.Place, id), layout.Versioned([]byte(now.Tag)))
	}
}

// retag changes the index of tags, all old ones out before the new ones go in,
// so that two wheels may swap. A tag that another wheel has is refused.
func (t *WriteTx) retag(rs []retag) error {
	for _, r := range rs {
		if r.from == "" {
			continue
		}
		if err := t.unname(layout.Tags, r.from, r.wheel); err != nil {
			return err
		}
	}
	for _, r := range rs {
		if v := t.tab.Get(layout.Tags, layout.Fold(r.to)); v != nil && !t.tab.TakesAll() {
			if id, err := layout.DecodeID(v); err != nil || id != r.wheel {
				return errors.Join(err, refusal.Because(r.from, refusal.Taken{What: "tag", Name: r.to}))
			}
		}
		if err := t.name(layout.Tags, r.to, r.wheel); err != nil {
			return err
		}
	}
	return nil
}
