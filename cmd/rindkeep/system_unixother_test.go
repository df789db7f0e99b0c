//go:build unix && !linux

package main

import "syscall"

// maxRSS is in bytes on macOS.
func maxRSS(u *syscall.Rusage) float64 { return float64(u.Maxrss) }
