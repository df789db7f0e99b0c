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

// columns is the Face of a terminal.
type columns struct{}

func (columns) Wide(s string) float64 { return float64(Width(s)) }

func (columns) Head(word string, w float64) string { return cond.Truncate(word, int(w), "") }
