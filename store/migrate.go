package store

import (
	"fmt"
	"strconv"
	"time"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"

	bolt "go.etcd.io/bbolt"
)

// migration brings a book from one format to the next. Once shipped it is
// never edited. It sees the facts as the old format has them and leaves them
// as the new one does; the derived buckets are rebuilt afterwards.
type migration struct {
	from int
	name string
	run  func(tx *bolt.Tx, at time.Time) error
}

// migrations lists every step from format 1 on, in order.
var migrations = []migration{
	{1, "begins the chain of history over what is there", func(tx *bolt.Tx, at time.Time) error {
		if _, err := tx.CreateBucket([]byte(layout.Chain)); err != nil {
			return err
		}
		var s Settings
		if err := pack.ReadJSON(tx.Bucket([]byte(layout.Book)).Get(layout.SettingsKey), &s); err != nil {
			return err
		}
		return chain.Begin(tx, s.ID, chain.Upgraded, at)
	}},
	// The facts stay as they are: sendings and requests of format 3 may have a
	// detail, those before have all of it in their note. The index is made again.
	{2, "keeps reasons instead of sentences", func(*bolt.Tx, time.Time) error { return nil }},
}

// chained is the first format that has a chain.
const chained = 2

// upgraded stands for the rules of the derived records after a migration.
const upgraded = "upgraded"

// newest is the format the migrations lead to: Format, except in tests that
// put in one of their own.
var newest = Format

// upgrade brings the book at path to the newest format: a copy is made beside
// it and synced, then all steps are taken in one transaction.
func upgrade(path string, o Options, from int) error {
	b, err := openAny(path, Write, o)
	if err != nil {
		return err
	}
	defer b.Close()
	return b.guard(func() error {
		// Another may have upgraded it while this one waited.
		now := from
		if err := b.file.DB.View(func(tx *bolt.Tx) (err error) {
			bk := tx.Bucket([]byte(layout.Book))
			if bk == nil {
				return bookfile.NotABook(path, "")
			}
			now, err = strconv.Atoi(string(bk.Get([]byte("format"))))
			return err
		}); err != nil {
			return err
		}
		if now >= newest {
			return nil
		}
		name := fmt.Sprintf("%s.format-%d-%s.bak", path, now, o.Now().UTC().Format("20060102"))
		if _, err := b.file.Copy(name, true); err != nil {
			return err
		}
		return bookfile.Failed(path, "upgrade",
			b.file.DB.Update(func(tx *bolt.Tx) error { return migrate(tx, now, o.Now()) }))
	})
}

func migrate(tx *bolt.Tx, from int, moment time.Time) error {
	for at := from; at < newest; at++ {
		step := -1
		for i, m := range migrations {
			if m.from == at {
				step = i
			}
		}
		if step < 0 {
			return fmt.Errorf("no way on from format %d", at)
		}
		if err := migrations[step].run(tx, moment); err != nil {
			return fmt.Errorf("from format %d, which %s: %w", at, migrations[step].name, err)
		}
	}
	bk := tx.Bucket([]byte(layout.Book))
	if err := bk.Put([]byte("format"), []byte(strconv.Itoa(newest))); err != nil {
		return err
	}
	// Not made by these rules: Open makes it again, whatever it was asked to open for.
	return bk.Put([]byte("derivation"), []byte(upgraded))
}
