//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package bookfile

import (
	"errors"
	"os"
	"syscall"
)

// lock takes an advisory lock on the open file, shared or exclusive. With wait
// it sleeps in the kernel until it has it; without, got is false where another
// holds it.
func lock(f *os.File, exclusive, wait bool) (got bool, err error) {
	how := syscall.LOCK_SH
	if exclusive {
		how = syscall.LOCK_EX
	}
	if !wait {
		how |= syscall.LOCK_NB
	}
	for {
		switch err := syscall.Flock(int(f.Fd()), how); {
		case err == nil:
			return true, nil
		case errors.Is(err, syscall.EINTR):
		case errors.Is(err, syscall.EWOULDBLOCK):
			return false, nil
		default:
			return false, err
		}
	}
}

// letGo unlocks and closes a file. Closing alone would leave the lock for as
// long as the file is still mapped into memory.
func letGo(f *os.File) error {
	_ = syscall.Flock(int(f.Fd()), syscall.LOCK_UN)
	return f.Close()
}

// lockBook locks the book's file before bbolt tries to: this system lets one open file be
// locked twice over.
func (h *held) lockBook(_ string, write, wait bool) (got bool, err error) {
	h.mine, err = lock(h.file, write, wait)
	return h.mine, err
}

// spareFiles says whether a few more files may be opened. Go's runtime needs two for
// itself before the first one, and ends in a trace where it doesn't get them.
func spareFiles() error {
	for range 3 {
		fd, err := syscall.Dup(2)
		if errors.Is(err, syscall.EMFILE) || errors.Is(err, syscall.ENFILE) {
			return err
		} else if err == nil {
			defer syscall.Close(fd)
		}
	}
	return nil
}

// locksFolders says that a folder can be locked as a file is.
const locksFolders = true

// owner is whose file it is; under 0 where nobody knows.
func owner(st os.FileInfo) (uid, gid int) {
	if s, ok := st.Sys().(*syscall.Stat_t); ok {
		return int(s.Uid), int(s.Gid)
	}
	return -1, -1
}

// syncFolder makes the names in a folder last.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) {
		return err
	}
	return nil
}
