//go:build darwin || linux

package bookfile

import (
	"errors"
	"os"
	"runtime"
	"syscall"
)

// setLock and setLockWait are F_OFD_SETLK and F_OFD_SETLKW of fcntl(2), which package
// syscall lacks: locks of some bytes that belong to an open file, not to a process.
var setLock, setLockWait = 37, 38

func init() {
	if runtime.GOOS == "darwin" {
		setLock, setLockWait = 90, 91
	}
}

// lockBytes locks n bytes of an open file, which may be past its end, as lock locks all.
func lockBytes(f *os.File, from, n int64, exclusive, wait bool) (got bool, err error) {
	l := syscall.Flock_t{Type: syscall.F_RDLCK, Start: from, Len: n}
	if exclusive {
		l.Type = syscall.F_WRLCK
	}
	cmd := setLock
	if wait {
		cmd = setLockWait
	}
	for {
		switch err := syscall.FcntlFlock(f.Fd(), cmd, &l); {
		case err == nil:
			return true, nil
		case errors.Is(err, syscall.EINTR):
		case errors.Is(err, syscall.EAGAIN), errors.Is(err, syscall.EACCES):
			return false, nil
		default:
			return false, err
		}
	}
}

func unlockByte(f *os.File, at int64) {
	_ = syscall.FcntlFlock(f.Fd(), setLock, &syscall.Flock_t{Type: syscall.F_UNLCK, Start: at, Len: 1})
}
