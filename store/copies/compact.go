package copies

import (
	"os"

	"rindkeep/store"
	"rindkeep/store/bookfile"
)

// Compact rewrites the book at path without its free pages and puts it in
// place of the old, which nobody may be using. It gives the sizes in bytes.
func Compact(path string, o store.Options) (before, after int64, err error) {
	b, err := store.Open(path, store.Write, o)
	if err != nil {
		return 0, 0, err
	}
	defer b.Close()
	about, err := b.About()
	if err != nil {
		return 0, 0, err
	}
	before = about.Bytes
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return before, 0, err
	}
	defer tmp.Drop()
	if err := b.CompactTo(tmp.Name); err != nil {
		return before, 0, err
	}
	if err := Prove(tmp.Name, path, about.Counts); err != nil {
		return before, 0, err
	}
	st, err := os.Stat(tmp.Name)
	if err != nil {
		return before, 0, bookfile.Failed(path, "read", err)
	}
	return before, st.Size(), tmp.Replace()
}
