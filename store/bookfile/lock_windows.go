package bookfile

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// lock takes a lock on the open file, shared or exclusive. With wait it sleeps
// until it has it; without, got is false where another holds it.
func lock(f *os.File, exclusive, wait bool) (got bool, err error) {
	return lockBytes(f, 0, 1, exclusive, wait)
}

// lockBytes locks n bytes of an open file, which may be past its end, as lock does.
func lockBytes(f *os.File, from, n int64, exclusive, wait bool) (got bool, err error) {
	var how uint32
	if exclusive {
		how |= windows.LOCKFILE_EXCLUSIVE_LOCK
	}
	if !wait {
		how |= windows.LOCKFILE_FAIL_IMMEDIATELY
	}
	at := windows.Overlapped{Offset: uint32(from), OffsetHigh: uint32(from >> 32)}
	err = windows.LockFileEx(windows.Handle(f.Fd()), how, 0, uint32(n), uint32(n>>32), &at)
	switch {
	case err == nil:
		return true, nil
	case errors.Is(err, windows.ERROR_LOCK_VIOLATION), errors.Is(err, windows.ERROR_IO_PENDING):
		return false, nil
	}
	return false, err
}

func unlockByte(f *os.File, at int64) {
	_ = windows.UnlockFileEx(windows.Handle(f.Fd()), 0, 1, 0,
		&windows.Overlapped{Offset: uint32(at), OffsetHigh: uint32(at >> 32)})
}

// lockBook locks a byte of the queue's file for as long as the book is open, so that bbolt
// needn't try and try again: here a second lock on the book's own file would wait for the
// first. If there is no queue it's left to bbolt.
func (h *held) lockBook(path string, write, wait bool) (got bool, err error) {
	if h.turn == nil {
		return true, nil
	}
	if h.also == nil {
		q := queueFor(path)
		if q == nil {
			return true, nil
		}
		h.also = q.file
	}
	h.mine, err = lockBytes(h.also, inUse, 1, write, wait)
	return h.mine, err
}

// letGo closes a file and with it its lock.
func letGo(f *os.File) error { return f.Close() }

// syncFolder has nothing to do here: a rename is lasting by itself.
func syncFolder(string) error { return nil }

func spareFiles() error { return nil }

const locksFolders = false

func owner(os.FileInfo) (uid, gid int) { return -1, -1 }
