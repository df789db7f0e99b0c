package store

import (
	"testing"

	"rindkeep/wheel"
)

func TestANewLotIsDueItsFirstJobs(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 4, "cellar")
	f.clean()
	got := f.jobs("2026-11-25", "261120A-01")
	t.Log(got)
	if len(got) == 0 {
		t.Fatal("nothing is due")
	}
	f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000), f.did(ws[0].ID, wheel.Turn, "2026-11-25 08:00"))
	f.clean()
	for _, d := range f.due("2026-11-25") {
		t.Log(d.Place, d.Job, d.Tag, d.Due, d.Why)
	}
	f.reopen(Read)
	f.clean()
}
