//go:build unix

package store

import (
	"os"
	"syscall"
)

// asNobody runs a child as the user nobody.
func asNobody() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
}

// limitFiles keeps this process from letting a file grow more than a little
// past the size of the one at path: a disk that is nearly full.
func limitFiles(path string, more uint64) error {
	st, err := os.Stat(path)
	if err != nil {
		return err
	}
	var l syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &l); err != nil {
		return err
	}
	l.Cur = uint64(st.Size()) + more
	return syscall.Setrlimit(syscall.RLIMIT_FSIZE, &l)
}
