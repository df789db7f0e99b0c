package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
)

// ReadTx reads the book as it stood when its transaction began. It is good until
// the function it was given to returns, and for one goroutine.
type ReadTx struct {
	book  *Book
	tx    *bolt.Tx
	write *WriteTx // what these reads belong to; nil in View

	// What is put is gathered here and written in key order, because bbolt
	// takes keys in order ten times faster than at random.
	pending map[string]map[string][]byte

	subjects  map[uuid.UUID]*history.Subject // what entries were put to
	sharing   map[[layout.IDBegins]byte]*sharers
	makes     map[uuid.UUID]wheel.Make
	wheels    map[uuid.UUID]wheel.Wheel
	rooms     map[string]cave.Room
	parsed    map[libraryKey]any // varieties, plans and rules that were read
	counts    *counts
	lots      map[lotKey]*derive.Lot
	makesTold map[uuid.UUID]wheel.Make // as their logs tell of them
	checking  bool                     // seals that are wrong are findings
	laws      []holdrule.Rule          // all of them; nil: not read yet
	follows   []Follow                 // nil: not read yet
	leaves    *bookfile.Leaves         // nil: none was proved yet
}

// WriteTx changes the book. Its reads show what it put.
type WriteTx struct {
	*ReadTx
	changed    bool
	beside     bool // something was put that is no fact: what a phone said
	rebuilding bool // the derived buckets began empty
	trial      bool // what is put is checked and never written

	newEntries []keyValue // apart from pending: they are many, and never looked up there

	dirty   map[uuid.UUID]touch  // wheels whose derived records must be made again
	fresh   map[uuid.UUID]int    // entries that their standings don't count yet
	retags  bool                 // some of them may have got another tag
	airIn   map[string]time.Time // rooms whose air changed, and from when on
	shelves map[cave.Place]int   // changes of their counts, not yet written
	chain   *chain.Tail          // takes the facts that are written; nil: none so far
}

// touch says how much of a wheel's derived record is stale.
type touch struct {
	gate    bool // what its dry gate waits for
	sisters bool // and what its sisters' gates wait for
}

// regate marks what a wheel's gate waits for as stale.
func (t *WriteTx) regate(id uuid.UUID) {
	how := t.dirty[id]
	how.gate = true
	t.dirty[id] = how
}

func (b *Book) readTx(tx *bolt.Tx) *ReadTx {
	return &ReadTx{
		book: b, tx: tx,
		pending:  map[string]map[string][]byte{},
		subjects: map[uuid.UUID]*history.Subject{}, sharing: map[[layout.IDBegins]byte]*sharers{},
		makes: map[uuid.UUID]wheel.Make{}, wheels: map[uuid.UUID]wheel.Wheel{},
		rooms: map[string]cave.Room{}, parsed: map[libraryKey]any{},
		lots: map[lotKey]*derive.Lot{}, makesTold: map[uuid.UUID]wheel.Make{},
	}
}

func (b *Book) writeTx(tx *bolt.Tx) *WriteTx {
	t := &WriteTx{
		ReadTx: b.readTx(tx), dirty: map[uuid.UUID]touch{}, fresh: map[uuid.UUID]int{}, airIn: map[string]time.Time{},
		shelves: map[cave.Place]int{},
	}
	t.ReadTx.write = t
	return t
}

// Trial is a transaction that checks what is put and never writes it. Its reads show the
// makes and wheels that were put, and the entries of each wheel, but nothing derived.
func (t *ReadTx) Trial() *WriteTx {
	w := t.book.writeTx(t.tx)
	w.trial = true
	return w
}

// ready brings everything derived up to date with what was put, so that it can
// be read.
func (t *ReadTx) ready() error {
	if t.write == nil || t.write.trial {
		return nil
	}
	return t.write.ready()
}

// current brings tags and, of one wheel, its state up to date with the entries that were
// put, for get; Nil asks for tags alone. It writes nothing that will be written again: a
// page takes keys out of order slowly until the transaction ends.
func (t *ReadTx) current(id uuid.UUID) error {
	if t.write == nil || t.write.trial {
		return nil
	}
	if _, stale := t.write.dirty[id]; !stale && !t.write.retags {
		return nil
	}
	return t.write.settle()
}

// written writes what was put in a bucket, so that it can be scanned.
func (t *ReadTx) written(bucket string) error {
	if t.write == nil || t.write.trial {
		return nil
	}
	return t.write.flushBucket(bucket)
}

// Settings are what the book was told when it was made.
func (t *ReadTx) Settings() Settings { return t.book.settings }

// Zone is the book's own time zone.
func (t *ReadTx) Zone() *time.Location { return t.book.zone }

// Now is the time by the clock the book was opened with.
func (t *ReadTx) Now() time.Time { return t.book.opt.Now() }

func (t *ReadTx) today() day.Date { return day.At(t.Now(), t.book.zone) }

// bucket gives a bucket, which every sound book has; of those that came later
// it gives nil where the book has none yet.
func (t *ReadTx) bucket(name string) *bolt.Bucket {
	b := t.tx.Bucket([]byte(name))
	if b == nil && !layout.MayLack(name) {
		panic(bookfile.MissingBucket(name))
	}
	return b
}

// get reads one value, as put in this transaction or as it stands in the book.
// It is good until the transaction ends.
func (t *ReadTx) get(bucket string, key []byte) []byte {
	if m := t.pending[bucket]; m != nil {
		if v, ok := m[string(key)]; ok {
			return v
		}
	}
	b := t.bucket(bucket)
	if b == nil {
		return nil
	}
	t.proveRead(b, bucket, key)
	v := b.Get(key)
	if v != nil && t.sealed(bucket) {
		return unsealed(key, v)
	}
	return v
}

// put gathers one write; a nil value deletes.
func (t *WriteTx) put(bucket string, key, value []byte) {
	m := t.pending[bucket]
	if m == nil {
		m = map[string][]byte{}
		t.pending[bucket] = m
	}
	m[string(key)] = value
	t.changed = true
}

// flush writes what was gathered, each bucket in key order.
func (t *WriteTx) flush() error {
	for _, list := range [][]string{layout.Facts, layout.LaterFacts, layout.Derived} {
		for _, name := range list {
			if err := t.flushBucket(name); err != nil {
				return err
			}
		}
	}
	clear(t.subjects)
	return nil
}

// keyValue is a record on its way into a bucket; a nil value deletes it.
type keyValue struct{ key, value []byte }

// bulk is how many writes in key order make it worth packing pages.
const bulk = 1000

func (t *WriteTx) flushBucket(name string) error {
	rs := t.newEntries
	if name != layout.Entries {
		rs = make([]keyValue, 0, len(t.pending[name]))
		for k, v := range t.pending[name] {
			rs = append(rs, keyValue{[]byte(k), v})
		}
	}
	if len(rs) == 0 {
		return nil
	}
	byKey := func(a, b keyValue) int { return bytes.Compare(a.key, b.key) }
	if !slices.IsSortedFunc(rs, byKey) {
		slices.SortFunc(rs, byKey)
	}
	b := t.bucket(name)
	if b == nil {
		var err error
		if b, err = t.tx.CreateBucket([]byte(name)); err != nil {
			return t.damaged(err, "bucket", name)
		}
	}
	if len(rs) >= bulk {
		last, _ := b.Cursor().Last()
		if name == layout.Entries || bytes.Compare(last, rs[0].key) < 0 {
			b.FillPercent = 0.9
		}
	}
	facts := layout.Codes[name] != 0
	for _, r := range rs {
		if facts {
			var was []byte
			if name != layout.Entries { // an entry never takes another's place
				was = b.Get(r.key)
			}
			if err := t.chained(name, r.key, was, r.value); err != nil {
				return err
			}
		}
		if err := t.prove(b, name, r.key, r.value == nil); err != nil {
			return err
		}
		var err error
		if r.value == nil {
			err = b.Delete(r.key)
		} else if layout.IsDerived(name) {
			err = b.Put(r.key, pack.Seal(r.key, slices.Clip(r.value)))
		} else {
			err = b.Put(r.key, r.value)
		}
		if err != nil {
			return t.damaged(err, "bucket", name)
		}
	}
	delete(t.pending, name)
	if name == layout.Entries {
		t.newEntries = t.newEntries[:0]
	}
	return nil
}

// ready brings everything derived up to date with what was put, so that it
// can be read.
func (t *WriteTx) ready() error {
	if len(t.dirty) == 0 && len(t.airIn) == 0 && len(t.pending) == 0 && len(t.newEntries) == 0 {
		return nil
	}
	if err := t.settle(); err != nil {
		return err
	}
	return t.flush()
}

// finish is ready, the counts, and the link of all that was written.
func (t *WriteTx) finish() error {
	if err := t.ready(); err != nil {
		return err
	}
	if !t.changed && !t.beside {
		return nil
	}
	if err := t.putCounts(); err != nil {
		return err
	}
	if err := t.flush(); err != nil {
		return err
	}
	if t.chain == nil {
		return nil
	}
	return t.chain.End()
}

func (t *ReadTx) damaged(err error, thing reason.Thing, name any) error {
	var unknown reason.UnknownNumber
	if t.book.old && errors.As(err, &unknown) {
		return &bookfile.Error{Kind: bookfile.ErrStale, Path: t.book.Path(), Cause: err}
	}
	if errors.Is(err, pack.ErrNewer) {
		return &bookfile.Error{Kind: bookfile.ErrNewer, Path: t.book.Path(), At: bookfile.At(thing, name), Cause: err}
	}
	return bookfile.Damaged(t.book.Path(), err, bookfile.At(thing, name))
}

// packedVersion is the version byte of packed counts.
const packedVersion = 1

// counts are the book's totals, kept as entries come.
type counts struct {
	Makes   int      `json:"makes"`
	Wheels  int      `json:"wheels"`
	Here    int      `json:"here"`
	Entries int      `json:"entries"`
	Newest  int64    `json:"newest_ms"` // of the latest entry; 0: none
	Closed  day.Date `json:"closed"`    // the latest day of which some tasks are no longer kept
}

func (t *ReadTx) count() (*counts, error) {
	if t.counts != nil {
		return t.counts, nil
	}
	c := &counts{Closed: day.None}
	if v := t.get(layout.Counts, []byte("counts")); v != nil {
		if err := pack.ReadJSON(v, c); err != nil {
			return nil, t.damaged(err, "counts", nil)
		}
	}
	t.counts = c
	return c, nil
}

func (t *WriteTx) putCounts() error {
	if t.counts != nil {
		v, err := pack.JSON(t.counts)
		if err != nil {
			return err
		}
		t.put(layout.Counts, []byte("counts"), v)
	}
	for p, d := range t.shelves {
		n, err := t.onShelf(p)
		if err != nil {
			return err
		}
		if n += d; n > 0 {
			t.put(layout.Shelves, []byte(p), binary.AppendUvarint([]byte{packedVersion}, uint64(n)))
		} else if d != 0 {
			t.put(layout.Shelves, []byte(p), nil)
		}
	}
	clear(t.shelves)
	return nil
}

func (t *ReadTx) onShelf(p cave.Place) (int, error) {
	v := t.get(layout.Shelves, []byte(p))
	if v == nil {
		return 0, nil
	}
	r := pack.NewReader(v)
	if r.Byte() != packedVersion {
		r.Fail()
	}
	n := r.Count()
	if err := r.Done(); err != nil || n > math.MaxInt32 {
		return 0, t.damaged(err, "count", p)
	}
	return n, nil
}
