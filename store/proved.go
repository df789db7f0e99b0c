package store

import (
	"bytes"

	bolt "go.etcd.io/bbolt"

	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
)

// Open proves the branches of every bucket and none of its leaves. bbolt believes what a
// leaf says: of one that counts too few records, or whose keys are out of order, it shows
// less than there is. So each leaf is proved when something on it is first read or written.

// leavesOf are the leaves that were proved in this transaction.
func (t *ReadTx) leavesOf() (l *bookfile.Leaves, err error) {
	if t.leaves == nil {
		t.leaves, err = t.book.file.Leaves()
	}
	return t.leaves, err
}

// prove proves the leaf on which a record is about to be written or deleted.
func (t *WriteTx) prove(b *bolt.Bucket, name string, key []byte, deleted bool) error {
	care := bookfile.WriteFacts
	if layout.IsDerived(name) {
		care = bookfile.WriteIndex
	}
	l, err := t.leavesOf()
	if err == nil {
		_, err = l.Prove(uint64(b.Root()), key, care, deleted)
	}
	return err
}

// proveRead proves the leaf of a key that's about to be read, and gives the key from which
// on there's another. Where it's damaged it panics: no error can be returned. A check
// proves all pages by itself.
func (t *ReadTx) proveRead(b *bolt.Bucket, name string, key []byte) (next []byte) {
	if t.checking {
		return nil
	}
	care := bookfile.ReadFacts
	if t.sealed(name) {
		care = bookfile.ReadIndex
	}
	l, err := t.leavesOf()
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

// proved is a cursor that proves each leaf before it's read.
type proved struct {
	t    *ReadTx
	b    *bolt.Bucket
	name string
	c    *bolt.Cursor
	next []byte // from which on there's another leaf; nil: none
}

func (t *ReadTx) walk(name string, b *bolt.Bucket) *proved {
	return &proved{t: t, b: b, name: name, c: b.Cursor()}
}

func (p *proved) seek(key []byte) (k, v []byte) {
	p.next = p.t.proveRead(p.b, p.name, key)
	return p.met(p.c.Seek(key))
}

func (p *proved) after() (k, v []byte) { return p.met(p.c.Next()) }

// met proves the leaves up to that of a key; if there is none the rest, which hold nothing.
func (p *proved) met(k, v []byte) ([]byte, []byte) {
	for p.next != nil && (k == nil || bytes.Compare(k, p.next) >= 0) {
		p.next = p.t.proveRead(p.b, p.name, p.next)
	}
	return k, v
}
