package store

import (
	"errors"
	"path/filepath"
	"testing"

	"rindkeep/store/bookfile"
)

func TestTheRevisionChangesWithWhatIsWrittenAndOnlyThen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "cave.book")
	if _, err := bookfile.Revision(path); !errors.Is(err, bookfile.ErrNoBook) {
		t.Errorf("of no book: %v", err)
	}
	b, err := Create(path, Settings{Zone: "Europe/Dublin"}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	rev := func() uint64 {
		t.Helper()
		n, err := bookfile.Revision(path)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	first := rev()
	if err := b.Update(func(*WriteTx) error { return nil }); err != nil {
		t.Fatal(err)
	}
	if rev() != first {
		t.Error("it changed though nothing was written")
	}
	// The book is open, and locked, while it is asked for.
	if err := b.Update(
		func(tx *WriteTx) error { return tx.PutCustomer(customer(t, "The Corner Shop", "", "")) }); err != nil {
		t.Fatal(err)
	}
	if rev() == first {
		t.Error("it stayed though a customer was written")
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	last := rev()
	if b, err = Open(path, Write, Options{}); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if rev() != last {
		t.Error("opening and closing changed it")
	}
}
