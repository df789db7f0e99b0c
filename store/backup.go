package store

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"
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
// there already is never touched (ErrExists).
func (b *Book) Backup(path string) (Copied, error) {
	out := Copied{Path: path}
	if err := mustBeFree(path); err != nil {
		return out, err
	}
	tmp, err := tempBeside(path)
	if err != nil {
		return out, err
	}
	defer os.Remove(tmp)
	err = b.View(func(t *ReadTx) error {
		if out.Counts, err = t.Counts(); err != nil {
			return err
		}
		out.Bytes, err = writeSynced(tmp, func(w io.Writer) error {
			_, err := t.tx.WriteTo(w)
			return err
		})
		return fileErr(path, "write", err)
	})
	if err != nil {
		return out, err
	}
	if err := prove(tmp, path, out.Counts); err != nil {
		return out, err
	}
	return out, putInPlace(tmp, path, b.opt.Wait)
}

// writeSynced fills a file and makes it last.
func writeSynced(path string, fill func(io.Writer) error) (int64, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	if err := fill(w); err != nil {
		return 0, err
	}
	if err := w.Flush(); err != nil {
		return 0, err
	}
	if err := f.Sync(); err != nil {
		return 0, err
	}
	st, err := f.Stat()
	if err != nil {
		return 0, err
	}
	return st.Size(), f.Close()
}

// prove opens a copy and walks its pages; its counts must be those given. The
// errors speak of the file as called.
func prove(tmp, called string, want Counts) error {
	c, err := Open(tmp, Read, Options{Wait: time.Second, alone: true})
	if err != nil {
		return damaged(called, err, spot("copy", nil))
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
			err = damaged(called, nil, spot("counts", nil))
		}
		return err
	})
}

// Restore puts the backup at from in the place of the book at to. The backup
// is proved first, records and indexes and all. A book that is there already
// is refused (ErrExists) without replace; with it, it is kept beside the new
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
	old := held{}
	if _, err := os.Stat(to); err == nil {
		if !replace {
			return out, exists(to, "book")
		}
		if same, err := sameFile(from, to); err != nil || same {
			if err == nil {
				err = &BookError{Kind: ErrSameFile, Path: from}
			}
			return out, err
		}
		// Nobody may be in the middle of something with the old one; an old
		// one too broken to be locked is set aside all the same.
		if h, err := acquire(to, true, o); err == nil {
			old = h
		} else if isBusy(err) {
			return out, err
		}
	}
	defer old.close()
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return out, fileErr(to, "make", err)
	}
	tmp, err := tempBeside(to)
	if err != nil {
		return out, err
	}
	defer os.Remove(tmp)
	if err := src.View(func(t *ReadTx) (err error) {
		if out.Counts, err = t.Counts(); err != nil {
			return err
		}
		out.Bytes, err = writeSynced(tmp, func(w io.Writer) error {
			_, err := t.tx.WriteTo(w)
			return err
		})
		return fileErr(to, "write", err)
	}); err != nil {
		return out, err
	}
	if err := prove(tmp, to, out.Counts); err != nil {
		return out, err
	}
	if replace {
		if out.Kept, err = keepOld(to, o.Now()); err != nil {
			return out, err
		}
		if err := os.Rename(tmp, to); err != nil {
			return out, fileErr(to, "write", err)
		}
		return out, fileErr(to, "write", syncFolder(filepath.Dir(to)))
	}
	return out, putInPlace(tmp, to, o.Wait)
}

// keepOld gives the old book a second name, so that there is a book under the
// first at every moment; where the disk knows no second names it is moved.
func keepOld(path string, now time.Time) (string, error) {
	if _, err := os.Lstat(path); err != nil {
		return "", nil
	}
	stem := path + ".before-restore-" + now.UTC().Format("20060102T150405Z")
	kept := stem
	for i := 2; ; i++ {
		if _, err := os.Lstat(kept); os.IsNotExist(err) {
			break
		}
		kept = fmt.Sprintf("%s-%d", stem, i)
	}
	if os.Link(path, kept) == nil {
		return kept, nil
	}
	return kept, fileErr(path, "set aside", os.Rename(path, kept))
}

func sameFile(a, b string) (bool, error) {
	x, err := os.Stat(a)
	if err != nil {
		return false, fileErr(a, "read", err)
	}
	y, err := os.Stat(b)
	if err != nil {
		return false, fileErr(b, "read", err)
	}
	return os.SameFile(x, y), nil
}

// Compact writes the book at path anew without its free pages and puts it in
// place of the old, which nobody may be using. It gives the sizes in bytes.
func Compact(path string, o Options) (before, after int64, err error) {
	o = o.filled()
	b, err := Open(path, Write, o)
	if err != nil {
		return 0, 0, err
	}
	defer b.Close()
	st, err := b.file.Stat()
	if err != nil {
		return 0, 0, fileErr(path, "read", err)
	}
	before = st.Size()
	tmp, err := tempBeside(path)
	if err != nil {
		return before, 0, err
	}
	defer os.Remove(tmp)
	var want Counts
	if err := b.View(func(t *ReadTx) (err error) { want, err = t.Counts(); return err }); err != nil {
		return before, 0, err
	}
	err = guard(path, &b.broken, func() error {
		dst, err := openRaw(tmp)
		if err != nil {
			return err
		}
		dst.NoSync = true // the whole of it is synced below
		if err := bolt.Compact(dst, b.db, 8<<20); err != nil {
			dst.Close()
			return err
		}
		if err := dst.Sync(); err != nil {
			dst.Close()
			return err
		}
		return dst.Close()
	})
	if err != nil {
		return before, 0, fileErr(path, "compact", err)
	}
	if err := prove(tmp, path, want); err != nil {
		return before, 0, err
	}
	if st, err = os.Stat(tmp); err != nil {
		return before, 0, fileErr(path, "read", err)
	}
	if err := os.Rename(tmp, path); err != nil {
		return before, 0, fileErr(path, "compact", err)
	}
	return before, st.Size(), fileErr(path, "compact", syncFolder(filepath.Dir(path)))
}
