package store

import (
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// corrected is an entry that changes what a make's record says.
func (f *farm) corrected(mk uuid.UUID, when string, change func(*wheel.Make)) wheel.Entry {
	f.t.Helper()
	e := f.entry(mk, wheel.Corrected, when)
	was := f.make(mk)
	now := was
	change(&now)
	c, ok := wheel.CorrectionOf(was, now)
	if !ok {
		f.t.Fatal("that corrects nothing")
	}
	e.Detail = c.Detail()
	return e
}

func (f *farm) make(mk uuid.UUID) (m wheel.Make) {
	f.t.Helper()
	f.view(func(tx *ReadTx) (err error) { m, err = tx.Make(mk); return err })
	return m
}

func (f *farm) strike(e wheel.Entry, when string) wheel.Entry {
	f.t.Helper()
	s := f.entry(e.Subject, wheel.Struck, when)
	s.Target = e.ID
	return s
}

func (f *farm) lots() (out []string) {
	f.t.Helper()
	f.view(func(tx *ReadTx) error {
		for m, err := range tx.Makes() {
			if err != nil {
				return err
			}
			out = append(out, m.Lot+" "+m.Date.String()+" "+m.Variety)
		}
		return nil
	})
	return out
}

func wantLots(t *testing.T, f *farm, want ...string) {
	t.Helper()
	if got := f.lots(); !slices.Equal(got, want) {
		t.Errorf("the makes are %q, want %q", got, want)
	}
	f.clean()
}

func TestACorrectedMakeIsTheMakeEverywhere(t *testing.T) {
	f := newFarm(t)
	m, ws := f.lot("261120A", "2026-11-20", 2, "cellar")
	f.lot("261121A", "2026-11-21", 1, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-20 09:00", 2000))
	was := fmt.Sprint(f.due("2026-12-10"))

	e := f.corrected(m.ID, "2026-11-24 09:00", func(m *wheel.Make) { m.Date -= 15; m.Milk.Treatment = wheel.Raw })
	f.put(e)
	if now := f.make(m.ID); now.Date != m.Date-15 || now.Milk.Treatment != wheel.Raw || now.Lot != m.Lot {
		t.Errorf("%+v", now)
	}
	wantLots(t, f, "261121A 2026-11-21 cheddar-waxed", "261120A 2026-11-05 cheddar-waxed")
	if now := fmt.Sprint(f.due("2026-12-10")); now == was {
		t.Errorf("due is %s, as if it were as young as it was", now)
	}
	f.put(f.did(ws[1].ID, wheel.Turn, "2026-11-18 08:00")) // which the make's first record forbids
	f.reopen(Write)
	wantLots(t, f, "261121A 2026-11-21 cheddar-waxed", "261120A 2026-11-05 cheddar-waxed")

	text := exported(t, f.book)
	b := imported(t, filepath.Join(t.TempDir(), "copy.book"), text, f.clock.now)
	defer b.Close()
	wantClean(t, b)
	if exported(t, b) != text {
		t.Error("a book made from its export is another")
	}
	full := f.dump()
	if err := f.book.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	if f.dump() != full {
		t.Error("a rebuilt book is another")
	}

	// It was turned on the 18th: without the correction that was before it was made.
	wantMadeAfter(t, f.putErr(f.strike(e, "2026-11-24 10:00")))
	var turned wheel.Entry
	f.view(func(tx *ReadTx) error {
		es, err := tx.History(ws[1].ID)
		turned = es[0]
		return err
	})
	f.put(f.strike(turned, "2026-11-24 10:00"))
	f.put(f.strike(e, "2026-11-24 11:00"))
	if now := f.make(m.ID); now != m {
		t.Errorf("struck, it is %+v, not %+v", now, m)
	}
	wantLots(t, f, "261121A 2026-11-21 cheddar-waxed", "261120A 2026-11-20 cheddar-waxed")
	if now := fmt.Sprint(f.due("2026-12-10")); now != was {
		t.Errorf("due is %s, was %s", now, was)
	}
}

func wantMadeAfter(t *testing.T, err error) {
	t.Helper()
	if _, ok := reason.Of(err).(refusal.MadeAfter); !ok {
		t.Errorf("refused with %v, not as made after something that happened", err)
	}
}

func TestAMakeIsNotCorrectedIntoWhatItCannotBe(t *testing.T) {
	f := newFarm(t)
	m, ws := f.lot("261120A", "2026-11-20", 1, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-20 18:00", 2000))
	wantMadeAfter(t, f.putErr(f.corrected(m.ID, "2026-11-24 09:00", func(m *wheel.Make) { m.Date++ })))
	for name, change := range map[string]func(*wheel.Make){
		"of a day to come":        func(m *wheel.Make) { m.Date += 30 },
		"of no variety":           func(m *wheel.Make) { m.Variety = "chalk" },
		"all water":               func(m *wheel.Make) { m.Start.Moisture = 0.99 },
		"with more aside than is": func(m *wheel.Make) { m.Curd, m.SetAside = 10, 20 },
		"begun on another day":    func(m *wheel.Make) { m.Began = at(t, "2026-11-19 08:00") },
	} {
		e := f.corrected(m.ID, "2026-11-24 09:00", change)
		if err := f.book.Update(func(tx *WriteTx) error { _, err := tx.Put(e); return err }); err == nil {
			t.Errorf("the make is %s", name)
		}
	}
	f.putErr(f.entry(ws[0].ID, wheel.Corrected, "2026-11-24 09:00"))
	wantLots(t, f, "261120A 2026-11-20 cheddar-waxed")
}

func TestARemovedMakeLeavesTheListsAndTakesNothingMore(t *testing.T) {
	f := newFarm(t)
	m, ws := f.lot("261120A", "2026-11-20", 2, "cellar")
	f.lot("261121A", "2026-11-21", 1, "cellar")
	void := f.entry(m.ID, wheel.Voided, "2026-11-24 09:00")
	one, two := f.entry(ws[0].ID, wheel.Voided, "2026-11-24 09:00"), f.entry(ws[1].ID, wheel.Voided, "2026-11-24 09:00")
	f.put(void, one, two)
	wantLots(t, f, "261121A 2026-11-21 cheddar-waxed")
	if jobs := f.jobs("2026-11-26", "261120A-01"); len(jobs) > 0 {
		t.Errorf("still due: %v", jobs)
	}
	f.view(func(tx *ReadTx) error {
		got, err := tx.MakeByLot("261120A")
		if err != nil || !got.Removed || !tx.HasLot("261120a") {
			t.Errorf("%+v, %v", got, err)
		}
		return nil
	})
	f.putErr(f.corrected(m.ID, "2026-11-24 10:00", func(m *wheel.Make) { m.Date-- }))
	f.putErr(f.entry(m.ID, wheel.Voided, "2026-11-24 10:00"))
	f.putErr(f.strike(one, "2026-11-24 10:00"))
	_, more := lotOf(t, "261120A", "2026-11-20", 3, "")
	more[2].Make = m.ID
	if err := f.book.Update(func(tx *WriteTx) error { return tx.AddWheels(more[2:]) }); err == nil {
		t.Error("a removed make got one more wheel")
	}
	text := exported(t, f.book)
	b := imported(t, filepath.Join(t.TempDir(), "copy.book"), text, f.clock.now)
	wantClean(t, b)
	if exported(t, b) != text {
		t.Error("a book made from its export is another")
	}
	b.Close()

	f.put(f.strike(void, "2026-11-24 11:00"), f.strike(one, "2026-11-24 11:00"), f.strike(two, "2026-11-24 11:00"))
	wantLots(t, f, "261121A 2026-11-21 cheddar-waxed", "261120A 2026-11-20 cheddar-waxed")
	if jobs := f.jobs("2026-11-26", "261120A-01"); len(jobs) == 0 {
		t.Error("nothing is due again")
	}
}

func TestABookFromBeforeMakesCouldBeCorrectedOpens(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 1, "cellar")
	drop := func(tx *bolt.Tx) error { return tx.DeleteBucket([]byte(layout.Corrected)) }
	if err := f.book.file.DB.Update(drop); err != nil {
		t.Fatal(err)
	}
	f.reopen(Read)
	wantLots(t, f, "261120A 2026-11-20 cheddar-waxed")
}
