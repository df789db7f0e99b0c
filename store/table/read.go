package table

import (
	"bytes"
	"iter"

	bolt "go.etcd.io/bbolt"

	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
)

// bbolt's pages have no checksum. The book's file proves the branches of every bucket when
// it's opened, and none of its leaves. bbolt believes what a leaf says: of one that counts
// too few records, or whose keys are out of order, it shows less than there is. So each
// leaf is proved when something on it is first read or written.
//
// Derived records carry a seal too, over their key and value: a figure that a disk changed
// must not be shown as if it were one. A seal that is wrong is damage that a rebuild mends.

// SealedSince is the first version of the derived records that have seals.
const SealedSince = 12

// sealed says whether the records of a bucket are derived ones with seals.
func (t *Tx) sealed(bucket string) bool { return t.File.Sealed && layout.IsDerived(bucket) }

// unsealed is the value of a derived record without its seal. If the seal is wrong the
// value is empty; no sound record is, so decoding it reports the damage.
func unsealed(key, v []byte) []byte {
	v, err := pack.Unseal(key, v)
	if err != nil {
		return []byte{}
	}
	return v
}

// In goes through the records of a bucket whose keys begin with prefix, in order.
// Keys and values are only lent.
func (t *Tx) In(bucket string, prefix []byte) iter.Seq2[[]byte, []byte] {
	return func(yield func(k, v []byte) bool) {
		if t.Bucket(bucket) == nil {
			return
		}
		c := t.Walk(bucket)
		if t.sealed(bucket) {
			t.inSealed(bucket, c, prefix, yield)
			return
		}
		for k, v := c.Seek(prefix); k != nil && bytes.HasPrefix(k, prefix) && yield(k, v); k, v = c.Next() {
		}
	}
}

// inSealed is In for a derived bucket. A key that a disk changed may leave the range it
// belongs to: then it's next to where the range was looked for, and its seal is wrong.
// So the records before and after the range are looked at too.
func (t *Tx) inSealed(bucket string, c *Walk, prefix []byte, yield func(k, v []byte) bool) {
	k, v := c.Seek(prefix)
	if len(prefix) > 0 {
		t.proveSeal(bucket)(back(c.c, k))
		k, v = c.Seek(prefix)
	}
	for ; k != nil; k, v = c.Next() {
		if !bytes.HasPrefix(k, prefix) {
			t.proveSeal(bucket)(k, v)
			return
		}
		if layout.KeysOnly[bucket] {
			t.proveSeal(bucket)(k, v)
		}
		if !yield(k, unsealed(k, v)) {
			return
		}
	}
}

// back goes to the record before the one that a search came to, k; nil: the end.
func back(c *bolt.Cursor, k []byte) ([]byte, []byte) {
	if k == nil {
		return c.Last()
	}
	return c.Prev()
}

// Like says whether a key may have been another before a disk changed it: in as many bytes
// as damage usually has. Our choice.
func Like(k, other []byte) bool {
	if k == nil || len(k) != len(other) {
		return k != nil
	}
	n := 0
	for i := range k {
		if k[i] != other[i] {
			n++
		}
	}
	return n <= mostChanged
}

const mostChanged = 4

// Strayed says whether one of the packed facts with keys in [low, high) may be elsewhere, as a
// disk changed its key: the leaves they're on are out of order, or a record next to them isn't
// as it was written. A wheel's entries don't need it: they're counted.
func (t *Tx) Strayed(bucket string, low, high []byte) error {
	if t.Checking {
		return nil
	}
	b := t.Bucket(bucket)
	l, err := t.proved()
	for key := low; err == nil && key != nil && bytes.Compare(key, high) < 0; {
		key, err = l.Prove(uint64(b.Root()), key, bookfile.ReadIndex, false)
	}
	if err != nil {
		return err
	}
	c := b.Cursor()
	if err := sound(c.Seek(high)); err != nil {
		return err
	}
	k, _ := c.Seek(low)
	return sound(back(c, k))
}

// sound says whether a packed record is as it was written, if there is one.
func sound(k, v []byte) error {
	if k == nil {
		return nil
	}
	_, err := pack.Unseal(k, v)
	return err
}

// KeysBackward goes through the keys of an index of keys, the last first.
func (t *Tx) KeysBackward(bucket string) iter.Seq[[]byte] {
	return func(yield func(k []byte) bool) {
		b := t.Bucket(bucket)
		for next := t.proveRead(b, bucket, nil); next != nil; {
			next = t.proveRead(b, bucket, next)
		}
		c := b.Cursor()
		for k, v := c.Last(); k != nil; k, v = c.Prev() {
			t.proveSeal(bucket)(k, v)
			if !yield(k) {
				return
			}
		}
	}
}

// proveSeal panics over a derived record whose seal is wrong, where no error can be
// returned. A check names it by other means.
func (t *Tx) proveSeal(bucket string) func(k, v []byte) {
	return func(k, v []byte) {
		if !t.Checking && sound(k, v) != nil {
			panic(bookfile.BadIndex(bucket))
		}
	}
}

// proved are the leaves that were proved in this transaction.
func (t *Tx) proved() (l *bookfile.Leaves, err error) {
	if t.leaves == nil {
		t.leaves, err = t.File.Leaves()
	}
	return t.leaves, err
}

// prove proves the leaf on which a record is about to be written or deleted.
func (t *Tx) prove(b *bolt.Bucket, name string, key []byte, deleted bool) error {
	care := bookfile.WriteFacts
	if layout.IsDerived(name) {
		care = bookfile.WriteIndex
	}
	l, err := t.proved()
	if err == nil {
		_, err = l.Prove(uint64(b.Root()), key, care, deleted)
	}
	return err
}

// proveRead proves the leaf of a key that's about to be read, and gives the key from which
// on there's another. Where it's damaged it panics: no error can be returned. A check
// proves all pages by itself.
func (t *Tx) proveRead(b *bolt.Bucket, name string, key []byte) (next []byte) {
	if t.Checking {
		return nil
	}
	care := bookfile.ReadFacts
	if t.sealed(name) {
		care = bookfile.ReadIndex
	}
	l, err := t.proved()
	if err == nil {
		next, err = l.Prove(uint64(b.Root()), key, care, false)
	}
	switch {
	case err == nil:
	case care == bookfile.ReadIndex:
		panic(bookfile.BadIndex(name))
	default:
		panic(bookfile.BadPage{Err: err})
	}
	return next
}

// Of the pages that were read so much stays in memory, more or less. Our choice.
const (
	mostRead = 64 << 20
	oneGet   = 8 << 10 // of pages that searching for one key reads again
)

// took counts what was read of the file, and gives it back now and then: a long walk would
// have the whole book in memory in the end.
func (t *Tx) took(bytes int) {
	if t.read += bytes; t.read > mostRead {
		t.read = 0
		t.File.Shed()
	}
}

// Walk is a cursor that proves each leaf before it's read.
type Walk struct {
	t    *Tx
	b    *bolt.Bucket
	name string
	c    *bolt.Cursor
	leaf []byte // the key from which on there's another leaf; nil: none
}

// Walk begins to walk through a bucket.
func (t *Tx) Walk(bucket string) *Walk {
	b := t.Bucket(bucket)
	return &Walk{t: t, b: b, name: bucket, c: b.Cursor()}
}

// Seek goes to the first key that isn't before the one given.
func (w *Walk) Seek(key []byte) (k, v []byte) {
	w.leaf = w.t.proveRead(w.b, w.name, key)
	return w.met(w.c.Seek(key))
}

// SeekProven is Seek in an index of keys: one that a disk changed isn't come to unnoticed.
func (w *Walk) SeekProven(key []byte) []byte {
	k, v := w.Seek(key)
	w.t.proveSeal(w.name)(k, v)
	return k
}

// Next goes on to the next key.
func (w *Walk) Next() (k, v []byte) { return w.met(w.c.Next()) }

// Prev goes back to the key before.
func (w *Walk) Prev() (k, v []byte) { return w.back(w.c.Prev()) }

// Last goes to the last key.
func (w *Walk) Last() (k, v []byte) {
	w.t.proveRead(w.b, w.name, bytes.Repeat([]byte{0xff}, longestKey))
	return w.back(w.c.Last())
}

// longestKey is more than the bytes of any key that begins with so many bits set.
const longestKey = 64

// back proves the leaf of a key that was come to from behind.
func (w *Walk) back(k, v []byte) ([]byte, []byte) {
	if k != nil {
		w.t.proveRead(w.b, w.name, k)
	}
	return k, v
}

// met proves the leaves up to that of a key; if there is none the rest, which hold nothing.
func (w *Walk) met(k, v []byte) ([]byte, []byte) {
	w.t.took(len(k) + len(v))
	for w.leaf != nil && (k == nil || bytes.Compare(k, w.leaf) >= 0) {
		w.leaf = w.t.proveRead(w.b, w.name, w.leaf)
	}
	return k, v
}
