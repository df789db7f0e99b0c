package cli

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cmd/workbook"
	"rindkeep/store"
)

func (a *app) bookImportCmd() *cobra.Command {
	var f tableFlags
	c := a.cmd("import FILE", "Make a book from an export, or take wheels from a spreadsheet's table", `
rindkeep book import cave-2026-11-25.jsonl --book new.book      an equal book
gunzip -c cave.jsonl.gz | rindkeep book import - --book new.book
rindkeep book import wheels.csv --map --dry-run                 how a table is understood
rindkeep book import wheels.xlsx --map --sheet Cellar           a workbook's sheet
rindkeep book import wheels.csv --map="tag=Cheese no, weight=kg now"`, exactly("FILE"), func(cmd *cobra.Command, args []string) error {
		if f.spec != "" {
			return a.importTable(args[0], f)
		}
		if f.dry || f.sure || f.sheet != "" {
			return usagef("--sheet, --dry-run and --sure go with --map, for a table of wheels")
		}
		return a.importBook(args[0])
	})
	fl := c.Flags()
	fl.StringVar(&f.spec, "map", "", "take wheels and weights from a CSV or XLSX into the book that is there; columns by their headings, or `FIELD=HEADING,..`")
	fl.Lookup("map").NoOptDefVal = byHeading
	fl.StringVar(&f.sheet, "sheet", "", "with --map: the workbook's sheet of this `NAME` (default: its first)")
	fl.BoolVar(&f.dry, "dry-run", false, "with --map: show what would be written and write nothing")
	fl.BoolVar(&f.sure, "sure", false, "with --map: take weights that look wrong, and do not ask")
	fl.SortFlags = false
	return c
}

// importBook makes the book from an export.
func (a *app) importBook(name string) error {
	in, err := a.openFile(name)
	if err != nil {
		return err
	}
	defer in.Close()
	r := bufio.NewReaderSize(in, 64<<10)
	// A failed read comes again when the export is read.
	if head, _ := r.Peek(4); workbook.Is(head) {
		return at(name, hint(fmt.Errorf("%s is a workbook, not an export", safeWord(name)), "add --map to take wheels and weights from it"))
	}
	tally, err := store.Import(a.ctx, a.book, r, a.options(), a.linesRead())
	var ie *store.ImportError
	switch {
	case errors.As(err, &ie):
		where := name
		if ie.Line > 0 {
			where = fmt.Sprintf("%s:%d", name, ie.Line)
		}
		return at(where, fmt.Errorf("%s: %s; nothing was imported", safePath(name), a.nearly(err)))
	case errors.Is(err, store.ErrExists):
		return hint(err, "give a new one: --book FILE")
	case err != nil:
		return err
	}
	a.Committed = true
	st, err := os.Stat(a.book)
	if err != nil {
		return err
	}
	if err := a.tallyOut("book-import", "imported to", a.book, tally, st.Size()); err != nil {
		return err
	}
	a.next("prove it: rindkeep book check")
	return nil
}

// linesRead tells on a terminal how far an import has come.
func (a *app) linesRead() func(int) {
	if !a.env.OutTTY || a.quiet || a.json {
		return nil
	}
	var last time.Time
	return func(n int) {
		now := a.env.Now()
		if now.Sub(last) < 200*time.Millisecond {
			return
		}
		last = now
		fmt.Fprintf(a.env.Err, "\rread %d lines \x1b[K", n)
	}
}
