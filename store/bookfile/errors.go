package bookfile

import (
	"errors"
	"fmt"
	"io/fs"
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
	ErrUnsynced   Kind = "not-confirmed" // written, and the disk failed to say that it lasts
)

// The troubles of the machine, from which the book takes no harm.
const (
	ErrMemory      Kind = "out-of-memory"
	ErrDisk        Kind = "disk-error"
	ErrInterrupted Kind = "interrupted-by-system"
	ErrNoLocks     Kind = "no-locks" // the file system knows none
	ErrOpenFiles   Kind = "too-many-open-files"
)

// Error is the code.
func (k Kind) Error() string { return string(k) }

// Error is trouble with one file, and the reason of it: what the kind of trouble has
// to say besides its path.
type Error struct {
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

// Spot is a page, record or index of a book, by the sort of thing and its name.
type Spot struct {
	Thing reason.Thing `json:"thing"`
	Name  string       `json:"name,omitempty"`
}

// longestName is how much of a key is told, in bytes.
const longestName = 100

// FaultOf is what an error says is wrong with a record; nil where there is none.
func FaultOf(err error) reason.Reason {
	what := reason.Of(err)
	if what == nil && err != nil {
		what = PageFault{Is: "record", Message: err.Error()}
	}
	return what
}

// CalledAs lets an error about a file with a passing name speak of the one it is for.
func CalledAs(err error, passing, path string) error {
	var e *Error
	if errors.As(err, &e) && e.Path == passing {
		e.Path = path
	}
	return err
}

// At names a thing by its key, or by anything that prints.
func At(thing reason.Thing, name any) Spot {
	switch n := name.(type) {
	case nil:
		return Spot{Thing: thing}
	case []byte:
		n = n[:min(len(n), longestName)] // a disk may have made it longer
		if strings.ContainsFunc(string(n), func(r rune) bool { return r < ' ' || r > '~' }) {
			return Spot{thing, fmt.Sprintf("%x", n)}
		}
		return Spot{thing, string(n)}
	}
	return Spot{thing, fmt.Sprint(name)}
}

// Code is that of the kind.
func (e *Error) Code() string { return string(e.Kind) }

// Error is for logs and tests.
func (e *Error) Error() string {
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
func (e *Error) Unwrap() []error {
	if e.Cause == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Cause}
}

func noBook(path string) error {
	return &Error{Kind: ErrNoBook, Path: path, Cause: fs.ErrNotExist}
}

// NotABook says that something else is at path; is "" where nobody knows what.
func NotABook(path string, is reason.Thing) error {
	return &Error{Kind: ErrNotABook, Path: path, Is: is}
}

// Exists says that something is at path already that isn't written over.
func Exists(path string, is reason.Thing) error {
	return &Error{Kind: ErrExists, Path: path, Is: is, Cause: fs.ErrExist}
}

// Damaged says that a part of the book can't be trusted.
func Damaged(path string, cause error, at Spot) error {
	return &Error{Kind: ErrDamaged, Path: path, At: at, Cause: cause}
}

func busy(path string, wait time.Duration) error {
	return &Error{Kind: ErrBusy, Path: path, Waited: wait.Seconds()}
}

func cutOff(path string, size, least int64) error {
	return &Error{Kind: ErrCutOff, Path: path, Bytes: size, Least: least}
}

// Failed is what the system says of a file, nil where err is. An Error stays as it is.
func Failed(path, doing string, err error) error {
	var known *Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &known):
		return err
	case errors.Is(err, fs.ErrNotExist):
		return noBook(path)
	}
	return &Error{Kind: systemKind(err), Path: path, Doing: doing, Cause: err}
}

// systemKinds are the kinds of what the system may say of a file.
var systemKinds = map[syscall.Errno]Kind{
	syscall.EROFS: ErrPermission, syscall.ENOSPC: ErrFull, syscall.ENOMEM: ErrMemory, syscall.EIO: ErrDisk,
	syscall.EINTR: ErrInterrupted, syscall.ENOLCK: ErrNoLocks, syscall.EMFILE: ErrOpenFiles, syscall.ENFILE: ErrOpenFiles,
}

// systemKind is the kind of what the system says, ErrFile where it says nothing known.
// Some errors come as text only: a process limit on file size, and bbolt's about a
// mapping that doesn't grow.
func systemKind(err error) Kind {
	var no syscall.Errno
	switch {
	case errors.As(err, &no) && systemKinds[no] != "":
		return systemKinds[no]
	case errors.Is(err, fs.ErrPermission):
		return ErrPermission
	case diskQuota(err), strings.Contains(err.Error(), "file too large"):
		return ErrFull
	case strings.Contains(err.Error(), "cannot allocate memory"):
		return ErrMemory
	}
	return ErrFile
}

// unread is a page that the system couldn't read.
type unread struct {
	PageFault
	cause error
}

// Unwrap gives the fault and what the system said.
func (u unread) Unwrap() []error { return []error{u.PageFault, u.cause} }

// pageError is damage by what is wrong with a page, and no damage where the system
// couldn't read it.
func pageError(path string, err error) error {
	var u unread
	if errors.As(err, &u) {
		return Failed(path, "read", u.cause)
	}
	return Damaged(path, err, At("page", nil))
}

// NoMetadata is a book whose two copies of its metadata are damaged.
const NoMetadata = reason.Flat("no-copy-of-metadata")

// PageFault is what is wrong with a page of the file: a reason, and an error.
type PageFault struct {
	Is      string `json:"is"` // a code
	Page    uint64 `json:"page"`
	Other   uint64 `json:"other,omitempty"` // the page it says it is, or its element
	Message string `json:"message,omitempty"`
}

// Code implements reason.Reason.
func (PageFault) Code() string { return "page-fault" }

// Error is for logs and tests.
func (f PageFault) Error() string {
	return fmt.Sprintf("page %d %s %d %s", f.Page, f.Is, f.Other, f.Message)
}
