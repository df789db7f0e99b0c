package store

import (
	"testing"

	"rindkeep/wheel"
)

// TestACaseAfterAnotherEntryHasItsSisters puts an entry that bears on no sister, and asks for the
// wheel's case in the same transaction: it's judged by its lot all the same.
func TestACaseAfterAnotherEntryHasItsSisters(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 4, "cellar")
	for _, w := range ws {
		f.put(f.weighed(w.ID, "2026-11-21 08:00", 2000), f.weighed(w.ID, "2026-11-22 08:00", 1980))
	}
	want, got := 0, 0
	f.view(func(tx *ReadTx) error {
		c, err := tx.Case(ws[0].ID)
		want = len(c.Sisters)
		return err
	})
	f.update(func(tx *WriteTx) error {
		if _, err := tx.Put(f.did(ws[0].ID, wheel.Turn, "2026-11-22 09:00")); err != nil {
			return err
		}
		c, err := tx.Case(ws[0].ID)
		got = len(c.Sisters)
		return err
	})
	if want != 3 || got != want {
		t.Errorf("judged by %d sisters, and by %d after a turn", want, got)
	}
}
