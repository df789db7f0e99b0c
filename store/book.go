package store

import (
	"errors"
	"os"
	"strconv"
	"time"

	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"
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

	alone bool // the file is known to nobody else: no queue
}

func (o Options) filled() Options {
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
	path     string
	mode     Mode
	opt      Options
	db       *bolt.DB
	file     *os.File
	settings Settings
	zone     *time.Location
	broken   bool
	old      bool // its index is of another version, and this machine may not make it again

	unchained bool // an import, whose chain is made at its end

	discard func() // a copy made by Aside, to be removed after it is closed
}

// Open opens the book at path, which must be there: Open never makes a file.
// A book of an older format is upgraded first, after a copy was made beside
// it; a newer one is refused. An index that another version of the program made
// is made again, for readers too. Errors are BookErrors.
func Open(path string, mode Mode, o Options) (*Book, error) {
	o = o.filled()
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
	b, err := openAny(path, mode, o)
	if err != nil {
		return nil, err
	}
	err = guard(path, &b.broken, func() error {
		return b.db.View(func(tx *bolt.Tx) error { return b.load(tx) })
	})
	if err == nil && mode == Write {
		err = b.freshen()
	}
	if err != nil {
		b.Close()
		return nil, err
	}
	return b, nil
}

// openAny opens the file as bbolt's, whatever its format.
func openAny(path string, mode Mode, o Options) (*Book, error) {
	h, err := acquire(path, mode == Write, o)
	if err != nil {
		return nil, err
	}
	b := &Book{path: path, mode: mode, opt: o, file: h.file}
	fail := func(err error) (*Book, error) {
		h.close()
		return nil, err
	}
	st, err := h.file.Stat()
	if err != nil {
		return fail(fileErr(path, "read", err))
	}
	if locksBook { // elsewhere another may be writing still
		pages, err := openPages(path, h.file, st.Size())
		if err != nil {
			return fail(err)
		}
		if err := pages.skeleton(mode == Write); err != nil {
			return fail(damaged(path, err, spot("page", nil)))
		}
	}
	err = guard(path, nil, func() (err error) {
		b.db, err = bolt.Open(path, 0o600, &bolt.Options{
			ReadOnly:     mode == Read,
			Timeout:      max(o.Wait, 50*time.Millisecond),
			FreelistType: bolt.FreelistMapType,
			NoStatistics: true,
			OpenFile:     func(string, int, os.FileMode) (*os.File, error) { return h.file, nil },
		})
		return err
	})
	if err != nil {
		if errors.Is(err, berrors.ErrTimeout) {
			err = busy(path, o.Wait)
		}
		return fail(openErr(path, err))
	}
	h.passOn()
	return b, nil
}

func openErr(path string, err error) error {
	var be *BookError
	if errors.As(err, &be) {
		return err
	}
	if full(err) {
		return fileErr(path, "open", err)
	}
	return damaged(path, err, spot("page", 0))
}

// load reads what the book says of itself.
func (b *Book) load(tx *bolt.Tx) error {
	bk := tx.Bucket([]byte(bBook))
	if bk == nil {
		return notABook(b.path, "")
	}
	format, err := strconv.Atoi(string(bk.Get([]byte("format"))))
	switch {
	case err != nil || format < 1:
		return notABook(b.path, "")
	case format > newest:
		return &BookError{Kind: ErrNewer, Path: b.path, Format: format, Newest: Format}
	case format < newest:
		return needsUpgrade{format}
	}
	if err := decodeJSON(bk.Get(settingsKey), &b.settings); err != nil {
		return damaged(b.path, err, spot("settings", nil))
	}
	if b.zone, err = time.LoadLocation(b.settings.Zone); err != nil {
		return damaged(b.path, err, spot("zone", b.settings.Zone))
	}
	buckets := factBuckets
	if b.mode == Read {
		buckets = append(append([]string(nil), factBuckets...), derivedBuckets...)
	}
	for _, name := range buckets {
		if tx.Bucket([]byte(name)) == nil {
			return damaged(b.path, nil, spot("bucket", name))
		}
	}
	return nil
}

// Close lets go of the book. It may be called twice.
func (b *Book) Close() error {
	if b.db == nil {
		return nil
	}
	db := b.db
	b.db = nil
	if b.discard != nil {
		defer b.discard()
	}
	if b.broken {
		// bbolt may hold locks of its own from where it broke off; the file
		// is let go without it.
		return letGo(b.file)
	}
	return guard(b.path, &b.broken, db.Close)
}

// Path is the file the book was opened at.
func (b *Book) Path() string { return b.path }

// Settings are what the book was told when it was made.
func (b *Book) Settings() Settings { return b.settings }

// Zone is the book's own time zone.
func (b *Book) Zone() *time.Location { return b.zone }

// View runs fn on the book as it is; nothing another writes shows meanwhile.
func (b *Book) View(fn func(*ReadTx) error) error {
	return guard(b.path, &b.broken, func() error {
		return b.db.View(func(tx *bolt.Tx) error { return fn(b.readTx(tx)) })
	})
}

// Update runs fn and writes what it put, with all that follows, in one synced
// transaction; or, where fn or the writing fails, nothing. An fn that changes
// nothing writes nothing.
func (b *Book) Update(fn func(*WriteTx) error) error {
	if b.mode != Write {
		return &BookError{Kind: ErrPermission, Path: b.path, Doing: "write"}
	}
	return guard(b.path, &b.broken, func() error {
		btx, err := b.db.Begin(true)
		if err != nil {
			return fileErr(b.path, "write", err)
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
		if !t.changed {
			return nil
		}
		done = true
		if err := btx.Commit(); err != nil {
			return fileErr(b.path, "write", err)
		}
		return nil
	})
}
