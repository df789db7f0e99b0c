package copies

import (
	"errors"

	"rindkeep/cave/reason"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
)

// The chain can't show that somebody changed a record and then computed every hash again:
// a program that can write the file can do both. Only another copy of the book shows it.
// The histories of a book and of its backups must be the same, except that one of them may
// go further.

// besides says how the history of a book differs from that of another copy of it; none
// where one goes on from where the other ends, and where the other is too damaged to say.
// latest: the book is to be no older than the copy.
func besides(b, o *store.Book, latest bool) (out []bookfile.Finding, err error) {
	found := func(what reason.Reason) []bookfile.Finding {
		return []bookfile.Finding{{At: bookfile.At("history", nil), What: what, History: true}}
	}
	if b.Settings().ID != o.Settings().ID {
		return found(chain.AnotherBook{Path: o.Path()}), nil
	}
	err = b.View(func(t *store.ReadTx) error {
		own, _, _, err := t.Head()
		if err != nil {
			return err
		}
		err = o.View(func(u *store.ReadTx) error {
			other, _, _, err := u.Head()
			if err != nil {
				return err
			}
			n, last, err := t.LinksShared(u)
			switch {
			case err != nil:
			case n < min(own.Number, other.Number):
				out = found(chain.Parted{Path: o.Path(), Link: n, Written: last})
			case latest && n < other.Number:
				out = found(chain.Behind{Path: o.Path(), Links: other.Number - n, Since: last})
			}
			return err
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
func newestBackup(b *store.Book, path, not string) *store.Book {
	k, err := bookfile.BackupsOf(path)
	if err != nil {
		return nil
	}
	for _, d := range k.List(number(b.Settings())) {
		if same, err := bookfile.Same(d.Path, not); err == nil && same {
			continue
		}
		if o := openBackup(b, d.Path); o != nil {
			return o
		}
	}
	return nil
}

// CheckHistory says what a check can't see in the book itself: that an import was told to
// take an altered history, and that the newest automatic backup holds what the book lacks.
// Then it's an older copy, or its history was written again. Ask the book itself, not a
// Snapshot: while it's open nobody can make a backup that goes further.
func CheckHistory(b *store.Book) (out []bookfile.Finding, err error) {
	err = b.View(func(t *store.ReadTx) error {
		if _, begun, since, err := t.Head(); err == nil && begun == chain.BegunUnfitted {
			at := bookfile.At("history", nil)
			out = append(out, bookfile.Finding{At: at, What: chain.TakenAltered{On: since.In(b.Zone())}, History: true})
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if o := newestBackup(b, b.Path(), ""); o != nil {
		defer o.Close()
		var found []bookfile.Finding
		found, err = besides(b, o, true)
		out = append(out, found...)
	}
	return out, err
}

// Strange says how the history of a copy that came from a file differs from that of the
// book that was at a path and from its newest automatic backup; none where it's one with
// either, or there's neither. old is that book, nil where there is none or it can't be read.
func Strange(b, old *store.Book, path, from string) (out []bookfile.Finding, err error) {
	if old != nil && old.MustBeEmpty() == nil {
		old = nil
	}
	if old != nil {
		if out, err = besides(b, old, false); err != nil || len(out) == 0 {
			return nil, err
		}
	}
	o := newestBackup(b, path, from)
	if o == nil {
		return out, nil
	}
	defer o.Close()
	found, err := besides(b, o, false)
	if len(found) == 0 || len(out) == 0 {
		out = found
	}
	return out, err
}
