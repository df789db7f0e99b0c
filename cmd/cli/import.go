package cli

import (
	"github.com/spf13/cobra"

	uc "rindkeep/cmd/app"
	carecmd "rindkeep/cmd/cli/care"
	"rindkeep/wheel"
)

func (a *app) bookCmd() *cobra.Command {
	detail := func(s *uc.Session, e wheel.Entry) string { return a.session(s).detail(e) }
	return a.group("book", "Back up, check, export", append(carecmd.Commands(a.Console, detail), a.bookImportCmd())...)
}

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
		return carecmd.Import(a.Console, args[0])
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
