package text

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"rindkeep/cmd/app"
)

// CSV is a table as CSV (RFC 4180) that is safe to open in a spreadsheet.
func CSV(t app.Table) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(t.Head)
	out := CSVWriter{w, time.UTC}
	for _, r := range t.Rows {
		_ = out.Row(r...)
	}
	_ = out.Close()
	return b.Bytes()
}

// CSVWriter writes such a table row by row.
type CSVWriter struct {
	w    *csv.Writer
	zone *time.Location
}

// NewCSV writes to w, instants in a zone.
func NewCSV(w io.Writer, zone *time.Location) *CSVWriter { return &CSVWriter{csv.NewWriter(w), zone} }

// Row writes a row. Figures have ten digits, instants are as RFC 3339 has them.
func (c *CSVWriter) Row(cells ...any) error {
	out := make([]string, len(cells))
	for i, cell := range cells {
		switch x := cell.(type) {
		case nil:
		case float64:
			out[i] = strconv.FormatFloat(app.Rounded(x, 10), 'f', -1, 64)
		case time.Time:
			if !x.IsZero() {
				out[i] = app.Instant(x, c.zone)
			}
		case int, bool:
			out[i] = fmt.Sprint(x)
		default:
			out[i] = inert(fmt.Sprint(x))
		}
	}
	return c.w.Write(out)
}

// Close writes what is left.
func (c *CSVWriter) Close() error {
	c.w.Flush()
	return c.w.Error()
}

// inert keeps a text from being taken for a formula: one that begins like one gets an apostrophe before it, as
// spreadsheets write it. A telephone number keeps its plus.
func inert(s string) string {
	if n, ok := strings.CutPrefix(s, "+"); ok && strings.Trim(n, "0123456789 ()/.-") == "" {
		return s
	}
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
