package store

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rindkeep/store/bookfile"
)

// TestASalvageSavesWhatTheOtherPagesHold empties one page after the other of a book.
func TestASalvageSavesWhatTheOtherPagesHold(t *testing.T) {
	f, good := damaged(t)
	f.open(Read)
	var want Counts
	f.view(func(tx *ReadTx) (err error) { want, err = tx.Counts(); return err })
	f.book.Close()
	dir := t.TempDir()
	bad, to := filepath.Join(dir, "bad.book"), filepath.Join(dir, "saved.book")
	gap := func(lost []Fact) string { return fmt.Sprintf("lost: %d", len(lost)) }
	pages := make([]int, 0, len(good)/4096)
	for id := 2; id < len(good)/4096; id++ {
		pages = append(pages, id)
	}
	r := rand.New(rand.NewPCG(3, 7))
	r.Shuffle(len(pages), func(i, j int) { pages[i], pages[j] = pages[j], pages[i] })
	few := 0
	for _, id := range pages[:min(len(pages), setting("RINDKEEP_PAGES", 25, len(pages)))] {
		b := slices.Clone(good)
		clear(b[id*4096 : (id+1)*4096])
		if err := os.WriteFile(bad, b, 0o600); err != nil {
			t.Fatal(err)
		}
		os.Remove(to)
		x, err := Salvage(context.Background(), bad, to, testSettings(), gap, Options{Now: f.clock.now})
		if err != nil {
			t.Errorf("page %d: %v", id, err)
			continue
		}
		// A page holds about 60 entries; what is lost is named.
		lost := want.Entries - x.Counts.Entries - len(x.Unplaced)
		if lost > 100 || lost > 0 && len(x.Lost) == 0 && len(x.Pages) == 0 {
			t.Errorf("page %d: %d entries of %d, %d unplaced, %d lost, pages %v", id, x.Counts.Entries, want.Entries,
				len(x.Unplaced), len(x.Lost), x.Pages)
		}
		if x.Counts.Wheels < want.Wheels {
			few++
		}
		saved, err := Open(to, Read, Options{Now: f.clock.now})
		if err != nil {
			t.Fatal(err)
		}
		wantClean(t, saved)
		saved.Close()
	}
	if few > 3 {
		t.Errorf("%d pages took wheels with them", few)
	}
}

// TestASalvageMarksTheGapInTheHistory has one entry damaged.
func TestASalvageMarksTheGapInTheHistory(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
	f.put(f.weighed(ws[1].ID, "2026-11-21 08:00", 2000))
	f.spoilFirst(bEntries)
	f.book.Close()
	to := filepath.Join(t.TempDir(), "saved.book")
	gap := func(lost []Fact) string {
		return fmt.Sprintf("lost: %s of %s", lost[0].What, lost[0].At.Format("02 Jan 15:04"))
	}
	x, err := Salvage(context.Background(), f.path, to, Settings{}, gap, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	if len(x.Lost) == 0 || x.Lost[0].At != bookfile.At("wheel", "261120A-01") {
		t.Errorf("lost: %v", x.Lost)
	}
	f.path = to
	f.open(Read)
	f.view(func(tx *ReadTx) error {
		es, err := tx.History(ws[0].ID)
		if len(es) != 1 || !strings.HasPrefix(es[0].Note, "lost: entry of 21 Nov 08:00") {
			t.Errorf("%+v %v", es, err)
		}
		es, err = tx.History(ws[1].ID)
		if len(es) != 1 || es[0].Weight != 2000 {
			t.Errorf("%+v %v", es, err)
		}
		return nil
	})
}

// TestARebuildNeedsNoPageOfTheIndexes empties one page after the other of a book: unless
// it held facts, a rebuild makes the book whole.
func TestARebuildNeedsNoPageOfTheIndexes(t *testing.T) {
	f, good := damaged(t)
	f.open(Read)
	whole := f.dump()
	f.book.Close()
	bad := filepath.Join(t.TempDir(), "bad.book")
	mended, lost := 0, 0
	for id := 2; id < len(good)/4096; id++ {
		b := slices.Clone(good)
		clear(b[id*4096 : (id+1)*4096])
		if err := os.WriteFile(bad, b, 0o600); err != nil {
			t.Fatal(err)
		}
		facts := false
		scan, err := bookfile.ScanFile(bad, func(string, []byte, []byte) {})
		if err != nil {
			t.Fatal(err)
		}
		for _, g := range scan.Lost {
			facts = facts || !isDerived[g.Bucket]
		}
		if !facts && len(scan.Lost) == 0 || !facts && id%setting("RINDKEEP_REBUILDS", 6, 1) != 0 {
			continue
		}
		_, kept, err := RebuildFile(context.Background(), bad, Options{Now: f.clock.now})
		if facts {
			if lost++; !errors.Is(err, bookfile.ErrDamaged) {
				t.Errorf("page %d held facts, and the rebuild says %v", id, err)
			}
			continue
		}
		if err != nil || kept == "" {
			t.Errorf("page %d: kept at %q, %v", id, kept, err)
			continue
		}
		mended++
		os.Remove(kept)
		saved, err := Open(bad, Read, Options{Now: f.clock.now})
		if err != nil {
			t.Fatal(err)
		}
		if got := dumpBook(t, saved); got != whole {
			t.Errorf("page %d: %s", id, firstDifference(whole, got))
		}
		wantClean(t, saved)
		saved.Close()
	}
	if mended < 3 || lost < 3 {
		t.Errorf("%d mended, %d lost", mended, lost)
	}
}
