package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/wheel"
)

func TestABackupIsTakenWhileTheBookIsInUse(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 10, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
	to := filepath.Join(t.TempDir(), "saved.book")
	var inside Copied
	f.view(func(tx *ReadTx) error { // a reader is in the middle of something
		var err error
		inside, err = Above.Backup(context.Background(), f.book, to)
		return err
	})
	want := Counts{Makes: 1, Wheels: 10, Here: 10, Entries: 1, Rooms: 2}
	if inside.Counts != want || inside.Path != to {
		t.Errorf("got %+v", inside)
	}
	if _, err := Above.Backup(context.Background(), f.book, to); !errors.Is(err, bookfile.ErrExists) {
		t.Errorf("a second backup to the same file: %v", err)
	}
	before := f.dump()
	f.put(f.weighed(ws[1].ID, "2026-11-21 08:00", 2000)) // after the backup
	saved, err := Open(to, Read, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	wantClean(t, saved)
	if got := dumpBook(t, saved); got != before {
		t.Error("the backup is not what the book was")
	}
	saved.Close()

	if _, err := Above.Restore(context.Background(), to, f.path, false, Options{}); !errors.Is(err, bookfile.ErrExists) {
		t.Errorf("restore without replace: %v", err)
	}
	_, err = Above.Restore(context.Background(), to, f.path, true, Options{Wait: 50 * time.Millisecond})
	if !errors.Is(err, bookfile.ErrBusy) {
		t.Errorf("restore over a book in use: %v", err)
	}
	after := f.dump()
	f.book.Close()
	got, err := Above.Restore(context.Background(), to, f.path, true, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	if got.Kept != f.path+".before-restore-20261125T090000Z" || got.Counts != want {
		t.Errorf("got %+v", got)
	}
	f.open(Write)
	if f.dump() != before {
		t.Error("the restored book is not the backup")
	}
	f.clean()
	old, err := Open(got.Kept, Read, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	if dumpBook(t, old) != after {
		t.Error("the book set aside is not what it was")
	}
	old.Close()
	left, _ := filepath.Glob(filepath.Join(filepath.Dir(f.path), ".*new-*"))
	if len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestRestoreProvesItsSourceFirst(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 10, "cellar")
	f.book.Close()
	good, err := os.ReadFile(f.path)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	bad := filepath.Join(dir, "bad.book")
	wrong := append([]byte{}, good...)
	i := strings.Index(string(wrong), `"lot":"261120A"`) // a fact changed on the disk
	wrong[i+9] = '9'
	if err := os.WriteFile(bad, wrong, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, from := range []string{bad, filepath.Join(dir, "none.book"), f.path} {
		if _, err := Above.Restore(context.Background(), from, f.path, true, Options{}); err == nil {
			t.Errorf("restored from %s", from)
		}
	}
	if now, _ := os.ReadFile(f.path); string(now) != string(good) {
		t.Error("the book was touched")
	}
	to := filepath.Join(dir, "sub", "new.book")
	c, err := Above.Restore(context.Background(), f.path, to, false, Options{Now: f.clock.now})
	if err != nil || c.Kept != "" {
		t.Errorf("to a place without a book: %+v %v", c, err)
	}
}

func TestCompactingKeepsEverything(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261101A", "2026-11-01", 200, "cellar")
	for d := range 20 {
		var es []wheel.Entry
		for _, w := range ws {
			es = append(es, f.did(w.ID, wheel.Turn, fmt.Sprintf("2026-11-%02d 08:00", d+2)))
		}
		f.put(es...)
	}
	before := f.dump()
	f.book.Close()
	was, is, err := Above.Compact(f.path, Options{Now: f.clock.now})
	if err != nil || is >= was {
		t.Fatalf("from %d to %d bytes, %v", was, is, err)
	}
	f.open(Write)
	if f.dump() != before {
		t.Error("something changed")
	}
	a, err := f.book.About()
	if err != nil || a.Bytes != is || a.Counts.Entries != 4000 || !a.Fresh || a.Settings.Zone != "Europe/Dublin" ||
		!a.Newest.Equal(at(t, "2026-11-21 08:00")) {
		t.Errorf("%+v, %v", a, err)
	}
	t.Logf("%d bytes became %d, %d of them free", was, is, a.Free)
	f.clean()
}

// spoil changes one record behind the book's back.
func (f *farm) spoil(bucket string, change func(b *bolt.Bucket) error) {
	f.t.Helper()
	if err := f.book.file.DB.Update(func(tx *bolt.Tx) error { return change(tx.Bucket([]byte(bucket))) }); err != nil {
		f.t.Fatal(err)
	}
}

// spoilFirst flips a bit of a bucket's first record.
func (f *farm) spoilFirst(bucket string) {
	f.t.Helper()
	f.spoil(bucket, func(b *bolt.Bucket) error {
		k, v := b.Cursor().First()
		v = append([]byte{}, v...)
		v[len(v)-4] ^= 4
		return b.Put(append([]byte{}, k...), v)
	})
}

func TestCheckFindsEveryIndexThatDisagreesAndRebuildMendsIt(t *testing.T) {
	drop := func(b *bolt.Bucket) error { k, _ := b.Cursor().First(); return b.Delete(k) }
	for _, name := range layout.Derived {
		if name == layout.Twins { // of shared books alone
			continue
		}
		for what, change := range map[string]func(*bolt.Bucket) error{
			"a record missing": drop,
			"a record too many": func(b *bolt.Bucket) error {
				k, v := b.Cursor().First()
				v = append([]byte{}, v...)
				k = append([]byte{}, k...)
				k[len(k)-1] ^= 1
				return b.Put(k, v)
			},
			"a record changed": func(b *bolt.Bucket) error {
				k, v := b.Cursor().Last()
				v = append([]byte{}, v...)
				v[len(v)-1] ^= 1
				return b.Put(append([]byte{}, k...), v)
			},
		} {
			if name == layout.Counts && what == "a record too many" {
				continue // nobody looks there
			}
			t.Run(name+" with "+what, func(t *testing.T) {
				f := newFarm(t)
				m, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
				f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
				f.put(f.corrected(m.ID, "2026-11-21 09:00", func(m *wheel.Make) { m.Date-- }))
				tagged := f.entry(ws[1].ID, wheel.Tagged, "2026-11-21 10:00")
				tagged.Tag = "gift"
				f.put(tagged)
				before := f.dump()
				f.spoil(name, change)
				found, err := f.book.Check(context.Background(), nil)
				if err != nil || len(found) == 0 {
					t.Fatalf("nothing was found, %v", err)
				}
				for _, x := range found {
					if !x.Derived {
						t.Errorf("%s is taken for a damaged fact", x)
					}
				}
				if err := f.book.Rebuild(t.Context()); err != nil {
					t.Fatal(err)
				}
				f.clean()
				if f.dump() != before {
					t.Error("the rebuilt book is not what it was")
				}
			})
		}
	}
}

func TestCheckFindsAFactThatWasChanged(t *testing.T) {
	for _, name := range []string{layout.Makes, layout.Wheels, layout.Rooms, layout.Entries} {
		f := newFarm(t)
		_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
		f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
		f.spoilFirst(name)
		found, err := f.book.Check(context.Background(), nil)
		if err != nil || len(found) == 0 || found[0].Derived {
			t.Errorf("%s: %v %v", name, found, err)
		}
	}
}

func TestABookMadeByOtherRulesIsMadeAnewWhenWrittenTo(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 3, "cellar")
	before := f.dump()
	f.spoil(layout.Book, func(b *bolt.Bucket) error { return b.Put([]byte("derivation"), []byte("0-older")) })
	f.spoil(layout.Due, func(b *bolt.Bucket) error { k, _ := b.Cursor().First(); return b.Delete(k) })
	f.reopen(Write)
	if f.dump() != before {
		t.Error("the derived records were left as they were")
	}
}
