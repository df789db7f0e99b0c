package care

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// exportFlags are where an export goes: a FILE, the tables of a folder, or a
// workbook.
type exportFlags struct {
	dir, xlsx string
	replace   bool
}

func exportCmd(c *console.Console) *cobra.Command {
	var f exportFlags
	cmd := c.Cmd("export FILE | --csv DIR | --xlsx FILE", "Write all of the book for any other program", `
rindkeep book export cave-2026-11-25.jsonl       one JSON object a line: every fact
rindkeep book export - | gzip > cave.jsonl.gz    to standard output
rindkeep book export --csv tables/               one CSV for each sort of record
rindkeep book export --xlsx cave.xlsx            one workbook, a sheet for each
rindkeep book import cave-2026-11-25.jsonl --book new.book      an equal book`, f.check,
		func(_ *cobra.Command, args []string) error {
			var m care.Moved
			var err error
			where := "exported to"
			switch {
			case f.dir != "":
				where = "exported to the tables of"
				m, err = exportCSV(c, f)
			case f.xlsx != "":
				return exportWorkbook(c, f)
			case args[0] == "-":
				if c.JSON {
					return console.Usagef("standard output takes the export itself; leave --json out")
				}
				return care.ExportTo(c.Ctx, c.App, c.Env.Out)
			default:
				m, err = care.Export(c.Ctx, c.App, args[0], f.replace, progress(c, ofTotal("exported")))
			}
			return moved(c, where, m, err)
		})
	cmd.Flags().StringVar(&f.dir, "csv", "", "write one CSV for each sort of record into `DIR`")
	cmd.Flags().StringVar(&f.xlsx, "xlsx", "", "write one workbook with a sheet for each sort of record to `FILE`; "+
		"times are of the book's zone")
	cmd.Flags().BoolVar(&f.replace, "replace", false, "write over files that are there")
	return cmd
}

// check refuses a FILE beside the flags, and names that ask for another form.
func (f *exportFlags) check(cmd *cobra.Command, args []string) error {
	csv, xlsx := cmd.Flags().Changed("csv"), cmd.Flags().Changed("xlsx")
	switch {
	case csv && xlsx:
		return console.Usagef("give --csv DIR or --xlsx FILE, not both")
	case xlsx && !console.IsWorkbookName(f.xlsx):
		return console.Usagef("--xlsx needs a file that ends in .xlsx, like --xlsx cave.xlsx")
	case csv && f.dir == "":
		return console.Usagef("--csv needs a folder, like --csv tables/")
	case (csv || xlsx) && len(args) > 0:
		return console.Usagef("give a FILE, --csv DIR or --xlsx FILE, not both")
	case csv || xlsx:
		return nil
	case len(args) == 1 && console.IsWorkbookName(args[0]):
		plain := console.Usagef("without a flag the export is JSON, a line for each record, and no workbook")
		return console.Hint(plain, "rindkeep book export --xlsx %s", words.Shell(args[0]))
	case len(args) == 1 && strings.EqualFold(filepath.Ext(args[0]), ".csv"):
		plain := console.Usagef("without a flag the export is JSON, a line for each record, and no table")
		return console.Hint(plain, "tables go into a folder, one for each sort of record: rindkeep book export --csv DIR")
	}
	return console.Exactly("FILE")(cmd, args)
}

// moved prints what an export or import came to.
func moved(c *console.Console, done string, m care.Moved, err error) error {
	c.Words.FillFindings(m.LeftOut)
	if done, err := c.Answered(m, err); done {
		if err == nil && len(m.LeftOut) > 0 {
			err = console.Silent{Code: console.ExitRefused}
		}
		return err
	}
	var parts []string
	for _, t := range m.Records {
		if t.Count > 0 {
			parts = append(parts, c.Words.Records(t))
		}
	}
	if len(parts) == 0 {
		parts = []string{"no records"}
	}
	line := fmt.Sprintf("%s %s: %s, %s", done, console.SafePath(m.Path), strings.Join(parts, ", "), megabytes(m.Bytes))
	c.Lines(text.Wrap(line, c.Env.Columns()))
	for _, f := range m.LeftOut {
		c.Print("left out: %s: %s\n", text.Safe(f.Where), text.Safe(f.What))
	}
	return m.Fault()
}
