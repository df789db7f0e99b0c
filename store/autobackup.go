package store

import (
	"context"
	"encoding/hex"
	"errors"
	"path/filepath"
	"time"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
)

// AutoBackup is what an automatic backup came to.
type AutoBackup struct {
	Copied           // Path is "" where none was made
	Last   time.Time // when the last sound one was made by the clock of the book's zone, told as UTC; zero: there is none
}

// number tells the backups of books of one name apart.
func (s Settings) number() string { return hex.EncodeToString(s.ID[12:]) }

// BackupDue says whether the book with these settings still lacks today's automatic
// backup. It reads the names in a folder and no more.
func BackupDue(k bookfile.Backups, s Settings, now time.Time) bool {
	zone, err := time.LoadLocation(s.Zone)
	if k.Folder == "" || err != nil {
		return false
	}
	today := now.In(zone).Format(time.DateOnly)
	if all := k.List(s.number()); len(all) > 0 && all[0].At.Format(time.DateOnly) >= today {
		return false
	}
	return !k.TriedLately(now)
}

// BackUp makes an automatic backup of the book, proves it as Backup does and removes
// those that are no longer kept. Where the copy isn't sound, Findings say why: it's
// thrown away, and those before it stay. None is made where the newest holds the same
// history, or none is to be made. With daily none is made either where there is one of
// today, or another process is making one.
func (b *Book) BackUp(ctx context.Context, k bookfile.Backups, daily bool) (out AutoBackup, err error) {
	if k.Folder == "" || daily && !BackupDue(k, b.settings, b.file.Now()) {
		return out, nil
	}
	now, number := b.file.Now().In(b.file.Zone), b.settings.number()
	if all := k.List(number); len(all) > 0 {
		out.Last = all[0].At
	}
	release, ok, err := k.Hold(!daily)
	if err != nil || !ok {
		return out, err
	}
	defer release()
	if all := k.List(number); len(all) > 0 {
		out.Last = all[0].At
		if daily && !BackupDue(k, b.settings, now) || b.sameHistory(all[0].Path) {
			return out, nil
		}
	}
	tmp, err := bookfile.Beside(filepath.Join(k.Folder, "new.book"))
	if err != nil {
		return out, err
	}
	defer tmp.Drop()
	c := Copied{Path: k.Folder}
	err = b.copyAndProve(ctx, tmp, &c)
	if out.Findings = c.Findings; err != nil || len(c.Findings) > 0 {
		if daily && (err == nil || errors.Is(err, bookfile.ErrDamaged)) {
			k.Unsound(now)
		}
		return out, err
	}
	if c.Path, err = k.Add(tmp, number, now); err == nil {
		out.Copied, out.Last = c, now
	}
	return out, err
}

// sameHistory says whether the backup at path ends with the link that the book ends with.
func (b *Book) sameHistory(path string) bool {
	head := func(b *Book) (h chain.Head, err error) {
		err = b.View(func(t *ReadTx) error { h, _, _, err = t.Head(); return err })
		return h, err
	}
	c, err := open(path, Read, Options{Wait: -1, Now: b.file.Now, alone: true})
	if err != nil {
		return false
	}
	defer c.Close()
	old, oerr := head(c)
	now, err := head(b)
	return err == nil && oerr == nil && old.Hash == now.Hash
}

// LastBackup is when the last automatic backup of the book with these settings was made,
// by the clock of its zone, told as UTC; zero where there is none. on says whether any
// are made. It doesn't open the book.
func LastBackup(path string, s Settings) (last time.Time, on bool) {
	k, err := bookfile.BackupsOf(path)
	if all := k.List(s.number()); len(all) > 0 {
		last = all[0].At
	}
	return last, err == nil && k.Folder != ""
}

// AutoBackups lists the automatic backups of the book at path, newest first. Where the
// book can't be read they may be those of another book of its name.
func AutoBackups(path string) (bookfile.Backups, []bookfile.Dated, error) {
	k, err := bookfile.BackupsOf(path)
	if err != nil {
		return k, nil, err
	}
	number := ""
	if b, err := openAny(path, Read, Options{Wait: DefaultWait}); err == nil {
		if b.viewRaw(b.load) == nil {
			number = b.settings.number()
		}
		_ = b.Close()
	}
	return k, k.List(number), nil
}
