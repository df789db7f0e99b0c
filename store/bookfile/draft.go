package bookfile

import (
	"io"
	"os"
	"path/filepath"
	"strings"
)

// Draft is a file in the making. It's written whole and synced before it takes its
// name, so that nobody ever finds half of it there.
type Draft struct {
	Name string // the file to write, empty at first
	Path string // the name it will have; of a link, the file that it leads to

	folder *os.File // a hidden folder that holds the file alone, locked while the draft is needed
}

// draftPrefix begins the hidden folders of drafts.
const draftPrefix = ".rindkeep-new-"

// Beside begins a draft on the same disk as path, so that a rename puts it in place in
// one step. Drop ends it.
func Beside(path string) (*Draft, error) {
	if err := enoughFiles(); err != nil {
		return nil, Failed(path, "make", err)
	}
	d := &Draft{Path: Real(path)}
	sweep(filepath.Dir(d.Path))
	for {
		name, err := os.MkdirTemp(filepath.Dir(d.Path), draftPrefix+"*")
		switch {
		case os.IsNotExist(err):
			return nil, &Error{Kind: ErrNoFolder, Path: filepath.Dir(path), Cause: err}
		case err != nil:
			return nil, Failed(path, "make", err)
		}
		d.Name = filepath.Join(name, "new")
		if d.folder, err = os.Open(name); err == nil {
			_, _ = lock(d.folder, true, true) // without locks nobody sweeps
			err = os.WriteFile(d.Name, nil, 0o600)
		}
		switch {
		case err == nil:
			return d, nil
		case !os.IsNotExist(err): // else it was swept before it was locked
			d.Drop()
			return nil, Failed(path, "make", err)
		}
		d.Drop()
	}
}

// Drop removes what has not taken its name.
func (d *Draft) Drop() {
	_ = os.RemoveAll(filepath.Dir(d.Name))
	if d.folder != nil {
		_ = letGo(d.folder)
	}
}

// sweep removes the drafts in a folder that nobody holds: those of killed commands.
func sweep(folder string) {
	f, err := os.Open(folder)
	if err != nil {
		return
	}
	defer f.Close()
	names, _ := f.Readdirnames(-1)
	for _, name := range names {
		if !strings.HasPrefix(name, draftPrefix) {
			continue
		}
		name = filepath.Join(folder, name)
		held, err := os.Open(name)
		if err != nil {
			continue
		}
		if got, err := lock(held, true, false); got && err == nil && locksFolders {
			_ = os.RemoveAll(name)
		}
		_ = letGo(held)
	}
}

// Write fills the draft, makes it last, and gives its size.
func (d *Draft) Write(fill func(io.Writer) error) (int64, error) { return Write(d.Name, fill) }

// Place gives the finished draft its name, unless another file has it.
func (d *Draft) Place() error {
	err := os.Link(d.Name, d.Path)
	switch {
	case os.IsExist(err):
		return Exists(d.Path, "file")
	case err == nil:
		return Failed(d.Path, "make", syncFolder(filepath.Dir(d.Path)))
	}
	if err := MustBeFree(d.Path); err != nil { // a disk that knows no second names
		return err
	}
	return d.Replace()
}

// Replace gives the finished draft its name, in the place of what has it. The owner,
// the group and the mode of that file stay.
func (d *Draft) Replace() error {
	if err := keepOwner(d.Name, d.Path); err != nil {
		return Failed(d.Path, "keep the owner of", err)
	}
	if err := os.Rename(d.Name, d.Path); err != nil {
		return Failed(d.Path, "make", err)
	}
	return Failed(d.Path, "make", syncFolder(filepath.Dir(d.Path)))
}

// keepOwner gives a new file the owner, group and mode of the old one, where there is
// one.
func keepOwner(name, old string) error {
	was, err := os.Stat(old)
	if err != nil {
		return nil
	}
	is, err := os.Stat(name)
	if err != nil {
		return err
	}
	if uid, gid := owner(was); uid >= 0 {
		if u, g := owner(is); u != uid || g != gid {
			if err := os.Chown(name, uid, gid); err != nil {
				return err
			}
		}
	}
	return os.Chmod(name, was.Mode().Perm())
}

// Real is the file that a link leads to, or the path itself.
func Real(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		return real
	}
	return path
}
