package store

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"

	"rindkeep/store/bookfile"
)

// Copied is what a backup or restore came to.
type Copied struct {
	Path   string // the file written
	Bytes  int64
	Counts Counts
	Kept   string // restore: where the old book is kept now; "" where there was none
}

// Backup writes the book as it stands to a new file at path: synced, then
// opened and proved page by page before it gets its name. Others may use the
// book meanwhile; what they write then is not in the backup. A file that is
// there already is never touched (bookfile.ErrExists).
func (b *Book) Backup(path string) (Copied, error) {
	out := Copied{Path: path}
	if err := bookfile.MustBeFree(path); err != nil {
		return out, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return out, err
	}
	defer os.Remove(tmp)
	err = b.View(func(t *ReadTx) error {
		if out.Counts, err = t.Counts(); err != nil {
			return err
		}
		out.Bytes, err = bookfile.Write(tmp, func(w io.Writer) error {
			_, err := t.tx.WriteTo(w)
			return err
		})
		return bookfile.Failed(path, "write", err)
	})
	if err != nil {
		return out, err
	}
	if err := prove(tmp, path, out.Counts); err != nil {
		return out, err
	}
	return out, bookfile.Place(tmp, path, b.opt.Wait)
}

// prove opens a copy and walks its pages; its counts must be those given. The
// errors speak of the file as called.
func prove(tmp, called string, want Counts) error {
	c, err := Open(tmp, Read, Options{Wait: time.Second, alone: true})
	if err != nil {
		return bookfile.Damaged(called, err, bookfile.At("copy", nil))
	}
	defer c.Close()
	findings, err := c.checkPages(context.Background(), nil)
	if err != nil {
		return err
	}
	if len(findings) > 0 {
		return findings[0].damage(called)
	}
	return c.View(func(t *ReadTx) error {
		got, err := t.Counts()
		if err == nil && got != want {
			err = bookfile.Damaged(called, nil, bookfile.At("counts", nil))
		}
		return err
	})
}

// Restore puts the backup at from in the place of the book at to. The backup
// is proved first, records and indexes and all. A book that is there already
// is refused (bookfile.ErrExists) without replace; with it, it is kept beside the new
// one as <book>.before-restore-<time>.
func Restore(from, to string, replace bool, o Options) (Copied, error) {
	o = o.filled()
	out := Copied{Path: to}
	quiet := o
	quiet.alone = true // nothing is left beside a backup
	src, err := Open(from, Read, quiet)
	if err != nil {
		return out, err
	}
	defer src.Close()
	findings, err := src.Check(context.Background(), nil)
	if err != nil {
		return out, err
	}
	for _, f := range findings {
		if !f.Derived && !f.History {
			return out, f.damage(from)
		}
	}
	var old *bookfile.File
	if _, err := os.Stat(to); err == nil {
		if !replace {
			return out, bookfile.Exists(to, "book")
		}
		if same, err := bookfile.Same(from, to); err != nil || same {
			if err == nil {
				err = &bookfile.Error{Kind: bookfile.ErrSameFile, Path: from}
			}
			return out, err
		}
		// Nobody may be in the middle of something with the old one; an old
		// one too broken to be locked is still set aside.
		old, err = bookfile.Open(to, bookfile.How{Write: true, Wait: o.Wait})
		if errors.Is(err, bookfile.ErrBusy) {
			return out, err
		}
	}
	if old != nil {
		defer old.Close()
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return out, bookfile.Failed(to, "make", err)
	}
	tmp, err := bookfile.Beside(to)
	if err != nil {
		return out, err
	}
	defer os.Remove(tmp)
	if err := src.View(func(t *ReadTx) (err error) {
		if out.Counts, err = t.Counts(); err != nil {
			return err
		}
		out.Bytes, err = bookfile.Write(tmp, func(w io.Writer) error {
			_, err := t.tx.WriteTo(w)
			return err
		})
		return bookfile.Failed(to, "write", err)
	}); err != nil {
		return out, err
	}
	if err := prove(tmp, to, out.Counts); err != nil {
		return out, err
	}
	if replace {
		if out.Kept, err = bookfile.SetAside(to, o.Now()); err != nil {
			return out, err
		}
		return out, bookfile.Replace(tmp, to)
	}
	return out, bookfile.Place(tmp, to, o.Wait)
}

// Compact rewrites the book at path without its free pages and puts it in
// place of the old, which nobody may be using. It gives the sizes in bytes.
func Compact(path string, o Options) (before, after int64, err error) {
	o = o.filled()
	b, err := Open(path, Write, o)
	if err != nil {
		return 0, 0, err
	}
	defer b.Close()
	if before, _, err = b.file.Sizes(); err != nil {
		return 0, 0, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return before, 0, err
	}
	defer os.Remove(tmp)
	var want Counts
	if err := b.View(func(t *ReadTx) (err error) { want, err = t.Counts(); return err }); err != nil {
		return before, 0, err
	}
	if err := b.file.Compact(tmp); err != nil {
		return before, 0, err
	}
	if err := prove(tmp, path, want); err != nil {
		return before, 0, err
	}
	st, err := os.Stat(tmp)
	if err != nil {
		return before, 0, bookfile.Failed(path, "read", err)
	}
	return before, st.Size(), bookfile.Replace(tmp, path)
}
