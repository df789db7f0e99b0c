package store

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"

	bolt "go.etcd.io/bbolt"

	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/store/bookfile"
	"rindkeep/store/finding"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/table"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety"
)

// derivationVersion is raised whenever the derived records would come out
// otherwise from the same facts.
const derivationVersion = "17"

// derivation names what the derived records were made by: the rules, the drying model,
// the plans and varieties inside the program, and the newest reason the index may
// hold. A book made by others gets them made again when it is next opened.
var derivation = sync.OnceValue(func() string {
	h := sha256.New()
	io.WriteString(h, derivationVersion+"\x00"+drying.Model)
	for _, j := range wheel.Jobs {
		io.WriteString(h, "\x00"+string(j))
	}
	for _, text := range slices.Concat(schedule.Texts(), variety.Texts()) {
		h.Write(append([]byte{0}, text...))
	}
	return fmt.Sprintf("%s-%x %d", derivationVersion, h.Sum(nil)[:8], reason.Newest())
})

// stale says whether the derived records were made by other rules, or by other
// plans and varieties inside the program, or are not there.
func (b *Book) stale() (stale bool, err error) {
	err = b.viewRaw(func(tx *bolt.Tx) error {
		stale = string(tx.Bucket([]byte(layout.Book)).Get([]byte("derivation"))) != derivation()
		for _, name := range layout.Derived {
			stale = stale || name != layout.Twins && tx.Bucket([]byte(name)) == nil
		}
		return nil
	})
	return stale, err
}

// freshen makes the derived records again where they are stale.
func (b *Book) freshen() error {
	if stale, err := b.stale(); err != nil || !stale {
		return err
	}
	return b.Rebuild(context.Background())
}

// freshened is a book opened for reading, after its derived records were made
// again where they were stale. Where this machine may not write them they are
// read as they are.
func (b *Book) freshened() (*Book, error) {
	stale, err := b.stale()
	if err != nil || !stale {
		return b, err
	}
	if err := b.Close(); err != nil {
		return nil, err
	}
	w, err := open(b.Path(), Write, b.opt)
	if err == nil {
		err = w.Close()
	}
	old := errors.Is(err, bookfile.ErrPermission) || errors.Is(err, bookfile.ErrFull)
	if err != nil && !old {
		return nil, err
	}
	if b, err = open(b.Path(), Read, b.opt); err == nil {
		b.file.Old = old
	}
	return b, err
}

// Rebuild derives every record again from the facts, in one transaction.
// It is the remedy where Check finds that they disagree. What can't be read is left
// out, and Harm names it. A broken page is bookfile.ErrDamaged, and nothing is changed:
// bbolt would free what it says it spans. It holds all derived
// records in memory while it works: about 1.5 KB a wheel.
func (b *Book) Rebuild(ctx context.Context) error {
	found, err := b.CheckPages(ctx, nil)
	if err != nil {
		return err
	}
	if i := slices.IndexFunc(found, func(f bookfile.Finding) bool { return f.What != finding.HalfMetadata }); i >= 0 {
		return found[i].Damage(b.Path())
	}
	return b.Update(func(t *WriteTx) error { return t.rebuild() })
}

func (t *WriteTx) rebuild() error {
	if err := t.flush(); err != nil {
		return err
	}
	if err := t.emptyIndexes(); err != nil {
		return err
	}
	c, err := t.count()
	if err != nil {
		return err
	}
	for _, step := range []func(*counts) error{t.indexMakes, t.indexWheels, t.indexEntries} {
		if err := step(c); err != nil {
			return err
		}
	}
	bounds := t.ids.Bounds(idsTogether)
	for i := range bounds[1:] {
		if _, err := t.ids.Index(bounds[i], bounds[i+1]); err != nil {
			return err
		}
	}
	t.tab.Put(layout.Book, []byte("derivation"), []byte(derivation()))
	if err := t.ready(); err != nil {
		return err
	}
	return t.putHarm()
}

// emptyIndexes forgets all that is derived.
func (t *WriteTx) emptyIndexes() error {
	t.tab.Remaking, t.tab.Changed = true, true
	t.book.file.Harm = nil
	for _, name := range layout.Derived {
		if name == layout.Twins && t.tab.Bucket(name) == nil {
			continue
		}
		if err := t.tab.Empty(name); err != nil {
			return err
		}
	}
	t.book.file.Sealed = true
	clear(t.shelves)
	clear(t.fresh)
	t.counts = nil
	return nil
}

func (t *WriteTx) indexMakes(c *counts) error {
	for m, err := range table.Records[wheel.Make](t.tab, layout.Makes, "make") {
		if err != nil {
			return err
		}
		c.Makes++
		_, now, err := t.corrected(m.ID, nil)
		switch {
		case t.leftOut(t.harm(m.ID, err)):
			now = m
		case err != nil:
			return err
		}
		rs, err := makeIndex(m, now)
		if err == nil {
			err = t.name(layout.Lots, now.Lot, m.ID)
		}
		if err != nil {
			return err
		}
		t.index(rs[1:]) // the first is the lot's
		remember(t.makes, m.ID, now)
	}
	return nil
}

func (t *WriteTx) indexWheels(c *counts) error {
	for w, err := range table.Records[wheel.Wheel](t.tab, layout.Wheels, "wheel") {
		if err != nil {
			return err
		}
		c.Wheels++
		t.index(wheelIndex(w))
		t.dirty[w.ID] = touch{gate: true}
	}
	return nil
}

func (t *WriteTx) indexEntries(c *counts) error {
	for k, v := range t.tab.In(layout.Entries, nil) {
		e, err := pack.ReadEntry(k, v)
		if err != nil {
			if err := t.Unread("entry", k, err); err != nil {
				return err
			}
			continue
		}
		c.Entries++
		c.Newest = max(c.Newest, e.At.UnixMilli())
		t.index(t.hadTags(e))
	}
	return nil
}
