package intake

import (
	"errors"
	"fmt"

	"rindkeep/cave/reason"
	"rindkeep/cmd/workbook"
)

// Problem is what is wrong with a cell, a row or a table: an error that is a reason itself. Line and Column count
// from 1, the columns as a spreadsheet does that opens the file; 0 is the whole row, or the whole table.
// File is set by the caller that knows it.
type Problem struct {
	File   string        `json:"file"`
	Line   int           `json:"line"`
	Column int           `json:"column"`
	Char   int           `json:"character,omitempty"` // of the line, where no columns could be told apart; from 1
	Field  string        `json:"field"`
	Sheet  bool          `json:"sheet"` // of a workbook
	Why    reason.Reason `json:"why"`   // one of the shapes of package reason, or of those below
}

// Code is that of what is wrong.
func (p Problem) Code() string { return p.Why.Code() }

// Where is the place: "line 7, column C" or, in a sheet, "cell C7"; "" for the whole table.
func (p Problem) Where() string {
	switch {
	case p.Line == 0:
		return ""
	case p.Sheet && p.Column > 0:
		return "cell " + workbook.CellName(p.Line, p.Column)
	case p.Sheet:
		return fmt.Sprintf("row %d", p.Line)
	case p.Char > 0:
		return fmt.Sprintf("line %d, character %d", p.Line, p.Char)
	case p.Column > 0:
		return fmt.Sprintf("line %d, column %s", p.Line, workbook.ColumnName(p.Column))
	}
	return fmt.Sprintf("line %d", p.Line)
}

// Error is for logs and tests; cmd/words has the sentence for people.
func (p Problem) Error() string {
	if _, flat := p.Why.(reason.Flat); flat {
		return fmt.Sprintf("%s (%s): %s", p.Where(), p.Field, p.Code())
	}
	return fmt.Sprintf("%s (%s): %s %+v", p.Where(), p.Field, p.Code(), p.Why)
}

// Problems is all that is wrong with a table, in the order of its lines. It is never empty.
type Problems []Problem

// Error is for logs and tests.
func (l Problems) Error() string { return fmt.Sprintf("%d problems, the first: %v", len(l), l[0]) }

// mostAlike is how many problems of one kind in one column are told: our choice.
const mostAlike = 5

// Alike is a problem that stands for others: Rows are the lines of those of which the same
// is said, More is how many others of its kind in its column aren't told.
type Alike struct {
	Problem
	Rows []int
	More int
}

// Alike sums problems up: what is said of several rows in the same words, and the first few
// of each kind in each column. Said says what is wrong without where.
func (l Problems) Alike(said func(Problem) string) (out []Alike) {
	type kind struct {
		column      int
		field, code string
	}
	at := map[string]int{} // place in out, -1: not told
	last, told := map[kind]int{}, map[kind]int{}
	for _, p := range l {
		key, k := fmt.Sprint(p.Column, p.Field, said(p)), kind{p.Column, p.Field, p.Code()}
		i, known := at[key]
		switch {
		case known && i >= 0:
			out[i].Rows = append(out[i].Rows, p.Line)
		case known:
		case told[k] < mostAlike:
			at[key], last[k] = len(out), len(out)
			out = append(out, Alike{Problem: p})
			told[k]++
		default:
			at[key] = -1
			out[last[k]].More++
		}
	}
	return out
}

// In names the file that an error of this package is about.
func In(file string, err error) error {
	var p Problem
	if !errors.As(err, &p) {
		return fmt.Errorf("%s: %w", show(file), err)
	}
	p.File = file
	return p
}

type (
	// Said is a reason that is in words already.
	Said struct {
		Words string `json:"words"`
	}
	// NotTable is a file that holds something else: spreadsheet, bare-cr or binary.
	NotTable struct {
		Kind string `json:"kind"`
	}
	// NoColumn is a column that a table has to have.
	NoColumn struct {
		Field   string `json:"field"`
		Heading string `json:"heading"` // that was asked for, or "": the usual one

		Has []string `json:"headings"` // of the table
	}
	// TwoColumns is a second column for a field; Heading is the second's. With Mapped,
	// a mapping can say which is meant.
	TwoColumns struct {
		Field   string `json:"field"`
		Heading string `json:"heading"`
		Mapped  bool   `json:"mapped"`
		First   string `json:"first"` // column's heading
	}
	// NeedsUnit is a bare weight that is a few grams, or as many kilograms.
	NeedsUnit struct {
		Word   string `json:"word"`
		Figure string `json:"figure"` // with a decimal point
	}
	// TwoFields is a column that was named for two fields.
	TwoFields struct {
		Heading string `json:"heading"`
		Field   string `json:"field"`
		Other   string `json:"other"`
	}
	// Surplus is a row with more cells than its table has columns, as when a decimal comma splits a cell: what is
	// read would be another figure. Word is the first cell too many, Mark what separates cells, "" in a sheet.
	Surplus struct {
		Cells  int    `json:"cells"`
		Belong int    `json:"belong"`
		Word   string `json:"word"`
		Mark   string `json:"mark"`
	}
	// Ambiguous is a date that may be day/month or month/day.
	Ambiguous struct {
		Word string `json:"word"`
	}
	// TempOutside is a temperature that no cellar has, in Celsius.
	TempOutside struct {
		Temp float64 `json:"temp_c"`
	}
)

// What is wrong with a table and needs no figures.
const (
	NoRows     reason.Flat = "no-rows"
	BadQuote   reason.Flat = "bad-quote"
	Endless    reason.Flat = "endless-row"
	NotUTF8    reason.Flat = "not-utf8"
	NoResult   reason.Flat = "formula-without-result"
	NoDate     reason.Flat = "time-without-date"
	NoClock    reason.Flat = "date-without-time"
	Before1970 reason.Flat = "before-1970"
)

// The codes of the reasons.

func (Said) Code() string        { return "said" }
func (NotTable) Code() string    { return "not-a-table" }
func (NoColumn) Code() string    { return "no-column" }
func (TwoColumns) Code() string  { return "two-columns" }
func (NeedsUnit) Code() string   { return "weight-without-unit" }
func (TwoFields) Code() string   { return "two-fields" }
func (Surplus) Code() string     { return "surplus-cells" }
func (Ambiguous) Code() string   { return "ambiguous-date" }
func (TempOutside) Code() string { return "temperature-outside" }

// why is the reason of an error, or its words.
func why(err error) reason.Reason {
	if r := reason.Of(err); r != nil {
		return r
	}
	return Said{err.Error()}
}
