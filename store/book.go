package store

import (
	"errors"
	"strconv"
	"strings"
	"syscall"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/finding"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/pack"
	"rindkeep/store/table"

	bolt "go.etcd.io/bbolt"
)

// Mode says what a book is opened for.
type Mode int

// The modes. Several readers may hold a book at once, a writer only alone.
const (
	Read Mode = iota
	Write
)

// DefaultWait is how long Open waits for its turn where Options do not say.
const DefaultWait = 5 * time.Second

// Options are how a book is opened. The zero value waits DefaultWait and takes
// the time from the machine.
type Options struct {
	Wait time.Duration    // how long to wait for others; 0: DefaultWait; under 0: one try
	Now  func() time.Time // nil: time.Now

	Altered bool // for restoring and importing: take a history that was altered, or isn't the book's
	Alone   bool // the file is known to nobody else: no queue
}

// Filled are the options with what the zero value stands for.
func (o Options) Filled() Options {
	if o.Wait == 0 {
		o.Wait = DefaultWait
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return o
}

// Book is an open book. While it is open other processes wait, so it is kept
// for one command or one request and closed.
type Book struct {
	file     *table.File
	mode     Mode
	opt      Options
	settings Settings
	site     *members.Own // nil: no other site shares the book
	discard  func()       // of a Snapshot: removes its file
}

// Open opens the book at path, which must be there: Open never makes a file.
// A book of an older format is upgraded first, after a copy was made beside
// it; a newer one is refused. An index that another version of the program made
// is made again, for readers too. Errors are BookErrors.
func Open(path string, mode Mode, o Options) (*Book, error) {
	o = o.Filled()
	for {
		b, err := open(path, mode, o)
		if err == nil && mode == Read {
			return b.freshened()
		}
		var old needsUpgrade
		if !errors.As(err, &old) {
			return b, err
		}
		if err := upgrade(path, o, old.format); err != nil {
			return nil, err
		}
	}
}

// needsUpgrade says that the book is of an older format.
type needsUpgrade struct{ format int }

func (needsUpgrade) Error() string { return "the book is of an older format" }

func open(path string, mode Mode, o Options) (*Book, error) {
	b, err := OpenAsIs(path, mode, o)
	if err == nil && mode == Write {
		if err = b.freshen(); err != nil {
			b.Close()
			return nil, err
		}
	}
	return b, err
}

// OpenAsIs is Open of a book that is neither upgraded nor made again: a copy, or one that's
// damaged. One of an older format is refused.
func OpenAsIs(path string, mode Mode, o Options) (*Book, error) {
	b, err := openAny(path, mode, o.Filled())
	if err != nil {
		return nil, err
	}
	if err := b.viewRaw(b.load); err != nil {
		b.Close()
		return nil, err
	}
	return b, nil
}

// openAny opens the file, whatever its format.
func openAny(path string, mode Mode, o Options) (*Book, error) {
	f, err := bookfile.Open(path, bookfile.How{Write: mode == Write, Wait: o.Wait, Alone: o.Alone})
	if err != nil {
		return nil, err
	}
	return &Book{file: &table.File{File: f, Now: o.Now}, mode: mode, opt: o}, nil
}

// guard runs fn on the book's pages; a record that isn't as it was written is damage.
func (b *Book) guard(fn func() error) error {
	err := b.file.Guard(fn)
	var known *bookfile.Error
	switch {
	case errors.As(err, &known):
	case errors.Is(err, pack.ErrNewer):
		err = &bookfile.Error{Kind: bookfile.ErrNewer, Path: b.Path(), At: bookfile.At("record", nil), Cause: err}
	case errors.Is(err, pack.ErrForm), errors.Is(err, pack.ErrSeal):
		err = bookfile.Damaged(b.Path(), err, bookfile.At("record", nil))
	}
	return err
}

// viewRaw is View of a book that may be of another format.
func (b *Book) viewRaw(fn func(*bolt.Tx) error) error {
	return b.guard(func() error { return b.file.DB.View(fn) })
}

// load reads what the book says of itself.
func (b *Book) load(tx *bolt.Tx) error {
	bk := tx.Bucket([]byte(layout.Book))
	if bk == nil {
		return bookfile.NotABook(b.Path(), "")
	}
	format, err := strconv.Atoi(string(bk.Get([]byte("format"))))
	switch {
	case err != nil || format < 1:
		return bookfile.NotABook(b.Path(), "")
	case format > newest && (format != sharedFormat || !members.IsShared(tx)):
		return &bookfile.Error{Kind: bookfile.ErrNewer, Path: b.Path(), Format: format, Newest: Format}
	case format < chained && tx.Bucket([]byte(layout.Chain)) != nil: // a disk changed its number
		return bookfile.Damaged(b.Path(), nil, bookfile.At("format", format))
	case format < newest:
		return needsUpgrade{format}
	}
	if err := pack.ReadJSON(bk.Get(layout.SettingsKey), &b.settings); err != nil {
		return bookfile.Damaged(b.Path(), err, bookfile.At("settings", nil))
	}
	b.file.Book = b.settings.ID
	if err := b.loadSite(tx); err != nil {
		return bookfile.Damaged(b.Path(), err, bookfile.At("settings", nil))
	}
	if b.file.Zone, err = time.LoadLocation(b.settings.Zone); err != nil {
		return b.noZone(err)
	}
	version, _, _ := strings.Cut(string(bk.Get([]byte("derivation"))), "-")
	made, err := strconv.Atoi(version)
	b.file.Sealed = err == nil && made >= table.SealedSince
	b.loadHarm(bk.Get(harmedKey))
	if b.file.Half {
		b.file.Note(bookfile.Finding{At: bookfile.At("page", 0), What: finding.HalfMetadata})
	}
	if is := reason.Of(b.file.Doubt); is != nil {
		b.file.Note(bookfile.Finding{At: bookfile.At("page", nil), What: is})
	}
	for _, name := range layout.Facts {
		if tx.Bucket([]byte(name)) == nil {
			return bookfile.Damaged(b.Path(), nil, bookfile.At("bucket", name))
		}
	}
	return nil
}

// noZone says why the book's time zone can't be loaded: this machine doesn't know it,
// or couldn't read it.
func (b *Book) noZone(err error) error {
	var no syscall.Errno
	if errors.As(err, &no) {
		return bookfile.Failed(b.Path(), "read", err)
	}
	return reason.Err(ZoneUnknown{b.settings.Zone})
}

// Close lets go of the book. It may be called twice.
func (b *Book) Close() error {
	if b.discard != nil {
		defer b.discard()
	}
	return b.file.Close()
}

// Path is the file the book was opened at.
func (b *Book) Path() string { return b.file.Path }

// Is says whether the file at path is the book, or the one that it's a copy of.
func (b *Book) Is(path string) bool { return b.file.Is(path) }

// Settings are what the book was told when it was made.
func (b *Book) Settings() Settings { return b.settings }

// Now is the time by the clock the book was opened with.
func (b *Book) Now() time.Time { return b.file.Now() }

// Zone is the book's own time zone.
func (b *Book) Zone() *time.Location { return b.file.Zone }

// View runs fn on the book as it is; nothing another writes shows meanwhile.
func (b *Book) View(fn func(*ReadTx) error) error {
	return b.viewRaw(func(tx *bolt.Tx) error { return fn(b.readTx(tx)) })
}

// Update runs fn and writes what it put, with all that follows, in one synced
// transaction; or, where fn or the writing fails, nothing. An fn that changes
// nothing writes nothing.
func (b *Book) Update(fn func(*WriteTx) error) error {
	if b.mode != Write {
		return &bookfile.Error{Kind: bookfile.ErrPermission, Path: b.Path(), Doing: "write"}
	}
	return b.guard(func() error {
		btx, err := b.file.DB.Begin(true)
		if err != nil {
			return bookfile.Failed(b.Path(), "write", err)
		}
		done := false
		defer func() {
			if !done {
				btx.Rollback()
			}
		}()
		t := b.writeTx(btx)
		if err := fn(t); err != nil {
			return err
		}
		if err := t.finish(); err != nil {
			return err
		}
		if !t.tab.Changed && !t.tab.Beside {
			return nil
		}
		if err := b.keepHalf(); err != nil {
			return err
		}
		done = true
		return b.commit(btx)
	})
}

// Half says whether one of the file's two copies of its metadata is damaged: what it says
// may be the older one.
func (b *Book) Half() bool { return b.file.Half }

// CopyTo copies the file to another as one reading sees it, byte for byte, lets a book that
// was opened for reading go, and syncs the copy. Errors speak of the copy as called.
func (b *Book) CopyTo(path, called string) (bytes int64, err error) {
	bytes, err = b.file.CopyTo(path, called)
	if b.mode == Read { // nobody waits while the copy is synced and proved
		err = errors.Join(err, b.Close())
	}
	if err == nil {
		err = bookfile.Failed(called, "write", bookfile.Sync(path))
	}
	return bytes, err
}

// CompactTo writes the book to another file, without its free pages.
func (b *Book) CompactTo(path string) error {
	if err := b.keepHalf(); err != nil {
		return err
	}
	return b.file.Compact(path)
}

// keepHalf keeps a copy of a file one of whose copies of the metadata is damaged, before it's
// first written to: the damaged one may be the newer, and what only it led to is free now.
func (b *Book) keepHalf() error {
	if !b.file.Half {
		return nil
	}
	kept, err := b.file.Copy(b.Path()+".one-copy-"+b.file.Now().UTC().Format("20060102")+".bak", false)
	if err == nil {
		b.file.Half = false
		b.file.Note(bookfile.Finding{At: bookfile.At("page", 0), What: finding.HalfKept{Path: kept}})
	}
	return err
}

// commit writes and syncs. Where the very last sync fails, what was written may well
// last: nobody knows.
func (b *Book) commit(tx *bolt.Tx) error {
	number := tx.ID()
	err := tx.Commit()
	if err == nil {
		return nil
	}
	if last, rerr := b.file.Tx(); rerr == nil && last == uint64(number) {
		return &bookfile.Error{Kind: bookfile.ErrUnsynced, Path: b.Path(), Doing: "write", Cause: err}
	}
	return bookfile.Failed(b.Path(), "write", err)
}
