package console

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/cmd/workbook"
)

// IsWorkbookName says whether a file's name is a workbook's.
func IsWorkbookName(path string) bool { return strings.EqualFold(filepath.Ext(path), ".xlsx") }

// WriteTable writes a table as CSV, to standard output where path is -, or as a workbook where it ends in .xlsx. A
// file that is there and is no such table is left alone.
func (c *Console) WriteTable(path string, t app.Table) error {
	if IsWorkbookName(path) {
		return c.writeWorkbook(path, t)
	}
	b := text.CSV(t)
	if path == "-" {
		c.Raw(string(b))
		return nil
	}
	if err := WriteOver(path, b, strings.Join(t.Head, ","), true); err != nil {
		return err
	}
	c.Note("%s written: %d rows", SafeWord(path), len(t.Rows))
	return nil
}

func (c *Console) writeWorkbook(path string, t app.Table) error {
	if err := c.mayReplaceSheet(path, t.Head); err != nil {
		return err
	}
	f, err := Begin(path)
	if err != nil {
		return err
	}
	defer f.Drop()
	w := workbook.NewWriter(f)
	err = w.Sheet(t.Name, t.Head...)
	for i, r := range t.Rows {
		if i%1000 == 0 && err == nil {
			err = c.Ctx.Err()
		}
		if err == nil {
			err = w.Row(r...)
		}
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		return CannotWrite(path, err)
	}
	if _, err := Placed(nil, f); err != nil {
		return err
	}
	c.Note("%s written: %d rows", SafeWord(path), len(t.Rows))
	c.TellCut(w)
	return nil
}

// TellCut says, even to one who wants quiet, that a workbook does not hold all.
func (c *Console) TellCut(w *workbook.Writer) {
	switch n, first := w.Cut(); {
	case n == 1:
		c.Warn("%s held more than the %d letters of a cell and was cut; "+
			"all of it is in: rindkeep book export FILE", first, workbook.MaxText)
	case n > 1:
		c.Warn("%d cells, the first %s, held more than the %d letters of a cell and were cut; "+
			"all of them are in: rindkeep book export FILE", n, first, workbook.MaxText)
	}
}

// mayReplaceSheet refuses to write over a file that is no workbook whose first sheet has this heading.
func (c *Console) mayReplaceSheet(path string, head []string) error {
	if st, err := os.Stat(path); err != nil || st.Size() == 0 {
		return nil
	}
	var have []string
	t, err := c.OpenTable(path, path, "")
	if err == nil {
		defer t.Close()
		if rows, ok := t.(intake.Rows); ok {
			_, have, err = rows.Row()
		}
	}
	if err := c.Ctx.Err(); err != nil {
		return err
	}
	if err != nil || !slices.Equal(have, head) {
		return somethingElse(path)
	}
	return nil
}

func somethingElse(path string) error {
	name := SafeWord(path)
	return At(name, fmt.Errorf("%s is there already and is something else; name another file", name))
}
