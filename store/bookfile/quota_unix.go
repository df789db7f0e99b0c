//go:build unix

package bookfile

import (
	"errors"
	"syscall"
)

// diskQuota says whether err is a user's share of the disk run out, or a limit
// on the size of files.
func diskQuota(err error) bool {
	return errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EFBIG)
}
