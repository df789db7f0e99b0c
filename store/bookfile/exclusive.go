package bookfile

import "os"

// Exclusive runs fn while no other process that names the same file does so. The
// lock is a file beside it, which stays; what fn reads and writes is not touched
// here, and need not be there.
func Exclusive(path string, fn func() error) error {
	f, err := os.OpenFile(path+".lock", os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return Failed(path, "write", err)
	}
	defer letGo(f)
	if _, err := lock(f, true, true); err != nil {
		return Failed(path, "lock", err)
	}
	return fn()
}
