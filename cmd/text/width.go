// Package text lays out text and tables: for a terminal in columns that stay straight with wide letters, for paper
// in any font that can be measured, and for spreadsheets as CSV.
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

// Wrap breaks s at spaces into lines of at most w columns; a longer word is broken where it must be.
func Wrap(s string, w int) []string { return WrapIn(columns{}, s, float64(max(w, 4))) }

// Fold breaks the lines of s that are wider than w columns between words; what
// doesn't fit goes on below, set in by two more. Styles (ANSI escapes) take no room.
// A word that is too wide stays whole.
func Fold(s string, w int) string {
	var b strings.Builder
	for _, line := range strings.SplitAfter(s, "\n") {
		indent := len(line) - len(strings.TrimLeft(line, " "))
		for from := indent; ; from = indent + 2 {
			at := foldAt(line, from, w)
			if at < 0 {
				break
			}
			b.WriteString(strings.TrimRight(line[:at], " ") + "\n")
			line = strings.Repeat(" ", indent+2) + strings.TrimLeft(line[at:], " ")
		}
		b.WriteString(line)
	}
	return b.String()
}

// foldAt is where a line is to be broken: at its last space that fits, or else at its
// first; -1 if all of it fits or there is no space behind from.
func foldAt(line string, from, w int) int {
	line = strings.TrimRight(line, " \r\n")
	at, wide, styled := -1, 0, false
	for i, r := range line {
		switch {
		case r == '\x1b' || styled:
			styled = r != 'm'
			continue
		case r == ' ' && i > from && (at < 0 || wide <= w) && !tied(line[:i], wordOf(line[i+1:])):
			at = i
		}
		wide += cond.RuneWidth(r)
	}
	if wide <= w {
		return -1
	}
	return at
}

// wordOf is the first word of a line.
func wordOf(line string) string {
	word, _, _ := strings.Cut(line, " ")
	return word
}

// columns is the Face of a terminal.
type columns struct{}

func (columns) Wide(s string) float64 { return float64(Width(s)) }

func (columns) Head(word string, w float64) string { return cond.Truncate(word, int(w), "") }
