//go:build !windows && !darwin && !linux

package bookfile

import (
	"errors"
	"os"
)

func lockBytes(*os.File, int64, int64, bool, bool) (bool, error) { return false, errors.ErrUnsupported }

func unlockByte(*os.File, int64) {}
