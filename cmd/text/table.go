package text

import (
	"slices"
	"strings"
)

// Column is one column of a Table.
type Column struct {
	Title string
	Right bool    // figures: flush right
	Wrap  bool    // may be narrowed and wrapped when the table is too wide
	Bold  bool    // on paper
	Blank float64 // on paper: empty, to write in, at least so wide
}

// Table is rows under headings, for a terminal (Lines) or paper (Fit). Style, where
// set, may dress a laid-out cell (colour) without changing its width.
type Table struct {
	Columns []Column
	Rows    [][]string
	Indent  int
	Style   func(row, col int, cell string) string
}

// Add appends a row; missing cells are empty.
func (t *Table) Add(cells ...string) { t.Rows = append(t.Rows, cells) }

// Facts is a table of names and what there is to say of each, without headings.
func Facts(indent int, facts [][2]string) Table {
	t := Table{Indent: indent, Columns: []Column{{}, {Wrap: true}}}
	for _, f := range facts {
		t.Add(f[0], f[1])
	}
	return t
}

// Titled says whether any column has a title.
func (t Table) Titled() bool {
	return slices.ContainsFunc(t.Columns, func(c Column) bool { return c.Title != "" })
}

// Lines lays the table out in at most width columns, where its wrapping columns
// allow. The heading is left out when no column has a title.
func (t *Table) Lines(width int) []string {
	g := t.Fit(Sheet{Plain: columns{}, Bold: columns{}, Room: float64(width - t.Indent), Gap: 2, Least: 12, Step: 1})
	var out []string
	line := func(row int, cells [][]string) {
		high := 1
		for _, c := range cells {
			high = max(high, len(c))
		}
		for k := range high {
			parts := make([]string, 0, len(cells))
			for i, c := range cells {
				if g.Widths[i] == 0 {
					continue
				}
				cell := ""
				if k < len(c) {
					cell = c[k]
				}
				pad := Pad
				if t.Columns[i].Right {
					pad = PadLeft
				}
				if cell = pad(cell, int(g.Widths[i])); t.Style != nil {
					cell = t.Style(row, i, cell)
				}
				parts = append(parts, cell)
			}
			out = append(out, strings.TrimRight(strings.Repeat(" ", t.Indent)+strings.Join(parts, "  "), " "))
		}
	}
	if t.Titled() {
		line(-1, g.Head)
	}
	for i, r := range g.Rows {
		line(i, r)
	}
	return out
}
