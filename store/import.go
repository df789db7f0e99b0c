package store

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/table"

	"github.com/google/uuid"
)

// linesTogether is how many lines one transaction of an import takes, and
// wheelsTogether how many wheels are derived in one.
const (
	linesTogether  = 50_000
	wheelsTogether = 2_000
)

// Import makes the book at path from an export: an equal book, with the same
// identity. There must be no file there, or a book without records. It is made
// under another name beside it, derived, proved and renamed, so that nothing is
// seen of it before it is whole. What a file says is checked line by line; the
// first bad one is an *ImportError. Each fact by itself is checked as the book always
// checks it; that a wheel was not handled after it had gone isn't. A history that was
// altered or left out, or isn't that of the automatic backups of the book at path, is
// refused (chain.OtherHistory) unless o.Altered: then altered says so. tell is told the lines
// read so far.
func Import(ctx context.Context, path string, from io.Reader, o Options, tell func(lines int)) (
	tally []Tally, altered []bookfile.Finding, err error,
) {
	o = o.filled()
	if err := mayImportTo(path, o); err != nil {
		return nil, nil, err
	}
	if err := bookfile.MakeFolders(filepath.Dir(path), 0o755); err != nil {
		return nil, nil, bookfile.Failed(path, "make", err)
	}
	l := &loader{ctx: ctx, from: lines.NewReader(from), tell: tell, path: path}
	l.tally = make([]Tally, len(sections))
	for i, s := range sections {
		l.tally[i].Record = s.record
	}
	set, err := l.head()
	if err != nil {
		return nil, nil, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return nil, nil, err
	}
	defer tmp.Drop()
	if err := writeEmpty(tmp.Name, set, nil); err != nil {
		return nil, nil, bookfile.Failed(path, "make", err)
	}
	if err := l.load(tmp.Name, o); err != nil {
		var be *bookfile.Error
		if errors.As(err, &be) && be.Kind == bookfile.ErrFull {
			err = bookfile.Failed(path, "make", be.Cause) // not the name it had meanwhile
		}
		return nil, nil, err
	}
	if err := prove(tmp.Name, path, l.want); err != nil {
		return nil, nil, err
	}
	for i, s := range sections {
		if !s.hidden() {
			tally = append(tally, l.tally[i])
		}
	}
	return tally, l.altered, placeImport(tmp, path, o)
}

// mayImportTo says whether nothing is lost by a new book at path.
func mayImportTo(path string, o Options) error {
	if _, err := os.Lstat(path); os.IsNotExist(err) {
		return nil
	}
	b, err := Open(path, Read, o)
	if err != nil {
		return err
	}
	defer b.Close()
	return b.mustBeEmpty()
}

func (b *Book) mustBeEmpty() error {
	return b.View(func(t *ReadTx) error {
		for _, name := range slices.Concat(layout.Facts, layout.LaterFacts) {
			if name == layout.Book || name == layout.Chain {
				continue
			}
			in := t.tab.Bucket(name)
			if in == nil {
				continue
			}
			if k, _ := in.Cursor().First(); k != nil {
				return bookfile.Exists(b.Path(), "records")
			}
		}
		return nil
	})
}

// placeImport gives the finished book its name. An empty book that is there is
// held until it is replaced, so that nobody writes in it meanwhile.
func placeImport(tmp *bookfile.Draft, path string, o Options) error {
	if _, err := os.Lstat(path); os.IsNotExist(err) {
		return tmp.Place()
	}
	old, err := Open(path, Write, o)
	if err != nil {
		return err
	}
	defer old.Close()
	if err := old.mustBeEmpty(); err != nil {
		return err
	}
	return tmp.Replace()
}

// loader reads an export into a book that nobody knows of yet.
type loader struct {
	ctx   context.Context
	from  *lines.Reader
	tell  func(int)
	tally []Tally

	t     *WriteTx
	last  []byte // key of the last entry
	early []earlyEntry
	want  Counts // what the book came to

	path     string             // of the book that is to come of it
	salvaged bool               // what is read is what was left of a book
	altered  []bookfile.Finding // what is wrong with the history that came with the facts
}

// head reads the settings of the book.
func (l *loader) head() (Settings, error) {
	var set Settings
	fields, err := l.from.Head()
	if err != nil {
		return set, err
	}
	if err := lines.Parse(fields, &set); err != nil {
		return set, l.from.Refused(err)
	}
	if set.ID == uuid.Nil || set.Created.Before(pack.Epoch) {
		return set, l.from.Bad(lines.Fault{Is: "book-without-id"})
	}
	set.Created = pack.Milli(set.Created)
	return set, l.from.Refused(set.Check())
}

// load reads all that follows the head into the book at tmp and derives what
// follows from it.
func (l *loader) load(tmp string, o Options) error {
	// Facts are taken whatever the clock says here: they were true there.
	far := pack.MaxTime.Add(-2 * table.Lead)
	b, err := Open(tmp, Write, Options{Now: func() time.Time { return far }, alone: true})
	if err != nil {
		return err
	}
	defer b.Close()
	b.file.DB.NoSync = true // the whole of it is synced at the end
	b.file.Unchained = true
	if err := l.facts(b); err != nil {
		return err
	}
	if err := l.index(b); err != nil {
		return err
	}
	if err := l.corrections(b); err != nil {
		return err
	}
	if err := l.strikes(b); err != nil {
		return err
	}
	if err := l.chain(b, o.Now()); err != nil {
		return err
	}
	if len(l.altered) > 0 && !o.Altered {
		return reason.Err(&chain.OtherHistory{Findings: l.altered})
	}
	b.file.Now = o.Now
	if err := l.derive(b); err != nil {
		return err
	}
	if err := b.View(func(t *ReadTx) (err error) { l.want, err = t.Counts(); return err }); err != nil {
		return err
	}
	if err := b.file.DB.Sync(); err != nil {
		return bookfile.Failed(tmp, "write", err)
	}
	return b.Close()
}

// facts reads the lines up to the end.
func (l *loader) facts(b *Book) error {
	at, ended := 0, false
	for !ended {
		if err := l.ctx.Err(); err != nil {
			return err
		}
		err := b.Update(func(t *WriteTx) error {
			l.t = t
			for range linesTogether {
				record, rest, err := l.from.Record()
				if err != nil {
					return err
				}
				if record == "end" {
					ended = true
					return l.from.End(rest)
				}
				i := at
				for i < len(sections) && sections[i].record != record {
					i++
				}
				if i == len(sections) {
					for _, s := range sections[:at] {
						if s.record == record {
							return l.from.Bad(lines.Fault{Is: "out-of-order", Word: record, Other: sections[at].record})
						}
					}
					return l.from.Bad(lines.Fault{Is: "record-unknown", Word: lines.Short(record)})
				}
				at = i
				l.tally[i].Count++
				if err := sections[i].take(l, rest); err != nil {
					return l.from.Refused(err)
				}
			}
			return l.ctx.Err()
		})
		if err != nil {
			return err
		}
		if l.tell != nil {
			l.tell(l.from.Lines)
		}
	}
	return nil
}

func (l *loader) entry(line []byte) error {
	e, err := lines.ReadEntry(line)
	if err != nil {
		return err
	}
	if err := e.Check(); err != nil {
		return err
	}
	mk, isWheel, err := l.t.about(e.Subject)
	if err != nil {
		return err
	}
	s := history.Of(mk, isWheel, l.t.Zone(), nil)
	if err := s.CheckTime(&e, pack.MaxTime); err != nil {
		if !s.TooEarly(&e) || len(l.early) == mostEarly {
			return err
		}
		l.early = append(l.early, earlyEntry{l.from.Lines, e.At, mk.ID, err})
	}
	if err := l.t.checkContent(&e, isWheel); err != nil {
		return err
	}
	k := pack.EntryKey(e)
	if bytes.Compare(k, l.last) <= 0 { // an export's entries are in the order of their keys
		if err := l.t.tab.Flush(layout.Entries); err != nil {
			return err
		}
		if l.t.tab.Get(layout.Entries, k) != nil {
			return lines.ErrTwice
		}
	}
	c, err := l.t.count()
	if err != nil {
		return err
	}
	c.Entries++
	c.Newest = max(c.Newest, e.At.UnixMilli())
	l.t.tab.PutEntry(k, pack.Seal(k, pack.EntryBody(&e)))
	l.last = k
	l.t.index(l.t.hadTags(e))
	return nil
}
