package care

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/workbook"
	"rindkeep/store/archive"
	"rindkeep/store/bookfile"
	"rindkeep/wheel"
)

// csvTables writes the tables into files of a folder.
type csvTables struct {
	zone *time.Location
	open map[string]*csvTable
	*csvTable
}

// csvTable is one table being written.
type csvTable struct {
	*text.CSVWriter
	file console.NewFile
	rows int
}

// Table implements care.Tabler.
func (c *csvTables) Table(name string, head []care.Column) error {
	c.csvTable = c.open[name]
	c.CSVWriter = text.NewCSV(c.file, c.zone)
	names := make([]any, len(head))
	for i, h := range head {
		names[i] = h.Name
	}
	return c.CSVWriter.Row(names...)
}

// Row implements care.Tabler.
func (c *csvTables) Row(cells ...any) error {
	c.rows++
	return c.CSVWriter.Row(cells...)
}

// exportCSV writes the tables into a folder, each under another name first, so
// that no half table is seen.
func exportCSV(c *console.Console, f exportFlags) (care.Moved, error) {
	if err := bookfile.MakeFolders(f.dir, 0o755); err != nil {
		return care.Moved{}, folderError(f.dir, "make the folder", err)
	}
	for _, k := range care.TableKinds {
		if err := console.FreeToWrite(filepath.Join(f.dir, k[0]+".csv"), f.replace); err != nil {
			return care.Moved{}, err
		}
	}
	to := &csvTables{open: map[string]*csvTable{}}
	defer func() {
		for _, s := range to.open {
			s.file.Drop()
		}
	}()
	for _, k := range care.TableKinds {
		file, err := console.Begin(filepath.Join(f.dir, k[0]+".csv"))
		if err != nil {
			return care.Moved{}, folderError(f.dir, "write into", err)
		}
		to.open[k[0]] = &csvTable{file: file}
	}
	if err := care.Tables(c.Ctx, c.App, c.Caller(), detail(c), func(zone *time.Location) care.Tabler {
		to.zone = zone
		return to
	}); err != nil {
		return care.Moved{}, err
	}
	var tally []archive.Tally
	var files []console.NewFile
	var err error
	for _, k := range care.TableKinds {
		s := to.open[k[0]]
		err = errors.Join(err, s.Close())
		files = append(files, s.file)
		tally = append(tally, archive.Tally{Record: k[1], Count: s.rows})
	}
	bytes, err := console.Placed(err, files...)
	return lacking(c, care.MovedOf("book-export", f.dir, bytes, tally)), err
}

// lacking adds what couldn't be read.
func lacking(c *console.Console, m care.Moved) care.Moved {
	m.LeftOut = care.FindingsOf(c.Harm)
	return m
}

func folderError(dir, what string, err error) error {
	return console.At(dir, fmt.Errorf("cannot %s %s: %s", what, console.SafePath(dir), console.PlainOS(err)))
}

// bookSheets writes the tables into the sheets of a workbook.
type bookSheets struct {
	w    *workbook.Writer
	zone *time.Location
	rows map[string]int
	now  string
}

// Table implements care.Tabler.
func (b *bookSheets) Table(name string, head []care.Column) error {
	names := make([]string, len(head))
	for i, h := range head {
		names[i] = h.Name
		if h.Instant { // a cell knows no zone
			names[i] += " (" + b.zone.String() + ")"
		}
	}
	b.now = name
	return b.w.Sheet(name, names...)
}

// Row implements care.Tabler.
func (b *bookSheets) Row(cells ...any) error {
	b.rows[b.now]++
	for i, c := range cells {
		if t, ok := c.(time.Time); ok && !t.IsZero() {
			cells[i] = t.In(b.zone)
		}
	}
	return b.w.Row(cells...)
}

// detail says what an entry holds, once the book's units are known.
func detail(c *console.Console) care.Detail {
	return func(e wheel.Entry) string { return c.Words.EntryDetail(e) }
}

// exportWorkbook writes the tables into one workbook, whole or not at all.
func exportWorkbook(c *console.Console, f exportFlags) error {
	path := f.xlsx
	if err := console.FreeToWrite(path, f.replace); err != nil {
		return err
	}
	if st, err := os.Stat(path); err == nil {
		if own, err := os.Stat(c.Book); err == nil && os.SameFile(st, own) {
			return console.At(path, fmt.Errorf("%s is the book itself", console.SafePath(path)))
		}
	}
	file, err := console.Begin(path)
	if err != nil {
		return err
	}
	defer file.Drop()
	out := bufio.NewWriterSize(file, 256<<10)
	to := &bookSheets{w: workbook.NewWriter(out), rows: map[string]int{}}
	err = care.Tables(c.Ctx, c.App, c.Caller(), detail(c), func(zone *time.Location) care.Tabler {
		to.zone = zone
		return to
	})
	if err == nil {
		err = errors.Join(to.w.Close(), out.Flush())
	}
	if err != nil {
		return console.CannotWrite(path, err)
	}
	if err := console.FreeToWrite(path, f.replace); err != nil {
		return err
	}
	n, err := console.Placed(nil, file)
	if err != nil {
		return err
	}
	var tally []archive.Tally
	for _, k := range care.TableKinds {
		tally = append(tally, archive.Tally{Record: k[1], Count: to.rows[k[0]]})
	}
	if err := moved(c, "exported to", lacking(c, care.MovedOf("book-export", path, n, tally)), nil); err != nil {
		return err
	}
	c.TellCut(to.w)
	return nil
}
