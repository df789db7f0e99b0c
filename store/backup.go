package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/table"
)

// Copied is what a backup or restore came to.
type Copied struct {
	Path     string // the file written
	Bytes    int64
	Counts   Counts
	Kept     string             // restore: where the old book is kept now; "" where there was none
	Findings []bookfile.Finding // what in the copy can't be trusted; none where it is sound
}

// Backup writes the book as it stands to a new file at path: synced, then every page,
// the seal of every fact and the chain are read back before it gets its name. A book
// that was opened for reading is let go as soon as it's copied: it's closed then. Others
// may use the book meanwhile; what they write then is not in the backup. A file that
// is there already is never touched (bookfile.ErrExists). A damaged book is copied
// too, and Findings say what is wrong with it.
func (b *Book) Backup(ctx context.Context, path string) (Copied, error) {
	out := Copied{Path: path}
	if err := bookfile.MustBeFree(path); err != nil {
		return out, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return out, err
	}
	defer tmp.Drop()
	if err := b.copyAndProve(ctx, tmp, &out); err != nil {
		return out, err
	}
	return out, tmp.Place()
}

// copyAndProve copies the book to a draft and proves the copy.
func (b *Book) copyAndProve(ctx context.Context, tmp *bookfile.Draft, out *Copied) (err error) {
	if out.Bytes, err = b.copyTo(tmp.Name, out.Path); err != nil {
		return err
	}
	c, err := openAny(tmp.Name, Read, Options{Wait: time.Second, Now: b.file.Now, alone: true})
	if err != nil {
		return calledAs(err, tmp.Name, out.Path)
	}
	defer c.Close()
	if err = c.viewRaw(c.load); err == nil {
		out.Findings, out.Counts, err = c.checkFacts(ctx)
	}
	if b.file.Half { // the copy has both, of what may be the older one
		out.Findings = append(out.Findings, bookfile.Finding{At: bookfile.At("page", 0), What: HalfMetadata})
	}
	return calledAs(err, tmp.Name, out.Path)
}

// copyTo copies the file as one reading sees it, byte for byte, lets a book that was
// opened for reading go, and syncs the copy. The errors speak of the file as called.
func (b *Book) copyTo(tmp, called string) (bytes int64, err error) {
	err = b.viewRaw(func(tx *bolt.Tx) (err error) {
		bytes, err = b.file.CopyAsOf(tx, tmp)
		return bookfile.Failed(called, "write", err)
	})
	if b.mode == Read { // nobody waits while the copy is synced and proved
		err = errors.Join(err, b.Close())
	}
	if err == nil {
		err = bookfile.Failed(called, "write", bookfile.Sync(tmp))
	}
	return bytes, err
}

// calledAs lets an error about a file with a passing name speak of the one it is for.
func calledAs(err error, tmp, path string) error {
	var e *bookfile.Error
	if errors.As(err, &e) && e.Path == tmp {
		e.Path = path
	}
	return err
}

// prove opens a copy and walks its pages; its counts must be those given. The
// errors speak of the file as called.
func prove(tmp, called string, want Counts) error {
	c, err := Open(tmp, Read, Options{Wait: time.Second, alone: true})
	if err != nil {
		return calledAs(err, tmp, called)
	}
	defer c.Close()
	findings, err := c.checkPages(context.Background(), nil)
	if err != nil {
		return err
	}
	if len(findings) > 0 {
		return findings[0].Damage(called)
	}
	return c.View(func(t *ReadTx) error {
		got, err := t.Counts()
		if err == nil && got != want {
			err = bookfile.Damaged(called, nil, bookfile.At("counts", nil))
		}
		return err
	})
}

// Restore puts a copy of the backup at from in the place of the book at to. The copy
// is proved first, records, indexes and history; the backup isn't changed. A book
// that is there already is refused (bookfile.ErrExists) without replace; with it, it
// is kept beside the new one as <book>.before-restore-<time>. A backup whose history was
// altered, or isn't that of the book and its automatic backups, is refused
// (chain.OtherHistory) unless o.Altered: then the findings say so.
func Restore(ctx context.Context, from, to string, replace bool, o Options) (Copied, error) {
	o = o.filled()
	out := Copied{Path: to}
	old, err := giveWay(from, to, replace, o)
	if err != nil {
		return out, err
	}
	if old != nil {
		defer old.Close()
	}
	if err := bookfile.MakeFolders(filepath.Dir(to), 0o755); err != nil {
		return out, bookfile.Failed(to, "make", err)
	}
	tmp, err := bookfile.Beside(to)
	if err != nil {
		return out, err
	}
	defer tmp.Drop()
	quiet := o
	quiet.alone = true // nothing is left beside a backup or the copy
	src, err := openAny(from, Read, quiet)
	if err != nil {
		return out, err
	}
	_, err = src.copyTo(tmp.Name, to)
	if err = errors.Join(err, src.Close()); err != nil {
		return out, err
	}
	var known *Book
	if old != nil {
		known = &Book{file: &table.File{File: old, Now: o.Now}, mode: Read, opt: o}
	}
	if err = restorable(ctx, tmp.Name, known, &out, from, quiet); err != nil {
		return out, calledAs(err, tmp.Name, from)
	}
	if len(out.Findings) > 0 && !o.Altered {
		return out, reason.Err(&chain.OtherHistory{Path: from, Findings: out.Findings})
	}
	if st, err := os.Stat(tmp.Name); err == nil {
		out.Bytes = st.Size()
	}
	if !replace {
		return out, tmp.Place()
	}
	if out.Kept, err = bookfile.SetAside(to, "restore", o.Now()); err != nil {
		return out, err
	}
	if k, err := bookfile.BackupsOf(to); err == nil {
		k.Repaired()
	}
	return out, tmp.Replace()
}

// giveWay says whether a backup may take the place of what is at to, and holds a book
// that is there, so that nobody is in the middle of something with it; nil where
// there is none, or one too broken to be locked.
func giveWay(from, to string, replace bool, o Options) (*bookfile.File, error) {
	if _, err := os.Stat(to); err != nil {
		return nil, nil
	}
	if !replace {
		return nil, bookfile.Exists(to, "book")
	}
	if same, err := bookfile.Same(from, to); err != nil || same {
		if err == nil {
			err = &bookfile.Error{Kind: bookfile.ErrSameFile, Path: from}
		}
		return nil, err
	}
	old, err := bookfile.Open(to, bookfile.How{Write: true, Wait: o.Wait})
	if errors.Is(err, bookfile.ErrBusy) {
		return nil, err
	}
	return old, nil
}

// restorable proves a copy of the backup at from and makes its indexes again where they
// don't agree with its facts. What is wrong with its history goes to out: in itself, or
// beside that of the old book.
func restorable(ctx context.Context, path string, old *Book, out *Copied, from string, o Options) (err error) {
	c, err := Open(path, Write, o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	findings, err := c.Check(ctx, nil)
	if err != nil {
		return err
	}
	stale := false
	for _, f := range findings {
		switch {
		case f.History:
			out.Findings = append(out.Findings, f)
		case f.Derived:
			stale = true
		default:
			return f.Damage(path)
		}
	}
	if stale {
		if err := c.Rebuild(ctx); err != nil {
			return err
		}
	}
	other, err := c.strange(old, out.Path, from)
	if err != nil {
		return err
	}
	out.Findings = append(out.Findings, other...)
	return c.View(func(t *ReadTx) (err error) { out.Counts, err = t.Counts(); return err })
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
	if err := b.keepHalf(); err != nil {
		return before, 0, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return before, 0, err
	}
	defer tmp.Drop()
	var want Counts
	if err := b.View(func(t *ReadTx) (err error) { want, err = t.Counts(); return err }); err != nil {
		return before, 0, err
	}
	if err := b.file.Compact(tmp.Name); err != nil {
		return before, 0, err
	}
	if err := prove(tmp.Name, path, want); err != nil {
		return before, 0, err
	}
	st, err := os.Stat(tmp.Name)
	if err != nil {
		return before, 0, bookfile.Failed(path, "read", err)
	}
	return before, st.Size(), tmp.Replace()
}
