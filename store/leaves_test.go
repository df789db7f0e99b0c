package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/store/bookfile"
	"rindkeep/store/finding"
	"rindkeep/store/layout"
	"rindkeep/wheel"
)

// TestAPageThatClaimsTooMuchCostsNoOther has leaves claim more pages than they need, or a
// record of 100 MB, and writes to the book. A write is done, or refused as the page is
// damaged; no other page is freed, and the file isn't made longer for it.
func TestAPageThatClaimsTooMuchCostsNoOther(t *testing.T) {
	f, good := damaged(t)
	const header, element = 16, 16
	var leaves []int
	inBolt(t, f.path, func(tx *bolt.Tx) error {
		for id := 2; id < len(good)/4096; id++ {
			g, err := tx.Page(id)
			if err != nil {
				return err
			}
			if g.Type == "leaf" && g.Count > 2 && g.OverflowCount == 0 {
				leaves = append(leaves, id)
			}
		}
		return nil
	})
	r := rand.New(rand.NewPCG(2, 8))
	r.Shuffle(len(leaves), func(i, j int) { leaves[i], leaves[j] = leaves[j], leaves[i] })
	path, refused, done := filepath.Join(t.TempDir(), "bad.book"), 0, 0
	for n, id := range leaves[:min(len(leaves), 40)] {
		bad := slices.Clone(good)
		if page := bad[id*4096:]; n%2 == 0 {
			binary.NativeEndian.PutUint32(page[12:], 1+uint32(n%3))
		} else {
			binary.NativeEndian.PutUint32(page[header+element+12:], 100<<20)
		}
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		b, err := Open(path, Write, Options{Now: f.clock.now})
		if err != nil { // the page is needed to open the book
			if !errors.Is(err, bookfile.ErrDamaged) {
				t.Errorf("page %d: %v", id, err)
			}
			continue
		}
		for _, w := range wheelsOf(t, b) {
			err := b.Update(func(tx *WriteTx) error {
				_, err := tx.Put(f.did(w, wheel.Turn, "2026-11-25 08:30"))
				return err
			})
			if done++; err != nil {
				if done, refused = done-1, refused+1; !errors.Is(err, bookfile.ErrDamaged) {
					t.Errorf("page %d: %v", id, err)
				}
				break
			}
		}
		b.Close()
		if st, err := os.Stat(path); err != nil || st.Size() > 2*int64(len(good))+1<<20 {
			t.Errorf("page %d: the file has %d bytes of %d, %v", id, st.Size(), len(good), err)
		}
		scan, err := bookfile.ScanFile(path, func(string, []byte, []byte) {})
		if err != nil {
			t.Fatal(err)
		}
		for _, lost := range scan.Lost {
			if lost.Page != uint64(id) {
				t.Errorf("page %d, and then page %d is lost: %v", id, lost.Page, lost.Fault)
			}
		}
	}
	if refused == 0 || done == 0 { // how many is up to the identities
		t.Errorf("%d writes refused, %d done", refused, done)
	}
}

// TestABranchWhoseKeyIsLoweredHidesNoRecord has a branch lead past the last records of a leaf:
// who asks for them is told of the damage.
func TestABranchWhoseKeyIsLoweredHidesNoRecord(t *testing.T) {
	f, good := damaged(t)
	const header, element = 16, 16
	key := func(page []byte, n, size int) []byte { // of a leaf's or a branch's nth element
		e := header + element*n
		at, length := binary.NativeEndian.Uint32(page[e+size-8:]), binary.NativeEndian.Uint32(page[e+size-4:])
		return page[e+int(at):][:length]
	}
	var root int
	inBolt(t, f.path, func(tx *bolt.Tx) error {
		root = int(tx.Bucket([]byte(layout.MakeWheels)).Root())
		return nil
	})
	branch := good[root*4096:]
	if binary.NativeEndian.Uint16(branch[8:]) != 1 || binary.NativeEndian.Uint16(branch[10:]) < 2 {
		t.Fatal("the book is too small for a branch")
	}
	first := good[binary.NativeEndian.Uint64(branch[header+8:])*4096:]
	last := key(first, int(binary.NativeEndian.Uint16(first[10:]))-1, 12)
	ask := func(raw []byte) (n int, err error) {
		path := filepath.Join(t.TempDir(), "a.book")
		if err := os.WriteFile(path, raw, 0o600); err != nil {
			t.Fatal(err)
		}
		b, err := Open(path, Read, Options{Now: f.clock.now})
		if err != nil {
			return 0, err
		}
		defer b.Close()
		return n, b.View(func(tx *ReadTx) error {
			ws, err := tx.WheelsOf(uuid.UUID(last[:16]))
			n = len(ws)
			return err
		})
	}
	if n, err := ask(good); n != 20 || err != nil {
		t.Fatalf("%d wheels, %v", n, err)
	}
	bad := slices.Clone(good)
	copy(key(bad[root*4096:], 1, 8), key(first, 1, 12))
	if n, err := ask(bad); !errors.Is(err, bookfile.ErrDamaged) {
		t.Errorf("%d wheels of 20 and %v", n, err)
	}
}

// wheelsOf are the wheels of a book that can be read.
func wheelsOf(t *testing.T, b *Book) (out []uuid.UUID) {
	_ = b.View(func(tx *ReadTx) error {
		for s, err := range tx.States() {
			if err != nil {
				return err
			}
			if out = append(out, s.Wheel); len(out)%7 == 0 {
				break
			}
		}
		return nil
	})
	return out
}

// TestAListOfFreePagesThatIsWrongIsRefused has the list break off, claim a page that
// belongs to another, or span pages that aren't its own.
func TestAListOfFreePagesThatIsWrongIsRefused(t *testing.T) {
	f, good := damaged(t)
	const header = 16
	number := func(at int) int { return int(binary.NativeEndian.Uint64(good[at:])) }
	meta := 0 // the page of metadata that was written last: its list of free pages stands at 48, its transaction at 64
	if number(4096+64) > number(64) {
		meta = 4096
	}
	list := number(meta + 48)
	word := func(b []byte, i int) []byte { return b[list*4096+header+8*i:] }
	count := int(binary.NativeEndian.Uint16(good[list*4096+10:]))
	free := map[int]bool{}
	for i := range count {
		free[int(binary.NativeEndian.Uint64(word(good, i)))] = true
	}
	part := 0 // a page that is part of one before it
	inBolt(t, f.path, func(tx *bolt.Tx) error {
		for id := 2; id < len(good)/4096; id++ {
			if free[id] { // it still says what it was
				continue
			}
			g, err := tx.Page(id)
			if err != nil {
				return err
			}
			if g.Type == "leaf" && g.OverflowCount > 0 {
				part = id + 1
			}
			id += g.OverflowCount
		}
		return nil
	})
	if part == 0 || count < 3 {
		t.Fatalf("page %d is part of another, and %d are free", part, count)
	}
	near := 0 // the place in the list where the other page keeps the order
	for near+1 < count && binary.NativeEndian.Uint64(word(good, near+1)) < uint64(part) {
		near++
	}
	path := filepath.Join(t.TempDir(), "bad.book")
	for what, change := range map[string]func(b []byte){
		"breaks off":            func(b []byte) { binary.NativeEndian.PutUint16(b[list*4096+10:], uint16(count-1)) },
		"claims another's page": func(b []byte) { binary.NativeEndian.PutUint64(word(b, near), uint64(part)) },
		"spans others":          func(b []byte) { binary.NativeEndian.PutUint32(b[list*4096+12:], 3) },
	} {
		bad := slices.Clone(good)
		change(bad)
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		b, err := Open(path, Write, Options{Now: f.clock.now})
		if err == nil {
			b.Close()
		}
		if !errors.Is(err, bookfile.ErrDamaged) {
			t.Errorf("one that %s: %v", what, err)
		}
	}
}

// TestOneCopyOfTheMetadataIsNotTakenForTheOther has the older one written over the newer.
func TestOneCopyOfTheMetadataIsNotTakenForTheOther(t *testing.T) {
	f, good := damaged(t)
	for _, from := range []int{0, 1} {
		bad := slices.Clone(good)
		copy(bad[(1-from)*4096:], good[from*4096:(from+1)*4096])
		if err := os.WriteFile(f.path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		f.open(Read)
		if harm := f.book.Harm(); len(harm) != 1 || harm[0].What != finding.HalfMetadata {
			t.Errorf("copy %d twice: %v", from, harm)
		}
		f.reopen(Write)
		f.lot(fmt.Sprintf("26112%dA", from), "2026-11-20", 1, "cellar")
		harm := f.book.Harm()
		kept, ok := harm[len(harm)-1].What.(finding.HalfKept)
		if now, err := os.ReadFile(kept.Path); !ok || err != nil || !bytes.Equal(now, bad) {
			t.Errorf("copy %d twice, and written to: %v, %v", from, harm, err)
		}
		f.reopen(Read)
		if harm := f.book.Harm(); len(harm) > 0 {
			t.Errorf("both copies are written again: %v", harm)
		}
		f.book.Close()
	}
}
