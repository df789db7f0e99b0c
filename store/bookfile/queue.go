package bookfile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// The book's file is locked as a whole: by many readers or by one writer.
// Taken by itself that lock starves a process that sleeps between tries, so there is
// a turnstile before it: a small file beside the book, held by the one process
// that is next and let go as soon as it holds the book. Readers pass it too,
// or readers that come back to back would keep a writer out for ever.

// queueName is the turnstile's file beside the book.
func queueName(path string) string {
	dir, name := filepath.Split(Real(path))
	return filepath.Join(dir, "."+name+".queue")
}

// openQueue opens the turnstile, made on first use. In a folder that cannot be
// written it may not exist: nil then, and the reader goes without.
func openQueue(path string) *os.File {
	name := queueName(path)
	if f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o666); err == nil {
		return f
	}
	if f, err := os.Open(name); err == nil {
		return f
	}
	return nil
}

// held is a book's file, open and, where locksBook, locked. turn is the
// turnstile where it must be kept until bbolt has locked the file.
type held struct {
	file *os.File
	turn *os.File
}

func (h held) close() {
	h.passOn()
	if h.file != nil {
		letGo(h.file)
	}
}

// passOn lets the next in the queue go.
func (h *held) passOn() {
	if h.turn != nil {
		h.turn.Close()
		h.turn = nil
	}
}

// acquire opens the file at path, which must exist, and waits its turn for the
// lock. A file that was put in the place of the one waited for is taken
// instead.
func acquire(path string, how How) (held, error) {
	if !how.Alone {
		sweep(filepath.Dir(Real(path)))
	}
	wait := max(0, how.Wait)
	deadline := time.Now().Add(wait)
	for {
		h, err := acquireOnce(path, how.Write, how.Alone, wait, deadline)
		if err != nil {
			return held{}, err
		}
		now, err := os.Stat(path)
		if err != nil {
			h.close()
			return held{}, Failed(path, "read", err)
		}
		was, err := h.file.Stat()
		if err != nil {
			h.close()
			return held{}, Failed(path, "read", err)
		}
		if os.SameFile(now, was) {
			return h, nil
		}
		h.close()
		if time.Now().After(deadline) {
			return held{}, busy(path, wait)
		}
	}
}

var enoughFiles = sync.OnceValue(spareFiles)

func openBookFile(path string, write bool) (*os.File, error) {
	if err := enoughFiles(); err != nil {
		return nil, Failed(path, "open", err)
	}
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

func acquireOnce(path string, write, alone bool, wait time.Duration, deadline time.Time) (held, error) {
	f, err := openBookFile(path, write)
	if err != nil {
		return held{}, err
	}
	h := held{file: f}
	if !alone {
		h.turn = openQueue(path)
	}
	mine := h.turn == nil
	if !mine {
		if mine, err = lock(h.turn, true, false); err != nil {
			h.passOn() // no locks there (some network disks): go without
			mine = true
		}
	}
	if mine {
		if !locksBook {
			return h, nil
		}
		got, err := lock(f, write, false)
		if err != nil {
			h.close()
			return held{}, Failed(path, "lock", err)
		}
		if got {
			h.passOn()
			return h, nil
		}
	}
	return h.await(path, write, mine, wait, deadline)
}

// await sleeps in the kernel for the turnstile, then for the book. A wait that
// takes too long is left behind: it lets go of everything once it gets it.
func (h held) await(path string, write, mine bool, wait time.Duration, deadline time.Time) (held, error) {
	var mu sync.Mutex
	left := false
	done := make(chan error, 1)
	go func() {
		var err error
		if !mine {
			_, err = lock(h.turn, true, true)
		}
		if err == nil && locksBook {
			mu.Lock()
			gone := left
			mu.Unlock()
			if !gone {
				_, err = lock(h.file, write, true)
			}
		}
		mu.Lock()
		defer mu.Unlock()
		if left {
			h.close()
			return
		}
		done <- err
	}()
	late := time.NewTimer(time.Until(deadline))
	defer late.Stop()
	select {
	case err := <-done:
		if err != nil {
			h.close()
			return held{}, Failed(path, "lock", err)
		}
	case <-late.C:
		mu.Lock()
		defer mu.Unlock()
		select {
		case err := <-done: // just in time
			if err != nil {
				h.close()
				return held{}, Failed(path, "lock", err)
			}
		default:
			left = true
			return held{}, busy(path, wait)
		}
	}
	if locksBook {
		h.passOn()
	}
	return h, nil
}
