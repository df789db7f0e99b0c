package bookfile

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// locksBook is false: here a second lock on the same handle waits for the
// first, so the book's own lock is left to bbolt and only the queue is taken.
const locksBook = false

// lock takes a lock on the open file, shared or exclusive. With wait it sleeps
// until it has it; without, got is false where another holds it.
func lock(f *os.File, exclusive, wait bool) (got bool, err error) {
	var how uint32
	if exclusive {
		how |= windows.LOCKFILE_EXCLUSIVE_LOCK
	}
	if !wait {
		how |= windows.LOCKFILE_FAIL_IMMEDIATELY
	}
	err = windows.LockFileEx(windows.Handle(f.Fd()), how, 0, 1, 0, &windows.Overlapped{})
	switch {
	case err == nil:
		return true, nil
	case errors.Is(err, windows.ERROR_LOCK_VIOLATION), errors.Is(err, windows.ERROR_IO_PENDING):
		return false, nil
	}
	return false, err
}

// letGo closes a file and with it its lock.
func letGo(f *os.File) error { return f.Close() }

// syncFolder has nothing to do here: a rename is lasting by itself.
func syncFolder(string) error { return nil }

func spareFiles() error { return nil }

const locksFolders = false

func owner(os.FileInfo) (uid, gid int) { return -1, -1 }
