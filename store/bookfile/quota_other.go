//go:build !unix

package bookfile

import (
	"errors"
	"syscall"
)

// diskQuota says whether err is a full disk by the system's own number: 39 and
// 112 are ERROR_HANDLE_DISK_FULL and ERROR_DISK_FULL.
func diskQuota(err error) bool {
	return errors.Is(err, syscall.Errno(39)) || errors.Is(err, syscall.Errno(112))
}
