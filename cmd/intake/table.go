// Package intake reads the tables people bring: CSV from a spreadsheet, a scale or by hand, with the headings,
// separators and decimal marks that are common, or a workbook's sheet. It finds columns by what their headings
// mean, reports every bad cell by line and column, and knows nothing of the book.
package intake

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"
	"unicode/utf8"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/text"
	"rindkeep/cmd/workbook"
)

// Rows is a table that comes in rows, not as text: a workbook's sheet. Row gives the next row with its number from
// 1, io.EOF after the last. A reader that is one is read by its rows.
type Rows interface {
	Row() (number int, cells []string, err error)
}

// MaxCell is the longest cell read, in bytes.
const MaxCell = 4096

// maxRecord bounds one row, in bytes: a quote mark that nothing closes would have the whole file held in memory.
const maxRecord = 4 << 20

// table is a table whose columns are found by their headings.
type table struct {
	r       *csv.Reader
	bound   *bounded
	rows    Rows // in the place of r
	line    int  // of the row read last
	decimal bool // a comma is a decimal mark: files separated by semicolons or tabs

	columns map[string]column // by field
	width   int               // how many columns have headings
	head    []string          // the headings
	unit    string            // of bare weights
	mapped  bool              // people can name columns and that unit
	held    []heldRow         // rows that were read and not given yet
	replay  bool              // the row given last was one of those
	any     bool              // a row below the headings was given
	spots   []int32           // columns of the fields of its sort
}

// column is where a field is.
type column struct {
	index   int
	heading string
	unit    string // of a weight, where the heading says
}

// bounded ends a read that goes on for longer than any row.
type bounded struct {
	r     io.Reader
	since int // bytes since the last row
}

var errEndless = errors.New("a row without an end")

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
		return &table{rows: rows}, nil
	}
	const look = 32 << 10
	raw := bufio.NewReaderSize(r, 64<<10)
	head, err := raw.Peek(look)
	br := raw
	if err == nil || errors.Is(err, io.EOF) {
		br = bufio.NewReaderSize(decoded(raw, head), 64<<10)
		head, err = br.Peek(look)
	}
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("could not read it: %w", err)
	}
	switch {
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return nil, Problem{Why: NotTable{"spreadsheet"}}
	case bytes.IndexByte(head, '\r') >= 0 && bytes.IndexByte(head, '\n') < 0:
		return nil, Problem{Why: NotTable{"bare-cr"}}
	case bytes.IndexByte(head, 0) >= 0:
		return nil, Problem{Why: NotTable{"binary"}}
	}
	end := &bounded{r: br}
	t := &table{r: csv.NewReader(end), bound: end}
	t.r.FieldsPerRecord, t.r.ReuseRecord = -1, true
	t.r.Comma = separator(head)
	t.decimal = t.r.Comma != ','
	t.r.TrimLeadingSpace = t.r.Comma != '\t' // it would take the tab of an empty cell for space
	return t, nil
}

// separator is the mark between the columns: the one on most of the first lines, the semicolon before the tab
// before the comma where they tie, since a comma may be a decimal mark.
func separator(head []byte) rune {
	best, most := ',', 0
	lines := bytes.FieldsFunc(head, func(r rune) bool { return r == '\n' || r == '\r' })
	for _, c := range ";\t," {
		n := 0
		for _, l := range lines[:min(len(lines), 60)] {
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

// pos is where a cell of the row read last is.
func (t *table) pos(i int) (line, column int) {
	if t.rows != nil || t.replay {
		return t.line, i + 1
	}
	line, _ = t.r.FieldPos(i)
	return line, i + 1
}

// next gives the next row that is not empty; io.EOF at the end.
func (t *table) next() (cells []string, err error) {
	if t.replay = len(t.held) > 0; t.replay {
		t.line, cells, t.held = t.held[0].line, t.held[0].cells, t.held[1:]
		return cells, nil
	}
	for {
		if t.rows != nil {
			t.line, cells, err = t.rows.Row()
		} else {
			t.bound.since = 0
			if cells, err = t.r.Read(); len(cells) > 0 {
				t.line, _ = t.r.FieldPos(0)
			}
		}
		if err != nil {
			return nil, t.broken(cells, err)
		}
		empty := true
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
			empty = empty && cells[i] == ""
		}
		if !empty {
			return cells, nil
		}
	}
}

// broken puts an error of the reader in our terms.
func (t *table) broken(cells []string, err error) error {
	var p *csv.ParseError
	switch {
	case errors.Is(err, errEndless):
		if len(cells) == 0 {
			t.line++ // the row after the one read last
		}
		return Problem{Line: t.line, Why: Endless}
	case errors.As(err, &p) && (errors.Is(p.Err, csv.ErrBareQuote) || errors.Is(p.Err, csv.ErrQuote)):
		return Problem{Line: p.Line, Char: p.Column, Why: BadQuote}
	case errors.As(err, &p):
		return Problem{Line: p.Line, Char: p.Column, Why: Said{p.Err.Error()}}
	}
	return err
}

// top is a problem with the heading row.
func (t *table) top(why reason.Reason) Problem {
	line, _ := t.pos(0)
	return Problem{Line: max(line, 1), Sheet: t.rows != nil, Why: why}
}

// has says whether the table has a column for a field.
func (t *table) has(field string) bool { _, ok := t.columns[field]; return ok }

// row is one row of a table, and what is wrong with it.
type row struct {
	*table
	cells []string
	line  int
	bad   []Problem
}

// row gives the next row; io.EOF at the end.
func (t *table) row() (*row, error) {
	cells, err := t.next()
	if errors.Is(err, io.EOF) && !t.any {
		return nil, Problem{Why: NoRows}
	}
	if err != nil {
		return nil, err
	}
	t.any = true
	line, _ := t.pos(0)
	return &row{table: t, cells: cells, line: line}, nil
}

// all gives the rows that are left, and the error that ends them before the end.
func (t *table) all() iter.Seq2[*row, error] {
	return func(yield func(*row, error) bool) {
		for {
			r, err := t.row()
			if errors.Is(err, io.EOF) || !yield(r, err) || err != nil {
				return
			}
		}
	}
}

// column is the column of a field, from 1; 0 where the table has none.
func (r *row) column(field string) int {
	if c, ok := r.columns[field]; ok {
		return c.index + 1
	}
	return 0
}

// Spot is where a row is, and the fields on it.
type Spot struct {
	Line    int
	Sheet   bool // of a workbook
	fields  []string
	columns []int32 // of the fields; all rows of a table share them
}

func (r *row) spot(fields []string) Spot {
	if r.spots == nil {
		r.spots = make([]int32, len(fields))
		for i, f := range fields {
			r.spots[i] = int32(r.column(f))
		}
	}
	return Spot{r.line, r.rows != nil, fields, r.spots}
}

// Column is the column of a field, from 1; 0 where the table has none.
func (s Spot) Column(field string) int {
	if i := slices.Index(s.fields, field); i >= 0 && i < len(s.columns) {
		return int(s.columns[i])
	}
	return 0
}

// Problem is what is wrong with a field of the row.
func (s Spot) Problem(field string, why reason.Reason) Problem {
	return Problem{Line: s.Line, Column: s.Column(field), Field: field, Sheet: s.Sheet, Why: why}
}

// fail records what is wrong with a field.
func (r *row) fail(field string, why reason.Reason) {
	p := Problem{Line: r.line, Column: r.column(field), Field: field, Sheet: r.rows != nil, Why: why}
	if p.Column > 0 && p.Column <= len(r.cells) {
		p.Line, _ = r.pos(p.Column - 1)
	}
	r.bad = append(r.bad, p)
}

// text is the cell of a field, "" where there is none or it can't be taken.
func (r *row) text(field string) string {
	c, ok := r.columns[field]
	if !ok || c.index >= len(r.cells) {
		return ""
	}
	s := r.cells[c.index]
	switch {
	case s == workbook.NoResult:
		r.fail(field, NoResult)
	case len(s) > MaxCell:
		r.fail(field, reason.TooLong{What: "cell", Has: len(s), Most: MaxCell})
	case !utf8.ValidString(s):
		r.fail(field, NotUTF8)
	default:
		return s
	}
	return ""
}

// figure is the cell of a field with a decimal point in the place of a comma, where that can be nothing else.
func (r *row) figure(field string) string {
	s := r.text(field)
	if r.decimal && strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		return strings.Replace(s, ",", ".", 1)
	}
	return s
}

// weight is the weight in a field; ok is false where its cell is empty. A bare number
// is in the unit of the heading.
func (r *row) weight(field string) (g quantity.Grams, ok bool) {
	s := r.figure(field)
	if s == "" {
		return 0, false
	}
	unit := r.columns[field].unit
	if unit == "" && r.has("unit") {
		unit = weightUnits[key(r.text("unit"))]
	}
	if unit == "" {
		unit = r.unit
	}
	if unit != "" && bare(s) {
		s += unit
	}
	g, err := quantity.ParseWeight(s)
	if light := (quantity.Kilograms{}); errors.As(err, &light) && r.mapped {
		r.fail(field, NeedsUnit{show(s), light.Figure})
	} else if err != nil {
		r.fail(field, why(err))
	}
	return g, true
}

// surplus records a cell past the last heading.
func (r *row) surplus() {
	for i := r.width; i < len(r.cells); i++ {
		if r.cells[i] == "" {
			continue
		}
		p := Surplus{Cells: len(r.cells), Belong: r.width, Word: show(r.cells[i])}
		if r.rows == nil {
			p.Mark = map[rune]string{',': "comma", ';': "semicolon", '\t': "tab"}[r.r.Comma]
		}
		line, col := r.pos(i)
		r.bad = append(r.bad, Problem{Line: line, Column: col, Sheet: r.rows != nil, Why: p})
		return
	}
}

func bare(s string) bool {
	_, err := quantity.Number(s)
	return err == nil
}

// show makes a cell safe and short enough for a sentence.
func show(s string) string { return text.Word(s, 40) }
