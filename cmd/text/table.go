// Package text lays out plain text for a terminal or a sheet of paper:
// columns that stay straight with wide letters, wrapped cells, and marks that
// read the same without colour.
package text

import (
	"strings"

	"github.com/mattn/go-runewidth"
)

var cond = func() *runewidth.Condition {
	c := runewidth.NewCondition()
	c.EastAsianWidth = false // the same on every machine, whatever its locale
	return c
}()

// Width is how many columns a string takes on a terminal.
func Width(s string) int { return cond.StringWidth(s) }

// Pad fills s with spaces to w columns; a longer s is left as it is.
func Pad(s string, w int) string {
	if n := w - Width(s); n > 0 {
		return s + strings.Repeat(" ", n)
	}
	return s
}

// PadLeft puts the spaces before s.
func PadLeft(s string, w int) string {
	if n := w - Width(s); n > 0 {
		return strings.Repeat(" ", n) + s
	}
	return s
}

// Cut shortens s to w columns, with an ellipsis where something went.
func Cut(s string, w int) string {
	if Width(s) <= w {
		return s
	}
	return cond.Truncate(s, w, "…")
}

// Wrap breaks s at spaces into lines of at most w columns; a longer word is
// broken where it must be.
func Wrap(s string, w int) []string {
	w = max(w, 4)
	var lines []string
	for _, para := range strings.Split(s, "\n") {
		line := ""
		for _, word := range strings.Fields(para) {
			for Width(word) > w {
				if line != "" {
					lines = append(lines, line)
					line = ""
				}
				head := cond.Truncate(word, w, "")
				lines = append(lines, head)
				word = word[len(head):]
			}
			switch {
			case word == "":
			case line == "":
				line = word
			case Width(line)+1+Width(word) <= w:
				line += " " + word
			default:
				lines = append(lines, line)
				line = word
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// Column is one column of a Table.
type Column struct {
	Title string
	Right bool // figures: flush right
	Wrap  bool // may be narrowed and wrapped when the table is too wide
}

// cellLines are the lines of a cell's text, with no tab to throw the columns out.
func cellLines(s string) []string { return strings.Split(strings.ReplaceAll(s, "\t", " "), "\n") }

func widest(lines []string) int {
	w := 0
	for _, l := range lines {
		w = max(w, Width(l))
	}
	return w
}

// Table is rows under headings. Cells may hold any text; Style, where set, may
// dress a laid-out cell (colour) without changing its width.
type Table struct {
	Columns []Column
	Rows    [][]string
	Indent  int
	Style   func(row, col int, cell string) string
}

// Add appends a row; missing cells are empty.
func (t *Table) Add(cells ...string) { t.Rows = append(t.Rows, cells) }

// Lines lays the table out in at most width columns, where its wrapping
// columns allow. The heading is left out when no column has a title.
func (t *Table) Lines(width int) []string {
	n := len(t.Columns)
	w := make([]int, n)
	titled := false
	for i, c := range t.Columns {
		w[i] = Width(c.Title)
		titled = titled || c.Title != ""
	}
	for _, r := range t.Rows {
		for i := range min(n, len(r)) {
			w[i] = max(w[i], widest(cellLines(r[i])))
		}
	}
	const gap = 2
	total := t.Indent
	for _, x := range w {
		if x > 0 {
			total += x + gap
		}
	}
	total -= gap
	for total > width {
		widest := -1
		for i, c := range t.Columns {
			if c.Wrap && w[i] > 12 && (widest < 0 || w[i] > w[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break
		}
		w[widest]--
		total--
	}
	var out []string
	line := func(row int, cells []string) {
		parts := make([][]string, n)
		high := 1
		for i := range n {
			cell := ""
			if i < len(cells) {
				cell = cells[i]
			}
			parts[i] = cellLines(cell)
			if t.Columns[i].Wrap && widest(parts[i]) > w[i] {
				parts[i] = Wrap(cell, w[i])
			}
			high = max(high, len(parts[i]))
		}
		for k := range high {
			var b strings.Builder
			b.WriteString(strings.Repeat(" ", t.Indent))
			first := true
			for i := range n {
				if w[i] == 0 {
					continue
				}
				if !first {
					b.WriteString(strings.Repeat(" ", gap))
				}
				first = false
				cell := ""
				if k < len(parts[i]) {
					cell = parts[i][k]
				}
				if t.Columns[i].Right {
					cell = PadLeft(cell, w[i])
				} else {
					cell = Pad(cell, w[i])
				}
				if t.Style != nil {
					cell = t.Style(row, i, cell)
				}
				b.WriteString(cell)
			}
			out = append(out, strings.TrimRight(b.String(), " "))
		}
	}
	if titled {
		heads := make([]string, n)
		for i, c := range t.Columns {
			heads[i] = c.Title
		}
		line(-1, heads)
	}
	for i, r := range t.Rows {
		line(i, r)
	}
	return out
}
