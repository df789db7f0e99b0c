package archive

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/copies"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/sorts"
)

// linesTogether is how many lines one transaction of an import takes.
const linesTogether = 50_000

// Import makes the book at path from an export: an equal book, with the same
// identity. There must be no file there, or a book without records. It is made
// under another name beside it, derived, proved and renamed, so that nothing is
// seen of it before it is whole. What a file says is checked line by line; the
// first bad one is a *lines.Error. Each fact by itself is checked as the book always
// checks it; that a wheel was not handled after it had gone isn't. A history that was
// altered or left out, or isn't that of the automatic backups of the book at path, is
// refused (chain.OtherHistory) unless o.Altered: then altered says so. tell is told the lines
// read so far.
func Import(ctx context.Context, path string, from io.Reader, o store.Options, tell func(lines int)) (
	tally []Tally, altered []bookfile.Finding, err error,
) {
	o = o.Filled()
	if err := mayImportTo(path, o); err != nil {
		return nil, nil, err
	}
	if err := bookfile.MakeFolders(filepath.Dir(path), 0o755); err != nil {
		return nil, nil, bookfile.Failed(path, "make", err)
	}
	l := &loader{ctx: ctx, from: lines.NewReader(from), tell: tell, path: path, tally: make([]int, len(sorts.All))}
	set, err := l.head()
	if err != nil {
		return nil, nil, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return nil, nil, err
	}
	defer tmp.Drop()
	if err := l.load(tmp, set, o); err != nil {
		var be *bookfile.Error
		if errors.As(err, &be) && be.Kind == bookfile.ErrFull {
			err = bookfile.Failed(path, "make", be.Cause) // not the name it had meanwhile
		}
		return nil, nil, err
	}
	for i, s := range sorts.All {
		if !s.Hidden() {
			tally = append(tally, Tally{string(s.Record), l.tally[i]})
		}
	}
	return tally, l.altered, placeImport(tmp, path, o)
}

// mayImportTo says whether nothing is lost by a new book at path.
func mayImportTo(path string, o store.Options) error {
	if _, err := os.Lstat(path); os.IsNotExist(err) {
		return nil
	}
	b, err := store.Open(path, store.Read, o)
	if err != nil {
		return err
	}
	defer b.Close()
	return b.MustBeEmpty()
}

// placeImport gives the finished book its name. An empty book that is there is
// held until it is replaced, so that nobody writes in it meanwhile.
func placeImport(tmp *bookfile.Draft, path string, o store.Options) error {
	if _, err := os.Lstat(path); os.IsNotExist(err) {
		return tmp.Place()
	}
	old, err := store.Open(path, store.Write, o)
	if err != nil {
		return err
	}
	defer old.Close()
	if err := old.MustBeEmpty(); err != nil {
		return err
	}
	return tmp.Replace()
}

// loader reads an export into a book that nobody knows of yet.
type loader struct {
	ctx   context.Context
	from  *lines.Reader
	tell  func(int)
	tally []int // of each sort
	early []early

	path    string             // of the book that is to come of it
	altered []bookfile.Finding // what is wrong with the history that came with the facts
}

// early is an entry from before the day of its make as the make's record has it: a
// correction further down may make the make an earlier one.
type early struct {
	line    int
	at      time.Time
	subject uuid.UUID
	err     error
}

// mostEarly is how many of them an import puts off.
const mostEarly = 1_000_000

// head reads the settings of the book.
func (l *loader) head() (store.Settings, error) {
	var set store.Settings
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

// load reads all that follows the head into a draft and derives what follows from it.
func (l *loader) load(tmp *bookfile.Draft, set store.Settings, o store.Options) error {
	b, err := store.Fill(tmp, set)
	if err != nil {
		return err
	}
	defer b.Close()
	for _, step := range []func() error{
		func() error { return l.facts(b) },
		func() error { return b.Index(l.ctx) },
		b.Correct,
		func() error { return b.View(l.checkEarly) },
		func() error { return b.View(checkTargets) },
		func() error { return l.chain(b, o) },
		func() error { return b.Derive(l.ctx, o.Now) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	want, err := b.Finish()
	if err != nil {
		return err
	}
	return copies.Prove(tmp.Name, l.path, want)
}

// facts reads the lines up to the end.
func (l *loader) facts(b store.Filling) error {
	at, ended := 0, false
	for !ended {
		if err := l.ctx.Err(); err != nil {
			return err
		}
		err := b.Update(func(t *store.WriteTx) (err error) {
			for range linesTogether {
				if ended, err = l.fact(t, &at); ended || err != nil {
					return err
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

// fact reads one line. at is the sort of the line before, and then of this one.
func (l *loader) fact(t *store.WriteTx, at *int) (ended bool, err error) {
	record, rest, err := l.from.Record()
	if err != nil {
		return false, err
	}
	if record == "end" {
		return true, l.from.End(rest)
	}
	i := slices.IndexFunc(sorts.All, func(s sorts.Sort) bool { return string(s.Record) == record })
	switch {
	case i < 0:
		return false, l.from.Bad(lines.Fault{Is: "record-unknown", Word: lines.Short(record)})
	case i < *at:
		other := string(sorts.All[*at].Record)
		return false, l.from.Bad(lines.Fault{Is: "out-of-order", Word: record, Other: other})
	}
	*at = i
	l.tally[i]++
	e, before, err := t.TakeLine(sorts.All[i], rest)
	switch {
	case err != nil:
		return false, l.from.Refused(err)
	case before != nil && len(l.early) == mostEarly:
		return false, l.from.Refused(before)
	case before != nil:
		l.early = append(l.early, early{l.from.Lines, e.At, e.Subject, before})
	}
	return false, nil
}

// checkEarly refuses an entry from before the earliest day its make ever had.
func (l *loader) checkEarly(t *store.ReadTx) error {
	for _, x := range l.early {
		day, err := t.EarliestDay(x.subject)
		if err != nil {
			return err
		}
		if x.at.Before(day.Start(t.Zone())) {
			return &lines.Error{Line: x.line, Cause: x.err}
		}
	}
	return nil
}

// chain proves that the chain which came with the facts is theirs, and no other than that
// of the book's backups. One that isn't theirs, and a file without one, gives way to a new
// chain that says so; unless o.Altered, an altered one is refused.
func (l *loader) chain(b store.Filling, o store.Options) error {
	var links int
	if err := b.View(func(t *store.ReadTx) (err error) {
		l.altered, links, err = t.ProveChain(l.ctx)
		return err
	}); err != nil {
		return err
	}
	kind := chain.Unfit
	if links == 0 {
		kind, l.altered = chain.Imported, l.altered[:1] // NoChain says it all
	}
	var err error
	if len(l.altered) > 0 {
		err = b.Rechain(kind, o.Now())
	} else {
		l.altered, err = copies.Strange(b.Book, nil, l.path, "")
	}
	if err == nil && len(l.altered) > 0 && !o.Altered {
		err = reason.Err(&chain.OtherHistory{Findings: l.altered})
	}
	return err
}
