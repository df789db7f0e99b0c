package store

import (
	"path/filepath"
	"strconv"
	"time"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"
)

// Create makes a new book at path, with its folder where that is missing, and
// opens it for writing. It is made under another name beside it and renamed
// when it is whole and synced, so that a kill leaves no half book. A file that
// is there already is never touched: the error is an bookfile.ErrExists.
func Create(path string, s Settings, o Options) (*Book, error) {
	o = o.Filled()
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
	if err := bookfile.MakeFolders(dir, 0o755); err != nil {
		return nil, bookfile.Failed(path, "make", err)
	}
	if err := bookfile.MustBeFree(path); err != nil {
		return nil, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return nil, err
	}
	defer tmp.Drop()
	begin := func(tx *bolt.Tx) error { return chain.Begin(tx, s.ID, chain.Begun, s.Created) }
	if err := writeEmpty(tmp.Name, s, begin); err != nil {
		return nil, bookfile.Failed(path, "make", err)
	}
	if err := tmp.Place(); err != nil {
		return nil, err
	}
	return Open(path, Write, o)
}

// writeEmpty fills a file with a book that holds nothing but its settings, and
// with what begin, where there is one, begins its chain with.
func writeEmpty(path string, s Settings, begin func(*bolt.Tx) error) error {
	db, err := bookfile.Raw(path)
	if err != nil {
		return err
	}
	err = db.Update(func(tx *bolt.Tx) error {
		for _, list := range [][]string{layout.Facts, layout.Derived} {
			for _, name := range list {
				if name == layout.Twins {
					continue
				}
				if _, err := tx.CreateBucketIfNotExists([]byte(name)); err != nil {
					return err
				}
			}
		}
		rec, err := pack.JSON(s)
		if err != nil {
			return err
		}
		bk := tx.Bucket([]byte(layout.Book))
		if err := bk.Put([]byte("format"), []byte(strconv.Itoa(Format))); err != nil {
			return err
		}
		if err := bk.Put([]byte("derivation"), []byte(derivation())); err != nil {
			return err
		}
		if err := bk.Put(layout.SettingsKey, rec); err != nil || begin == nil {
			return err
		}
		return begin(tx)
	})
	if cerr := db.Close(); err == nil {
		err = cerr
	}
	return err
}
