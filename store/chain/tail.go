package chain

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/store/layout"
	"rindkeep/store/pack"
)

// Tail is where a transaction links its facts to a chain.
type Tail struct {
	links *bolt.Bucket
	last  uint64            // number of the last link that is written
	sum   [sha256.Size]byte // and its hash
	kind  Kind
	ms    int64
	open  *openLink // nil: nothing was added since

	// MostBytes is how many bytes of facts a link holds, if it isn't a single fact: it has to
	// fit into a bundle for other sites. 0: as many as come.
	MostBytes int

	// Put writes a link: bbolt's own, unless the caller has more to do.
	Put func(links *bolt.Bucket, key, value []byte) error
}

// TailOf is the end of the chain of the book with that identity; the links that it adds
// are of a kind and written at an instant. The error is pack.ErrForm.
func TailOf(links *bolt.Bucket, book uuid.UUID, kind Kind, at time.Time) (*Tail, error) {
	t := &Tail{links: links, sum: genesis(book), kind: kind, ms: at.UnixMilli(), Put: (*bolt.Bucket).Put}
	k, v := links.Cursor().Last()
	if k == nil {
		return t, nil
	}
	if len(k) != 8 || len(v) < sha256.Size {
		return nil, pack.ErrForm
	}
	copy(t.sum[:], v[len(v)-sha256.Size:])
	t.last = binary.BigEndian.Uint64(k)
	return t, nil
}

// Ms is when the links that it adds are written.
func (t *Tail) Ms() int64 { return t.ms }

// Add takes one fact into the chain: key and record as they are written in its bucket, was
// the record that stood under that key (nil: none). It is to be called once for each fact
// that is written, in the order of their keys, which keeps links small. Records that the
// chain doesn't cover, and facts that stay as they are, change nothing: added is false
// then. Nothing is kept of the slices.
func (t *Tail) Add(bucket string, key, was, value []byte) (added bool, err error) {
	switch {
	case !layout.InChain(bucket, key), value != nil && was != nil && bytes.Equal(was, value):
		return false, nil
	case value == nil:
		return false, fmt.Errorf("a fact cannot be deleted: %s %x", bucket, key)
	}
	if t.MostBytes > 0 && t.open != nil && t.open.bytes+len(key)+len(value) > t.MostBytes {
		if err := t.End(); err != nil {
			return false, err
		}
	}
	if t.open == nil {
		t.open = newLink(t.sum, t.last+1, t.kind, t.ms)
	}
	t.open.add(layout.Codes[bucket], key, was, value)
	if t.open.full() {
		return true, t.End()
	}
	return true, nil
}

// End writes the link that is being added to, where there is one. The chain only grows at
// its end, so its pages are filled.
func (t *Tail) End() error {
	if t.open == nil {
		return nil
	}
	sum, v := t.open.seal()
	t.last, t.sum, t.open = t.open.number, sum, nil
	t.links.FillPercent = 0.95
	return t.Put(t.links, layout.LinkKey(t.last), v)
}

// Begin begins the chain over every fact in the book, in links of the kind. The bucket of
// links must be there and empty.
func Begin(tx *bolt.Tx, book uuid.UUID, kind Kind, at time.Time) error {
	t, err := TailOf(tx.Bucket([]byte(layout.Chain)), book, kind, at)
	if err == nil && t.last != 0 {
		err = errors.New("a chain is there already")
	}
	if err != nil {
		return err
	}
	for _, name := range layout.ChainOrder {
		b := tx.Bucket([]byte(name))
		if b == nil {
			continue
		}
		c := b.Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			if _, err := t.Add(name, k, nil, v); err != nil {
				return err
			}
		}
	}
	return t.End()
}
