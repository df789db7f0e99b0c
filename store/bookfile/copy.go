package bookfile

import (
	"context"
	"slices"

	bolt "go.etcd.io/bbolt"
)

// copiedTogether is how many records are copied in one transaction.
const copiedTogether = 20_000

// CopyRecords copies the records of some buckets from the pages they are on to a
// new file, byte for byte, which has these buckets even where they're empty. lost: a page of
// one of them can't be read.
func CopyRecords(ctx context.Context, from, to string, buckets []string, which func(bucket string) bool) (
	lost bool, err error,
) {
	db, err := Raw(to)
	if err != nil {
		return false, err
	}
	defer db.Close()
	db.NoSync = true
	c := copying{ctx: ctx, db: db}
	if err := db.Update(func(tx *bolt.Tx) error {
		for _, name := range buckets {
			if _, err := tx.CreateBucket([]byte(name)); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		return false, err
	}
	scan, err := ScanFile(from, func(bucket string, k, v []byte) {
		if bucket != "" && which(bucket) {
			c.add(bucket, k, v)
		}
	})
	if err != nil {
		return false, err
	}
	if c.flush(); c.err != nil {
		return false, c.err
	}
	return slices.ContainsFunc(scan.Lost, func(p LostPage) bool { return which(p.Bucket) }), db.Sync()
}

// copying gathers records on their way into a file.
type copying struct {
	ctx  context.Context
	db   *bolt.DB
	some []copied
	err  error // the first; nothing is copied after it
}

type copied struct {
	bucket     string
	key, value []byte
}

func (c *copying) add(bucket string, k, v []byte) {
	if c.err != nil {
		return
	}
	if c.some = append(c.some, copied{bucket, slices.Clone(k), slices.Clone(v)}); len(c.some) >= copiedTogether {
		c.flush()
	}
}

func (c *copying) flush() {
	if c.err == nil {
		c.err = c.ctx.Err()
	}
	if c.err != nil {
		return
	}
	c.err = c.db.Update(func(tx *bolt.Tx) error {
		for _, r := range c.some {
			b, err := tx.CreateBucketIfNotExists([]byte(r.bucket))
			if err != nil {
				return err
			}
			b.FillPercent = 0.9 // they come in order
			if err := b.Put(r.key, r.value); err != nil {
				return err
			}
		}
		return nil
	})
	c.some = c.some[:0]
}
