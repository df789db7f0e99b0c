package store

import (
	"rindkeep/store/register"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

// What phones announced is no fact: it's kept beside the facts, changes nothing that
// they prove, isn't exported, and the last command stays the last.
func TestWhatAPhoneAnnouncedIsNoFact(t *testing.T) {
	f := whole(t)
	b := f.book
	before, id, now := exported(t, b), uuid.UUID{6: 0x70, 8: 0x80, 15: 77}, f.clock.now().UTC()
	put := func(fn func(*WriteTx) error) {
		t.Helper()
		if err := b.Update(fn); err != nil {
			t.Fatal(err)
		}
	}
	var last register.LastCommand
	put(func(tx *WriteTx) (err error) { last, _, err = tx.LastCommand(); return err })
	p := register.Phone{ID: id, By: "Nora", Heard: now, Last: 3}
	p.Open = []register.Tap{{Number: 1, At: now, By: "Nora"}, {Number: 2, At: now}, {Number: 3}}
	put(func(tx *WriteTx) error {
		if err := tx.PutPhone(p); err != nil {
			return err
		}
		return tx.SetLastCommand(register.LastCommand{Command: "nobody's"})
	})
	put(func(tx *WriteTx) error { return tx.Arrived(id, 2, "Bram") })
	p.Open[2].By = "Nora" // and not who uses it since
	put(func(tx *WriteTx) error {
		is, _, err := tx.LastCommand()
		if diff := cmp.Diff(last, is); diff != "" {
			t.Errorf("the last command is another:\n%s", diff)
		}
		all, err2 := tx.Phones()
		want := []register.Phone{{ID: id, By: "Bram", Heard: now, Last: 3, Open: []register.Tap{p.Open[0], p.Open[2]}}}
		for i := range all {
			all[i].Heard = now
		}
		if diff := cmp.Diff(want, all); diff != "" || err != nil || err2 != nil {
			t.Errorf("%v, %v\n%s", err, err2, diff)
		}
		return nil
	})
	if after := exported(t, b); after != before || strings.Contains(after, id.String()) {
		t.Error("an export has what the phone announced")
	}
	if found, err := b.Check(t.Context(), nil); err != nil || len(found) > 0 {
		t.Errorf("the check found %+v, %v", found, err)
	}
	put(func(tx *WriteTx) error { tx.ForgetPhone(id); return nil })
	put(func(tx *WriteTx) error {
		if all, err := tx.Phones(); len(all) > 0 || err != nil {
			t.Errorf("forgotten, it's still there: %v, %v", all, err)
		}
		return nil
	})
}
