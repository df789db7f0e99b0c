package store

import (
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"
)

// Create makes a new book at path, with its folder where that is missing, and
// opens it for writing. It is made under another name beside it and renamed
// when it is whole and synced, so that a kill leaves no half book. A file that
// is there already is never touched: the error is an ErrExists.
func Create(path string, s Settings) (*Book, error) { return CreateWith(path, s, Options{}) }

// CreateWith is Create with options for the book it opens.
func CreateWith(path string, s Settings, o Options) (*Book, error) {
	o = o.filled()
	if err := s.Check(); err != nil {
		return nil, err
	}
	if s.ID == uuid.Nil {
		id, err := uuid.NewV7()
		if err != nil {
			return nil, err
		}
		s.ID = id
	}
	if s.Created.IsZero() {
		s.Created = o.Now()
	}
	s.Created = time.UnixMilli(s.Created.UnixMilli()).UTC()
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fileErr(path, "make", err)
	}
	if err := mustBeFree(path); err != nil {
		return nil, err
	}
	tmp, err := tempBeside(path)
	if err != nil {
		return nil, err
	}
	defer os.Remove(tmp)
	if err := writeEmpty(tmp, s, func(tx *bolt.Tx) error { return chainAll(tx, linkBegun, s.Created) }); err != nil {
		return nil, fileErr(path, "make", err)
	}
	if err := putInPlace(tmp, path, o.Wait); err != nil {
		return nil, err
	}
	return Open(path, Write, o)
}

func mustBeFree(path string) error {
	if _, err := os.Lstat(path); err == nil {
		return exists(path, "file")
	} else if !os.IsNotExist(err) {
		return fileErr(path, "make", err)
	}
	return nil
}

// tempBeside makes an empty file in the same folder, so that a rename puts it
// in place in one step.
func tempBeside(path string) (string, error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".new-*")
	if err != nil {
		return "", fileErr(path, "make", err)
	}
	return f.Name(), f.Close()
}

// putInPlace gives a finished file its name, unless another took it meanwhile.
func putInPlace(tmp, path string, wait time.Duration) error {
	turn := openQueue(path)
	if turn != nil {
		h := held{turn: turn}
		if got, err := lock(turn, true, false); err == nil && !got {
			if h, err = h.awaitTurn(path, wait); err != nil {
				return err
			}
		}
		defer h.close()
	}
	if err := mustBeFree(path); err != nil {
		return err
	}
	if err := os.Rename(tmp, path); err != nil {
		return fileErr(path, "make", err)
	}
	return fileErr(path, "make", syncFolder(filepath.Dir(path)))
}

// awaitTurn waits for the turnstile alone.
func (h held) awaitTurn(path string, wait time.Duration) (held, error) {
	deadline := time.Now().Add(wait)
	for {
		got, err := lock(h.turn, true, false)
		if err != nil || got {
			return h, nil
		}
		if time.Now().After(deadline) {
			h.close()
			return held{}, busy(path, wait)
		}
		time.Sleep(time.Millisecond)
	}
}

// writeEmpty fills a file with a book that holds nothing but its settings, and
// with what begin, where there is one, begins its chain with.
func writeEmpty(path string, s Settings, begin func(*bolt.Tx) error) error {
	db, err := openRaw(path)
	if err != nil {
		return err
	}
	err = db.Update(func(tx *bolt.Tx) error {
		for _, list := range [][]string{factBuckets, derivedBuckets} {
			for _, name := range list {
				if _, err := tx.CreateBucketIfNotExists([]byte(name)); err != nil {
					return err
				}
			}
		}
		rec, err := encodeJSON(s)
		if err != nil {
			return err
		}
		bk := tx.Bucket([]byte(bBook))
		if err := bk.Put([]byte("format"), []byte(strconv.Itoa(Format))); err != nil {
			return err
		}
		if err := bk.Put([]byte("derivation"), []byte(derivation())); err != nil {
			return err
		}
		if err := bk.Put(settingsKey, rec); err != nil || begin == nil {
			return err
		}
		return begin(tx)
	})
	if cerr := db.Close(); err == nil {
		err = cerr
	}
	return err
}

// openRaw opens a file of our own making, which nobody else knows of yet.
func openRaw(path string) (*bolt.DB, error) {
	return bolt.Open(path, 0o600, &bolt.Options{
		Timeout: time.Second, FreelistType: bolt.FreelistMapType, NoStatistics: true,
	})
}
