package text

import (
	"math"
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
	Like  string  // on paper: as wide as this at least, whatever its cells hold
}

// Table is rows under headings, for a terminal (Lines) or paper (Fit). Style, where
// set, may dress a laid-out cell (colour) without changing its width.
type Table struct {
	Columns []Column
	Rows    [][]string
	Heads   map[int]string // a line before a row
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
// allow. The heading is left out when no column has a title. If the columns don't
// fit, each row becomes a sentence.
func (t *Table) Lines(width int) []string {
	s := Sheet{Plain: columns{}, Bold: columns{}, Room: float64(width - t.Indent), Gap: 2, Least: 10, Whole: 24, Step: 1}
	if !t.Titled() {
		s.Whole = math.MaxInt32 // a path or an address can be copied
	}
	g := t.Fit(s)
	total := t.Indent - 2
	for _, w := range g.Widths {
		if w > 0 {
			total += int(w) + 2
		}
	}
	if total > width && t.Titled() {
		return t.sentences(width)
	}
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
		if h, ok := t.Heads[i]; ok {
			out = append(out, h)
		}
		line(i, r)
	}
	return out
}

// sentences says of each row what every column has, by its title. What stands in one cell stays on
// one line where it fits.
func (t *Table) sentences(width int) (out []string) {
	for i, r := range t.Rows {
		if h, ok := t.Heads[i]; ok {
			out = append(out, h)
		}
		line, used := "", 0
		for k, c := range t.Columns {
			if k >= len(r) {
				break
			}
			part := strings.Join(strings.Fields(r[k]), " ")
			if part == "" || part == "-" {
				continue
			}
			if k > 0 && c.Title != "" {
				part = c.Title + " " + part
			}
			wide := Width(part)
			if t.Style != nil {
				part = t.Style(i, k, part)
			}
			switch {
			case line == "":
				line, used = strings.Repeat(" ", t.Indent)+part, t.Indent+wide
			case used+2+wide < width:
				line, used = line+"; "+part, used+2+wide
			default:
				out = append(out, strings.Split(Fold(line+";", width), "\n")...)
				line, used = strings.Repeat(" ", t.Indent+2)+part, t.Indent+2+wide
			}
		}
		out = append(out, strings.Split(Fold(line, width), "\n")...)
	}
	return out
}
