package main

import "syscall"

// maxRSS is in kibibytes on Linux.
func maxRSS(u *syscall.Rusage) float64 { return float64(u.Maxrss) * 1024 }
