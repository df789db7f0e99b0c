package store

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/store/bookfile"
	"rindkeep/store/finding"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

func TestEntriesWhoseIdentityBeginsAsTheirWheelsAreFoundLikeAnyOther(t *testing.T) {
	f := newFarm(t)
	m, ws := lotOf(t, "A", "2026-11-10", 3, "cellar")
	copy(ws[1].ID[:8], ws[0].ID[:8]) // two wheels that begin alike
	f.update(func(tx *WriteTx) error {
		if err := tx.PutMake(m); err != nil {
			return err
		}
		return tx.AddWheels(ws)
	})
	weighing := func(w int, when string, g float64) wheel.Entry {
		e := f.weighed(ws[w].ID, when, g)
		layout.BeginID(&e.ID, e.Subject)
		return e
	}
	a, b, c := weighing(0, "2026-11-12 08:00", 2000), weighing(1, "2026-11-12 08:00", 2010), weighing(2,
		"2026-11-12 08:00", 2020)
	none := weighing(0, "2026-11-12 09:00", 2000)
	find := func(tx *ReadTx) {
		t.Helper()
		for _, e := range []wheel.Entry{a, b, c} {
			if got, err := tx.EntryByID(e.ID); err != nil || !cmp.Equal(got, e) {
				t.Errorf("%s: %v %v", e.ID, got, err)
			}
		}
		for _, id := range []uuid.UUID{none.ID, {6: 0x80}, newID(t)} {
			if _, err := tx.EntryByID(id); err == nil {
				t.Errorf("%s is found, and nobody wrote it", id)
			}
		}
	}
	f.update(func(tx *WriteTx) error {
		if _, err := tx.Put(a, b, c); err != nil {
			return err
		}
		find(tx.ReadTx) // before it is written
		return nil
	})
	f.view(func(tx *ReadTx) error {
		find(tx)
		for _, e := range []wheel.Entry{a, b, c} {
			es, err := tx.EntriesMarked(e.Mark(), 2)
			if err != nil || len(es) != 1 || es[0].ID != e.ID {
				t.Errorf("marked %s: %v %v", e.Mark(), es, err)
			}
		}
		if es, err := tx.EntriesByCommand(a.ID); err != nil || len(es) != 0 {
			t.Errorf("together with %s: %v %v", a.ID, es, err)
		}
		return nil
	})
	if again := f.put(a, b, c); again.Written != 0 || again.Repeated != 3 {
		t.Errorf("put again: %+v", again)
	}
	other := a
	other.Subject = ws[2].ID
	if err := f.putErr(other); err.Error() != "A-03: entry-differs {Was:weighed}" {
		t.Errorf("under another wheel: %v", err)
	}
	f.clean()

	// An export and its import, and a rebuilt index.
	path, text := filepath.Join(t.TempDir(), "new.book"), exported(t, f.book)
	o := Options{Now: f.clock.now}
	if err := Above.Import(context.Background(), path, strings.NewReader(text), o); err != nil {
		t.Fatal(err)
	}
	was := f.dump()
	n, err := Open(path, Write, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	defer n.Close()
	if d := cmp.Diff(was, dumpBook(t, n)); d != "" {
		t.Errorf("imported otherwise:\n%s", d)
	}
	if err := f.book.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(was, f.dump()); d != "" {
		t.Errorf("rebuilt otherwise:\n%s", d)
	}

	// The check misses the one record they share.
	key, _ := layout.EntryIndex(pack.EntryKey(c))
	f.update(func(tx *WriteTx) error { tx.tab.Put(layout.IDs, key, nil); return nil })
	found, err := f.book.Check(context.Background(), nil)
	want := bookfile.Finding{At: bookfile.At("entry", c.ID), What: finding.NotIndexed{Index: layout.IDs}, Derived: true}
	if err != nil || len(found) != 1 || found[0] != want {
		t.Errorf("found %v %v", found, err)
	}
}
