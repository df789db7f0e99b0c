package bookfile

import "syscall"

// Shed gives back the memory of the book's pages that were read, which the system counts as
// the program's until then. They're read again where they're needed. It's for use within a
// transaction, while bbolt doesn't map the file elsewhere.
func (f *File) Shed() {
	if at := f.DB.Info().Data; f.mapped > 0 {
		_, _, _ = syscall.Syscall(syscall.SYS_MADVISE, at, f.mapped, syscall.MADV_DONTNEED)
	}
}
