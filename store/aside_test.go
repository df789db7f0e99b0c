package store

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"rindkeep/cave/day"
)

func TestALookOnACopyKeepsNobodyWaitingAndSeesTheBookAsItWas(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 3, "cellar")
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	f.reopen(Read)
	c, err := f.book.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	if c == f.book {
		t.Fatal("no copy was made")
	}
	// Another writes while the copy is read.
	b, err := Open(f.path, Write, Options{Wait: -1, Now: f.clock.now})
	if err != nil {
		t.Fatalf("a writer waits for the look: %v", err)
	}
	if err := b.Update(func(tx *WriteTx) error { return tx.PutRoom(room(t, "attic", 7, 0.8)) }); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if err := c.View(func(tx *ReadTx) error {
		n, err := tx.Counts()
		if err != nil || n.Here != 3 {
			t.Errorf("the copy counts %+v, %v", n, err)
		}
		rooms, err := tx.Rooms()
		if err != nil || len(rooms) != 2 {
			t.Errorf("the copy has %d rooms, want the 2 of before (%v)", len(rooms), err)
		}
		_, err = tx.Due(day.At(f.clock.now().Add(24*time.Hour), time.UTC))
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if c.Path() != f.path {
		t.Errorf("the copy calls itself %s", c.Path())
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	if left, err := os.ReadDir(temp); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestALookWithoutRoomForACopyReadsTheBookItself(t *testing.T) {
	f := newFarm(t)
	t.Setenv("TMPDIR", filepath.Join(t.TempDir(), "nowhere"))
	f.reopen(Read)
	c, err := f.book.Snapshot()
	if err != nil || c != f.book {
		t.Fatalf("gave %p of %p, %v", c, f.book, err)
	}
	f.view(func(tx *ReadTx) error { _, err := tx.Rooms(); return err })
}
