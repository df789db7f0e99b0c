// Package intake reads the tables people bring: CSV from a spreadsheet, a
// scale or by hand, with the headings, separators and number marks that are
// common, or a workbook's sheet. It finds columns by their heading's meaning,
// reports every bad cell with line, column and remedy, and knows nothing of the
// book.
package intake

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"rindkeep/cmd/workbook"
)

// Problem is one cell or row that cannot be taken. Line and Column count from
// 1 as an editor shows them; Column is 0 where the whole row is meant. Of a
// sheet they are its row and column.
type Problem struct {
	Line   int
	Column int
	Field  string
	Text   string // one sentence: what is wrong, what would be right
	Sheet  bool   // of a workbook
}

// String is "line 7, column 12 (weight): ..." or, in a sheet, "cell C7 (weight): ...".
func (p Problem) String() string {
	s := spot(p.Sheet, p.Line, p.Column)
	if p.Field != "" {
		s += " (" + p.Field + ")"
	}
	return s + ": " + p.Text
}

// spot says where a cell is, or with column 0 a row.
func spot(sheet bool, line, column int) string {
	switch {
	case sheet && column > 0:
		return "cell " + workbook.CellName(line, column)
	case sheet:
		return fmt.Sprintf("row %d", line)
	case column > 0:
		return fmt.Sprintf("line %d, column %d", line, column)
	}
	return fmt.Sprintf("line %d", line)
}

// Rows is a table that comes in rows, not as text: a workbook's sheet. Row gives
// the next row with its number from 1, io.EOF after the last. What reads a table
// here takes a reader that is one by its rows.
type Rows interface {
	Row() (number int, cells []string, err error)
}

// MaxCell is the longest cell read, in bytes.
const MaxCell = 4096

// table reads rows one by one.
type table struct {
	r       *csv.Reader
	bound   *bounded
	decimal rune // ',' in files separated by semicolons or tabs
	pos     func(field int) (line, column int)

	rows Rows // in the place of r
	line int  // of the row of rows read last
}

// sheet says whether the table is a workbook's.
func (t *table) sheet() bool { return t.rows != nil }

// top is where the heading row is, for a sentence.
func (t *table) top() string {
	line, _ := t.pos(0)
	return spot(t.sheet(), max(line, 1), 0)
}

// in marks problems as those of this table.
func (t *table) in(bad ...Problem) []Problem {
	for i := range bad {
		bad[i].Sheet = t.sheet()
	}
	return bad
}

// maxRecord bounds one row, in bytes: a quote mark that nothing closes would
// have the whole file held in memory.
const maxRecord = 4 << 20

var errEndless = errors.New("a row without an end")

// bounded ends a read that goes on for longer than any row.
type bounded struct {
	r     io.Reader
	since int // bytes since the last row
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.since > maxRecord {
		return 0, errEndless
	}
	n, err := b.r.Read(p)
	b.since += n
	return n, err
}

// open looks at the beginning of r for a byte order mark and the separator.
func open(r io.Reader) (*table, error) {
	if rows, ok := r.(Rows); ok {
		t := &table{rows: rows}
		t.pos = func(i int) (int, int) { return t.line, i + 1 }
		return t, nil
	}
	br := bufio.NewReaderSize(r, 64<<10)
	head, err := br.Peek(32 << 10)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull) {
		return nil, fmt.Errorf("could not read it: %w", err)
	}
	if bytes.HasPrefix(head, []byte("\xff\xfe")) || bytes.HasPrefix(head, []byte("\xfe\xff")) {
		return nil, errors.New("it is UTF-16 text; save it as CSV UTF-8")
	}
	if bytes.HasPrefix(head, []byte("PK\x03\x04")) {
		return nil, errors.New("it is a spreadsheet, not text; save it as CSV UTF-8")
	}
	if bytes.IndexByte(head, 0) >= 0 {
		return nil, errors.New("it is no text; save it as CSV UTF-8")
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		_, _ = br.Discard(3)
		head = head[3:]
	}
	end := &bounded{r: br}
	t := &table{r: csv.NewReader(end), bound: end}
	t.r.FieldsPerRecord = -1
	t.r.LazyQuotes = false
	t.r.Comma = ','
	if c := separator(head); c != ',' {
		t.r.Comma, t.decimal = c, ','
	}
	t.r.TrimLeadingSpace = t.r.Comma != '\t' // it would take the tab of an empty cell for space
	t.pos = t.r.FieldPos
	return t, nil
}

// next gives the next row that is not empty; io.EOF at the end.
func (t *table) next() ([]string, error) {
	for {
		if t.bound != nil {
			t.bound.since = 0
		}
		row, err := t.read()
		if errors.Is(err, errEndless) {
			line := 1
			if len(row) > 0 {
				line, _ = t.r.FieldPos(0)
			}
			return nil, fmt.Errorf("line %d: the row goes on for over %d MB; does a quote mark open a cell that nothing closes?", line, maxRecord>>20)
		}
		if err != nil {
			return nil, err
		}
		empty := true
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
			empty = empty && row[i] == ""
		}
		if !empty {
			return row, nil
		}
	}
}

func (t *table) read() (row []string, err error) {
	if t.rows == nil {
		return t.r.Read()
	}
	t.line, row, err = t.rows.Row()
	return row, err
}

// surplus is the problem of a row with more in it than its table has columns,
// as when a decimal comma splits a cell: what is read would be another figure.
func (t *table) surplus(row []string, columns int) (Problem, bool) {
	for i := columns; i < len(row); i++ {
		if row[i] != "" {
			line, column := t.pos(i)
			if t.sheet() {
				return Problem{Line: line, Column: column, Text: fmt.Sprintf("%q stands in a column without a heading; head the column or clear the cell", show(row[i])), Sheet: true}, true
			}
			mark := map[rune]string{',': "comma", ';': "semicolon", '\t': "tab"}[t.r.Comma]
			return Problem{Line: line, Column: column, Text: fmt.Sprintf("the row has %d cells where %d belong; put a cell that holds a %s in quotes", len(row), columns, mark)}, true
		}
	}
	return Problem{}, false
}

// fault puts a csv reader's error in our words.
func fault(err error) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		what := "a quote mark stands where none belongs; put the whole cell in quotes or leave them out"
		if !errors.Is(p.Err, csv.ErrBareQuote) && !errors.Is(p.Err, csv.ErrQuote) {
			what = p.Err.Error()
		}
		return fmt.Errorf("line %d, column %d: %s", p.Line, p.Column, what)
	}
	return err
}

// clean says why a cell cannot be taken as text at all, or "".
func clean(s string) string {
	switch {
	case s == workbook.NoResult:
		return "the cell holds a formula, and the file has no result of it; open it in a spreadsheet program and save it again"
	case len(s) > MaxCell:
		return fmt.Sprintf("a cell of %d bytes is too long", len(s))
	case !utf8.ValidString(s):
		return "this is not UTF-8 text; save the file as CSV UTF-8"
	}
	return ""
}

// heading normalises a column heading: lower case, spaces and punctuation to
// one underscore, the unit in brackets kept as a last part.
func heading(s string) string {
	var b strings.Builder
	gap := false
	for _, r := range strings.ToLower(s) {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r > 0x7f {
			if gap && b.Len() > 0 {
				b.WriteByte('_')
			}
			gap = false
			b.WriteRune(r)
			continue
		}
		gap = true
	}
	return b.String()
}

// separator is the mark that parts the columns: the one on most of the first
// lines, the semicolon before the tab before the comma where they tie, since a
// comma may be a decimal mark.
func separator(head []byte) rune {
	best, most := ',', 0
	lines := bytes.FieldsFunc(head, func(r rune) bool { return r == '\n' || r == '\r' })
	if len(lines) > 60 {
		lines = lines[:60]
	}
	for _, c := range ";\t," {
		n := 0
		for _, l := range lines {
			if bytes.ContainsRune(l, c) {
				n++
			}
		}
		if n > most {
			best, most = c, n
		}
	}
	return best
}
