package bookfile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"
)

// held is a book's file, open and, with mine, locked.
type held struct {
	file *os.File
	mine bool     // nobody writes to it meanwhile
	turn *turn    // nil: no longer in the queue, or there is none
	also *os.File // what else is locked with the book; nil: nothing
	left atomic.Bool
}

func (h *held) close() {
	h.passOn()
	letGo(h.file)
	if h.also != nil {
		letGo(h.also)
	}
}

// passOn lets the next in the queue go.
func (h *held) passOn() {
	if h.turn != nil {
		h.turn.file.Close()
		h.turn = nil
	}
}

// acquire opens the file at path, which must exist, and waits its turn for the
// lock. A file that was put in the place of the one waited for is taken
// instead.
func acquire(path string, how How) (*held, error) {
	if err := enoughFiles(); err != nil {
		return nil, Failed(path, "open", err)
	}
	if !how.Alone {
		sweep(filepath.Dir(Real(path)))
	}
	wait := max(0, how.Wait)
	deadline := time.Now().Add(wait)
	for {
		h, err := acquireOnce(path, how.Write, how.Alone, wait, deadline)
		if err != nil {
			return nil, err
		}
		now, err := os.Stat(path)
		if err != nil {
			h.close()
			return nil, Failed(path, "read", err)
		}
		was, err := h.file.Stat()
		if err != nil {
			h.close()
			return nil, Failed(path, "read", err)
		}
		if os.SameFile(now, was) {
			return h, nil
		}
		h.close()
		if time.Now().After(deadline) {
			return nil, busy(path, wait)
		}
	}
}

var enoughFiles = sync.OnceValue(spareFiles)

func openBookFile(path string, write bool) (*os.File, error) {
	st, err := os.Stat(path)
	switch {
	case err != nil && errors.Is(err, fs.ErrNotExist):
		return nil, noBook(path)
	case err != nil:
		return nil, Failed(path, "read", err)
	case st.IsDir():
		return nil, NotABook(path, "folder")
	case !st.Mode().IsRegular():
		return nil, NotABook(path, "")
	case st.Size() == 0:
		return nil, NotABook(path, "empty")
	}
	flag, doing := os.O_RDONLY, "read"
	if write {
		flag, doing = os.O_RDWR, "write"
	}
	f, err := os.OpenFile(path, flag, 0)
	if err != nil {
		return nil, Failed(path, doing, err)
	}
	return f, nil
}

func acquireOnce(path string, write, alone bool, wait time.Duration, deadline time.Time) (*held, error) {
	f, err := openBookFile(path, write)
	if err != nil {
		return nil, err
	}
	h := &held{file: f}
	if !alone {
		h.turn = queueFor(path)
	}
	got, err := h.get(path, write, false)
	if err == nil && !got {
		if got, err = h.await(path, write, deadline); err == nil && !got {
			return nil, busy(path, wait)
		}
	}
	if err != nil {
		h.close()
		return nil, Failed(path, "lock", err)
	}
	h.passOn()
	return h, nil
}

// get takes a place in the queue, waits there and then for the book. Without wait got is
// false where it would have to, and get may be called again.
func (h *held) get(path string, write, wait bool) (got bool, err error) {
	if h.turn != nil {
		if got, err = h.turn.come(wait); err != nil {
			h.passOn() // no locks there (some network disks): go without
		} else if !got || h.left.Load() {
			return false, nil
		}
	}
	return h.lockBook(path, write, wait)
}

// await sleeps in the kernel for its turn and the book until the deadline. A wait that
// takes longer is left behind: it lets go of everything once it gets it.
func (h *held) await(path string, write bool, deadline time.Time) (got bool, err error) {
	done := make(chan error, 1)
	go func() {
		_, err := h.get(path, write, true)
		done <- err
	}()
	late := time.NewTimer(time.Until(deadline))
	defer late.Stop()
	select {
	case err := <-done:
		return true, err
	case <-late.C:
		h.left.Store(true)
		go func() {
			<-done
			h.close()
		}()
		return false, nil
	}
}
