package console

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"rindkeep/store/bookfile"
)

// NewFile is a file to write and to put in its place; Drop removes what was not.
type NewFile struct {
	*os.File
	*bookfile.Draft
}

// Write goes to the file.
func (f NewFile) Write(b []byte) (int, error) { return f.File.Write(b) }

// Drop removes the file where it wasn't put in its place.
func (f NewFile) Drop() {
	f.Close()
	f.Draft.Drop()
}

// Begin begins a new file at path.
func Begin(path string) (f NewFile, err error) {
	if f.Draft, err = bookfile.Beside(path); err == nil {
		if f.File, err = os.OpenFile(f.Draft.Name, os.O_WRONLY, 0); err != nil {
			f.Draft.Drop()
		}
	}
	return f, CannotWrite(path, err)
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

// Placed syncs files that were written and puts them in their places, once all of them
// are whole. Err is what their writing came to.
func Placed(err error, files ...NewFile) (bytes int64, _ error) {
	for _, f := range files {
		st, serr := f.Stat()
		if err = errors.Join(err, f.Chmod(0o644), f.Sync(), serr, f.Close()); err == nil {
			bytes += st.Size()
		}
	}
	for _, f := range files {
		if err == nil {
			err = f.Replace()
		}
		if err != nil {
			return 0, At(f.Path, fmt.Errorf("cannot write %s: %s", SafePath(f.Path), PlainOS(err)))
		}
	}
	return bytes, nil
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
	f, err := Begin(path)
	if err != nil {
		return err
	}
	defer f.Drop()
	_, err = f.Write(data)
	_, err = Placed(err, f)
	return err
}
