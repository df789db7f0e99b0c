package app

import (
	"context"
	"errors"
	"path/filepath"
	"sync"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/copies"
)

// NoBackup is an automatic backup that wasn't sound, or couldn't be made.
type NoBackup struct {
	Before bool             // it was to be made before an act that went on without it; else it's the day's
	First  bookfile.Finding // the first thing that is wrong with the copy; none where Cause says it
	Count  int              // how much is wrong with it
	Last   time.Time        // when the last sound one was made, by the clock of the book's zone; zero: there is none
	Cause  error
}

// Code implements reason.Reason.
func (NoBackup) Code() string { return "no-backup" }

// The remedies for it.
const (
	CheckBook     = reason.Flat("check-book")     // a check lists everything that is damaged
	AnotherFolder = reason.Flat("another-folder") // have them made in another folder
)

// DayBackup makes today's automatic backup of the book, unless there is one. It is made
// after what a command has to say is said: the write and its answer never wait for it,
// and others use the book while the copy is proved. A command in a terminal waits for it
// once a day; the page makes it in the background.
// Before one that takes longer than a second large is called.
func (a *App) DayBackup(ctx context.Context, set store.Settings, large func()) error {
	k, err := bookfile.BackupsOf(a.Book)
	if err == nil && !copies.Due(k, set, a.Now()) {
		return nil
	}
	if bookfile.Size(a.Book) > smallBook {
		large()
	}
	var out copies.Automatic
	if err == nil {
		out, err = a.backUp(ctx, k, true)
	}
	if r := noBackup(k, out, err); r != nil && ctx.Err() == nil {
		return r
	}
	return nil
}

// noBackup is why an automatic backup is missing, nil where it isn't.
func noBackup(k bookfile.Backups, out copies.Automatic, err error) *Refusal {
	if all := k.List(""); out.Last.IsZero() && len(all) > 0 { // where to make them can't be read
		out.Last = all[0].At
	}
	if n := len(out.Findings); n > 0 && err == nil {
		return Refuse(NoBackup{First: out.Findings[0], Count: n, Last: out.Last}, CheckBook)
	}
	if err == nil {
		return nil
	}
	r := AsRefusal(err)
	r.Why, r.Remedy = NoBackup{Last: out.Last, Cause: err}, reason.List{AnotherFolder}
	if errors.Is(err, bookfile.ErrDamaged) {
		r.Remedy = reason.List{CheckBook}
	}
	return r
}

// Daily makes the day's automatic backups while a program goes on running.
type Daily struct {
	Ctx    context.Context
	App    *App
	Failed func(*Refusal) // told where none could be made

	busy sync.Mutex
	runs sync.WaitGroup
}

// Wrote is App.Wrote: it makes the day's backup in the background, where it's missing.
func (d *Daily) Wrote(set store.Settings) {
	if !d.busy.TryLock() {
		return
	}
	d.runs.Go(func() {
		defer d.busy.Unlock()
		if err := d.App.DayBackup(d.Ctx, set, func() {}); err != nil {
			d.Failed(AsRefusal(err))
		}
	})
}

// Wait waits for a backup that is being made.
func (d *Daily) Wait() { d.runs.Wait() }

// smallBook is how large a book may be, in bytes, for a backup before every table that
// comes in: about a second's work. A short table into a larger book is a write like others.
const smallBook = 32 << 20

// Much is how many rows of a table are much: our choice.
const Much = 1000

// BackupFirst makes an automatic backup before a table comes in, much of one or little,
// or the book is made smaller. It doesn't keep anybody from going on where none can be
// made: NoBackup is told.
func (a *App) BackupFirst(ctx context.Context, much bool) error {
	if !a.Backups || !much && bookfile.Size(a.Book) > smallBook {
		return nil
	}
	var out copies.Automatic
	k, err := bookfile.BackupsOf(a.Book)
	if err == nil {
		out, err = a.backUp(ctx, k, false)
	}
	if cerr := ctx.Err(); cerr != nil || errors.Is(err, bookfile.ErrNoBook) {
		return cerr
	}
	if r := noBackup(k, out, err); r != nil && a.NoBackup != nil {
		if why, ok := r.Why.(NoBackup); ok {
			why.Before = true
			r.Why = why
		}
		a.NoBackup(r)
	}
	return nil
}

func (a *App) backUp(ctx context.Context, k bookfile.Backups, daily bool) (out copies.Automatic, err error) {
	b, err := store.Open(a.Book, store.Read, store.Options{Now: a.Now})
	if err != nil {
		return out, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	a.Log.Debug().Str("folder", k.Folder).Msg("back up")
	return copies.Keep(ctx, b, k, daily)
}

// BackupList is where the automatic backups of the book are, newest first.
type BackupList struct {
	Schema  string       `json:"schema"`
	Folder  *string      `json:"folder"` // null: none are made
	Backups []BackupFile `json:"backups"`
}

// BackupFile is one of them. All were sound when they were made.
type BackupFile struct {
	Path  string `json:"path"`
	Made  string `json:"made"` // by the clock of the book's zone: 2026-11-25T08:15:00
	Bytes int64  `json:"bytes"`

	At time.Time `json:"-"` // the same, told as UTC
}

// ListBackups lists them, also where the book can't be read or is gone.
func (a *App) ListBackups() (BackupList, error) {
	out := BackupList{Schema: Schema("book-backups"), Backups: []BackupFile{}}
	k, all, err := copies.List(a.Book)
	if k.Folder != "" {
		out.Folder = &k.Folder
	}
	for _, d := range all {
		out.Backups = append(out.Backups, BackupFile{d.Path, d.At.Format("2006-01-02T15:04:05"), d.Bytes, d.At})
	}
	return out, err
}

// PutBackups has automatic backups made in another folder, which must be there;
// "beside": in one beside the book; "off": none are made.
func (a *App) PutBackups(folder string) (BackupList, error) {
	switch folder {
	case "beside":
		folder = ""
	case bookfile.NoBackups:
	default:
		full, err := filepath.Abs(folder)
		if err == nil {
			err = bookfile.HasFolder(filepath.Join(full, "x"))
		}
		if err != nil {
			return BackupList{}, err
		}
		folder = full
	}
	if err := bookfile.PutBackups(a.Book, folder); err != nil {
		return BackupList{}, err
	}
	return a.ListBackups()
}
