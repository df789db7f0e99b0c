package store

import (
	"bytes"
	"encoding/binary"
	"math"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// ReadTx reads the book as it stood when its transaction began. It is good until
// the function it was given to returns, and for one goroutine.
type ReadTx struct {
	book *Book
	tab  *table.Tx
	*register.Reader
	*members.Members
	write *WriteTx // what these reads belong to; nil in View

	subjects  map[uuid.UUID]*history.Subject // what entries were put to
	ids       *history.IDs
	makes     map[uuid.UUID]wheel.Make
	wheels    map[uuid.UUID]wheel.Wheel
	counts    *counts
	lots      map[lotKey]*derive.Lot
	makesTold map[uuid.UUID]wheel.Make // as their logs tell of them
}

// WriteTx changes the book. Its reads show what it put.
type WriteTx struct {
	*ReadTx
	*register.Writer

	dirty   map[uuid.UUID]touch  // wheels whose derived records must be made again
	fresh   map[uuid.UUID]int    // entries that their standings don't count yet
	retags  bool                 // some of them may have got another tag
	airIn   map[string]time.Time // rooms whose air changed, and from when on
	shelves map[cave.Place]int   // changes of their counts, not yet written
	taken   []byte               // key of the last entry of those that fill the book
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
	tab := b.file.Begin(tx)
	r := register.Read(tab, b.settings.Countries)
	return &ReadTx{
		book: b, tab: tab, Reader: r, Members: members.Read(tab, r.Pacts, &b.site),
		subjects: map[uuid.UUID]*history.Subject{}, ids: history.IDsIn(tab),
		makes: map[uuid.UUID]wheel.Make{}, wheels: map[uuid.UUID]wheel.Wheel{},
		lots: map[lotKey]*derive.Lot{}, makesTold: map[uuid.UUID]wheel.Make{},
	}
}

func (b *Book) writeTx(tx *bolt.Tx) *WriteTx {
	t := &WriteTx{
		ReadTx: b.readTx(tx), dirty: map[uuid.UUID]touch{}, fresh: map[uuid.UUID]int{}, airIn: map[string]time.Time{},
		shelves: map[cave.Place]int{},
	}
	t.ReadTx.write, t.Writer = t, t.Reader.Write(t.follow)
	return t
}

// Trial is a transaction that checks what is put and never writes it. Its reads show the
// makes and wheels that were put, and the entries of each wheel, but nothing derived.
func (t *ReadTx) Trial() *WriteTx {
	w := t.book.writeTx(t.tab.Bolt)
	w.tab.Trial = true
	return w
}

// ready brings everything derived up to date with what was put, so that it can
// be read.
func (t *ReadTx) ready() error {
	if t.write == nil || t.tab.Trial {
		return nil
	}
	return t.write.ready()
}

// current brings tags and, of one wheel, its state up to date with the entries that were
// put, for Get; Nil asks for tags alone. It writes nothing that will be written again: a
// page takes keys out of order slowly until the transaction ends.
func (t *ReadTx) current(id uuid.UUID) error {
	if t.write == nil || t.tab.Trial {
		return nil
	}
	if _, stale := t.write.dirty[id]; !stale && !t.write.retags {
		return nil
	}
	return t.write.settle()
}

// Table is the transaction on the book's records, with all that follows from what was put, for packages that
// read them beside the book's facts.
func (t *ReadTx) Table() (*table.Tx, error) { return t.tab, t.ready() }

// Settings are what the book was told when it was made.
func (t *ReadTx) Settings() Settings { return t.book.settings }

// Zone is the book's own time zone.
func (t *ReadTx) Zone() *time.Location { return t.tab.Zone() }

// Now is the time by the clock the book was opened with.
func (t *ReadTx) Now() time.Time { return t.tab.Now() }

// flush writes what was put.
func (t *WriteTx) flush() error {
	err := t.tab.Flush()
	clear(t.subjects)
	return err
}

// ready brings everything derived up to date with what was put, so that it
// can be read.
func (t *WriteTx) ready() error {
	if len(t.dirty) == 0 && len(t.airIn) == 0 && t.tab.Idle() {
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
	if !t.tab.Changed && !t.tab.Beside {
		return nil
	}
	if err := t.putCounts(); err != nil {
		return err
	}
	return t.tab.End()
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
	if v := t.tab.Get(layout.Counts, []byte("counts")); v != nil {
		if err := pack.ReadJSON(v, c); err != nil {
			return nil, t.tab.Damaged(err, "counts", nil)
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
		t.tab.Put(layout.Counts, []byte("counts"), v)
	}
	for p, d := range t.shelves {
		n, err := t.onShelf(p)
		if err != nil {
			return err
		}
		if n += d; n > 0 {
			t.tab.Put(layout.Shelves, []byte(p), binary.AppendUvarint([]byte{packedVersion}, uint64(n)))
		} else if d != 0 {
			t.tab.Put(layout.Shelves, []byte(p), nil)
		}
	}
	clear(t.shelves)
	return nil
}

func (t *ReadTx) onShelf(p cave.Place) (int, error) {
	v := t.tab.Get(layout.Shelves, []byte(p))
	if v == nil {
		return 0, nil
	}
	r := pack.NewReader(v)
	if r.Byte() != packedVersion {
		r.Fail()
	}
	n := r.Count()
	if err := r.Done(); err != nil || n > math.MaxInt32 {
		return 0, t.tab.Damaged(err, "count", p)
	}
	return n, nil
}

// cacheLimit bounds what a transaction remembers of each kind.
const cacheLimit = 20_000

// remember keeps what was read for the rest of the transaction.
func remember[K comparable, V any](in map[K]V, k K, v V) V {
	if len(in) > cacheLimit {
		clear(in)
	}
	in[k] = v
	return v
}

func byID(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) }
