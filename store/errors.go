package store

import (
	"errors"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
	"syscall"
	"time"
	"unicode"
)

// The kinds of trouble with a book, for errors.Is. The error itself is a
// *BookError with the path in its sentence.
var (
	ErrNoBook     = errors.New("no book there")
	ErrNotABook   = errors.New("not a book")
	ErrCutOff     = errors.New("the book is cut off")
	ErrNewer      = errors.New("the book is newer than this program")
	ErrPermission = errors.New("no permission")
	ErrBusy       = errors.New("the book is in use")
	ErrDamaged    = errors.New("the book is damaged")
	ErrFull       = errors.New("the disk is full")
	ErrExists     = errors.New("there is a book already")
	ErrStale      = errors.New("the index is of another version")
)

// BookError is trouble with one book file: Kind is one of the Err values, Path
// the file, and Error the whole sentence. Cause is what lay below, or nil.
type BookError struct {
	Kind     error
	Path     string
	Sentence string
	Cause    error
}

// Error gives the sentence, which names the file.
func (e *BookError) Error() string { return e.Sentence }

// Unwrap gives the kind and the cause.
func (e *BookError) Unwrap() []error {
	if e.Cause == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Cause}
}

func bookErr(kind error, path string, cause error, format string, args ...any) error {
	return &BookError{Kind: kind, Path: path, Cause: cause, Sentence: fmt.Sprintf(format, args...)}
}

// show makes a path fit to print: as it is, or quoted where it holds what does
// not print.
func show(path string) string {
	if strings.ContainsFunc(path, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return strconv.Quote(path)
	}
	return path
}

func noBook(path string) error {
	return bookErr(ErrNoBook, path, fs.ErrNotExist, "no book at %s", show(path))
}

func notABook(path string) error {
	return bookErr(ErrNotABook, path, nil, "%s is not a rindkeep book", show(path))
}

func damaged(path string, cause error, where string) error {
	return bookErr(ErrDamaged, path, cause, "%s is damaged at %s", show(path), where)
}

func busy(path string, wait time.Duration) error {
	return bookErr(ErrBusy, path, nil, "%s is in use by another rindkeep (waited %s)", show(path), seconds(wait))
}

func seconds(d time.Duration) string {
	return strconv.FormatFloat(d.Seconds(), 'g', 3, 64) + " s"
}

func newer(path string, format int) error {
	return bookErr(ErrNewer, path, nil, "%s was written by a newer rindkeep (format %d; this one reads up to %d)",
		show(path), format, Format)
}

// fileErr turns what the system says of a file into a sentence.
func fileErr(path, doing string, err error) error {
	var be *BookError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &be):
		return err
	case errors.Is(err, fs.ErrNotExist):
		return noBook(path)
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return bookErr(ErrPermission, path, err, "no permission to %s %s", doing, show(path))
	case full(err):
		return bookErr(ErrFull, path, err, "no room left on the disk for %s", show(path))
	}
	reason := err.Error()
	var pe *fs.PathError
	if errors.As(err, &pe) {
		reason = pe.Err.Error()
	}
	return fmt.Errorf("cannot %s %s: %s", doing, show(path), reason)
}

// full says whether the system ran out of room for the file. A process limit
// on file size comes back as text only.
func full(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || diskQuota(err) || strings.Contains(err.Error(), "file too large")
}

// NotFound says that the book has no such thing. Near are names it does have
// that may have been meant, nearest first.
type NotFound struct {
	Thing string // wheel, lot, room, plan, variety, entry
	Name  string
	Near  []string
}

// Error says what is missing: `no wheel tagged "261120A-30"`.
func (e NotFound) Error() string {
	name := e.Name
	if len(name) > 80 {
		name = name[:80] + "..."
	}
	switch e.Thing {
	case "wheel":
		return fmt.Sprintf("no wheel tagged %q", name)
	case "room":
		return fmt.Sprintf("no room named %q", name)
	}
	return fmt.Sprintf("no %s %q", e.Thing, name)
}

// Refused is a fact the book will not take, and why. Subject is the tag, lot
// or name of what it is about, "" where the sentence says it all. Index is the
// place of the entry, wheel or reading in the list that was given, from 0. Field
// is the part of an entry that is wrong, as the columns of a table are named; ""
// where no part is.
type Refused struct {
	Subject string
	Why     string
	Index   int
	Field   string
	Cause   error
}

// Error gives one sentence: `261120A-03: that weight is from before the make`.
func (e Refused) Error() string {
	if e.Subject == "" {
		return e.Why
	}
	return e.Subject + ": " + e.Why
}

// Unwrap gives what lay below, such as a NotFound.
func (e Refused) Unwrap() error { return e.Cause }

func refusedf(subject, format string, args ...any) error {
	return Refused{Subject: subject, Why: fmt.Sprintf(format, args...)}
}
