package store

import (
	"bytes"
	"context"
	"errors"
	"iter"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/sorts"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// wheelsTogether is how many wheels are derived in one transaction.
const wheelsTogether = 2_000

// Filling is a new book that takes the facts of another, line by line. Nobody knows of it
// yet: it's neither synced nor chained until all that follows from the facts is derived.
type Filling struct{ *Book }

// Fill makes a book of these settings in a draft, to be filled.
func Fill(d *bookfile.Draft, s Settings) (Filling, error) {
	if err := writeEmpty(d.Name, s, nil); err != nil {
		return Filling{}, bookfile.Failed(d.Path, "make", err)
	}
	// Facts are taken whatever the clock says here: they were true there.
	far := pack.MaxTime.Add(-2 * table.Lead)
	b, err := Open(d.Name, Write, Options{Now: func() time.Time { return far }, Alone: true})
	if err != nil {
		return Filling{}, err
	}
	b.file.DB.NoSync, b.file.Unchained = true, true
	return Filling{b}, nil
}

// TakeLine puts a line of a sort into a book that is filled. early is why the record of its make
// refuses an entry from before its day: a correction further down may make the make an
// earlier one, see MadeBy.
func (t *WriteTx) TakeLine(s sorts.Sort, line []byte) (entry wheel.Entry, early, err error) {
	switch s.Bucket {
	case layout.Makes:
		m, err := sorts.Parse(t.tab, s.Bucket, line, func(m wheel.Make) []byte { return m.ID[:] })
		if err != nil {
			return entry, nil, err
		}
		return entry, nil, t.PutMake(m)
	case layout.Wheels:
		return entry, nil, t.takeWheelLine(line)
	case layout.Entries:
		return t.takeEntryLine(line)
	case layout.Heads:
		return entry, nil, t.takeHeadLine(s, line)
	}
	return entry, nil, s.Take(t.Writer, t.tab, line)
}

// takeWheelLine takes a wheel, whose tag is not looked at until all are there.
func (t *WriteTx) takeWheelLine(line []byte) error {
	w, err := sorts.Parse(t.tab, layout.Wheels, line, func(w wheel.Wheel) []byte { return w.ID[:] })
	if err != nil {
		return err
	}
	w.Since, w.Written = pack.Milli(w.Since), pack.Milli(w.Written)
	if _, err := t.checkWheel(w); err != nil {
		return err
	}
	if _, err := table.PutRecord(t.tab, layout.Wheels, w.ID[:], w); err != nil {
		return err
	}
	c, err := t.count()
	if err != nil {
		return err
	}
	c.Wheels++
	t.index(wheelIndex(w))
	return nil
}

func (t *WriteTx) takeEntryLine(line []byte) (e wheel.Entry, early, err error) {
	if e, err = lines.ReadEntry(line); err != nil {
		return e, nil, err
	}
	if err := e.Check(); err != nil {
		return e, nil, err
	}
	mk, isWheel, err := t.about(e.Subject)
	if err != nil {
		return e, nil, err
	}
	s := history.Of(mk, isWheel, t.Zone(), nil)
	if early = s.CheckTime(&e, pack.MaxTime); early != nil && !s.TooEarly(&e) {
		return e, nil, early
	}
	if err := t.checkContent(&e, isWheel); err != nil {
		return e, nil, err
	}
	k := pack.EntryKey(e)
	if bytes.Compare(k, t.taken) <= 0 || t.taken == nil { // an export's entries are in the order of their keys
		if err := t.tab.Flush(layout.Entries); err != nil {
			return e, nil, err
		}
		if t.tab.Get(layout.Entries, k) != nil {
			return e, nil, lines.ErrTwice
		}
	}
	c, err := t.count()
	if err != nil {
		return e, nil, err
	}
	c.Entries++
	c.Newest = max(c.Newest, e.At.UnixMilli())
	t.tab.PutEntry(k, pack.Seal(k, pack.EntryBody(&e)))
	t.taken = k
	t.index(t.hadTags(e))
	return e, early, nil
}

// EarliestDay is the earliest day that the make of a wheel, or a make, ever had.
func (t *ReadTx) EarliestDay(subject uuid.UUID) (day.Date, error) {
	mk, _, err := t.about(subject)
	if err != nil {
		return day.None, err
	}
	first, err := t.firstMake(mk.ID)
	if err != nil {
		return day.None, err
	}
	es, err := t.history(mk.ID)
	return first.Earliest(es), err
}

// Records goes through the records of a bucket of facts as they are packed, in the order of
// their keys. Keys and values are only lent.
func (t *ReadTx) Records(bucket string) iter.Seq2[[]byte, []byte] { return t.tab.In(bucket, nil) }

// MustBeEmpty refuses a book that holds any records but its settings (bookfile.ErrExists).
func (b *Book) MustBeEmpty() error {
	return b.View(func(t *ReadTx) error {
		for _, name := range slices.Concat(layout.Facts, layout.LaterFacts) {
			if name == layout.Book || name == layout.Chain {
				continue
			}
			for range t.Records(name) {
				return bookfile.Exists(b.Path(), "records")
			}
		}
		return nil
	})
}

// Index makes the index of entries, and refuses two of one identity.
func (b Filling) Index(ctx context.Context) error {
	var bounds []uuid.UUID
	if err := b.View(func(t *ReadTx) error { bounds = t.ids.Bounds(idsTogether); return nil }); err != nil {
		return err
	}
	for i := range bounds[1:] {
		if err := ctx.Err(); err != nil {
			return err
		}
		twice := uuid.Nil
		if err := b.Update(func(t *WriteTx) (err error) {
			twice, err = t.ids.Index(bounds[i], bounds[i+1])
			return err
		}); err != nil {
			return err
		}
		if twice != uuid.Nil {
			return lines.Whole(lines.Fault{Is: "id-twice", Word: twice.String()})
		}
	}
	return nil
}

// Correct brings makes up to date with the entries that correct them.
func (b Filling) Correct() error { return b.Update((*WriteTx).correctAll) }

// Rechain begins a new chain over the facts, in the place of one that isn't theirs.
func (b Filling) Rechain(kind chain.Kind, at time.Time) error {
	return b.Update(func(t *WriteTx) error {
		t.tab.Changed = true
		if err := t.tab.Empty(layout.Chain); err != nil {
			return err
		}
		return chain.Begin(t.tab.Bolt, t.book.settings.ID, kind, at)
	})
}

// Derive makes everything derived, some lots at a time, as it is by the clock now. What is
// put into the book then is chained as ever.
func (b Filling) Derive(ctx context.Context, now func() time.Time) error {
	b.file.Now = now
	for from := []byte{}; from != nil; {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := b.Update(func(t *WriteTx) error { from = t.someLots(from); return nil }); err != nil {
			var r refusal.Refused
			if errors.As(err, &r) {
				return &lines.Error{Cause: err}
			}
			return err
		}
	}
	b.file.Unchained = false
	return nil
}

// someLots marks the wheels of whole lots from a key on to be derived, and gives the key of
// the next; nil: there is none.
func (t *WriteTx) someLots(from []byte) (next []byte) {
	t.tab.Remaking, t.tab.Changed = true, true
	var mk []byte
	c := t.tab.Bucket(layout.MakeWheels).Cursor()
	k, _ := c.Seek(from)
	for ; k != nil; k, _ = c.Next() {
		if !bytes.Equal(mk, k[:16]) {
			if len(t.dirty) >= wheelsTogether {
				break
			}
			mk = bytes.Clone(k[:16])
		}
		t.dirty[uuid.UUID(k[20:])] = touch{gate: true}
	}
	return bytes.Clone(k)
}

// Finish counts what the book holds, syncs and closes it.
func (b Filling) Finish() (n Counts, err error) {
	if err := b.View(func(t *ReadTx) (err error) { n, err = t.Counts(); return err }); err != nil {
		return n, err
	}
	if err := b.file.DB.Sync(); err != nil {
		return n, bookfile.Failed(b.Path(), "write", err)
	}
	return n, b.Close()
}
