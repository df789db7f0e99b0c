package text

import (
	"slices"
	"strings"
)

// Face is the letters that words are set in; widths are in its unit.
type Face interface {
	Wide(words string) float64
	// Head is the longest beginning of a word that is at most w wide, one letter at least.
	Head(word string, w float64) string
}

// Sheet is what a table is fitted to.
type Sheet struct {
	Plain, Bold Face
	Room, Gap   float64 // for the table, and between two columns
	Least       float64 // width that a wrapping column is left, even if words break
	Whole       float64 // words of up to this width stay whole, even if the table is too wide then
	Step        float64 // by which columns are narrowed
	Tight       bool    // narrows the other columns too where it must
}

// Grid is a table fitted: the widths of its columns, and the lines of every cell. A
// column of width 0 has nothing in it.
type Grid struct {
	Widths []float64
	Head   [][]string
	Rows   [][][]string
}

// units stay on the line of their figure.
var units = []string{"%", "°C", "°F", "g", "kg", "lb", "oz", "l", "ml", "cm", "mm"}

// tied says whether a word is a figure and the one after it is its unit.
func tied(word, next string) bool {
	return word != "" && word[len(word)-1]-'0' <= 9 && slices.Contains(units, strings.TrimRight(next, ".,;:)"))
}

// words are the words of s; a figure and its unit are one.
func words(s string) (out []string) {
	for _, w := range strings.Fields(s) {
		if n := len(out); n > 0 && tied(out[n-1], w) {
			out[n-1] += " " + w
		} else {
			out = append(out, w)
		}
	}
	return out
}

// WrapIn breaks words at spaces into lines of at most w; a longer word is broken
// where it must be. Line breaks stay.
func WrapIn(f Face, s string, w float64) (lines []string) {
	space := f.Wide(" ")
	for _, para := range strings.Split(s, "\n") {
		line, used := "", 0.0
		for _, word := range words(para) {
			wide := f.Wide(word)
			if line != "" && used+space+wide <= w {
				line, used = line+" "+word, used+space+wide
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			for wide > w {
				head, rest, tied := strings.Cut(word, " ")
				if !tied {
					head = f.Head(word, w)
					rest = word[len(head):]
				}
				if head == "" || rest == "" {
					break
				}
				word = rest
				lines, wide = append(lines, head), f.Wide(word)
			}
			line, used = word, wide
		}
		lines = append(lines, line)
	}
	return lines
}

// flat is a cell with no tab to throw the columns out.
func flat(cell string) string { return strings.ReplaceAll(cell, "\t", " ") }

// Fit lays the table out on a sheet: each column as wide as its widest line where
// there is room for all. Where there is not, the widest of the wrapping columns are
// narrowed, first to their longest word. Room that is left goes to the blanks.
func (t Table) Fit(s Sheet) Grid {
	n := len(t.Columns)
	g := Grid{Widths: make([]float64, n), Head: make([][]string, n)}
	longest, blank := make([]float64, n), 0
	for i, c := range t.Columns {
		g.Widths[i], longest[i] = max(s.Bold.Wide(c.Title), s.face(c).Wide(c.Like), c.Blank), s.Least
		if c.Blank > 0 {
			blank++
		}
		for _, r := range t.Rows {
			if i >= len(r) {
				continue
			}
			for _, line := range strings.Split(flat(r[i]), "\n") {
				g.Widths[i] = max(g.Widths[i], s.face(c).Wide(line))
			}
		}
	}
	total := -s.Gap
	for _, w := range g.Widths {
		if w > 0 {
			total += w + s.Gap
		}
	}
	narrow := func(least []float64, may func(Column) bool) {
		for total > s.Room {
			widest := -1
			for i, c := range t.Columns {
				if may(c) && g.Widths[i] > least[i] && (widest < 0 || g.Widths[i] > g.Widths[widest]) {
					widest = i
				}
			}
			if widest < 0 {
				return
			}
			g.Widths[widest] -= s.Step
			total -= s.Step
		}
	}
	if total > s.Room {
		wraps := func(c Column) bool { return c.Wrap && c.Blank == 0 }
		least := make([]float64, n)
		for i, c := range t.Columns {
			longest[i] = max(longest[i], t.longest(i, s.face(c)))
			least[i] = max(s.Least, min(s.Whole, longest[i]))
		}
		narrow(longest, wraps)
		narrow(least, wraps)
		if s.Tight {
			for i := range least {
				least[i] = s.Least / 2
			}
			narrow(least, func(c Column) bool { return c.Blank == 0 })
		}
	}
	for i, c := range t.Columns {
		if c.Blank > 0 && total < s.Room {
			g.Widths[i] += (s.Room - total) / float64(blank)
		}
		g.Head[i] = s.cell(c, s.Bold, c.Title, g.Widths[i])
	}
	for _, r := range t.Rows {
		cells := make([][]string, n)
		for i, c := range t.Columns {
			if i < len(r) && c.Blank == 0 {
				cells[i] = s.cell(c, s.face(c), flat(r[i]), g.Widths[i])
			}
		}
		g.Rows = append(g.Rows, cells)
	}
	return g
}

func (s Sheet) face(c Column) Face {
	if c.Bold {
		return s.Bold
	}
	return s.Plain
}

// cell is the lines of a cell; what does not wrap keeps its spaces.
func (s Sheet) cell(c Column, f Face, words string, w float64) []string {
	lines := strings.Split(words, "\n")
	for _, l := range lines {
		if (c.Wrap || s.Tight) && f.Wide(l) > w {
			return WrapIn(f, words, w)
		}
	}
	return lines
}

// longest is the width of a column's longest word.
func (t Table) longest(i int, f Face) (w float64) {
	for _, r := range t.Rows {
		if i < len(r) {
			for _, word := range words(flat(r[i])) {
				w = max(w, f.Wide(word))
			}
		}
	}
	return w
}
