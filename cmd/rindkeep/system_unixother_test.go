//go:build unix && !linux

package main

import (
	"syscall"
	"time"
)

// maxRSS is in bytes on macOS.
func maxRSS(u *syscall.Rusage) float64 { return float64(u.Maxrss) }

// cpuOf isn't known here.
func cpuOf(int) time.Duration { return 0 }
