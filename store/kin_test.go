package store

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

func TestAnAlteredBackupIsPutBackOnlyWhenAskedTo(t *testing.T) {
	f, _ := chainedFarm(t)
	f.spoil(layout.Rooms, func(b *bolt.Bucket) error {
		return b.Put([]byte("fridge"), pack.Sealed(bytes.Replace(b.Get([]byte("fridge"))[5:], []byte("12"), []byte("13"), 1)))
	})
	want := altered(t, f.book)
	if len(want) != 1 {
		t.Fatalf("found %v", want)
	}
	f.book.Close()
	to, o := filepath.Join(t.TempDir(), "back.book"), Options{Now: f.clock.now}
	_, err := Above.Restore(context.Background(), f.path, to, false, o)
	if r, ok := reason.Of(err).(*chain.OtherHistory); !ok || len(r.Findings) != 1 {
		t.Errorf("without being asked to: %v", err)
	}
	if left, _ := os.ReadDir(filepath.Dir(to)); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	o.Altered = true
	if c, err := Above.Restore(context.Background(), f.path, to, false, o); err != nil || len(c.Findings) != 1 {
		t.Fatal(c, err)
	}
	b, err := Open(to, Read, Options{Now: f.clock.now, Alone: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if d := cmp.Diff(want, altered(t, b)); d != "" {
		t.Errorf("the copy tells of it otherwise\n%s", d)
	}
}

// TestABackupWithAHistoryWrittenAgainIsFoundBesideAnotherCopy has backups that are sound
// in themselves.
func TestABackupWithAHistoryWrittenAgainIsFoundBesideAnotherCopy(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		name string
		make func(t *testing.T, f *farm, ws []wheel.Wheel, to string) // the backup
		want []reason.Reason
	}{
		{"older", func(t *testing.T, f *farm, ws []wheel.Wheel, to string) {
			f.backup(to)
			f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1970))
		}, nil},
		{"newer", func(t *testing.T, f *farm, ws []wheel.Wheel, to string) {
			old := filepath.Join(t.TempDir(), "old.book")
			f.backup(old)
			f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1970))
			f.backup(to)
			f.swap(old)
		}, nil},
		{"written again from its beginning", func(t *testing.T, f *farm, ws []wheel.Wheel, to string) {
			f.backup(to)
			rechain(t, to, at(t, "2026-11-25 09:01"))
		}, []reason.Reason{chain.Parted{Path: "", Link: 0}}},
		{"gone on from an older one", func(t *testing.T, f *farm, ws []wheel.Wheel, to string) {
			old := filepath.Join(t.TempDir(), "old.book")
			f.backup(old)
			f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1970))
			now := filepath.Join(t.TempDir(), "now.book")
			f.backup(now)
			f.swap(old)
			f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1980))
			f.backup(to)
			f.swap(now)
		}, []reason.Reason{chain.Parted{Path: "", Link: 9, Written: at(t, "2026-11-25 09:00")}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, ws := chainedFarm(t)
			backup := filepath.Join(t.TempDir(), "back.book")
			c.make(t, f, ws, backup)
			before := f.dump()
			f.book.Close()
			_, err := Above.Restore(ctx, backup, f.path, true, Options{Now: f.clock.now})
			var got []reason.Reason
			if r, ok := reason.Of(err).(*chain.OtherHistory); ok {
				err = nil
				for _, x := range r.Findings {
					p, _ := x.What.(chain.Parted)
					p.Path = ""
					got = append(got, p)
				}
			}
			if d := cmp.Diff(c.want, got); d != "" || err != nil {
				t.Errorf("%v %s", err, d)
			}
			f.open(Write)
			if len(c.want) > 0 && f.dump() != before {
				t.Error("it was restored")
			}
			f.clean()
		})
	}
}

// backup copies the book as it stands.
func (f *farm) backup(to string) {
	f.t.Helper()
	if _, err := Above.Backup(context.Background(), f.book, to); err != nil {
		f.t.Fatal(err)
	}
}

// swap puts another file in the book's place, as a person does with cp.
func (f *farm) swap(with string) {
	f.t.Helper()
	f.book.Close()
	b, err := os.ReadFile(with)
	if err == nil {
		err = os.WriteFile(f.path, b, 0o600)
	}
	if err != nil {
		f.t.Fatal(err)
	}
	f.open(Write)
}

// rechain writes the whole history of a book again, as somebody may who knows how.
func rechain(t *testing.T, path string, at time.Time) {
	t.Helper()
	b, err := Open(path, Write, Options{Alone: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if err := b.Update(func(t *WriteTx) error {
		t.tab.Changed = true
		return errors.Join(t.tab.Empty(layout.Chain), chain.Begin(t.tab.Bolt, t.book.settings.ID, chain.Begun, at))
	}); err != nil {
		t.Fatal(err)
	}
}

// TestACheckAsksTheNewestBackup puts an older copy and a history written again in the
// book's place.
func TestACheckAsksTheNewestBackup(t *testing.T) {
	f, ws := chainedFarm(t)
	k, err := bookfile.BackupsOf(f.path)
	if err != nil {
		t.Fatal(err)
	}
	old := filepath.Join(t.TempDir(), "old.book")
	f.backup(old)
	f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1970))
	auto, _, err := Above.Keep(context.Background(), f.book, k, false)
	if err != nil {
		t.Fatal(err)
	}
	history := func(want ...reason.Reason) {
		t.Helper()
		var got []reason.Reason
		found, err := Above.CheckHistory(f.book)
		for _, x := range found {
			got = append(got, x.What)
		}
		if d := cmp.Diff(want, got); d != "" || err != nil {
			t.Errorf("%v %s", err, d)
		}
	}
	nine := at(t, "2026-11-25 09:00")
	history()
	f.put(f.weighed(ws[0].ID, "2026-11-24 08:00", 1960))
	history()
	f.swap(old)
	history(chain.Behind{Path: auto.Path, Links: 1, Since: nine})
	f.put(f.weighed(ws[0].ID, "2026-11-24 08:00", 1960))
	history(chain.Parted{Path: auto.Path, Link: 9, Written: nine})
	f.book.Close()
	rechain(t, f.path, nine.Add(time.Minute))
	f.open(Write)
	f.clean()
	history(chain.Parted{Path: auto.Path})
}
