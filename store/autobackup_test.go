package store

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/wheel"
)

func TestTheDaysBackup(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
	ctx := context.Background()
	k, err := bookfile.BackupsOf(f.path)
	if err != nil {
		t.Fatal(err)
	}
	var last time.Time
	backUp := func(daily bool) (out Copied) {
		t.Helper()
		out, last, err = Above.Keep(ctx, f.book, k, daily)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	first := backUp(true)
	if first.Path == "" || first.Counts.Wheels != 3 || last.IsZero() {
		t.Fatalf("%+v", first)
	}
	f.put(f.did(ws[0].ID, wheel.Turn, "2026-11-21 08:00"))
	if again := backUp(true); again.Path != "" {
		t.Error("a second one of the day")
	}
	if before := backUp(false); before.Path == "" || before.Path == first.Path {
		t.Errorf("none before an import: %+v", before)
	}
	if same := backUp(false); same.Path != "" {
		t.Error("the same history was copied again")
	}
	to := filepath.Join(t.TempDir(), "back.book")
	back, err := Above.Restore(ctx, first.Path, to, false, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	if back.Counts != first.Counts {
		t.Errorf("restored %+v of %+v", back.Counts, first.Counts)
	}

	// Damage: nothing is kept, nothing expires, and it's tried once an hour.
	f.clock.t = f.clock.t.Add(24 * time.Hour)
	f.put(f.did(ws[1].ID, wheel.Turn, "2026-11-21 09:00"))
	f.spoilFirst(layout.Entries)
	kept := fmt.Sprint(k.List(""))
	bad := backUp(true)
	if bad.Path != "" || len(bad.Findings) == 0 || last.IsZero() {
		t.Errorf("%+v", bad)
	}
	if again := backUp(true); len(again.Findings) > 0 {
		t.Error("it was tried twice in an hour")
	}
	if bad := backUp(false); len(bad.Findings) == 0 {
		t.Error("before an import it wasn't tried")
	}
	if now := fmt.Sprint(k.List("")); now != kept {
		t.Errorf("kept %s, was %s", now, kept)
	}
	if es, _ := os.ReadDir(k.Folder); len(es) != 3 { // two backups and the date
		t.Errorf("left in the folder: %v", es)
	}
	f.clock.t = f.clock.t.Add(2 * time.Hour)
	if bad := backUp(true); len(bad.Findings) == 0 {
		t.Error("it wasn't tried again after an hour")
	}
	f.book.Close()
	if _, err := Above.Restore(ctx, first.Path, f.path, true, Options{Now: f.clock.now}); err != nil {
		t.Fatal(err)
	}
	f.open(Write)
	f.put(f.did(ws[2].ID, wheel.Turn, "2026-11-21 10:00"))
	if repaired := backUp(true); repaired.Path == "" {
		t.Errorf("none after the book was restored: %+v", repaired)
	}
}

func TestNoBackupsWhereNoneAreWanted(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 1, "cellar")
	elsewhere := t.TempDir()
	for _, c := range []struct {
		put  string
		made bool
	}{{bookfile.NoBackups, false}, {elsewhere, true}, {"", true}} {
		if err := bookfile.PutBackups(f.path, c.put); err != nil {
			t.Fatal(err)
		}
		k, err := bookfile.BackupsOf(f.path)
		if err != nil {
			t.Fatal(err)
		}
		f.clock.t = f.clock.t.Add(24 * time.Hour)
		f.put(f.did(ws[0].ID, wheel.Turn, f.clock.t.Add(-time.Hour).In(dublin).Format("2006-01-02 15:04")))
		out, _, err := Above.Keep(context.Background(), f.book, k, true)
		if err != nil || (out.Path != "") != c.made {
			t.Errorf("%q: %+v %v", c.put, out, err)
		}
		if c.put == elsewhere && filepath.Dir(out.Path) != elsewhere {
			t.Errorf("it's at %s", out.Path)
		}
	}
}
