package cli

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel/holdrule"
)

func (a *app) bookCmd() *cobra.Command {
	return a.group("book", "Care of the data", a.bookNewCmd(), a.bookInfoCmd(), a.bookCheckCmd(), a.bookBackupCmd(), a.bookRestoreCmd(), a.bookRebuildCmd(), a.bookCompactCmd(), a.bookExportCmd(), a.bookImportCmd())
}

func (a *app) options() store.Options { return store.Options{Now: a.env.Now} }

// opened runs fn on the open book outside any transaction.
func (a *app) opened(mode store.Mode, fn func(*store.Book) error) (err error) {
	b, err := store.Open(a.book, mode, a.options())
	if err != nil {
		return err
	}
	defer func() {
		if cerr := b.Close(); err == nil {
			err = cerr
		}
	}()
	return fn(b)
}

func (a *app) bookNewCmd() *cobra.Command {
	var zone, country string
	c := a.nowCmd("new", "Begin an empty book", `
rindkeep book new --book cave.book
rindkeep book new --book cave.book --zone Europe/Dublin
rindkeep book new --book cave.book --country US,CA          whose food law its wheels follow`, none, func(cmd *cobra.Command, _ []string) error {
		if _, err := os.Lstat(a.book); err == nil {
			return at(a.book, fmt.Errorf("there is something at %s already; nothing was changed", safeWord(a.book)))
		}
		cs, err := countriesOf("--country", country)
		if err != nil {
			return err
		}
		if err := a.createFor(zone, holdrule.Joined(cs)); err != nil {
			return err
		}
		return a.aboutOut()
	})
	c.Flags().StringVar(&zone, "zone", "", "IANA time `ZONE` (default: this machine's)")
	c.Flags().StringVar(&country, "country", "", "whose food law its wheels follow, ISO `CODES`: US,CA (default: none named)")
	return c
}

func (a *app) bookInfoCmd() *cobra.Command {
	return a.nowCmd("info", "What the book is and holds", "\nrindkeep book info", none, func(cmd *cobra.Command, _ []string) error {
		return a.aboutOut()
	})
}

func (a *app) aboutOut() error {
	return a.opened(store.Read, func(b *store.Book) error {
		x, err := b.About()
		if err != nil {
			return err
		}
		var newest *string
		loc, err := time.LoadLocation(x.Settings.Zone)
		if err != nil {
			loc = time.UTC
		}
		if !x.Newest.IsZero() {
			t := instant(x.Newest, loc)
			newest = &t
		}
		if a.json {
			return a.document(struct {
				Schema  string  `json:"schema"`
				Path    string  `json:"path"`
				ID      string  `json:"id"`
				Name    string  `json:"name"`
				Format  int     `json:"format"`
				Zone    string  `json:"zone"`
				Created string  `json:"created"`
				Bytes   int64   `json:"bytes"`
				Free    int64   `json:"free_bytes"`
				Makes   int     `json:"makes"`
				Wheels  int     `json:"wheels"`
				Here    int     `json:"wheels_here"`
				Entries int     `json:"entries"`
				Rooms   int     `json:"rooms"`
				Newest  *string `json:"newest_entry"`
				chainDoc
			}{schema("book-info"), x.Path, x.Settings.ID.String(), x.Settings.Name, x.Format, x.Settings.Zone, instant(x.Settings.Created, loc), x.Bytes, x.Free,
				x.Counts.Makes, x.Counts.Wheels, x.Counts.Here, x.Counts.Entries, x.Counts.Rooms, newest, chainDocOf(x.Head, x.Begun, x.Since, loc)})
		}
		t := text.Table{Columns: []text.Column{{}, {Wrap: true}}}
		t.Add("book", x.Path)
		if x.Settings.Name != "" {
			t.Add("name", text.Safe(x.Settings.Name))
		}
		t.Add("holds", fmt.Sprintf("%s, %s (%d here), %s, %s", text.Count(x.Counts.Makes, "make"), text.Count(x.Counts.Wheels, "wheel"), x.Counts.Here, text.Count(x.Counts.Entries, "entry", "entries"), text.Count(x.Counts.Rooms, "room")))
		t.Add("format", fmt.Sprint(x.Format))
		t.Add("time zone", x.Settings.Zone)
		t.Add("begun", x.Settings.Created.In(loc).Format("2006-01-02 15:04"))
		if newest != nil {
			t.Add("last entry", x.Newest.In(loc).Format("2006-01-02 15:04"))
		}
		t.Add("head", headWords(x.Head, loc))
		t.Add("history", sinceWords(x.Begun, x.Since, loc))
		t.Add("size", fmt.Sprintf("%.1f MB, %.1f MB of it free", float64(x.Bytes)/1e6, float64(x.Free)/1e6))
		a.lines(t.Lines(a.env.Columns()))
		return nil
	})
}

// progress tells on a terminal how far a long job has come.
func (a *app) progress(word string) store.Progress {
	if !a.env.OutTTY || a.quiet || a.json {
		return nil
	}
	var last time.Time
	return func(done, total int) {
		now := a.env.Now()
		if done < total && now.Sub(last) < 200*time.Millisecond {
			return
		}
		last = now
		fmt.Fprintf(a.env.Err, "\r%s %d of %d ", word, done, total)
		if done >= total {
			fmt.Fprint(a.env.Err, "\r\x1b[K")
		}
	}
}

func (a *app) bookBackupCmd() *cobra.Command {
	return a.nowCmd("backup FILE", "Copy the book, in use or not, and prove the copy", `
rindkeep book backup cave-2026-11-25.book
rindkeep book backup /media/stick/               a folder: named by the day`, exactly("FILE"), func(cmd *cobra.Command, args []string) error {
		return a.opened(store.Read, func(b *store.Book) error {
			path := args[0]
			if st, err := os.Stat(path); err == nil && st.IsDir() {
				path = filepath.Join(path, "cave-"+a.env.Now().In(b.Zone()).Format("2006-01-02-1504")+".book")
			}
			if _, err := os.Stat(filepath.Dir(path)); err != nil {
				return at(safePath(path), fmt.Errorf("no folder %s for the backup: %s", safePath(filepath.Dir(path)), plainOS(err)))
			}
			c, err := b.Backup(path)
			if errors.Is(err, store.ErrExists) {
				return hint(err, "a backup is never written over: give another name, or a folder, in which it is named by the day")
			}
			if err != nil {
				return err
			}
			return a.copiedOut("book-backup", "backed up to", c)
		})
	})
}

func (a *app) copiedOut(name, word string, c store.Copied) error {
	if a.json {
		return a.document(struct {
			Schema  string `json:"schema"`
			Path    string `json:"path"`
			Bytes   int64  `json:"bytes"`
			Makes   int    `json:"makes"`
			Wheels  int    `json:"wheels"`
			Entries int    `json:"entries"`
			Kept    string `json:"old_book_kept_at"`
		}{schema(name), c.Path, c.Bytes, c.Counts.Makes, c.Counts.Wheels, c.Counts.Entries, c.Kept})
	}
	a.print("%s %s: %s, %s, %.1f MB, read back and found sound\n", word, safePath(c.Path), text.Count(c.Counts.Wheels, "wheel"), text.Count(c.Counts.Entries, "entry", "entries"), float64(c.Bytes)/1e6)
	if c.Kept != "" {
		a.print("the old book is kept at %s\n", safePath(c.Kept))
	}
	return nil
}

func (a *app) bookRestoreCmd() *cobra.Command {
	var replace bool
	c := a.nowCmd("restore BACKUP", "Put a backup in the book's place", `
rindkeep book restore cave-2026-11-25.book
rindkeep book restore cave-2026-11-25.book --replace     keeps the old book beside it`, exactly("BACKUP"), func(cmd *cobra.Command, args []string) error {
		if dir := filepath.Dir(a.book); dir != "." {
			if err := os.MkdirAll(dir, 0o755); err != nil {
				return fmt.Errorf("no folder for the book at %s: %s", safePath(dir), plainOS(err))
			}
		}
		c, err := store.Restore(args[0], a.book, replace, a.options())
		if errors.Is(err, store.ErrExists) {
			return hint(err, "repeat with --replace to put the backup in its place; the old book is kept beside it")
		}
		if err != nil {
			return err
		}
		return a.copiedOut("book-restore", "restored to", c)
	})
	c.Flags().BoolVar(&replace, "replace", false, "put it in the place of a book that is there; the old one is kept")
	return c
}

func (a *app) bookRebuildCmd() *cobra.Command {
	return a.nowCmd("rebuild", "Make the indexes anew from the entries", "\nrindkeep book rebuild", none, func(cmd *cobra.Command, _ []string) error {
		if err := a.opened(store.Write, func(b *store.Book) error { return b.Rebuild() }); err != nil {
			return err
		}
		if a.json {
			return a.document(struct {
				Schema string `json:"schema"`
				Path   string `json:"path"`
			}{schema("book-rebuild"), a.book})
		}
		a.print("the indexes are made anew from the entries\n")
		return nil
	})
}

func (a *app) bookCompactCmd() *cobra.Command {
	return a.nowCmd("compact", "Give back the space that deleted records left", "\nrindkeep book compact", none, func(cmd *cobra.Command, _ []string) error {
		before, after, err := store.Compact(a.book, a.options())
		if err != nil {
			return err
		}
		if a.json {
			return a.document(struct {
				Schema string `json:"schema"`
				Before int64  `json:"bytes_before"`
				After  int64  `json:"bytes_after"`
			}{schema("book-compact"), before, after})
		}
		a.print("%.1f MB before, %.1f MB now\n", float64(before)/1e6, float64(after)/1e6)
		return nil
	})
}
