package store

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"rindkeep/store/bookfile"
	"rindkeep/wheel"
)

// damaged is a book of a few lots, closed, with the bytes of its file.
func damaged(t *testing.T) (f *farm, good []byte) {
	f = newFarm(t)
	for i := range 6 {
		_, ws := f.lot(fmt.Sprintf("2611%02dA", 10+i), fmt.Sprintf("2026-11-%02d", 10+i), 20,
			[]string{"cellar", "fridge"}[i%2])
		var es []wheel.Entry
		for k, w := range ws {
			es = append(es, f.did(w.ID, wheel.Turn, fmt.Sprintf("2026-11-2%d 08:%02d", k%5, k)))
			if k%4 == 0 {
				es = append(es, f.weighed(w.ID, fmt.Sprintf("2026-11-%02d 09:00", 17+i%3), 2000))
			}
		}
		f.put(es...)
	}
	f.book.Close()
	good, err := os.ReadFile(f.path)
	if err != nil {
		t.Fatal(err)
	}
	return f, good[:usedBytes(t, f.path)]
}

// TestABackupThatIsVouchedForCanBeRestored damages books, backs them up and restores
// what the backup called sound.
func TestABackupThatIsVouchedForCanBeRestored(t *testing.T) {
	f, good := damaged(t)
	dir := t.TempDir()
	path, to, back := filepath.Join(dir, "bad.book"), filepath.Join(dir, "copy.book"), filepath.Join(dir, "back.book")
	tally := map[string]int{}
	o := Options{Now: f.clock.now}
	for n := range setting("RINDKEEP_BACKUPS", 60, 1000) {
		bad := append([]byte{}, good...)
		how := damage(rand.New(rand.NewPCG(uint64(n), 11)), bad)
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		for _, p := range []string{to, back} {
			os.Remove(p)
		}
		b, err := Open(path, Read, o)
		if err != nil {
			tally["not opened"]++
			continue
		}
		c, err := b.Backup(context.Background(), to)
		b.Close()
		if err != nil {
			if !errors.Is(err, bookfile.ErrDamaged) {
				t.Fatalf("book %d, %s: backup: %v", n, how, err)
			}
			tally["refused"]++
			continue
		}
		_, err = Restore(context.Background(), to, back, false, o)
		switch {
		case len(c.Findings) == 0 && err != nil:
			t.Errorf("book %d, %s: the backup was vouched for, and %v", n, how, err)
		case len(c.Findings) == 0:
			tally["sound"]++
		default:
			tally["copied, not vouched for"]++
		}
	}
	t.Logf("%v", tally)
	if tally["copied, not vouched for"] == 0 || tally["sound"] == 0 {
		t.Error("the damage tries too little")
	}
}

// TestABackupOfADamagedEntryNamesItsWheel has one bit of one entry flipped.
func TestABackupOfADamagedEntryNamesItsWheel(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
	f.spoilFirst(bEntries)
	c, err := f.book.Backup(context.Background(), filepath.Join(t.TempDir(), "copy.book"))
	if err != nil {
		t.Fatal(err)
	}
	var unread []string
	for _, x := range c.Findings {
		if !x.History {
			unread = append(unread, x.String())
		}
	}
	if want := "[wheel 261120A-01: does-not-decode {At:2026-11-21 08:00:00 +0000 GMT}]"; fmt.Sprint(unread) != want {
		t.Errorf("got  %v\nwant %s", unread, want)
	}
}
