package copies

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"rindkeep/cave/reason"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
)

// Restore puts a copy of the backup at from in the place of the book at to. The copy
// is proved first, records, indexes and history; the backup isn't changed. A book
// that is there already is refused (bookfile.ErrExists) without replace; with it, it
// is kept beside the new one as <book>.before-restore-<time>. A backup whose history was
// altered, or isn't that of the book and its automatic backups, is refused
// (chain.OtherHistory) unless o.Altered: then the findings say so.
func Restore(ctx context.Context, from, to string, replace bool, o store.Options) (Copied, error) {
	o = o.Filled()
	out := Copied{Path: to}
	old, release, err := giveWay(from, to, replace, o)
	if err != nil {
		return out, err
	}
	defer release()
	if err := bookfile.MakeFolders(filepath.Dir(to), 0o755); err != nil {
		return out, bookfile.Failed(to, "make", err)
	}
	tmp, err := bookfile.Beside(to)
	if err != nil {
		return out, err
	}
	defer tmp.Drop()
	if err := copyFile(from, tmp, to, o); err != nil {
		return out, err
	}
	if err = restorable(ctx, tmp.Name, old, &out, from, o); err != nil {
		return out, bookfile.CalledAs(err, tmp.Name, from)
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

// copyFile copies a file, whatever its format, to a draft, and syncs that. The file is as it
// was: nothing is left beside it.
func copyFile(from string, tmp *bookfile.Draft, to string, o store.Options) error {
	f, err := bookfile.Open(from, bookfile.How{Wait: o.Wait, Alone: true})
	if err != nil {
		return err
	}
	_, err = f.CopyTo(tmp.Name, to)
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	return bookfile.Failed(to, "write", bookfile.Sync(tmp.Name))
}

// giveWay says whether a backup may take the place of what is at to, and holds a book that
// is there until release, so that nobody is in the middle of something with it. old is that
// book; nil where there is none, or one too broken to be read.
func giveWay(from, to string, replace bool, o store.Options) (old *store.Book, release func(), err error) {
	release = func() {}
	if _, err := os.Stat(to); err != nil {
		return nil, release, nil
	}
	if !replace {
		return nil, nil, bookfile.Exists(to, "book")
	}
	if same, err := bookfile.Same(from, to); err != nil || same {
		if err == nil {
			err = &bookfile.Error{Kind: bookfile.ErrSameFile, Path: from}
		}
		return nil, nil, err
	}
	if old, err = store.OpenAsIs(to, store.Write, o); err == nil {
		return old, func() { old.Close() }, nil
	}
	if errors.Is(err, bookfile.ErrBusy) {
		return nil, nil, err
	}
	if f, err := bookfile.Open(to, bookfile.How{Write: true, Wait: o.Wait}); err == nil {
		release = func() { f.Close() }
	}
	return nil, release, nil
}

// restorable proves a copy of the backup at from and makes its indexes again where they
// don't agree with its facts. What is wrong with its history goes to out: in itself, or
// beside that of the old book.
func restorable(
	ctx context.Context, path string, old *store.Book, out *Copied, from string, o store.Options,
) (err error) {
	o.Alone = true // nothing is left beside the copy
	c, err := store.Open(path, store.Write, o)
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
	other, err := Strange(c, old, out.Path, from)
	if err != nil {
		return err
	}
	out.Findings = append(out.Findings, other...)
	out.Counts, err = counted(c)
	return err
}
