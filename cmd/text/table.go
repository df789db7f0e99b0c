package text

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// Column is one column of a Table.
type Column struct {
	Title string
	Right bool    // figures: flush right
	Wrap  bool    // may be narrowed and wrapped when the table is too wide
	Bold  bool    // on paper
	Blank float64 // on paper: empty, to write in, at least so wide
}

// Cell is a figure and the words for it. In a Table a string is its own words, and
// any other figure is shown as a spreadsheet would have it.
type Cell struct {
	Words  string
	Figure any // nil, text, a number, yes or no, a date or an instant
}

// Table is rows under headings, for a terminal, paper or a spreadsheet. Style, where
// set, may dress a laid-out cell (colour) without changing its width.
type Table struct {
	Name    string // of a workbook's sheet
	Columns []Column
	Rows    [][]any
	Indent  int
	Style   func(row, col int, cell string) string
}

// Add appends a row; missing cells are empty.
func (t *Table) Add(cells ...string) {
	row := make([]any, len(cells))
	for i, c := range cells {
		row[i] = c
	}
	t.Rows = append(t.Rows, row)
}

// Head is the titles of the columns.
func (t Table) Head() []string {
	out := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		out[i] = c.Title
	}
	return out
}

// Titled says whether any column has a title.
func (t Table) Titled() bool { return strings.Join(t.Head(), "") != "" }

// words are what a person reads in a cell, with no tab to throw the columns out.
func words(cell any) string {
	switch c := cell.(type) {
	case string:
		return strings.ReplaceAll(c, "\t", " ")
	case Cell:
		return strings.ReplaceAll(c.Words, "\t", " ")
	}
	return figure(cell, time.UTC)
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

// CSV writes the table for a spreadsheet, instants in a zone.
func (t Table) CSV(w io.Writer, zone *time.Location) error {
	out := NewCSV(w, zone)
	if err := out.Sheet(t.Name, t.Head()...); err != nil {
		return err
	}
	for _, r := range t.Rows {
		if err := out.Row(r...); err != nil {
			return err
		}
	}
	return out.Close()
}

// CSV writes rows as CSV that no spreadsheet takes for formulas.
type CSV struct {
	w    *csv.Writer
	zone *time.Location
}

// NewCSV is a CSV with instants in a zone.
func NewCSV(w io.Writer, zone *time.Location) *CSV { return &CSV{csv.NewWriter(w), zone} }

// Sheet writes the headings; CSV has no place for the name.
func (c *CSV) Sheet(_ string, head ...string) error { return c.w.Write(head) }

// Row writes a row.
func (c *CSV) Row(cells ...any) error {
	out := make([]string, len(cells))
	for i, cell := range cells {
		if both, ok := cell.(Cell); ok {
			cell = both.Figure
		}
		out[i] = figure(cell, c.zone)
		if _, ok := cell.(string); ok {
			out[i] = inert(out[i])
		}
	}
	return c.w.Write(out)
}

// Close writes what is left.
func (c *CSV) Close() error {
	c.w.Flush()
	return c.w.Error()
}

// figure is a figure as a spreadsheet has it: no more digits than it has, instants
// as RFC 3339.
func figure(cell any, zone *time.Location) string {
	switch x := cell.(type) {
	case nil:
		return ""
	case string:
		return x
	case float64:
		return strconv.FormatFloat(math.Round(x*1e10)/1e10, 'f', -1, 64)
	case time.Time:
		if x.IsZero() {
			return ""
		}
		return x.In(zone).Format(time.RFC3339)
	}
	return fmt.Sprint(cell)
}

// inert keeps a text from being taken for a formula: one that begins like one gets
// an apostrophe before it, as spreadsheets write it. A telephone number keeps its
// plus.
func inert(s string) string {
	if n, ok := strings.CutPrefix(s, "+"); ok && strings.Trim(n, "0123456789 ()/.-") == "" {
		return s
	}
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
