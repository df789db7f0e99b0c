package console

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// NewFile is a file beside path to write and to put in its place; done removes what was not.
func NewFile(path string) (f *os.File, done func(), err error) {
	f, err = os.CreateTemp(filepath.Dir(path), ".rindkeep-*")
	if err != nil {
		return nil, nil, CannotWrite(path, err)
	}
	return f, func() {
		f.Close()
		os.Remove(f.Name())
	}, nil
}

// CannotWrite is a failed write of a file in our words, other errors as they are.
func CannotWrite(path string, err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		if dir := filepath.Dir(path); !isThere(dir) {
			return At(path, fmt.Errorf("there is no folder %s", SafePath(dir)))
		}
		return At(path, fmt.Errorf("cannot write %s: %s", SafePath(path), PlainOS(pe)))
	}
	return err
}

func isThere(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// FreeToWrite refuses a file that is there.
func FreeToWrite(path string, replace bool) error {
	if _, err := os.Lstat(path); err == nil && !replace {
		there := fmt.Errorf("%s is there already; nothing was written", SafePath(path))
		return At(path, Hint(there, "repeat with --replace to write over it, or name another file"))
	}
	return nil
}

// Placed syncs a file that was written under another name and puts it in its
// place. Err is what its writing came to.
func Placed(f *os.File, path string, err error) (bytes int64, _ error) {
	err = errors.Join(err, f.Chmod(0o644), f.Sync())
	st, serr := f.Stat()
	if err = errors.Join(err, serr, f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return 0, At(path, fmt.Errorf("cannot write %s: %s", SafePath(path), PlainOS(err)))
	}
	return st.Size(), nil
}

// mayReplace refuses to write over a file that does not begin as what is to be written would: it is something else.
func mayReplace(path, begins string) error {
	st, err := os.Stat(path)
	if err != nil {
		return nil
	}
	if !st.Mode().IsRegular() {
		return somethingElse(path)
	}
	f, err := os.Open(path)
	if err != nil {
		return CannotWrite(path, err)
	}
	defer f.Close()
	head := make([]byte, len(begins))
	n, _ := io.ReadFull(f, head)
	if n > 0 && string(head[:n]) != begins {
		return somethingElse(path)
	}
	return nil
}

// WriteOver writes a file whole or not at all. With replace it takes the place of one
// that begins in the same way; any other file is left alone.
func WriteOver(path string, data []byte, begins string, replace bool) error {
	if err := FreeToWrite(path, replace); err != nil {
		return err
	}
	if err := mayReplace(path, begins); err != nil {
		return err
	}
	f, done, err := NewFile(path)
	if err != nil {
		return err
	}
	defer done()
	_, err = f.Write(data)
	_, err = Placed(f, path, err)
	return err
}
