// Package bookfile keeps a book's file: who may open it and when, what is wrong with
// it, whether its pages are whole, and how copies of it are put in place. It knows
// nothing of what a book holds.
package bookfile

import (
	"context"
	"errors"
	"os"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"
)

// File is a book's file, open and locked. What is done with DB is done within Guard.
type File struct {
	Path  string // as it is called in errors
	DB    *bolt.DB
	Half  bool  // one of the two copies of its metadata is damaged: the other may be the older one
	Doubt error // a page in use may hold what stood there once; nil: none

	file   *os.File
	also   *os.File // locked with it; nil: nothing
	mapped uintptr  // bytes of the file that are in memory for sure
	broken bool
}

// How says how a file is opened.
type How struct {
	Write bool
	Wait  time.Duration // for others; under 0: one try
	Alone bool          // the file is known to nobody else: no queue
}

// Open opens the file at path, which must be there, as bbolt's. Its first pages are
// proved before. The error is an Error.
func Open(path string, how How) (*File, error) {
	h, err := acquire(path, how)
	if err != nil {
		return nil, err
	}
	f := &File{Path: path, file: h.file, also: h.also}
	fail := func(err error) (*File, error) {
		h.close()
		return nil, err
	}
	if h.mine { // else another may be writing still
		p, err := f.pages()
		if err != nil {
			return fail(err)
		}
		f.Half = p.half
		if err := f.prove(p, how.Write); err != nil {
			return fail(pageError(path, err))
		}
	}
	err = f.Guard(func() (err error) {
		f.DB, err = bolt.Open(path, 0o600, &bolt.Options{
			ReadOnly:     !how.Write,
			Timeout:      max(how.Wait, 50*time.Millisecond),
			FreelistType: bolt.FreelistMapType,
			NoStatistics: true,
			OpenFile:     func(string, int, os.FileMode) (*os.File, error) { return h.file, nil },
		})
		return err
	})
	var known *Error
	switch {
	case err == nil:
		f.mapped = uintptr(f.size())
		return f, nil
	case errors.Is(err, berrors.ErrTimeout):
		return fail(busy(path, how.Wait))
	case errors.As(err, &known):
		return fail(err)
	case errors.Is(err, berrors.ErrInvalid), errors.Is(err, berrors.ErrChecksum),
		errors.Is(err, berrors.ErrVersionMismatch):
		if h.mine { // these pages were sound a moment ago: bbolt couldn't read them
			return fail(&Error{Kind: ErrDisk, Path: path, Doing: "read", Cause: err})
		}
		return fail(Damaged(path, err, At("page", 0)))
	}
	return fail(Failed(path, "open", err))
}

// mostClosing is how long bbolt gets to close a broken book.
const mostClosing = 100 * time.Millisecond

// proof is a file as it was when its skeleton was proved.
type proof struct {
	of    os.FileInfo
	tx    uint64
	used  []uint64 // its pages in use
	doubt error
}

// lastProof is the newest: who opens a book again and again proves it once for each change.
var lastProof atomic.Pointer[proof]

// settled is for how long nothing may have been written to a file that is taken as proved:
// file systems note times only to some milliseconds. Our choice.
const settled = 100 * time.Millisecond

// prove proves a file's skeleton, unless this process did so before and nobody wrote to it
// since; for writing, its free pages too.
func (f *File) prove(p *pageFile, write bool) error {
	now, err := f.file.Stat()
	if err != nil {
		return err
	}
	l := lastProof.Load()
	if l == nil || l.tx != p.m.tx || !os.SameFile(l.of, now) || !l.of.ModTime().Equal(now.ModTime()) ||
		l.of.Size() != now.Size() {
		l = &proof{of: now, tx: p.m.tx}
		if l.used, err = p.skeleton(); err != nil {
			return err
		}
		l.doubt = p.doubt(l.used)
		if time.Since(now.ModTime()) > settled {
			lastProof.Store(l)
		}
	}
	if f.Doubt = l.doubt; write {
		return p.freeOf(l.used)
	}
	return nil
}

// Close lets go of the file. It may be called twice.
func (f *File) Close() error {
	db := f.DB
	if f.DB = nil; db == nil {
		return nil
	}
	if f.also != nil {
		defer letGo(f.also)
	}
	if f.broken {
		// bbolt may hold locks of its own from where it broke off, and would wait for
		// itself. Usually it doesn't; what it mapped into memory stays until it's closed.
		closed := make(chan struct{})
		go func() {
			defer close(closed)
			_ = db.Close()
		}()
		select {
		case <-closed:
		case <-time.After(mostClosing):
		}
		_ = letGo(f.file)
		return nil
	}
	return f.Guard(func() error {
		_ = db.Close() // all that was written was synced with its transaction
		return nil
	})
}

// Is says whether the file at path is this one, or the one it's a copy of.
func (f *File) Is(path string) bool {
	there, err := os.Stat(path)
	own, oerr := f.file.Stat()
	copied, _ := Same(f.Path, path)
	return copied || err == nil && oerr == nil && os.SameFile(there, own)
}

func (f *File) size() int64 {
	st, err := f.file.Stat()
	if err != nil {
		return 0
	}
	return st.Size()
}

func (f *File) pages() (*pageFile, error) {
	st, err := f.file.Stat()
	if err != nil {
		return nil, Failed(f.Path, "read", err)
	}
	return openPages(f.Path, f.file, st.Size())
}

// Tx is the number of the last transaction in the file.
func (f *File) Tx() (uint64, error) {
	p, err := f.pages()
	if err != nil {
		return 0, err
	}
	return p.m.tx, nil
}

// Sizes are how many bytes the file has, and how many of them hold nothing.
func (f *File) Sizes() (all, free int64, err error) {
	p, err := f.pages()
	if err != nil {
		return 0, 0, err
	}
	ids, _, err := p.freePages()
	if err != nil {
		return 0, 0, pageError(f.Path, err)
	}
	return p.size, int64(len(ids))*p.m.pageSize + max(0, p.size-p.m.bytes()), nil
}

// CheckPages proves every page and gives bad what is wrong; half says whether one of
// the two copies of the metadata is damaged. tell is told the pages done, of all. The
// error is a context that ended, or a file that can't be read.
func (f *File) CheckPages(ctx context.Context, bad func(error), tell func(done, total int)) (half bool, err error) {
	p, err := f.pages()
	if err != nil {
		return false, err
	}
	return p.half, p.walkAll(ctx, bad, func(n int) { tell(n, int(p.m.high)) })
}
