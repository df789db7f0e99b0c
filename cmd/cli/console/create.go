package console

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/store/bookfile"
)

// CreateBook makes the book where there is none, in this machine's time zone where
// the settings name none, and notes that it did.
func (c *Console) CreateBook(set store.Settings) error {
	if set.Zone == "" {
		set.Zone = c.Env.ZoneName()
	}
	if err := c.BookFolder(); err != nil {
		return err
	}
	created, err := c.App.Create(set)
	if created {
		c.Note("new book at %s, time zone %s", c.Book, set.Zone)
	}
	return err
}

// BookFolder makes the folder of the usual book; that of another has to be there.
func (c *Console) BookFolder() error {
	if dir := filepath.Dir(c.Book); c.Book == c.Env.DefaultBook() {
		if err := bookfile.MakeFolders(dir, 0o755); err != nil {
			return fmt.Errorf("no folder for the book at %s: %s", SafePath(dir), PlainOS(err))
		}
	} else if _, err := os.Stat(dir); err != nil {
		missing := fmt.Errorf("no folder %s for the book", SafePath(dir))
		return At(c.Book, Hint(missing, "is the path right? make the folder first, or leave --book out"))
	}
	return nil
}

// BackUp makes the day's automatic backup of a book that may have changed, now that the
// command has printed all it has to say.
func (c *Console) BackUp() {
	if c.Wrote == nil || !c.App.Backups || c.Ctx.Err() != nil {
		return
	}
	large := func() {
		if c.Env.OutTTY {
			c.Note("making today's backup; Ctrl-C leaves it to the next command")
		}
	}
	var r *app.Refusal
	if err := c.App.DayBackup(c.Ctx, *c.Wrote, large); errors.As(err, &r) {
		c.noBackup(r)
	}
}

// noBackup says why an automatic backup is missing, once.
func (c *Console) noBackup(r *app.Refusal) {
	c.App.Backups = false
	c.Warn("rindkeep: %s", c.Words.Refusal(r))
	if hint := c.Words.Remedy(r); hint != "" {
		c.Warn("hint: %s", hint)
	}
}
