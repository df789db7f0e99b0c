package care

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/store/lines"
)

func importCmd(c *console.Console) *cobra.Command {
	var f console.TableFlags
	var sure bool
	altered := false
	cmd := c.Cmd("import FILE", "Make a book from an export, or take wheels from a spreadsheet's table", `
rindkeep book import cave-2026-11-25.jsonl --book new.book      an equal book
gunzip -c cave.jsonl.gz | rindkeep book import - --book new.book
rindkeep book import wheels.csv --map --dry-run                 how a table is understood
rindkeep book import wheels.xlsx --map --sheet Cellar           a workbook's sheet
rindkeep book import wheels.csv --map="tag=Cheese no, weight=kg now"
rindkeep book import wheels.csv --map --kinds="Bergkäse=tomme"  what the table calls a kind
rindkeep book import wheels.csv --map --kinds=tomme             they're all of one kind
rindkeep book import march.csv --mapping "Fern Bank"            as a table was read before`,
		console.Exactly("FILE"), func(_ *cobra.Command, args []string) error {
			if f.Map != "" || f.Mapping != "" {
				if altered {
					return console.Usagef("--altered is for an export, not for a table of wheels")
				}
				return importWheels(c, args[0], &f, sure)
			}
			if f.Try || sure || f.Sheet+f.Unit != "" || len(f.Kinds) > 0 {
				return console.Usagef("--sheet, --kinds, --unit, --dry-run and --sure go with --map, for a table of wheels")
			}
			return importExport(c, args[0], altered)
		})
	fl := cmd.Flags()
	fl.StringVar(&f.Map, "map", "", "add wheels and weights from a CSV or XLSX to the book; "+
		"columns by their headings, or `FIELD=HEADING,..`")
	fl.Lookup("map").NoOptDefVal = console.ByHeading
	fl.StringArrayVar(&f.Kinds, "kinds", nil, "with --map: what the table's words for kinds of cheese mean, "+
		"`WORD=VARIETY,..`; VARIETY alone: all of them")
	f.UnitFlag(fl, "with --map: ")
	f.Add(fl, "with --map: ")
	fl.BoolVar(&sure, "sure", false, "with --map: record weights that look wrong, and don't ask")
	fl.BoolVar(&altered, "altered", false, "make the book although the export's history was altered or left out")
	fl.SortFlags = false
	cmd.Long = cmd.Short + `.

An export holds the chain of hashes over the book's history. If a record in it was
changed, put in or removed since, or the chain left out, nothing is imported
without --altered, and then the book says so for good (rindkeep book check). It's
also compared with the book's automatic backups, if there are any here. Somebody
who wrote the whole chain again can only be found out so, or by a head that was
noted: rindkeep book check --head HASH.

All rows of a table are checked before the first is recorded. A table of up to 100
rows is recorded whole or not at all; a longer one lot by lot, so that others can use
the book in between. If that's interrupted, run the same command again: what is in the
book already is left as it is.`
	return cmd
}

// importExport makes the book from an export.
func importExport(c *console.Console, name string, altered bool) error {
	in, err := c.OpenFile(name)
	if err != nil {
		return err
	}
	defer in.Close()
	var tell func(int)
	if p := progress(c, func(n, _ int) string { return fmt.Sprintf("read %d lines", n) }); p != nil {
		tell = func(n int) { p(n, -1) }
	}
	m, err := care.Import(c.Ctx, c.App, name, in, altered, tell)
	var ie *lines.Error
	if errors.As(err, &ie) {
		where := name
		if ie.Line > 0 {
			where = fmt.Sprintf("%s:%d", name, ie.Line)
		}
		return console.At(where, fmt.Errorf("%s: %s; nothing was imported", console.SafePath(name), c.WithHint(err)))
	}
	c.Committed = c.Committed || err == nil
	warnAltered(c, m.Altered)
	if err := moved(c, "imported to", m, err); err != nil {
		return err
	}
	c.Next("check it: rindkeep book check")
	return nil
}
