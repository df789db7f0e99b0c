package bookfile

// Revision is a number that changes with everything written to the book at
// path, by whatever process. It is read from the file's first pages without a
// lock and without opening the book, so it may be asked for often.
func Revision(path string) (uint64, error) {
	f, err := openBookFile(path, false)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return 0, Failed(path, "read", err)
	}
	// One of the two copies is whole, even while the other is being written.
	p, err := openPages(path, f, st.Size())
	if err != nil {
		return 0, err
	}
	return p.m.tx, nil
}
