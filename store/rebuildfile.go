package store

import (
	"context"
	"errors"
	"time"

	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
)

// RebuildFile makes the indexes of the book at path again. Where its pages are whole that
// is Rebuild. Else the facts are copied from their pages to a new file, whose indexes are
// made from them, and the pages of the old indexes are never read; kept is where the
// damaged file is kept then. A page of facts that can't be read is bookfile.ErrDamaged:
// that is for Salvage. harm is what couldn't be read and was left out.
func RebuildFile(ctx context.Context, path string, o Options) (harm []bookfile.Finding, kept string, err error) {
	o = o.filled()
	b, err := openAny(path, Write, o)
	if err == nil {
		harm, err = b.rebuildSound(ctx)
		err = errors.Join(err, b.Close())
	}
	if !errors.Is(err, bookfile.ErrDamaged) {
		return harm, "", err
	}
	harm, kept, aerr := rebuildAside(ctx, path, o)
	if errors.Is(aerr, errFactsLost) {
		return nil, "", err
	}
	return harm, kept, aerr
}

// rebuildSound is Rebuild of a book whose pages are whole; else its error is damage.
func (b *Book) rebuildSound(ctx context.Context) ([]bookfile.Finding, error) {
	err := b.viewRaw(b.load)
	if err == nil {
		err = b.Rebuild(ctx)
	}
	return b.file.Harm, err
}

var errFactsLost = errors.New("pages of facts can't be read")

func rebuildAside(ctx context.Context, path string, o Options) (harm []bookfile.Finding, kept string, err error) {
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
	quiet.alone, quiet.Wait = true, time.Second
	b, err := openAny(tmp.Name, Write, quiet)
	if err != nil {
		return nil, "", calledAs(err, tmp.Name, path)
	}
	if err = b.viewRaw(b.load); err == nil {
		err = b.Rebuild(ctx)
	}
	harm = b.file.Harm
	if err = errors.Join(err, b.Close()); err != nil {
		return harm, "", calledAs(err, tmp.Name, path)
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
