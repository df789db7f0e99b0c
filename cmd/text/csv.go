package text

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"rindkeep/cmd/app"
)

// CSV writes a table as CSV (RFC 4180) that is safe to open in a spreadsheet.
func CSV(t app.Table) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(t.Head)
	for _, r := range t.Rows {
		cells := make([]string, len(r))
		for i, v := range r {
			cells[i] = Inert(v)
		}
		_ = w.Write(cells)
	}
	w.Flush()
	return b.Bytes()
}

// Inert is a cell's text that no spreadsheet takes for a formula; a telephone
// number keeps its plus.
func Inert(v any) string {
	switch x := v.(type) {
	case nil:
		return ""
	case float64:
		return Decimal(x)
	}
	s := fmt.Sprint(v)
	if n, ok := strings.CutPrefix(s, "+"); ok && strings.Trim(n, "0123456789 ()/.-") == "" {
		return s
	}
	return Cell(s)
}

// Decimal is a figure as a table has it.
func Decimal(x float64) string { return strconv.FormatFloat(app.Rounded(x, 10), 'f', -1, 64) }

// Cell keeps a text from being taken for a formula by a spreadsheet: one that
// begins like one gets an apostrophe before it, as such programs write it.
func Cell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
