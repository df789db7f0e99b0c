package store

import (
	"bytes"
	"slices"
	"time"

	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// first says whether a record that never changes stands over another under the same
// identity: the one that was written first does, in every book.
func first(written time.Time, v []byte, otherWritten time.Time, other []byte) bool {
	if c := written.Compare(otherWritten); c != 0 {
		return c < 0
	}
	return pack.Compare(v, other) < 0
}

// replace puts a record in the place of one that never changes and has its identity.
func (w *writer) replace(bucket string, k, old, v []byte) {
	w.aside(bucket, k, old)
	w.t.tab.Put(bucket, k, v)
	clear(w.t.subjects)
	w.remake = true
}

func (w *writer) make(k, v []byte) error {
	t := w.t
	var m, was wheel.Make
	if err := pack.ReadJSON(v, &m); err != nil {
		return err
	}
	old := t.tab.Get(layout.Makes, k)
	if bytes.Equal(old, v) {
		return nil
	}
	if old != nil {
		if err := pack.ReadJSON(old, &was); err != nil {
			return err
		}
		if !first(m.Written, v, was.Written, old) {
			w.aside(layout.Makes, k, v)
			return nil
		}
		w.replace(layout.Makes, k, old, v)
		delete(t.makes, m.ID)
		return nil
	}
	c, err := t.count()
	if err != nil {
		return err
	}
	c.Makes++
	t.tab.Put(layout.Makes, k, v)
	rs, err := makeIndex(m, m)
	if err != nil {
		return err
	}
	if err := t.name(layout.Lots, m.Lot, m.ID); err != nil {
		return err
	}
	t.index(rs[1:]) // the first is the lot's
	delete(t.makes, m.ID)
	clear(t.makesTold)
	delete(t.subjects, m.ID)
	return w.came(m.ID)
}

func (w *writer) wheel(k, v []byte) error {
	t := w.t
	var x, was wheel.Wheel
	if err := pack.ReadJSON(v, &x); err != nil {
		return err
	}
	old := t.tab.Get(layout.Wheels, k)
	if bytes.Equal(old, v) || !w.base(x.Make, layout.Wheels, k, v) {
		return nil
	}
	if old != nil {
		if err := pack.ReadJSON(old, &was); err != nil {
			return err
		}
		if !first(x.Written, v, was.Written, old) {
			w.aside(layout.Wheels, k, v)
			return nil
		}
		w.replace(layout.Wheels, k, old, v)
		delete(t.wheels, x.ID)
		return nil
	}
	c, err := t.count()
	if err != nil {
		return err
	}
	c.Wheels++
	if err := t.name(layout.Tags, x.Tag, x.ID); err != nil {
		return err
	}
	t.tab.Put(layout.Wheels, k, v)
	t.index(wheelIndex(x))
	delete(t.wheels, x.ID)
	delete(t.subjects, x.ID)
	t.regate(x.ID)
	return w.came(x.ID)
}

func (w *writer) entry(k, v []byte) error {
	t := w.t
	e, err := pack.ReadEntry(k, v)
	if err != nil {
		return err
	}
	if !w.base(e.Subject, layout.Entries, k, v) {
		return nil
	}
	s, err := t.Subject(e.Subject)
	if err != nil {
		return err
	}
	old, ok, err := t.Entry(e.ID)
	if err != nil {
		return err
	}
	if ok {
		ok, ov := pack.EntryKey(old), pack.Entry(old)
		if bytes.Equal(ok, k) && bytes.Equal(ov, v) {
			return nil
		}
		// Their keys decide first: the records hold names, which differ from site to site.
		if !first(e.Written, slices.Concat(k, v), old.Written, slices.Concat(ok, ov)) {
			w.aside(layout.Entries, k, v)
			return nil
		}
		w.aside(layout.Entries, ok, ov)
		if err := w.drop(old, ok); err != nil {
			return err
		}
		if s, err = t.Subject(e.Subject); err != nil {
			return err
		}
	}
	if !s.IsWheel && corrects(&e) {
		w.again = true // the wheels of the make are told of it
	}
	return t.add(s, &e)
}

// drop takes an entry out whose identity another took earlier.
func (w *writer) drop(e wheel.Entry, k []byte) error {
	t := w.t
	t.tab.PutEntry(k, nil)
	if err := t.tab.Flush(layout.Entries); err != nil {
		return err
	}
	key, _ := layout.EntryIndex(k)
	if len(key) < layout.SharedIDKeySize {
		t.tab.Put(layout.IDs, key, nil)
	}
	t.fresh[e.Subject]--
	clear(t.subjects)
	w.remake = true
	return nil
}

// end derives all again where a record took the place of one of its identity, which is rare, and
// marks the wheels that are to be judged again.
func (w *writer) end() error {
	if w.remake {
		clear(w.t.makesTold)
		w.t.ids = history.IDsIn(w.t.tab)
		err := w.t.rebuild()
		w.t.tab.Remaking = false
		return err
	}
	if !w.again {
		return nil
	}
	return w.t.touchAll(func(derive.WheelState) (bool, error) { return true, nil })
}
