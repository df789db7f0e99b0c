package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	bolt "go.etcd.io/bbolt"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/remains"
)

// TestASalvageSavesWhatTheOtherPagesHold empties one page after the other of a book. Every
// entry, and every wheel and lot with a record or an entry, that the other pages hold comes
// out, and what comes out makes an equal book by export and import.
func TestASalvageSavesWhatTheOtherPagesHold(t *testing.T) {
	f, good := damaged(t)
	f.open(Read)
	var want Counts
	f.view(func(tx *ReadTx) (err error) { want, err = tx.Counts(); return err })
	f.book.Close()
	facts := factsOn(t, f.path, good)
	dir := t.TempDir()
	bad, to := filepath.Join(dir, "bad.book"), filepath.Join(dir, "saved.book")
	gap := func(lost []chain.Fact) string { return fmt.Sprintf("lost: %d", len(lost)) }
	pages := make([]int, 0, len(good)/4096)
	for id := range len(good) / 4096 {
		pages = append(pages, id)
	}
	r := rand.New(rand.NewPCG(3, 7))
	r.Shuffle(len(pages), func(i, j int) { pages[i], pages[j] = pages[j], pages[i] })
	standIns := 0
	for _, id := range pages[:min(len(pages), setting("RINDKEEP_PAGES", 25, len(pages)))] {
		b := slices.Clone(good)
		clear(b[id*4096 : (id+1)*4096])
		if err := os.WriteFile(bad, b, 0o600); err != nil {
			t.Fatal(err)
		}
		os.Remove(to)
		x, err := Above.Salvage(context.Background(), bad, to, testSettings(), gap, Options{Now: f.clock.now})
		if err != nil {
			t.Errorf("page %d: %v", id, err)
			continue
		}
		standIns += len(x.Lots)
		saved, err := Open(to, Read, Options{Now: f.clock.now})
		if err != nil {
			t.Fatal(err)
		}
		wantClean(t, saved)
		missing := map[string]int{}
		if err := saved.View(func(tx *ReadTx) error {
			for _, x := range facts {
				if x.page != id && !bytes.Equal(tx.tab.Get(x.bucket, x.key), x.value) {
					missing[x.bucket]++
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if len(missing) > 0 || len(x.Unplaced) > 0 {
			t.Errorf("page %d: missing of the other pages: %v, %d unplaced", id, missing, len(x.Unplaced))
		}
		if x.Counts.Wheels < want.Wheels || x.Counts.Makes < want.Makes {
			t.Errorf("page %d: %d wheels of %d, %d makes of %d", id, x.Counts.Wheels, want.Wheels, x.Counts.Makes, want.Makes)
		}
		if held := slices.ContainsFunc(facts, func(x factOn) bool { return x.page == id }); held &&
			len(x.Pages)+len(x.Lost) == 0 {
			t.Errorf("page %d: nothing is said to be lost", id)
		}
		if id%5 == 0 {
			again := imported(t, filepath.Join(t.TempDir(), "again.book"), exported(t, saved), f.clock.now)
			if one, two := dumpBook(t, saved), dumpBook(t, again); one != two {
				t.Errorf("page %d: imported again: %s", id, firstDifference(one, two))
			}
			again.Close()
		}
		saved.Close()
	}
	if standIns == 0 && setting("RINDKEEP_PAGES", 25, len(pages)) >= len(pages) {
		t.Error("no lot lost its record")
	}
}

// factOn is an entry, wheel or make and the page it's on.
type factOn struct {
	bucket     string
	key, value []byte
	page       int
}

// factsOn finds the pages of a book's facts by their bytes. Free pages may hold them too.
func factsOn(t *testing.T, path string, file []byte) (out []factOn) {
	t.Helper()
	free := map[int]bool{}
	inBolt(t, path, func(tx *bolt.Tx) error {
		for id := range len(file) / 4096 {
			g, err := tx.Page(id)
			if err != nil {
				return err
			}
			free[id] = g.Type == "free"
		}
		for _, name := range []string{layout.Entries, layout.Wheels, layout.Makes} {
			if err := tx.Bucket([]byte(name)).ForEach(func(k, v []byte) error {
				both := slices.Concat(k, v)
				for at := 0; ; {
					i := bytes.Index(file[at:], both)
					if i < 0 {
						return fmt.Errorf("%s %x is on no page", name, k)
					}
					if at += i; !free[at/4096] {
						out = append(out, factOn{name, bytes.Clone(k), bytes.Clone(v), at / 4096})
						return nil
					}
					at++
				}
			}); err != nil {
				return err
			}
		}
		return nil
	})
	return out
}

// TestASalvageMarksTheGapInTheHistory has one entry damaged.
func TestASalvageMarksTheGapInTheHistory(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
	f.put(f.weighed(ws[1].ID, "2026-11-21 08:00", 2000))
	f.spoilFirst(layout.Entries)
	f.book.Close()
	to := filepath.Join(t.TempDir(), "saved.book")
	gap := func(lost []chain.Fact) string {
		return fmt.Sprintf("lost: %s of %s", lost[0].What, lost[0].At.Format("02 Jan 15:04"))
	}
	x, err := Above.Salvage(context.Background(), f.path, to, Settings{}, gap, Options{Now: f.clock.now})
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
			facts = facts || !layout.IsDerived(g.Bucket)
		}
		if !facts && len(scan.Lost) == 0 || !facts && id%setting("RINDKEEP_REBUILDS", 6, 1) != 0 {
			continue
		}
		kept, err := Above.Rebuild(context.Background(), bad, Options{Now: f.clock.now})
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

// TestASalvageMakesALotAgainWhoseRecordIsLost has the records of a lot damaged, and once
// the indexes that tell of it gone too.
func TestASalvageMakesALotAgainWhoseRecordIsLost(t *testing.T) {
	for _, c := range []struct {
		name string
		gone []string // indexes
		want remains.Lot
	}{
		{"with its indexes", nil, remains.Lot{Lot: "261120A", Variety: "cheddar-waxed", Date: 20777}},
		{"without", []string{layout.Lots, layout.Dates},
			remains.Lot{Lot: "261120A", Variety: "cheddar-waxed", Date: 20777, Guessed: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFarm(t)
			lost, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
			f.lot("261121A", "2026-11-21", 3, "cellar")
			f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
			f.spoil(layout.Makes, func(b *bolt.Bucket) error {
				v := bytes.Clone(b.Get(lost.ID[:]))
				v[10] ^= 1
				return b.Put(lost.ID[:], v)
			})
			for _, name := range c.gone {
				f.spoil(name, func(b *bolt.Bucket) error {
					return b.ForEach(func(k, _ []byte) error { return b.Delete(k) })
				})
			}
			f.book.Close()
			to := filepath.Join(t.TempDir(), "saved.book")
			gap := func(lost []chain.Fact) string { return "lost: " + lost[0].What }
			x, err := Above.Salvage(t.Context(), f.path, to, Settings{}, gap, Options{Now: f.clock.now})
			if err != nil {
				t.Fatal(err)
			}
			if len(x.Lots) != 1 || x.Lots[0] != c.want || x.Counts.Wheels != 6 || len(x.Unplaced) > 0 {
				t.Errorf("%+v, %d unplaced, %+v", x.Lots, len(x.Unplaced), x.Counts)
			}
			f.path = to
			f.open(Read)
			f.clean()
			f.view(func(tx *ReadTx) error {
				m, err := tx.MakeByLot("261120A")
				if err != nil {
					return err
				}
				notes, err := tx.History(m.ID)
				if len(notes) != 1 || notes[0].Note != "lost: record" || m.ID != lost.ID {
					t.Errorf("%+v", notes)
				}
				es, herr := tx.History(ws[0].ID)
				if len(es) != 1 || es[0].Weight != 2000 {
					t.Errorf("%+v", es)
				}
				return errors.Join(err, herr)
			})
		})
	}
}
