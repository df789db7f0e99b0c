// Package care has what is asked of the book itself rather than of its wheels: what
// it is and holds, whether it is sound, copies of it, and all of it in the form of
// other programs.
package care

import (
	"context"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/store/archive"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/copies"
)

// opened runs fn on the open book, outside any transaction.
func opened(a *app.App, mode store.Mode, fn func(*store.Book) error) (err error) {
	b, err := store.Open(a.Book, mode, store.Options{Now: a.Now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	return fn(b)
}

// aside runs fn on a copy of the book as it stands, or on the book itself where none can
// be made: what takes long keeps nobody waiting.
func aside(a *app.App, fn func(*store.Book) error) error {
	return opened(a, store.Read, func(b *store.Book) error { return onSnapshot(b, fn) })
}

// onSnapshot runs fn on a snapshot of the book, which is closed.
func onSnapshot(b *store.Book, fn func(*store.Book) error) (err error) {
	c, err := b.Snapshot()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	return fn(c)
}

// Chain is what the hashes over a book's history say.
type Chain struct {
	Head  Link   `json:"head"`
	Since string `json:"history_since"`
	Begun string `json:"history_begun"` // new, upgrade, import, unfitted, salvage
}

// Link is one link of the chain.
type Link struct {
	Hash    string `json:"hash"`
	Short   string `json:"short"`
	Number  int    `json:"link"`
	Written string `json:"written"`
}

func linkOf(h chain.Head, zone *time.Location) Link {
	return Link{hex.EncodeToString(h.Hash[:]), h.Short(), h.Number, app.Instant(h.Written, zone)}
}

func chainOf(h chain.Head, b chain.Beginning, since time.Time, zone *time.Location) Chain {
	return Chain{linkOf(h, zone), app.Instant(since, zone), string(b)}
}

// Info is what a book is and holds.
type Info struct {
	Schema  string  `json:"schema"`
	Path    string  `json:"path"`
	ID      string  `json:"id"`
	Name    string  `json:"name"`
	Format  int     `json:"format"`
	Zone    string  `json:"zone"`
	Units   string  `json:"units"` // metric or imperial: for readers who choose none
	Created string  `json:"created"`
	Bytes   int64   `json:"bytes"`
	Free    int64   `json:"free_bytes"`
	Makes   int     `json:"makes"`
	Wheels  int     `json:"wheels"`
	Here    int     `json:"wheels_here"`
	Entries int     `json:"entries"`
	Rooms   int     `json:"rooms"`
	Newest  *string `json:"newest_entry"`
	Backup  *string `json:"last_backup"`   // when the last automatic one was made, and found sound; null: there is none
	Folder  *string `json:"backup_folder"` // where those are; null: none are made
	Chain
	Releasers MayReleaseLine `json:"releasers"` // who may lift safety holds, and who named them
	Stopped   []Stopped      `json:"stopped"`   // acts on many wheels that stopped half-way
}

// Stopped is an act on many wheels that stopped half-way.
type Stopped struct {
	Command string `json:"command"`
	By      string `json:"by"`
	At      string `json:"at"`
	Left    int    `json:"left"` // wheels it has yet to come to
	ID      string `json:"id"`   // under which it goes on
}

// About says what the book is and holds.
func About(a *app.App) (out Info, err error) {
	err = opened(a, store.Read, func(b *store.Book) error {
		x, err := b.About()
		zone, zerr := time.LoadLocation(x.Settings.Zone)
		if zerr != nil {
			zone = time.UTC
		}
		n := x.Counts
		out = Info{
			Schema: app.Schema("book-info"), Path: x.Path, ID: x.Settings.ID.String(), Name: x.Settings.Name,
			Format: x.Format, Zone: x.Settings.Zone, Units: x.Settings.Units, Created: app.Instant(x.Settings.Created, zone),
			Bytes: x.Bytes, Free: x.Free, Makes: n.Makes, Wheels: n.Wheels, Here: n.Here, Entries: n.Entries, Rooms: n.Rooms,
			Chain: chainOf(x.Head, x.Begun, x.Since, zone), Stopped: []Stopped{},
		}
		for _, u := range x.Unfinished {
			out.Stopped = append(out.Stopped,
				Stopped{u.Command, u.By, app.Instant(u.At, zone), u.Left, u.Batch.String()})
		}
		if out.Units == "" { // a book from before they were asked for
			out.Units = "metric"
		}
		if !x.Newest.IsZero() {
			t := app.Instant(x.Newest, zone)
			out.Newest = &t
		}
		a.TellHarm(b)
		return errors.Join(err, b.View(func(t *store.ReadTx) (err error) {
			out.Releasers, err = releasers(t, zone)
			return err
		}))
	})
	if err != nil {
		return out, err
	}
	k, err := a.ListBackups()
	if out.Folder = k.Folder; len(k.Backups) > 0 {
		out.Backup = &k.Backups[0].Made
	}
	return out, err
}

// Copy is what a backup or a restore came to.
type Copy struct {
	Schema   string    `json:"schema"`
	Path     string    `json:"path"`
	Bytes    int64     `json:"bytes"`
	Makes    int       `json:"makes"`
	Wheels   int       `json:"wheels"`
	Entries  int       `json:"entries"`
	Kept     string    `json:"old_book_kept_at"`
	Sound    bool      `json:"sound"`
	Findings []Finding `json:"findings"` // what in the copy can't be trusted

	accepted bool // whatever was found: it was to be taken as it is
}

func copyOf(name string, c copies.Copied, accepted bool) Copy {
	n := c.Counts
	return Copy{app.Schema(name), c.Path, c.Bytes, n.Makes, n.Wheels, n.Entries, c.Kept, len(c.Findings) == 0,
		FindingsOf(c.Findings), accepted}
}

// Unsound refuses to vouch for a copy that was made.
type Unsound struct {
	*Copy
}

func (Unsound) Code() string { return "copy-unsound" }

// Fault is what is wrong with the copy, nil where it is sound, or was to be taken as it is.
func (c *Copy) Fault() error {
	if c.Sound || c.accepted {
		return nil
	}
	return app.Refuse(Unsound{c}, KeepLast)
}

// The remedies for a file that is in the way.
const (
	AnotherName  = reason.Flat("another-name")  // of a backup, which is never written over
	ReplaceBook  = reason.Flat("replace-book")  // repeat with replace; the old book is kept
	ReplaceFile  = reason.Flat("replace-file")  // repeat with replace to write over it
	AnotherBook  = reason.Flat("another-book")  // give the book another name
	IntoATable   = reason.Flat("into-a-table")  // a workbook isn't an export: take a table of it
	KeepLast     = reason.Flat("keep-last")     // the last sound backup
	RestoreLast  = reason.Flat("restore-last")  // put the last backup in the book's place
	RebuildIndex = reason.Flat("rebuild-index") // make the indexes again
	FindWho      = reason.Flat("find-who")      // find out who changed it; to go back, restore
	TakeAltered  = reason.Flat("take-altered")  // find out why; repeat with altered to take it as it is
)

// inTheWay adds the remedy to an error that a file is there already.
func inTheWay(err error, remedy reason.Reason) error {
	if !errors.Is(err, bookfile.ErrExists) {
		return err
	}
	r := app.AsRefusal(err)
	r.Remedy = reason.List{remedy}
	return r
}

// Backup copies the book to a file, or into a folder under the day's name, and
// proves the copy. The copy of a damaged book is made too, and its Fault says so.
func Backup(ctx context.Context, a *app.App, path string) (out Copy, err error) {
	err = opened(a, store.Read, func(b *store.Book) error {
		if st, err := os.Stat(path); err == nil && st.IsDir() {
			path = filepath.Join(path, "cave-"+a.Now().In(b.Zone()).Format("2006-01-02-1504")+".book")
		}
		c, err := copies.Backup(ctx, b, path)
		out = copyOf("book-backup", c, false)
		return inTheWay(err, AnotherName)
	})
	return out, err
}

// Restore puts a backup in the book's place. With replace, a book that is there is
// kept beside it. A backup whose history was altered, or isn't the book's, is refused
// unless altered; then the copy's findings say so.
func Restore(ctx context.Context, a *app.App, backup string, replace, altered bool) (Copy, error) {
	c, err := copies.Restore(ctx, backup, a.Book, replace, store.Options{Now: a.Now, Altered: altered})
	if err == nil { // else the book would soon seem to be an older copy of its newest backup
		err = a.BackupFirst(ctx, true)
	}
	return copyOf("book-restore", c, altered), otherHistory(inTheWay(err, ReplaceBook), backup)
}

// otherHistory completes the refusal of a history that came from a file.
func otherHistory(err error, from string) error {
	other, ok := reason.Of(err).(*chain.OtherHistory)
	if !ok {
		return err
	}
	other.Path = from
	return app.About(from, app.Refuse(other, TakeAltered))
}

// Rebuilt is what a rebuild came to.
type Rebuilt struct {
	Schema string `json:"schema"`
	Path   string `json:"path"`
	Kept   string `json:"old_book_kept_at"` // where pages of its indexes were damaged
}

// Rebuild works out the indexes again from the entries.
func Rebuild(ctx context.Context, a *app.App) (Rebuilt, error) {
	harm, kept, err := copies.Rebuild(ctx, a.Book, store.Options{Now: a.Now})
	if len(harm) > 0 && a.Harmed != nil {
		a.Harmed(harm)
	}
	return Rebuilt{app.Schema("book-rebuild"), a.Book, kept}, err
}

// Compacted is the book's size before and after.
type Compacted struct {
	Schema string `json:"schema"`
	Before int64  `json:"bytes_before"`
	After  int64  `json:"bytes_after"`
}

// Compact gives back the space that deleted records left.
func Compact(ctx context.Context, a *app.App) (Compacted, error) {
	if err := a.BackupFirst(ctx, true); err != nil {
		return Compacted{}, err
	}
	before, after, err := copies.Compact(a.Book, store.Options{Now: a.Now})
	return Compacted{app.Schema("book-compact"), before, after}, err
}

// Tally is how many records of a sort there were.
type Tally struct {
	Record string `json:"record"`
	Count  int    `json:"count"`
}

// Moved is what an export or an import came to.
type Moved struct {
	Schema  string  `json:"schema"`
	Path    string  `json:"path"`
	Bytes   int64   `json:"bytes"`
	Records []Tally `json:"records"`

	LeftOut []Finding `json:"left_out"`         // records that can't be read
	Altered []Finding `json:"altered,omitzero"` // an import: what is wrong with the history in the file
}

// Gaps refuses to vouch for an export that lacks records.
type Gaps struct {
	Count int    `json:"count"`
	Path  string `json:"path"`
}

func (Gaps) Code() string { return "export-lacks-records" }

// Fault is what is wrong with the export, nil where it is whole.
func (m *Moved) Fault() error {
	if len(m.LeftOut) == 0 {
		return nil
	}
	return app.Refuse(Gaps{len(m.LeftOut), m.Path}, KeepLast)
}

// MovedOf is what an export or import of a schema came to.
func MovedOf(name, path string, bytes int64, tally []archive.Tally) Moved {
	m := Moved{app.Schema(name), path, bytes, make([]Tally, len(tally)), []Finding{}, nil}
	for i, t := range tally {
		m.Records[i] = Tally(t)
	}
	return m
}

// Export writes every fact of the book to a file, a JSON line for each.
func Export(ctx context.Context, a *app.App, path string, replace bool, tell store.Progress) (m Moved, err error) {
	err = aside(a, func(b *store.Book) error {
		tally, n, err := archive.ExportFile(ctx, b, path, replace, tell)
		m = MovedOf("book-export", path, n, tally)
		if err == nil {
			m.LeftOut = FindingsOf(b.Harm())
		}
		return app.About(path, inTheWay(err, ReplaceFile))
	})
	return m, err
}

// ExportTo is Export to a stream.
func ExportTo(ctx context.Context, a *app.App, to io.Writer) error {
	return aside(a, func(b *store.Book) error {
		_, err := archive.Export(ctx, b, to, nil)
		if m := (Moved{LeftOut: FindingsOf(b.Harm())}); err == nil {
			a.TellHarm(b)
			err = m.Fault()
		}
		return err
	})
}
