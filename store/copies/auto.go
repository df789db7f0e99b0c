package copies

import (
	"context"
	"encoding/hex"
	"errors"
	"path/filepath"
	"time"

	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
)

// Automatic is what an automatic backup came to.
type Automatic struct {
	Copied           // Path is "" where none was made
	Last   time.Time // when the last sound one was made by the clock of the book's zone, told as UTC; zero: there is none
}

// number tells the backups of books of one name apart.
func number(s store.Settings) string { return hex.EncodeToString(s.ID[12:]) }

// Due says whether the book with these settings still lacks today's automatic
// backup. It reads the names in a folder and no more.
func Due(k bookfile.Backups, s store.Settings, now time.Time) bool {
	zone, err := time.LoadLocation(s.Zone)
	if k.Folder == "" || err != nil {
		return false
	}
	today := now.In(zone).Format(time.DateOnly)
	if all := k.List(number(s)); len(all) > 0 && all[0].At.Format(time.DateOnly) >= today {
		return false
	}
	return !k.TriedLately(now)
}

// Keep makes an automatic backup of a book, proves it as Backup does and removes those that
// are no longer kept. Where the copy isn't sound, Findings say why: it's thrown away, and
// those before it stay. None is made where the newest holds the same history, or none is to
// be made. With daily none is made either where there is one of today, or another process is
// making one.
func Keep(ctx context.Context, b *store.Book, k bookfile.Backups, daily bool) (out Automatic, err error) {
	now, book := b.Now().In(b.Zone()), number(b.Settings())
	if k.Folder == "" || daily && !Due(k, b.Settings(), now) {
		return out, nil
	}
	release, ok, err := k.Hold(!daily)
	all := k.List(book) // another process may have made one meanwhile
	if len(all) > 0 {
		out.Last = all[0].At
	}
	if err != nil || !ok {
		return out, err
	}
	defer release()
	if len(all) > 0 && (daily && !Due(k, b.Settings(), now) || sameHistory(b, all[0].Path)) {
		return out, nil
	}
	return out, makeAutomatic(ctx, b, k, &out, daily, now)
}

// makeAutomatic makes the backup, and keeps it where it's sound.
func makeAutomatic(
	ctx context.Context, b *store.Book, k bookfile.Backups, out *Automatic, daily bool, now time.Time,
) error {
	tmp, err := bookfile.Beside(filepath.Join(k.Folder, "new.book"))
	if err != nil {
		return err
	}
	defer tmp.Drop()
	c := Copied{Path: k.Folder}
	err = copyAndProve(ctx, b, tmp, &c)
	if out.Findings = c.Findings; err != nil || len(c.Findings) > 0 {
		if daily && (err == nil || errors.Is(err, bookfile.ErrDamaged)) {
			k.Unsound(now)
		}
		return err
	}
	if c.Path, err = k.Add(tmp, number(b.Settings()), now); err == nil {
		out.Copied, out.Last = c, now
	}
	return err
}

// sameHistory says whether the backup at path ends with the link that the book ends with.
func sameHistory(b *store.Book, path string) bool {
	c := openBackup(b, path)
	if c == nil {
		return false
	}
	defer c.Close()
	old, oerr := head(c)
	now, err := head(b)
	return err == nil && oerr == nil && old.Hash == now.Hash
}

func head(b *store.Book) (h chain.Head, err error) {
	err = b.View(func(t *store.ReadTx) error { h, _, _, err = t.Head(); return err })
	return h, err
}

// openBackup opens a backup of the book; nil where it can't be read.
func openBackup(b *store.Book, path string) *store.Book {
	c, err := store.OpenAsIs(path, store.Read, store.Options{Wait: -1, Now: b.Now, Alone: true})
	if err != nil {
		return nil
	}
	return c
}

// Last is when the last automatic backup of the book with these settings was made,
// by the clock of its zone, told as UTC; zero where there is none. on says whether any
// are made. It doesn't open the book.
func Last(path string, s store.Settings) (last time.Time, on bool) {
	k, err := bookfile.BackupsOf(path)
	if all := k.List(number(s)); len(all) > 0 {
		last = all[0].At
	}
	return last, err == nil && k.Folder != ""
}

// List lists the automatic backups of the book at path, newest first. Where the
// book can't be read they may be those of another book of its name.
func List(path string) (bookfile.Backups, []bookfile.Dated, error) {
	k, err := bookfile.BackupsOf(path)
	if err != nil {
		return k, nil, err
	}
	book := ""
	if b, err := store.OpenAsIs(path, store.Read, store.Options{}); err == nil {
		book = number(b.Settings())
		_ = b.Close()
	}
	return k, k.List(book), nil
}
