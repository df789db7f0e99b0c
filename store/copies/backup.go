// Package copies makes, proves and puts in place copies of a book: backups on demand and
// automatic ones, restored and compacted books, and those whose indexes were made again. It
// holds the histories of two copies against each other.
package copies

import (
	"context"
	"time"

	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/finding"
)

// Copied is what a backup or restore came to.
type Copied struct {
	Path     string // the file written
	Bytes    int64
	Counts   store.Counts
	Kept     string             // restore: where the old book is kept now; "" where there was none
	Findings []bookfile.Finding // what in the copy can't be trusted; none where it is sound
}

// Backup writes a book as it stands to a new file at path: synced, then every page,
// the seal of every fact and the chain are read back before it gets its name. A book
// that was opened for reading is let go as soon as it's copied: it's closed then. Others
// may use the book meanwhile; what they write then is not in the backup. A file that
// is there already is never touched (bookfile.ErrExists). A damaged book is copied
// too, and Findings say what is wrong with it.
func Backup(ctx context.Context, b *store.Book, path string) (Copied, error) {
	out := Copied{Path: path}
	if err := bookfile.MustBeFree(path); err != nil {
		return out, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return out, err
	}
	defer tmp.Drop()
	if err := copyAndProve(ctx, b, tmp, &out); err != nil {
		return out, err
	}
	return out, tmp.Place()
}

// copyAndProve copies the book to a draft and proves the copy.
func copyAndProve(ctx context.Context, b *store.Book, tmp *bookfile.Draft, out *Copied) (err error) {
	if out.Bytes, err = b.CopyTo(tmp.Name, out.Path); err != nil {
		return err
	}
	c, err := store.OpenAsIs(tmp.Name, store.Read, store.Options{Wait: time.Second, Now: b.Now, Alone: true})
	if err != nil {
		return bookfile.CalledAs(err, tmp.Name, out.Path)
	}
	defer c.Close()
	out.Findings, out.Counts, err = c.CheckFacts(ctx)
	if b.Half() { // the copy has both, of what may be the older one
		out.Findings = append(out.Findings, bookfile.Finding{At: bookfile.At("page", 0), What: finding.HalfMetadata})
	}
	return bookfile.CalledAs(err, tmp.Name, out.Path)
}

// Prove opens a copy and walks its pages; its counts must be those given. The
// errors speak of the file as called.
func Prove(tmp, called string, want store.Counts) error {
	c, err := store.Open(tmp, store.Read, store.Options{Wait: time.Second, Alone: true})
	if err != nil {
		return bookfile.CalledAs(err, tmp, called)
	}
	defer c.Close()
	findings, err := c.CheckPages(context.Background(), nil)
	if err != nil {
		return err
	}
	if len(findings) > 0 {
		return findings[0].Damage(called)
	}
	got, err := counted(c)
	if err == nil && got != want {
		err = bookfile.Damaged(called, nil, bookfile.At("counts", nil))
	}
	return err
}

func counted(b *store.Book) (n store.Counts, err error) {
	err = b.View(func(t *store.ReadTx) (err error) { n, err = t.Counts(); return err })
	return n, err
}
