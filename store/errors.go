package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"syscall"
	"time"

	"rindkeep/cave/reason"
)

// Kind is a kind of trouble with a file, for errors.Is, and its code.
type Kind string

// The kinds of trouble with a book.
const (
	ErrNoBook     Kind = "no-book"
	ErrNotABook   Kind = "not-a-book"
	ErrCutOff     Kind = "book-cut-off"
	ErrNewer      Kind = "book-newer" // than this program
	ErrPermission Kind = "no-permission"
	ErrBusy       Kind = "book-in-use"
	ErrDamaged    Kind = "book-damaged"
	ErrFull       Kind = "disk-full"
	ErrExists     Kind = "file-exists"
	ErrStale      Kind = "index-of-another-version"
	ErrNoFolder   Kind = "no-folder"
	ErrSameFile   Kind = "same-file" // the book, where another file is wanted
	ErrFile       Kind = "file-trouble"
)

// Error is the code.
func (k Kind) Error() string { return string(k) }

// BookError is trouble with one file, and the reason of it: what the kind of trouble
// has to say besides its path.
type BookError struct {
	Kind   Kind         `json:"-"`
	Path   string       `json:"path"`
	Doing  string       `json:"doing,omitempty"`   // what failed: read, write, make, lock
	Is     reason.Thing `json:"is,omitempty"`      // what is there in the place of a book
	At     Spot         `json:"at,omitzero"`       // what is damaged
	Bytes  int64        `json:"bytes,omitempty"`   // of a file that is cut off,
	Least  int64        `json:"least,omitempty"`   // and how many it should have
	Format int          `json:"format,omitempty"`  // of a newer book,
	Newest int          `json:"newest,omitempty"`  // and the newest this program reads
	Waited float64      `json:"waited_s,omitzero"` // for others
	Cause  error        `json:"-"`                 // what lay below, or nil
}

// Spot is a page, record or index of the book, by the sort of thing and its name.
type Spot struct {
	Thing reason.Thing `json:"thing"`
	Name  string       `json:"name,omitempty"`
}

// spot names a thing by its key, or by anything that prints.
func spot(thing reason.Thing, name any) Spot {
	switch n := name.(type) {
	case nil:
		return Spot{Thing: thing}
	case []byte:
		if strings.ContainsFunc(string(n), func(r rune) bool { return r < ' ' || r > '~' }) {
			return Spot{thing, fmt.Sprintf("%x", n)}
		}
		return Spot{thing, string(n)}
	}
	return Spot{thing, fmt.Sprint(name)}
}

// Code is that of the kind.
func (e *BookError) Code() string { return string(e.Kind) }

// Error is for logs and tests.
func (e *BookError) Error() string {
	s := string(e.Kind) + " " + strconv.Quote(e.Path)
	for _, x := range []string{e.Doing, string(e.Is), string(e.At.Thing), e.At.Name} {
		if x != "" {
			s += " " + x
		}
	}
	if e.Least > 0 {
		s += fmt.Sprintf(" (%d of %d bytes)", e.Bytes, e.Least)
	}
	if e.Newest > 0 {
		s += fmt.Sprintf(" (format %d, newest %d)", e.Format, e.Newest)
	}
	if e.Waited > 0 {
		s += fmt.Sprintf(" (waited %g s)", e.Waited)
	}
	if e.Cause != nil {
		s += ": " + e.Cause.Error()
	}
	return s
}

// Unwrap gives the kind and the cause.
func (e *BookError) Unwrap() []error {
	if e.Cause == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Cause}
}

func noBook(path string) error {
	return &BookError{Kind: ErrNoBook, Path: path, Cause: fs.ErrNotExist}
}

func notABook(path string, is reason.Thing) error {
	return &BookError{Kind: ErrNotABook, Path: path, Is: is}
}

func exists(path string, is reason.Thing) error {
	return &BookError{Kind: ErrExists, Path: path, Is: is, Cause: fs.ErrExist}
}

func damaged(path string, cause error, at Spot) error {
	return &BookError{Kind: ErrDamaged, Path: path, At: at, Cause: cause}
}

func busy(path string, wait time.Duration) error {
	return &BookError{Kind: ErrBusy, Path: path, Waited: wait.Seconds()}
}

// fileErr is what the system says of a file.
func fileErr(path, doing string, err error) error {
	var be *BookError
	kind := ErrFile
	switch {
	case err == nil:
		return nil
	case errors.As(err, &be):
		return err
	case errors.Is(err, fs.ErrNotExist):
		return noBook(path)
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		kind = ErrPermission
	case full(err):
		kind = ErrFull
	}
	return &BookError{Kind: kind, Path: path, Doing: doing, Cause: err}
}

func isFolder(path string) bool {
	st, err := os.Stat(path)
	return !os.IsNotExist(err) && (err != nil || st.IsDir())
}

// full says whether the system ran out of room for the file. A process limit
// on file size comes back as text only.
func full(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || diskQuota(err) || strings.Contains(err.Error(), "file too large")
}

// NotFound says that the book has no such thing. Near are names it does have
// that may have been meant, nearest first. It is a reason itself.
type NotFound struct {
	Thing string   `json:"thing"` // wheel, lot, room, plan, variety, entry
	Name  string   `json:"name"`
	Near  []string `json:"near,omitempty"`
}

// Code implements reason.Reason.
func (NotFound) Code() string { return "not-found" }

// Error is for logs and tests.
func (e NotFound) Error() string {
	return fmt.Sprintf("not-found %s %q", e.Thing, e.Name[:min(80, len(e.Name))])
}

// Refused is a fact the book will not take. Cause says why: a reason, or an error
// that holds one. Subject is the tag, lot or name of what it is about, "" where the
// reason says it all. Index is the place of the entry, wheel or reading in the list
// that was given, from 0. Field is the part of an entry that is wrong, as the columns
// of a table are named; "" where no part is.
type Refused struct {
	Subject string
	Index   int
	Field   string
	Cause   error
}

// Error is for logs and tests.
func (e Refused) Error() string {
	if e.Subject == "" {
		return e.Cause.Error()
	}
	return e.Subject + ": " + e.Cause.Error()
}

// Unwrap gives why.
func (e Refused) Unwrap() error { return e.Cause }

func refuse(subject string, why reason.Reason) error {
	return Refused{Subject: subject, Cause: because{why}}
}

// RefusalsOf lists what an error of Put or AddWheels refused, in the order it
// was given; none where the error is of another sort.
func RefusalsOf(err error) []Refused {
	var many Refusals
	if errors.As(err, &many) {
		return many
	}
	var one Refused
	if errors.As(err, &one) {
		return []Refused{one}
	}
	return nil
}
