// Package table reads and writes the records of a book. What a transaction puts is
// gathered, linked into the chain of history if it's a fact, and written in the order of
// its keys; what it gets was proved to be as it was written. The package doesn't know what
// a record says.
package table

import (
	"bytes"
	"errors"
	"slices"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
)

// File is the open file of a book.
type File struct {
	*bookfile.File
	Book uuid.UUID // its identity, which its chain begins with
	Zone *time.Location
	Now  func() time.Time

	Sealed    bool      // its derived records have seals
	Old       bool      // its index is of another version, and this machine may not make it again
	Site      uuid.UUID // which of several the book is; Nil: no other shares it
	Unchained bool      // an import, whose chain is made at its end

	Harm []bookfile.Finding // what couldn't be read and was left out
}

// Tx is one transaction on the records of a book. Its reads show what it put. It's for one
// goroutine, and what it gives is good until it ends.
type Tx struct {
	File *File
	Bolt *bolt.Tx

	Changed  bool // something was put
	Beside   bool // something was put that is no fact: what a phone said
	Remaking bool // the derived buckets began empty, and are made from whatever can be read
	Foreign  bool // what is put is other sites': the own chain doesn't take it
	Trial    bool // what is put is checked and never written
	Checking bool // seals that are wrong are findings

	// What is put is gathered here and written in key order, because bbolt
	// takes keys in order ten times faster than at random.
	pending map[string]map[string][]byte

	newEntries []KeyValue // apart from pending: they are many, and never looked up there

	leaves *bookfile.Leaves // nil: none was proved yet
	read   int              // bytes since the last were given back
	chain  *chain.Tail      // takes the facts that are written; nil: none so far
}

// Begin is a transaction on top of bbolt's.
func (f *File) Begin(tx *bolt.Tx) *Tx {
	return &Tx{File: f, Bolt: tx, pending: map[string]map[string][]byte{}}
}

// Now is the time by the clock the book was opened with.
func (t *Tx) Now() time.Time { return t.File.Now() }

// Latest is the latest time that a writer may give: its clock may be a little ahead.
func (t *Tx) Latest() time.Time { return t.Now().Add(Lead) }

// Lead is how far ahead of the book's clock a writer's clock may be.
const Lead = 2 * time.Minute

// Zone is the book's own time zone.
func (t *Tx) Zone() *time.Location { return t.File.Zone }

// Today is today in the book's zone.
func (t *Tx) Today() day.Date { return day.At(t.Now(), t.Zone()) }

// Bucket gives a bucket, which every sound book has; of those that came later
// it gives nil where the book has none yet.
func (t *Tx) Bucket(name string) *bolt.Bucket {
	b := t.Bolt.Bucket([]byte(name))
	if b == nil && !layout.MayLack(name) {
		panic(bookfile.MissingBucket(name))
	}
	return b
}

// Get reads one value, as put in this transaction or as it stands in the book.
// It is good until the transaction ends.
func (t *Tx) Get(bucket string, key []byte) []byte {
	if m := t.pending[bucket]; m != nil {
		if v, ok := m[string(key)]; ok {
			return v
		}
	}
	b := t.Bucket(bucket)
	if b == nil {
		return nil
	}
	t.proveRead(b, bucket, key)
	t.took(oneGet)
	if !t.sealed(bucket) {
		return b.Get(key)
	}
	c := b.Cursor()
	k, v := c.Seek(key)
	if k != nil && bytes.Equal(k, key) {
		return unsealed(key, v)
	}
	if Like(k, key) {
		t.proveSeal(bucket)(k, v)
	}
	if before, v := back(c, k); Like(before, key) {
		t.proveSeal(bucket)(before, v)
	}
	return nil
}

// Put gathers one write; a nil value deletes.
func (t *Tx) Put(bucket string, key, value []byte) {
	m := t.pending[bucket]
	if m == nil {
		m = map[string][]byte{}
		t.pending[bucket] = m
	}
	m[string(key)] = value
	t.Changed = true
}

// PutEntry gathers an entry that isn't in the book yet. Get doesn't show it before it's
// flushed.
func (t *Tx) PutEntry(key, value []byte) {
	t.newEntries = append(t.newEntries, KeyValue{key, value})
	t.Changed = true
}

// KeyValue is a record on its way into a bucket; a nil value deletes it.
type KeyValue struct{ Key, Value []byte }

// Idle says whether everything that was put is flushed.
func (t *Tx) Idle() bool { return len(t.pending) == 0 && len(t.newEntries) == 0 }

// Flush writes what was gathered in some buckets, or in all of them if none is named, each
// in key order. Afterwards they can be scanned. On trial it writes nothing.
func (t *Tx) Flush(buckets ...string) error {
	if t.Trial {
		return nil
	}
	if len(buckets) == 0 {
		buckets = slices.Concat(layout.Facts, layout.LaterFacts, layout.Shared, layout.Derived)
	}
	for _, name := range buckets {
		if err := t.flush(name); err != nil {
			return err
		}
	}
	return nil
}

// bulk is how many writes in key order make it worth packing pages.
const bulk = 1000

func (t *Tx) flush(name string) error {
	rs := t.newEntries
	if name != layout.Entries {
		rs = make([]KeyValue, 0, len(t.pending[name]))
		for k, v := range t.pending[name] {
			rs = append(rs, KeyValue{[]byte(k), v})
		}
	}
	if len(rs) == 0 {
		return nil
	}
	byKey := func(a, b KeyValue) int { return bytes.Compare(a.Key, b.Key) }
	if !slices.IsSortedFunc(rs, byKey) {
		slices.SortFunc(rs, byKey)
	}
	b := t.Bucket(name)
	if b == nil {
		var err error
		if b, err = t.Bolt.CreateBucket([]byte(name)); err != nil {
			return t.Damaged(err, "bucket", name)
		}
	}
	if len(rs) >= bulk {
		last, _ := b.Cursor().Last()
		if name == layout.Entries || bytes.Compare(last, rs[0].Key) < 0 {
			b.FillPercent = 0.9
		}
	}
	for _, r := range rs {
		if err := t.write(b, name, r); err != nil {
			return err
		}
	}
	delete(t.pending, name)
	if name == layout.Entries {
		t.newEntries = t.newEntries[:0]
	}
	return nil
}

// write links one record into the chain, if it's a fact, and writes it.
func (t *Tx) write(b *bolt.Bucket, name string, r KeyValue) error {
	if layout.Codes[name] != 0 {
		var was []byte
		if name != layout.Entries { // an entry never takes another's place
			was = b.Get(r.Key)
		}
		if err := t.link(name, r.Key, was, r.Value); err != nil {
			return err
		}
	}
	if r.Value != nil {
		return t.PutAt(b, name, r)
	}
	err := t.prove(b, name, r.Key, true)
	if err != nil {
		return err
	}
	if err = b.Delete(r.Key); err != nil {
		return t.Damaged(err, "bucket", name)
	}
	return nil
}

// PutAt writes a record at once, with its seal if it's a derived one. It links nothing.
func (t *Tx) PutAt(b *bolt.Bucket, name string, r KeyValue) error {
	if err := t.prove(b, name, r.Key, false); err != nil {
		return err
	}
	v := r.Value
	if layout.IsDerived(name) {
		v = pack.Seal(r.Key, slices.Clip(v))
	}
	if err := b.Put(r.Key, v); err != nil {
		return t.Damaged(err, "bucket", name)
	}
	return nil
}

// link links one fact that is written: was is the record that stood under its key.
func (t *Tx) link(bucket string, key, was, value []byte) (err error) {
	if t.File.Unchained || t.Foreign || !layout.InChain(bucket, key) {
		return nil
	}
	if t.chain == nil {
		at, err := t.linkTime()
		if err != nil {
			return err
		}
		t.chain, err = chain.TailOf(t.Bucket(layout.Chain), t.File.Book, chain.Written, at)
		if err != nil {
			return t.Damaged(err, "chain", nil)
		}
		if t.File.Site != uuid.Nil {
			t.chain.MostBytes = MostLinkBytes
		}
		t.chain.Put = func(links *bolt.Bucket, key, value []byte) error {
			return t.PutAt(links, layout.Chain, KeyValue{key, value})
		}
	}
	t.stands(bucket, key, was, value)
	added, err := t.chain.Add(bucket, key, was, value)
	t.Changed = t.Changed || added
	return err
}

// End flushes all that was put and writes the link of it.
func (t *Tx) End() error {
	if err := t.Flush(); err != nil || t.chain == nil {
		return err
	}
	return t.chain.End()
}

// Empty empties a bucket, or makes it.
func (t *Tx) Empty(name string) error {
	var err error
	if t.Bolt.Bucket([]byte(name)) != nil {
		err = t.Bolt.DeleteBucket([]byte(name))
	}
	if err == nil {
		_, err = t.Bolt.CreateBucket([]byte(name))
	}
	if err != nil {
		return t.Damaged(err, "bucket", name)
	}
	return nil
}

// Damaged is an error about a record that isn't as it should be, or that a newer program
// wrote.
func (t *Tx) Damaged(err error, thing reason.Thing, name any) error {
	kind := bookfile.ErrDamaged
	var unknown reason.UnknownNumber
	switch {
	case t.File.Old && errors.As(err, &unknown):
		return &bookfile.Error{Kind: bookfile.ErrStale, Path: t.File.Path, Cause: err}
	case errors.Is(err, pack.ErrNewer):
		kind = bookfile.ErrNewer
	}
	return &bookfile.Error{Kind: kind, Path: t.File.Path, At: bookfile.At(thing, name), Cause: err}
}
