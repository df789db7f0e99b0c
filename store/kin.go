package store

import (
	"errors"
	"time"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
)

// The chain can't show that somebody changed a record and then computed every hash again:
// a program that can write the file can do both. Only another copy of the book shows it.
// The histories of a book and of its backups must be the same, except that one of them may
// go further.

// besides says how the history of the book differs from that of another copy of it; none
// where one goes on from where the other ends, and where the other is too damaged to say.
// latest: the book is to be no older than the copy.
func (b *Book) besides(o *Book, latest bool) (out []bookfile.Finding, err error) {
	add := func(f bookfile.Finding) { f.At, f.History = bookfile.At("history", nil), true; out = append(out, f) }
	if b.settings.ID != o.settings.ID {
		add(bookfile.Finding{What: chain.AnotherBook{Path: o.Path()}})
		return out, nil
	}
	err = b.View(func(t *ReadTx) error {
		own, _, _, err := t.Head()
		if err != nil {
			return err
		}
		err = o.View(func(u *ReadTx) error {
			other, _, _, err := u.Head()
			if err != nil {
				return err
			}
			n := chain.Shared(t.tab.Bucket(layout.Chain), u.tab.Bucket(layout.Chain), min(own.Number, other.Number))
			last := func() (at time.Time) {
				k := layout.LinkKey(uint64(n))
				if h, err := chain.HeadAt(k, t.tab.Get(layout.Chain, k)); n > 0 && err == nil {
					at = h.Written.In(b.file.Zone)
				}
				return at
			}
			switch {
			case n < min(own.Number, other.Number):
				add(bookfile.Finding{What: chain.Parted{Path: o.Path(), Link: n, Written: last()}})
			case latest && n < other.Number:
				add(bookfile.Finding{What: chain.Behind{Path: o.Path(), Links: other.Number - n, Since: last()}})
			}
			return nil
		})
		if errors.Is(err, bookfile.ErrDamaged) {
			return nil
		}
		return err
	})
	return out, err
}

// newestBackup opens the newest automatic backup that the book at path has, but not the
// file not; nil where there is none that can be read.
func (b *Book) newestBackup(path, not string) *Book {
	k, err := bookfile.BackupsOf(path)
	if err != nil {
		return nil
	}
	for _, d := range k.List(b.settings.number()) {
		if same, err := bookfile.Same(d.Path, not); err == nil && same {
			continue
		}
		if o, err := open(d.Path, Read, Options{Wait: -1, Now: b.file.Now, alone: true}); err == nil {
			return o
		}
	}
	return nil
}

// CheckHistory says what Check can't see in the book itself: that an import was told to
// take an altered history, and that the newest automatic backup holds what the book lacks.
// Then it's an older copy, or its history was written again. Ask the book itself, not a
// Snapshot: while it's open nobody can make a backup that goes further.
func (b *Book) CheckHistory() (out []bookfile.Finding, err error) {
	err = b.View(func(t *ReadTx) error {
		if _, begun, since, err := t.Head(); err == nil && begun == chain.BegunUnfitted {
			at := bookfile.At("history", nil)
			out = append(out, bookfile.Finding{At: at, What: chain.TakenAltered{On: since.In(b.file.Zone)}, History: true})
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if o := b.newestBackup(b.Path(), ""); o != nil {
		defer o.Close()
		var found []bookfile.Finding
		found, err = b.besides(o, true)
		out = append(out, found...)
	}
	return out, err
}

// strange says how the history of a copy that came from a file differs from that of the
// book that was at a path and from its newest automatic backup; none where it's one with
// either, or there's neither. old is that book, nil where there is none or it can't be read.
func (b *Book) strange(old *Book, path, from string) (out []bookfile.Finding, err error) {
	if old != nil && (old.viewRaw(old.load) != nil || old.mustBeEmpty() == nil) {
		old = nil
	}
	if old != nil {
		if out, err = b.besides(old, false); err != nil || len(out) == 0 {
			return nil, err
		}
	}
	o := b.newestBackup(path, from)
	if o == nil {
		return out, nil
	}
	defer o.Close()
	found, err := b.besides(o, false)
	if len(found) == 0 || len(out) == 0 {
		out = found
	}
	return out, err
}
