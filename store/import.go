package store

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/pack"

	"github.com/google/uuid"
)

// ImportError is a file that is no whole export, or a line of one that the book
// will not take. Line counts from 1; 0 where the whole file is meant. Cause is why: a
// LineFault, or why the book refuses the fact.
type ImportError struct {
	Line  int
	Cause error
}

// Error is for logs and tests.
func (e *ImportError) Error() string {
	if e.Line == 0 {
		return e.Cause.Error()
	}
	return fmt.Sprintf("line %d: %s", e.Line, e.Cause)
}

// Unwrap gives why.
func (e *ImportError) Unwrap() error { return e.Cause }

// maxLine is the longest line of an export read, in bytes.
const maxLine = 4 << 20

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
// refused (OtherHistory) unless o.Altered: then altered says so. tell is told the lines
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
	l := &loader{ctx: ctx, r: bufio.NewReaderSize(from, 1<<20), tell: tell, path: path}
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
	tally = slices.DeleteFunc(l.tally, func(t Tally) bool { return t.Record == "link" })
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
			in := t.bucket(name)
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
	r     *bufio.Reader
	tell  func(int)
	lines int // read so far
	tally []Tally

	t     *WriteTx
	last  []byte // key of the last entry
	early []earlyEntry
	want  Counts // what the book came to

	path     string             // of the book that is to come of it
	salvaged bool               // what is read is what was left of a book
	altered  []bookfile.Finding // what is wrong with the history that came with the facts
}

func (l *loader) bad(why LineFault) error { return &ImportError{l.lines, reason.Err(why)} }

// ofWhole is what is wrong with the whole file.
func ofWhole(why LineFault) error { return &ImportError{0, reason.Err(why)} }

// refused is a fact's refusal with its line.
func (l *loader) refused(err error) error {
	var be *bookfile.Error
	var ie *ImportError
	switch {
	case err == nil, errors.As(err, &be), errors.As(err, &ie), errors.Is(err, context.Canceled):
		return err
	}
	return &ImportError{l.lines, err}
}

// next reads a line, without its end.
func (l *loader) next() ([]byte, error) {
	var line []byte
	for {
		part, err := l.r.ReadSlice('\n')
		if len(line)+len(part) > maxLine {
			l.lines++
			return nil, l.bad(LineFault{Is: "too-long", Wants: maxLine})
		}
		switch {
		case err == nil && line == nil:
			line = part
		case err == nil, errors.Is(err, bufio.ErrBufferFull), errors.Is(err, io.EOF):
			line = append(line[:len(line):len(line)], part...)
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case errors.Is(err, io.EOF) && len(line) > 0:
			if !json.Valid(line) {
				return nil, l.cutOff()
			}
		case err != nil:
			return nil, err
		}
		break
	}
	l.lines++
	line = bytes.TrimRight(line, "\r\n")
	if !utf8.Valid(line) {
		return nil, l.bad(LineFault{Is: "not-utf-8"})
	}
	return line, nil
}

func (l *loader) cutOff() error {
	return ofWhole(LineFault{Is: "cut-off", Has: l.lines})
}

// head reads the first two lines.
func (l *loader) head() (Settings, error) {
	var set Settings
	line, err := l.next()
	if errors.Is(err, io.EOF) {
		return set, ofWhole(LineFault{Is: "no-lines"})
	}
	if err != nil {
		return set, err
	}
	var h headLine
	if err := json.Unmarshal(bytes.TrimPrefix(line, []byte("\xef\xbb\xbf")), &h); err != nil || h.Schema == "" {
		return set, l.bad(LineFault{Is: "no-schema", Other: ExportSchema})
	}
	if h.Schema != ExportSchema {
		return set, l.bad(LineFault{Is: "other-schema", Word: short(h.Schema), Other: ExportSchema})
	}
	line, err = l.next()
	if errors.Is(err, io.EOF) {
		return set, l.cutOff()
	}
	if err != nil {
		return set, err
	}
	record, rest, err := l.split(line)
	if err != nil {
		return set, err
	}
	if record != "book" {
		return set, l.bad(LineFault{Is: "no-book", Word: short(record)})
	}
	if err := strictly(rest, &set); err != nil {
		return set, l.refused(err)
	}
	if set.ID == uuid.Nil || set.Created.Before(epoch) {
		return set, l.bad(LineFault{Is: "book-without-id"})
	}
	set.Created = milli(set.Created)
	return set, l.refused(set.Check())
}

var recordStart = regexp.MustCompile(`^\s*\{\s*"record"\s*:\s*"([a-z_]+)"\s*(,|\}\s*$)`)

// split takes the record's sort off a line and leaves an object of its fields.
func (l *loader) split(line []byte) (record string, rest []byte, err error) {
	m := recordStart.FindSubmatchIndex(line)
	if m == nil {
		return "", nil, l.bad(LineFault{Is: "no-record"})
	}
	record = string(line[m[2]:m[3]])
	if line[m[4]] == '}' {
		return record, []byte("{}"), nil
	}
	rest = line[m[4]:]
	rest[0] = '{'
	return record, rest, nil
}

// strictly reads one JSON object and nothing else, every field of it known.
func strictly(b []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		var typ *json.UnmarshalTypeError
		var syn *json.SyntaxError
		switch {
		case errors.As(err, &typ) && typ.Field != "":
			return reason.Err(LineFault{Is: "field-type", Word: short(typ.Field), Other: typ.Value})
		case errors.As(err, &syn), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
			return reason.Err(LineFault{Is: "not-json"})
		}
		if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
			return reason.Err(LineFault{Is: "field-unknown", Word: short(strings.Trim(name, `"`))})
		}
		return reason.Err(LineFault{Is: "unreadable", Word: short(strings.TrimPrefix(err.Error(), "json: "))})
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return reason.Err(LineFault{Is: "two-objects"})
	}
	return nil
}

// load reads all that follows the head into the book at tmp and derives what
// follows from it.
func (l *loader) load(tmp string, o Options) error {
	// Facts are taken whatever the clock says here: they were true there.
	far := pack.MaxTime.Add(-2 * lead)
	b, err := Open(tmp, Write, Options{Now: func() time.Time { return far }, alone: true})
	if err != nil {
		return err
	}
	defer b.Close()
	b.file.DB.NoSync = true // the whole of it is synced at the end
	b.unchained = true
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
		return reason.Err(&OtherHistory{Findings: l.altered})
	}
	b.opt.Now = o.Now
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
				line, err := l.next()
				if errors.Is(err, io.EOF) {
					return l.cutOff()
				}
				if err != nil {
					return err
				}
				record, rest, err := l.split(line)
				if err != nil {
					return err
				}
				if record == "end" {
					ended = true
					return l.end(rest)
				}
				i := at
				for i < len(sections) && sections[i].record != record {
					i++
				}
				if i == len(sections) {
					for _, s := range sections[:at] {
						if s.record == record {
							return l.bad(LineFault{Is: "out-of-order", Word: record, Other: sections[at].record})
						}
					}
					return l.bad(LineFault{Is: "record-unknown", Word: short(record)})
				}
				at = i
				l.tally[i].Count++
				if err := sections[i].take(l, rest); err != nil {
					return l.refused(err)
				}
			}
			return l.ctx.Err()
		})
		if err != nil {
			return err
		}
		if l.tell != nil {
			l.tell(l.lines)
		}
	}
	return nil
}

// end proves that the file is whole.
func (l *loader) end(rest []byte) error {
	var e endLine
	if err := strictly(rest, &e); err != nil {
		return l.refused(err)
	}
	if e.Lines != l.lines-1 {
		return l.bad(LineFault{Is: "lines-differ", Has: l.lines - 1, Wants: e.Lines})
	}
	for {
		line, err := l.next()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		case len(bytes.TrimSpace(line)) > 0:
			return l.bad(LineFault{Is: "after-end"})
		}
	}
}

func (l *loader) entry(line []byte) error {
	e, err := entryFrom(line)
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
	s := subject{make: mk, made: mk.Date.Start(l.t.book.zone)}
	if err := s.checkTime(&e, pack.MaxTime, l.t.book.zone); err != nil {
		if !e.At.Before(s.made) || len(l.early) == mostEarly {
			return err
		}
		l.early = append(l.early, earlyEntry{l.lines, e.At, mk.ID, err})
	}
	if err := l.t.checkContent(&e, isWheel); err != nil {
		return err
	}
	k := pack.EntryKey(e)
	if bytes.Compare(k, l.last) <= 0 { // an export's entries are in the order of their keys
		if err := l.t.flushBucket(layout.Entries); err != nil {
			return err
		}
		if l.t.get(layout.Entries, k) != nil {
			return errTwice
		}
	}
	c, err := l.t.count()
	if err != nil {
		return err
	}
	c.Entries++
	c.Newest = max(c.Newest, e.At.UnixMilli())
	l.t.changed = true
	l.t.newEntries = append(l.t.newEntries, keyValue{k, pack.Seal(k, pack.EntryBody(&e))})
	l.last = k
	l.t.index(l.t.hadTags(e))
	return nil
}
