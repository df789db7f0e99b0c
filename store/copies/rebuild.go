package copies

import (
	"context"
	"errors"
	"time"

	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
)

// Rebuild makes the indexes of the book at path again. Where its pages are whole that
// is Book.Rebuild. Else the facts are copied from their pages to a new file, whose indexes are
// made from them, and the pages of the old indexes are never read; kept is where the
// damaged file is kept then. A page of facts that can't be read is bookfile.ErrDamaged:
// that is for a salvage. harm is what couldn't be read and was left out.
func Rebuild(ctx context.Context, path string, o store.Options) (harm []bookfile.Finding, kept string, err error) {
	o = o.Filled()
	harm, err = rebuildSound(ctx, path, o)
	if !errors.Is(err, bookfile.ErrDamaged) {
		return harm, "", err
	}
	harm, kept, aerr := rebuildAside(ctx, path, o)
	if errors.Is(aerr, errFactsLost) {
		return nil, "", err
	}
	return harm, kept, aerr
}

// rebuildSound makes the indexes of a book again whose pages are whole; else its error is
// damage.
func rebuildSound(ctx context.Context, path string, o store.Options) ([]bookfile.Finding, error) {
	b, err := store.OpenAsIs(path, store.Write, o)
	if err != nil {
		return nil, err
	}
	err = b.Rebuild(ctx)
	return b.Harm(), errors.Join(err, b.Close())
}

var errFactsLost = errors.New("pages of facts can't be read")

func rebuildAside(ctx context.Context, path string, o store.Options) (harm []bookfile.Finding, kept string, err error) {
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return nil, "", err
	}
	defer tmp.Drop()
	was, err := bookfile.Revision(path)
	if err != nil {
		return nil, "", err
	}
	facts := func(bucket string) bool { return !layout.IsDerived(bucket) }
	lost, err := bookfile.CopyRecords(ctx, path, tmp.Name, layout.Facts, facts)
	if err == nil && lost {
		err = errFactsLost
	}
	if err != nil {
		return nil, "", err
	}
	quiet := o
	quiet.Alone, quiet.Wait = true, time.Second
	if harm, err = rebuildSound(ctx, tmp.Name, quiet); err != nil {
		return harm, "", bookfile.CalledAs(err, tmp.Name, path)
	}
	old, err := bookfile.Open(path, bookfile.How{Write: true, Wait: o.Wait})
	if errors.Is(err, bookfile.ErrBusy) {
		return harm, "", err
	}
	if err == nil { // else it's too broken for anybody to write to it
		defer old.Close()
	}
	if now, err := bookfile.Revision(path); err != nil || now != was {
		return harm, "", errors.Join(err, &bookfile.Error{Kind: bookfile.ErrBusy, Path: path})
	}
	if kept, err = bookfile.SetAside(path, "rebuild", o.Now()); err != nil {
		return harm, "", err
	}
	return harm, kept, tmp.Replace()
}
