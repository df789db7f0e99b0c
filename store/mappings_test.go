package store

import (
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestAMappingIsKeptAndReplacedUnderItsNameInAnyCase(t *testing.T) {
	f := newFarm(t)
	m := register.Mapping{
		ID: newID(t), Name: "Fern Bank", Of: register.OfWheels, Columns: map[string]string{"tag": "Our ref"},
		Kinds: map[string]string{"bergkäse": "tomme"}, Written: at(t, "2026-11-25 08:00"), By: "Nora",
	}
	put := func(m register.Mapping, want bool) {
		t.Helper()
		f.update(func(tx *WriteTx) error {
			written, err := tx.PutMapping(m)
			if written != want {
				t.Errorf("written: %v", written)
			}
			return err
		})
	}
	put(m, true)
	again := m
	again.ID, again.By, again.Written = newID(t), "Bram", at(t, "2026-11-25 09:00")
	put(again, false)
	again.Name, again.Unit = "fern bank", "kg"
	put(again, true)
	again.ID = m.ID
	f.view(func(tx *ReadTx) error {
		got, err := tx.Mapping("FERN BANK")
		if d := cmp.Diff(again, got); d != "" {
			t.Errorf("the mapping (-want +got):\n%s", d)
		}
		_, none := tx.Mapping("Fern Bnak")
		want := refusal.NotFound{Thing: "mapping", Name: "Fern Bnak", Near: []string{"fern bank"}}
		if d := cmp.Diff(error(want), none); d != "" {
			t.Errorf("one that isn't there (-want +got):\n%s", d)
		}
		return err
	})
	// Written twice, its link keeps the first: the chain proves both.
	if found := altered(t, f.book); len(found) > 0 {
		t.Errorf("the check found %q", found)
	}
	for _, bad := range []register.Mapping{
		{ID: m.ID, Of: register.OfWheels, Written: m.Written},
		{ID: m.ID, Name: "x", Of: "cheese", Written: m.Written},
		{Name: "x", Of: register.OfAir, Written: m.Written},
		{ID: m.ID, Name: "x", Of: register.OfAir, Unit: "a\x00b", Written: m.Written},
	} {
		if err := f.book.Update(func(tx *WriteTx) error { _, err := tx.PutMapping(bad); return err }); err == nil {
			t.Errorf("%+v was kept", bad)
		}
	}
}
