package store

import (
	"slices"
	"testing"
	"time"

	"rindkeep/wheel"
)

func TestWhatWasWrittenSinceIsFoundByTheChain(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
	f.clock.t = at(t, "2026-11-24 18:00")
	f.put(f.did(ws[0].ID, wheel.Turn, "2026-11-24 17:00"))
	f.clock.t = at(t, "2026-11-25 08:00")
	midnight := at(t, "2026-11-25 00:00")
	written := func(since time.Time, after uint64) (notes []string, newest uint64) {
		t.Helper()
		if err := f.book.View(func(tx *ReadTx) (err error) {
			newest, err = tx.EachWritten(since, after, func(e wheel.Entry) error {
				notes = append(notes, e.Note)
				return nil
			})
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return notes, newest
	}
	noted := func(e wheel.Entry, note string) wheel.Entry { e.Note = note; return e }
	all, before := written(midnight, 0)
	if len(all) != 0 {
		t.Errorf("nothing was written today: %q", all)
	}
	f.put(noted(f.did(ws[0].ID, wheel.Turn, "2026-11-25 07:30"), "a"),
		noted(f.did(ws[1].ID, wheel.Turn, "2026-11-25 07:30"), "b"),
		noted(f.did(ws[2].ID, wheel.Turn, "2026-11-24 19:00"), "of yesterday"))
	f.put(noted(f.did(ws[0].ID, wheel.Brush, "2026-11-25 07:30"), "c"))
	all, newest := written(midnight, 0)
	if slices.Sort(all); !slices.Equal(all, []string{"a", "b", "c"}) {
		t.Errorf("written today: %q", all)
	}
	if newest != before+2 {
		t.Errorf("newest link %d, before %d", newest, before)
	}
	if late, _ := written(midnight, newest); len(late) != 0 {
		t.Errorf("nothing was written since: %q", late)
	}
	if old, _ := written(at(t, "2026-11-24 00:00"), 0); len(old) < 5 {
		t.Errorf("since yesterday only %q", old)
	}
}
