package bookfile

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"
)

// MustBeFree says whether there is nothing at path yet.
func MustBeFree(path string) error {
	if _, err := os.Lstat(path); err == nil {
		return Exists(path, "file")
	} else if !os.IsNotExist(err) {
		return Failed(path, "make", err)
	}
	return nil
}

// Write fills a file, makes it last, and gives its size.
func Write(path string, fill func(io.Writer) error) (int64, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	if err := fill(w); err != nil {
		return 0, err
	}
	if err := cmp.Or(w.Flush(), f.Sync()); err != nil {
		return 0, err
	}
	st, err := f.Stat()
	if err != nil {
		return 0, err
	}
	return st.Size(), f.Close()
}

// Sync makes a file last.
func Sync(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}

// CopyAsOf puts the file, as a transaction sees it, into the one at path, and gives its size.
func (f *File) CopyAsOf(tx *bolt.Tx, path string) (bytes int64, err error) {
	to, err := os.OpenFile(path, os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return 0, err
	}
	defer to.Close()
	if bytes, err = tx.WriteTo(copier{to, f.file}); err != nil {
		return 0, err
	}
	return bytes, to.Close()
}

// CopyTo is CopyAsOf as one reading sees the file. Errors speak of the copy as called.
func (f *File) CopyTo(path, called string) (bytes int64, err error) {
	err = f.Guard(func() error {
		return f.DB.View(func(tx *bolt.Tx) (err error) {
			bytes, err = f.CopyAsOf(tx, path)
			return Failed(called, "write", err)
		})
	})
	return bytes, err
}

// copier has the system copy the pages that bbolt's WriteTo reads after the two of metadata:
// four times as fast as by way of memory.
type copier struct{ to, from *os.File }

func (c copier) Write(b []byte) (int, error) { return c.to.Write(b) }

// ReadFrom copies as many bytes as r has, from where the written ones end.
func (c copier) ReadFrom(r io.Reader) (int64, error) {
	at, err := c.to.Seek(0, io.SeekCurrent)
	if err != nil {
		return 0, err
	}
	if _, err := c.from.Seek(at, io.SeekStart); err != nil {
		return 0, err
	}
	return c.to.ReadFrom(&io.LimitedReader{R: c.from, N: r.(*io.LimitedReader).N})
}

// SetAside gives the old book a second name, which says before what it was, so that
// there is a book under the first at every moment; where the disk knows no second names it is moved. The name
// is "" where there is no book.
func SetAside(path, before string, now time.Time) (string, error) {
	path = Real(path)
	if _, err := os.Lstat(path); err != nil {
		return "", nil
	}
	kept := nextFree(path + ".before-" + before + "-" + now.UTC().Format("20060102T150405Z"))
	if os.Link(path, kept) == nil {
		return kept, nil
	}
	return kept, Failed(path, "set aside", os.Rename(path, kept))
}

// nextFree is a name, or the first of its numbered fellows, that no file has.
func nextFree(stem string) string {
	name := stem
	for i := 2; ; i++ {
		if _, err := os.Lstat(name); os.IsNotExist(err) {
			return name
		}
		name = fmt.Sprintf("%s-%d", stem, i)
	}
}

// Same says whether two paths lead to one file.
func Same(a, b string) (bool, error) {
	x, err := os.Stat(a)
	if err != nil {
		return false, Failed(a, "read", err)
	}
	y, err := os.Stat(b)
	if err != nil {
		return false, Failed(b, "read", err)
	}
	return os.SameFile(x, y), nil
}

// MakeFolders makes a folder and those that it's in, where they're missing, and makes
// them last.
func MakeFolders(dir string, mode os.FileMode) error {
	var missing []string
	for at := filepath.Clean(dir); at != filepath.Dir(at); at = filepath.Dir(at) {
		if _, err := os.Stat(at); !os.IsNotExist(err) {
			break
		}
		missing = append(missing, at)
	}
	err := os.MkdirAll(dir, mode)
	for _, made := range missing {
		err = cmp.Or(err, syncFolder(filepath.Dir(made)))
	}
	return err
}

// HasFolder says whether the folder that path is in is there.
func HasFolder(path string) error {
	dir := filepath.Dir(path)
	if _, err := os.Stat(dir); os.IsNotExist(err) {
		return &Error{Kind: ErrNoFolder, Path: dir}
	}
	return nil
}

// Raw opens a file of our own making, which nobody else knows of yet.
func Raw(path string) (*bolt.DB, error) {
	return bolt.Open(path, 0o600, &bolt.Options{
		Timeout: time.Second, FreelistType: bolt.FreelistMapType, NoStatistics: true,
	})
}

// Compact writes the book to an empty file without its free pages.
func (f *File) Compact(tmp string) error {
	return Failed(f.Path, "compact", f.Guard(func() error {
		dst, err := Raw(tmp)
		if err != nil {
			return err
		}
		dst.NoSync = true // the whole of it is synced below
		err = bolt.Compact(dst, f.DB, 8<<20)
		if err == nil {
			err = dst.Sync()
		}
		if cerr := dst.Close(); err == nil {
			err = cerr
		}
		return err
	}))
}

// Copy copies the whole file, which nobody else is writing, and syncs the copy; with prove
// it proves its pages before it has its name. A file of that name is kept, and another name
// found, which it gives.
func (f *File) Copy(name string, prove bool) (string, error) {
	d, err := Beside(name)
	if err != nil {
		return "", err
	}
	defer d.Drop()
	if _, err = d.Write(func(w io.Writer) error {
		_, err := io.Copy(w, io.NewSectionReader(f.file, 0, f.size()))
		return err
	}); err != nil {
		return "", Failed(name, "write", err)
	}
	if prove {
		if err := f.provePages(d.Name); err != nil {
			return "", err
		}
	}
	for stem := d.Path; ; {
		d.Path = nextFree(stem)
		if err = d.Place(); !errors.Is(err, ErrExists) { // another copy may have taken it
			return d.Path, err
		}
	}
}

// provePages proves the pages of a copy of the file.
func (f *File) provePages(copied string) error {
	r, err := os.Open(copied)
	if err != nil {
		return Failed(copied, "read", err)
	}
	defer r.Close()
	var first error
	bad := func(fault error) { first = cmp.Or(first, fault) }
	c := File{Path: f.Path, file: r}
	if _, err := c.CheckPages(context.Background(), bad, func(int, int) {}); err != nil {
		return err
	}
	if first != nil {
		return pageError(f.Path, first)
	}
	return nil
}
