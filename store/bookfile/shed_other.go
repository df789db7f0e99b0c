//go:build !linux

package bookfile

// Shed does nothing: this system doesn't count what was read as the program's memory, or gives
// it back by itself.
func (f *File) Shed() {}
