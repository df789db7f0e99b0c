package store

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"

	bolt "go.etcd.io/bbolt"

	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
)

// TestAnUpgradeNamesWhatItCantRead has an entry of an old book damaged: the copy beside it
// is what the book was, and everybody who opens the new one is told.
func TestAnUpgradeNamesWhatItCantRead(t *testing.T) {
	for format := 1; format < Format; format++ {
		path := fromFixture(t, format)
		db, err := bolt.Open(path, 0o600, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := db.Update(func(tx *bolt.Tx) error {
			b := tx.Bucket([]byte(layout.Entries))
			k, v := b.Cursor().First()
			v = bytes.Clone(v)
			v[len(v)-4] ^= 4
			return b.Put(bytes.Clone(k), v)
		}); err != nil {
			t.Fatal(err)
		}
		db.Close()
		old, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for range 2 {
			b, err := Open(path, Read, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if len(b.Harm()) == 0 {
				t.Errorf("format %d: nobody is told", format)
			}
			b.Close()
		}
		copies, _ := filepath.Glob(path + ".format-*")
		if len(copies) != 1 {
			t.Fatalf("format %d: copies %v", format, copies)
		}
		if kept, _ := os.ReadFile(copies[0]); !bytes.Equal(kept, old) {
			t.Errorf("format %d: the copy is not what the book was", format)
		}
	}
}

// TestANumberOfTheFormatThatChangedMakesNoCopies has one bit of it flipped: each command would
// copy the whole book before it failed.
func TestANumberOfTheFormatThatChangedMakesNoCopies(t *testing.T) {
	f := newFarm(t)
	f.spoil(layout.Book, func(b *bolt.Bucket) error { return b.Put([]byte("format"), []byte("1")) })
	f.book.Close()
	for _, m := range []Mode{Read, Write} {
		if _, err := Open(f.path, m, Options{Now: f.clock.now}); !errors.Is(err, bookfile.ErrDamaged) {
			t.Errorf("mode %d: %v", m, err)
		}
	}
	if copies, err := filepath.Glob(f.path + ".*bak"); err != nil || len(copies) > 0 {
		t.Errorf("%v, %v", copies, err)
	}
}
