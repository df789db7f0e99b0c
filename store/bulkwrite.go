package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"math"
	"slices"

	"github.com/google/uuid"

	"rindkeep/wheel"
)

// weightID is the identity of a weighing that follows from what it says, so
// that the same row is known again: a UUID of version 8 (RFC 9562, 5.8). Its
// first 60 bits are those of the wheel's, which spares it a place in the index
// of entries; the rest is a digest of book, wheel, instant and weight.
func weightID(book, of uuid.UUID, at int64, weight float64) uuid.UUID {
	var b [7 + 16 + 16 + 8 + 8]byte
	copy(b[:], "weight1")
	copy(b[7:], book[:])
	copy(b[23:], of[:])
	binary.BigEndian.PutUint64(b[39:], uint64(at))
	binary.BigEndian.PutUint64(b[47:], math.Float64bits(weight))
	sum := sha256.Sum256(b[:])
	var id uuid.UUID
	beginID(&id, of)
	copy(id[8:], sum[:8])
	id[8] = 0x80 | id[8]&0x3f
	return id
}

func be64(b []byte, x uint64) []byte { return binary.BigEndian.AppendUint64(b, x) }

func fromBE64(b []byte) uint64 { return binary.BigEndian.Uint64(b) }

// fnv64 is a digest that tells two weighings apart.
func fnv64(tag string, at uint64, weight float64) uint64 {
	b := be64(be64([]byte(tag), at), math.Float64bits(weight))
	sum := sha256.Sum256(b)
	return binary.BigEndian.Uint64(sum[:])
}

// appendWeighing is entryBody for a weighing and nothing else; a test holds it
// to it.
func appendWeighing(b []byte, e *wheel.Entry) []byte {
	bits := uint64(hasWeight)
	if e.By != "" {
		bits |= hasBy
	}
	if e.Sure {
		bits |= isSure
	}
	if e.Note != "" {
		bits |= hasNote
	}
	b = append(b, entryVersion, byte(wheel.Weighed))
	b = binary.AppendUvarint(b, bits)
	b = binary.AppendVarint(b, e.Written.UnixMilli()-e.At.UnixMilli())
	if e.By != "" {
		b = putText(b, e.By)
	}
	b = putFigure(b, float64(e.Weight))
	if e.Note != "" {
		b = putText(b, e.Note)
	}
	return b
}

// pack makes the records of the fresh entries, and their digests for the
// chain.
func (w *loadWheel) pack() {
	n := len(w.fresh)
	w.keys = sized(w.room.keys, n*entryKeySize)[:0]
	w.values = sized(w.room.values, n*24)[:0]
	w.ends = sized(w.room.ends, n)
	w.digests = sized(w.room.digests, n)
	for i := range w.fresh {
		e := &w.fresh[i]
		from, at := len(w.values), len(w.keys)
		w.keys = append(w.keys, e.Subject[:]...)
		w.keys = be64(w.keys, uint64(e.At.UnixMilli()))
		w.keys = append(w.keys, e.ID[:]...)
		w.values = appendWeighing(w.values, e)
		w.values = binary.BigEndian.AppendUint16(w.values, seal(w.keys[at:], w.values[from:]))
		w.ends[i] = int32(len(w.values))
		w.digests[i] = factDigest(chainCodes[bEntries], w.keys[at:], w.values[from:])
	}
}

func (w *loadWheel) key(i int) []byte {
	return w.keys[i*entryKeySize : (i+1)*entryKeySize : (i+1)*entryKeySize]
}

func (w *loadWheel) value(i int) []byte {
	from := int32(0)
	if i > 0 {
		from = w.ends[i-1]
	}
	return w.values[from:w.ends[i]:w.ends[i]]
}

// Write writes what Check found nothing wrong with. What has changed in the
// book since then is looked at again: a row that the book no longer takes ends
// the load with a RowProblem's error, and what was written before stays.
func (l *WeightLoad) Write() (out Loaded, err error) {
	var now *prepared
	var rooms []loadRoom // of wheels that were written
	roomy := 0           // entries that they hold
	step := func(next *prepared) error {
		if next != nil {
			for _, w := range next.ws {
				k := len(rooms)
				if k == 0 {
					break
				}
				w.room, rooms = rooms[k-1], rooms[:k-1]
				roomy -= cap(w.room.fresh)
			}
		}
		if now == nil {
			now = next
			return nil
		}
		written, same, err := l.writeOne(now, next)
		if err != nil {
			return err
		}
		out.Wheels += len(now.ws)
		out.Written += written
		out.Same += same
		out.Rows = out.Written + out.Same
		l.tell(out.Rows)
		for _, w := range now.ws {
			if n := cap(w.fresh); n > 0 && w.digests != nil && roomy+n <= 2*rowsTogether {
				roomy += n
				rooms = append(rooms, loadRoom{w.fresh, w.keys, w.values, w.ends, w.digests})
			}
		}
		now = next
		return nil
	}
	if err = l.batches(func(ws []*loadWheel) error { return step(&prepared{ws: ws}) }); err == nil && now != nil {
		err = step(nil)
	}
	return out, err
}

// prepared is a batch on its way: what the transaction before it read for it is
// good as long as nobody else writes in between.
type prepared struct {
	ws    []*loadWheel
	tx    int      // number of the transaction it was read for; 0: not read yet
	ended chan any // all is ready; a panic's value comes out
}

// writeOne writes one batch and meanwhile gets the next ready.
func (l *WeightLoad) writeOne(now, next *prepared) (written, same int64, err error) {
	err = l.change(func(t *WriteTx) error {
		if now.ended != nil {
			if fault := <-now.ended; fault != nil {
				panic(fault)
			}
			now.ended = nil
		}
		if number := t.tx.ID(); now.tx != number {
			for _, w := range now.ws {
				*w = loadWheel{id: w.id, rows: w.rows, room: w.room}
			}
			if err := l.read(t.ReadTx, now.ws); err != nil {
				return err
			}
			parallel(len(now.ws), func(i int) { now.ws[i].ready(l) })
		}
		written, same = 0, 0
		for _, w := range now.ws {
			if len(w.bad) > 0 {
				return ChangedMeanwhile{w.bad[0]}
			}
			written += int64(len(w.kept))
			same += int64(w.same)
		}
		if next != nil {
			if err := l.read(t.ReadTx, next.ws); err != nil {
				return err
			}
			next.tx, next.ended = t.tx.ID(), make(chan any, 1)
			if written > 0 {
				next.tx++
			}
			go func() {
				defer func() { next.ended <- recover() }()
				for _, w := range next.ws {
					w.ready(l)
				}
			}()
		}
		if written == 0 {
			return nil
		}
		if err := l.put(t, now.ws); err != nil {
			return err
		}
		return t.SetLastCommand(l.how.Command)
	})
	return written, same, err
}

// ChangedMeanwhile is a row that the book took when it was checked and takes
// no longer: somebody else wrote in between.
type ChangedMeanwhile struct{ RowProblem }

// Error is the problem's.
func (c ChangedMeanwhile) Error() string { return c.Err.Error() }

// Unwrap gives the problem's error.
func (c ChangedMeanwhile) Unwrap() error { return c.Err }

// growTogether is more than one transaction of a load makes a book grow by.
const growTogether = 256 << 20

// change runs fn in one transaction, for which the book is opened.
func (l *WeightLoad) change(fn func(*WriteTx) error) (err error) {
	if err := l.ctx.Err(); err != nil {
		return err
	}
	o := l.opt
	o.grow = growTogether
	b, err := Open(l.path, Write, o)
	if err != nil {
		return err
	}
	defer func() {
		if cerr := b.Close(); err == nil {
			err = cerr
		}
	}()
	if err := l.same(b); err != nil {
		return err
	}
	return b.Update(func(t *WriteTx) error {
		if err := fn(t); err != nil {
			return err
		}
		return l.ctx.Err()
	})
}

// ready makes all that is to be written of one wheel.
func (w *loadWheel) ready(l *WeightLoad) {
	w.sortOut(l)
	if len(w.bad) > 0 || len(w.kept) == 0 {
		return
	}
	w.enter(l)
	if l.how.NextID == nil {
		w.made(l)
	}
}

// made is ready where every entry has its identity.
func (w *loadWheel) made(l *WeightLoad) {
	w.pack()
	w.join()
	w.life = wheel.AddUp(w.wheel, w.mk, w.all, l.zone, nil)
	w.all = nil
}

// put writes the fresh entries of whole wheels, in the order of their keys,
// and leaves the wheels to be settled.
func (l *WeightLoad) put(t *WriteTx, ws []*loadWheel) error {
	if l.how.NextID != nil {
		for _, w := range ws {
			for k := range w.fresh {
				if w.rows[w.kept[k]].id() == uuid.Nil {
					w.fresh[k].ID = l.how.NextID()
				}
			}
		}
		parallel(len(ws), func(i int) {
			if len(ws[i].fresh) > 0 {
				ws[i].made(l)
			}
		})
	}
	t.lives = make(map[uuid.UUID]wheel.Life, len(ws))
	c, err := t.count()
	if err != nil {
		return err
	}
	var index []indexedEntry
	for _, w := range ws {
		t.wheels[w.id] = w.wheel // as the transaction before read it for this one
		shared := false
		for i := range w.fresh {
			if beginsAs(w.fresh[i].ID, w.id) {
				if shared {
					continue
				}
				shared = true
			}
			key, value := indexOf(w.key(i))
			index = append(index, indexedEntry{key, value})
		}
		c.Entries += len(w.fresh)
		if n := len(w.fresh); n > 0 {
			c.Newest = max(c.Newest, w.fresh[n-1].At.UnixMilli())
			t.lives[w.id] = w.life
			t.dirty[w.id] = touch{gate: bearsOnGate(wheel.Weighed), sisters: bearsOnSisters(wheel.Weighed)}
		}
	}
	t.changed = true
	if err := putEntries(t, ws); err != nil {
		return err
	}
	slices.SortFunc(index, func(a, b indexedEntry) int { return bytes.Compare(a.key, b.key) })
	ids := t.bucket(bIDs)
	for i := range index {
		if err := ids.Put(index[i].key, index[i].value); err != nil {
			return t.damaged(err, "its bucket of ids (%v)", err)
		}
	}
	return nil
}

// putEntries writes the entries and takes them into the chain, which another
// goroutine makes the links of meanwhile.
func putEntries(t *WriteTx, ws []*loadWheel) error {
	chain, err := t.chainWeighings(ws)
	if err != nil {
		return err
	}
	entries := t.bucket(bEntries)
	entries.FillPercent = 0.9
	for _, w := range ws {
		for i := range w.fresh {
			if err := entries.Put(w.key(i), w.value(i)); err != nil {
				return t.damaged(err, "its bucket of entries (%v)", err)
			}
		}
	}
	return chain()
}

// chainWeighings is chainedAs for each of the fresh entries, in another
// goroutine; what it returns waits for that and writes the links.
func (t *WriteTx) chainWeighings(ws []*loadWheel) (func() error, error) {
	t.changed = true
	if t.book.unchained {
		return func() error { return nil }, nil
	}
	l := t.link
	if l == nil {
		number, prev, err := tipOf(t.bucket(bChain), t.book.settings.ID)
		if err != nil {
			return nil, t.damaged(err, "its chain of links")
		}
		l = newLink(prev, number+1, linkWritten, t.Now().UnixMilli())
	}
	type ended struct {
		number uint64
		value  []byte
	}
	var full []ended
	done := make(chan any, 1)
	go func() {
		defer func() { done <- recover() }()
		for _, w := range ws {
			for i := range w.fresh {
				l.addDigest(codeEntry, w.key(i), nil, w.value(i), w.digests[i])
				if l.full() {
					sum, value := l.seal()
					full = append(full, ended{l.number, value})
					next := newLink(sum, l.number+1, l.kind, l.ms)
					next.sum, next.body = append(l.sum[:0], next.sum...), l.body[:0]
					l = next
				}
			}
		}
	}()
	return func() error {
		if fault := <-done; fault != nil {
			panic(fault)
		}
		chain := t.bucket(bChain)
		chain.FillPercent = 0.95 // it only grows at its end
		for _, f := range full {
			if err := chain.Put(linkKey(f.number), f.value); err != nil {
				return t.damaged(err, "its chain of links (%v)", err)
			}
		}
		if t.link = l; l.count == 0 {
			t.link = nil
		}
		return nil
	}, nil
}

// indexedEntry is a record on its way into the index of entries.
type indexedEntry struct{ key, value []byte }
