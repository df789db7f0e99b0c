package bookfile

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	bolt "go.etcd.io/bbolt"
)

const bucketOfMany = "many"

// manyKeys is a file whose bucket has branches of two depths, with the root of it.
func manyKeys(t *testing.T) (path string, root uint64) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "a.book")
	db, err := bolt.Open(path, 0o600, &bolt.Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	err = db.Update(func(tx *bolt.Tx) error {
		b, err := tx.CreateBucket([]byte(bucketOfMany))
		for i := range 6000 {
			err = errors.Join(err, b.Put(fmt.Appendf(nil, "%050d", i), make([]byte, 50)))
		}
		small, serr := tx.CreateBucket([]byte("small"))
		for i := range 3 {
			serr = errors.Join(serr, small.Put(fmt.Appendf(nil, "small-%d", i), []byte("x")))
		}
		return errors.Join(err, serr)
	})
	if err == nil {
		err = db.View(func(tx *bolt.Tx) error {
			root = uint64(tx.Bucket([]byte(bucketOfMany)).Root())
			return nil
		})
	}
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	return path, root
}

// spoilt is the file with some bytes changed.
func spoilt(t *testing.T, path string, change func(b []byte)) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	change(b)
	to := filepath.Join(t.TempDir(), "bad.book")
	if err := os.WriteFile(to, b, 0o600); err != nil {
		t.Fatal(err)
	}
	return to
}

// branchKey is the key of the nth element of a branch page.
func branchKey(b []byte, id uint64, n int) []byte {
	at := b[int(id)*os.Getpagesize()+pageHeader+n*elemSize:]
	pos, size := native.Uint32(at), native.Uint32(at[4:])
	return at[pos : pos+size]
}

// TestALeafUnderTheNextBranchIsProvedToo lowers the key that leads to the second branch, so
// that what lies before it is looked for behind.
func TestALeafUnderTheNextBranchIsProvedToo(t *testing.T) {
	path, root := manyKeys(t)
	var last []byte // of the first branch
	bad := spoilt(t, path, func(b []byte) {
		key := branchKey(b, root, 1)
		var n int
		if _, err := fmt.Sscanf(string(key), "%d", &n); err != nil {
			t.Fatal(err)
		}
		last = fmt.Appendf(nil, "%050d", n-1)
		copy(key, fmt.Appendf(nil, "%050d", n-2))
	})
	for file, want := range map[string]error{path: nil, bad: ErrDamaged} {
		f, err := Open(file, How{Alone: true})
		if err != nil {
			t.Fatal(err)
		}
		l, err := f.Leaves()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := l.Prove(root, last, ReadIndex, false); !errors.Is(err, want) {
			t.Errorf("got %v, want %v", err, want)
		}
		f.Close()
	}
}

// TestABucketWithinAnotherPageIsCounted has a small bucket, which has no page, say that it has
// fewer records.
func TestABucketWithinAnotherPageIsCounted(t *testing.T) {
	path, _ := manyKeys(t)
	bad := spoilt(t, path, func(b []byte) {
		i := slices.Index(b, 's')
		for ; string(b[i:i+11]) != "small\x00\x00\x00\x00\x00\x00"; i++ {
		}
		native.PutUint16(b[i+len("small")+16+10:], 2)
	})
	if f, err := Open(bad, How{Alone: true}); !errors.Is(err, ErrDamaged) {
		t.Errorf("got %v", err)
		f.Close()
	}
}

// TestAPageInUseThatIsFreeIsDoubted leads a branch to what stood there once.
func TestAPageInUseThatIsFreeIsDoubted(t *testing.T) {
	path, root := manyKeys(t)
	db, err := bolt.Open(path, 0o600, &bolt.Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	err = db.Update(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte(bucketOfMany)).Put(fmt.Appendf(nil, "%050d", 5000), nil)
	})
	was := root
	if err == nil {
		err = db.View(func(tx *bolt.Tx) error {
			root = uint64(tx.Bucket([]byte(bucketOfMany)).Root())
			return nil
		})
	}
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	bad := spoilt(t, path, func(b []byte) {
		if was == root {
			t.Fatal("nothing was freed")
		}
		i := slices.Index(b, 'm')
		page := native.AppendUint64([]byte(bucketOfMany), root)
		for ; string(b[i:i+len(page)]) != string(page); i++ {
		}
		native.PutUint64(b[i+len(bucketOfMany):], was)
	})
	for file, doubted := range map[string]bool{path: false, bad: true} {
		f, err := Open(file, How{Alone: true})
		if err != nil {
			t.Fatal(err)
		}
		if got := f.Doubt != nil; got != doubted {
			t.Errorf("doubted: %v", f.Doubt)
		}
		f.Close()
	}
}
