package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// writeFile writes a file whole or not at all, synced before it is there.
func writeFile(path string, data []byte) error {
	f, done, err := newFile(path)
	if err != nil {
		return err
	}
	defer done()
	_, err = f.Write(data)
	_, err = placed(f, path, err)
	return err
}

// newFile is a file beside path to write and to put in its place; done removes
// what was not.
func newFile(path string) (f *os.File, done func(), err error) {
	f, err = os.CreateTemp(filepath.Dir(path), ".rindkeep-*")
	if err != nil {
		return nil, nil, cannotWrite(path, err)
	}
	return f, func() {
		f.Close()
		os.Remove(f.Name())
	}, nil
}

// cannotWrite is a failed write of a file in our words, other errors as they are.
func cannotWrite(path string, err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		if dir := filepath.Dir(path); !isThere(dir) {
			return at(path, fmt.Errorf("there is no folder %s", safePath(dir)))
		}
		return at(path, fmt.Errorf("cannot write %s: %s", safePath(path), plainOS(pe)))
	}
	return err
}

func isThere(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// freeToWrite refuses a file that is there.
func freeToWrite(path string, replace bool) error {
	if _, err := os.Lstat(path); err == nil && !replace {
		return at(path, hint(fmt.Errorf("there is a file at %s already", safePath(path)), "repeat with --replace to write over it"))
	}
	return nil
}

// placed syncs a file that was written under another name and puts it in its
// place. Err is what its writing came to.
func placed(f *os.File, path string, err error) (bytes int64, _ error) {
	err = errors.Join(err, f.Chmod(0o644), f.Sync())
	st, serr := f.Stat()
	if err = errors.Join(err, serr, f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return 0, at(path, fmt.Errorf("cannot write %s: %s", safePath(path), plainOS(err)))
	}
	return st.Size(), nil
}
