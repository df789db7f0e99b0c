// Package care has the commands about the book itself: what it is, whether it is
// sound, copies of it, and all of it in the form of other programs.
package care

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/wheel/holdrule"
)

// Command is book with its subcommands.
func Command(c *console.Console) *cobra.Command {
	return console.Group("book", "Back up, check, export",
		newCmd(c), infoCmd(c), checkCmd(c), backupCmd(c), backupsCmd(c), restoreCmd(c), salvageCmd(c), rebuildCmd(c),
		compactCmd(c), exportCmd(c), importCmd(c), releasersCmd(c), siteCmd(c), mappingsCmd(c))
}

func newCmd(c *console.Console) *cobra.Command {
	var zone, country, name, address string
	cmd := c.NowCmd("new", "Begin an empty book", `
rindkeep book new --book cave.book
rindkeep book new --book cave.book --zone Europe/Dublin --units imperial
rindkeep book new --book cave.book --country US,CA          whose food law its wheels follow`, console.NoArgs,
		func(*cobra.Command, []string) error {
			if _, err := os.Lstat(c.Book); err == nil {
				there := fmt.Errorf("there is something at %s already; nothing was changed", console.SafeWord(c.Book))
				return console.At(c.Book, there)
			}
			set := store.Settings{Zone: zone}
			in, ask := c.Figures(), question(c)
			if country == "" {
				country = ask("whose food law its wheels follow: codes like US or GB, CA [none]")
			}
			if country != "" {
				set.Countries = holdrule.Joined(console.Read(in, "--country", country, holdrule.ParseCountries))
			}
			if u, given := c.UnitsFlag(); given {
				set.Units = string(u)
			} else if u := ask("metric or imperial units in this book [metric]"); u != "" {
				set.Units = string(console.Read(in, "--units", u, quantity.ParseUnits))
			}
			if in.Err != nil || c.Ctx.Err() != nil {
				return cmp.Or(in.Err, c.Ctx.Err())
			}
			if name == "" {
				name = ask("name of the business, for traceability sheets [none]")
			}
			if name != "" && address == "" {
				address = ask("its address [none]")
			}
			if err := c.CreateBook(set); err != nil {
				return err
			}
			if name+address != "" {
				if _, err := care.WhichSite(c.Ctx, c.App, c.Caller(), care.SiteFacts{Name: &name, Address: &address}); err != nil {
					return err
				}
			}
			return info(c)
		})
	cmd.Flags().StringVar(&zone, "zone", "", "IANA time `ZONE` (default: this machine's)")
	cmd.Flags().StringVar(&name, "site", "", "`NAME` of the business, for traceability sheets")
	cmd.Flags().StringVar(&address, "address", "", "its `ADDRESS`")
	cmd.Flags().StringVar(&country, "country", "", "whose food law its wheels follow, ISO `CODES`: US,CA "+
		"(default: none named)")
	return cmd
}

// question asks a person at a terminal, who may just press Enter; elsewhere the
// answer is "".
func question(c *console.Console) func(string) string {
	return func(q string) string {
		if !c.Env.InTTY || !c.Env.OutTTY || c.JSON || c.Quiet {
			return ""
		}
		answer, _ := c.Ask(q + ": ")
		return answer
	}
}

func infoCmd(c *console.Console) *cobra.Command {
	return c.NowCmd("info", "What the book is and holds", "\nrindkeep book info", console.NoArgs,
		func(*cobra.Command, []string) error { return info(c) })
}

func info(c *console.Console) error {
	x, err := care.About(c.App)
	if done, err := c.Answered(x, err); done {
		return err
	}
	t := text.Table{Columns: []text.Column{{}, {Wrap: true}}}
	t.Add("book", x.Path)
	if x.Name != "" {
		t.Add("name", text.Safe(x.Name))
	}
	t.Add("holds", fmt.Sprintf("%s, %s (%d here), %s, %s", text.Count(x.Makes, "make"), text.Count(x.Wheels, "wheel"),
		x.Here, text.Count(x.Entries, "entry", "entries"), text.Count(x.Rooms, "room")))
	t.Add("format", fmt.Sprint(x.Format))
	t.Add("time zone", x.Zone)
	t.Add("units", x.Units)
	t.Add("begun", words.Minute(x.Created))
	if x.Newest != nil {
		t.Add("last entry", words.Minute(*x.Newest))
	}
	for _, u := range x.Stopped {
		t.Add("stopped", fmt.Sprintf("%s by %s, %s, has %s to go; to go on, run it again with --id %s", text.Safe(u.Command),
			text.Safe(u.By), words.Minute(u.At), text.Count(u.Left, "wheel"), u.ID))
	}
	if r := x.Releasers; r.From != "" {
		t.Add("releasers", words.MayLift(r.Names, r.By, r.From))
	}
	t.Add("head", c.Words.Link(x.Head))
	t.Add("history", c.Words.Since(x.Chain))
	t.Add("size", fmt.Sprintf("%s, %s of it free", megabytes(x.Bytes), megabytes(x.Free)))
	switch {
	case x.Backup != nil:
		t.Add("backup", words.Minute(*x.Backup)+", found sound; see rindkeep book backups")
	case x.Folder != nil:
		t.Add("backup", "none yet; the next entry makes one")
	default:
		t.Add("backup", "none are made; turn them on with rindkeep book backups --folder beside")
	}
	c.Table(t)
	return nil
}

func megabytes(n int64) string { return fmt.Sprintf("%.1f MB", float64(n)/1e6) }

// progress shows on a terminal how far a long job has come, at most five times a
// second.
func progress(c *console.Console, show func(done, total int) string) store.Progress {
	if !c.Env.OutTTY || c.Quiet || c.JSON {
		return nil
	}
	var last time.Time
	return func(done, total int) {
		now := c.Env.Now()
		if done != total && now.Sub(last) < 200*time.Millisecond {
			return
		}
		last = now
		fmt.Fprintf(c.Env.Err, "\r%s \x1b[K", show(done, total))
		if done == total {
			fmt.Fprint(c.Env.Err, "\r\x1b[K")
		}
	}
}

// ofTotal shows progress as "checked 5 of 100".
func ofTotal(done string) func(n, total int) string {
	return func(n, total int) string { return fmt.Sprintf("%s %d of %d", done, n, total) }
}

func backupCmd(c *console.Console) *cobra.Command {
	cmd := c.NowCmd("backup FILE", "Copy the book, in use or not, and prove the copy", `
rindkeep book backup cave-2026-11-25.book
rindkeep book backup /media/stick/               a folder: named by the day`, console.Exactly("FILE"),
		func(_ *cobra.Command, args []string) error {
			if dir := filepath.Dir(args[0]); !isFolder(dir) {
				missing := fmt.Errorf("no folder %s for the backup: it is not there", console.SafePath(dir))
				return console.At(console.SafePath(args[0]), missing)
			}
			x, err := care.Backup(c.Ctx, c.App, args[0])
			return copied(c, "backed up to", x, err)
		})
	cmd.Long = cmd.Short + `.

The book makes backups by itself too, on the first entry of each day: rindkeep book
backups lists them. They are proved in the same way, but are on the same disk unless
you name another folder, and old ones are removed. A backup that you make is yours:
it is never written over or removed.`
	return cmd
}

func isFolder(path string) bool {
	st, err := os.Stat(path)
	return err == nil && st.IsDir()
}

func copied(c *console.Console, done string, x care.Copy, err error) error {
	if err != nil {
		return err
	}
	c.Words.FillFindings(x.Findings)
	fault := x.Fault()
	if c.JSON {
		if err := c.Document(x); err != nil || fault == nil {
			return err
		}
		return console.Silent{Code: console.ExitRefused}
	}
	if fault != nil {
		return fault
	}
	how := "read back and found sound"
	if !x.Sound {
		how = "with its history as it is"
	}
	c.Print("%s %s: %s, %s, %s, %s\n", done, console.SafePath(x.Path), text.Count(x.Wheels, "wheel"),
		text.Count(x.Entries, "entry", "entries"), megabytes(x.Bytes), how)
	if x.Kept != "" {
		c.Print("the old book is kept at %s\n", console.SafePath(x.Kept))
	}
	return nil
}

func restoreCmd(c *console.Console) *cobra.Command {
	var replace, altered bool
	cmd := c.NowCmd("restore BACKUP", "Restore a backup", `
rindkeep book restore                                    which there are
rindkeep book restore cave-2026-11-25.book
rindkeep book restore cave-2026-11-25.book --replace     keeps the old book beside it`, console.AtMost(1),
		func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return offerBackups(c)
			}
			if dir := filepath.Dir(c.Book); dir != "." {
				if err := bookfile.MakeFolders(dir, 0o755); err != nil {
					return fmt.Errorf("no folder for the book at %s: %s", console.SafePath(dir), console.PlainOS(err))
				}
			}
			x, err := care.Restore(c.Ctx, c.App, args[0], replace, altered)
			if err == nil {
				warnAltered(c, x.Findings)
			}
			return copied(c, "restored to", x, err)
		})
	cmd.Flags().BoolVar(&replace, "replace", false, "put it in the place of a book that is there; the old one is kept")
	cmd.Flags().BoolVar(&altered, "altered", false, "restore it although its history was altered, or isn't this book's")
	cmd.Flags().SortFlags = false
	cmd.Long = cmd.Short + `.

The backup is checked first. If a record in it was changed, put in or removed by
anything but rindkeep, or its history isn't the one of the book that is there and
of its automatic backups, nothing is restored without --altered. A backup that is
only older, or newer, has the same history. If there is neither a book nor an
automatic backup, only the backup itself can be checked: somebody who wrote the
whole of its history again is found out by a head that was noted, with rindkeep
book check --book BACKUP --head HASH.`
	return cmd
}

// warnAltered says what is wrong with a history that was taken as it is.
func warnAltered(c *console.Console, found []care.Finding) {
	c.Words.FillFindings(found)
	for _, f := range found {
		c.Warn("rindkeep: taken as it is: %s: %s", text.Safe(f.Where), text.Safe(f.What))
	}
}

func rebuildCmd(c *console.Console) *cobra.Command {
	return c.NowCmd("rebuild", "Make the indexes again from the entries", "\nrindkeep book rebuild", console.NoArgs,
		func(*cobra.Command, []string) error {
			x, err := care.Rebuild(c.Ctx, c.App)
			done, err := c.Answered(x, err)
			if !done {
				c.Print("the indexes are made again from the entries\n")
				if x.Kept != "" {
					c.Print("pages of the old ones were damaged; the old book is kept at %s\n", console.SafePath(x.Kept))
				}
			}
			return err
		})
}

func compactCmd(c *console.Console) *cobra.Command {
	return c.NowCmd("compact", "Give back the space that deleted records left", "\nrindkeep book compact", console.NoArgs,
		func(*cobra.Command, []string) error {
			x, err := care.Compact(c.Ctx, c.App)
			done, err := c.Answered(x, err)
			if !done {
				c.Print("%s before, %s now\n", megabytes(x.Before), megabytes(x.After))
			}
			return err
		})
}
