package app

import (
	"math"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/verdict"
)

// Schema names a JSON document; removing or renaming a field of one makes a
// new number.
func Schema(name string) string { return "rindkeep/" + name + "/1" }

// Est is an estimate in JSON: a 90 % interval, null where unknown.
type Est struct {
	Best *float64 `json:"best"`
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
}

// Num is a figure for JSON, null where it is no finite number. Ten digits are
// kept: the eleventh says nothing and makes documents differ by machine.
func Num[T ~float64](x T) *float64 {
	f := float64(x)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return nil
	}
	f = Rounded(f, 10)
	return &f
}

// Rounded keeps so many significant digits of x.
func Rounded(x float64, digits int) float64 {
	if x == 0 {
		return 0
	}
	p := math.Pow(10, float64(digits)-1-math.Floor(math.Log10(math.Abs(x))))
	if math.IsInf(p, 0) || p == 0 {
		return x
	}
	return math.Round(x*p) / p
}

// EstOf is an estimate for JSON, in its own unit.
func EstOf(e quantity.Estimate) Est { return Est{Num(e.Best), Num(e.Low), Num(e.High)} }

// PctEst turns an estimate of a fraction into percent.
func PctEst(e quantity.Estimate) Est { return EstOf(e.Times(100)) }

// PctNum is a fraction for JSON, in percent.
func PctNum(f quantity.Fraction) *float64 { return Num(f.Percent()) }

// Grams is a mass for JSON, null where it was not taken.
func Grams(g quantity.Grams) *float64 {
	if g == 0 {
		return nil
	}
	return Num(float64(g))
}

// DateOrNull is a date for JSON, null where there is none.
func DateOrNull(d day.Date) *string {
	if d == day.None {
		return nil
	}
	s := d.String()
	return &s
}

// Expected is a date for JSON with its 90 % interval; High is null where it may never
// come.
type Expected struct {
	Best string  `json:"best"`
	Low  string  `json:"low"`
	High *string `json:"high"`
}

// ExpectedOf is when a wheel should be dry enough, for JSON; null where that isn't known.
func ExpectedOf(e *verdict.Expected) *Expected {
	if e == nil {
		return nil
	}
	return &Expected{e.Best.String(), e.Low.String(), DateOrNull(e.High)}
}

// Instant is an instant for JSON, in the zone of the book (RFC 3339).
func Instant(t time.Time, loc *time.Location) string { return t.In(loc).Format(time.RFC3339) }

// Filled makes an empty list of a nil one, so that JSON says [].
func Filled[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

// Each is what f makes of each of a list; nil of none.
func Each[T, U any](list []T, f func(T) U) []U {
	var out []U
	for _, x := range list {
		out = append(out, f(x))
	}
	return out
}

// Table is a table for a spreadsheet: the names of its columns, and cells of text,
// figures, dates or nil. Name is that of a workbook's sheet.
type Table struct {
	Name string
	Head []string
	Rows [][]any
}

// Some is a figure for JSON, null where it is 0: nobody gave it.
func Some(x float64) *float64 {
	if x == 0 {
		return nil
	}
	return Num(x)
}

// Zeroed is a figure for JSON that is known to be nothing where it is 0.
func Zeroed(x float64) *float64 {
	if x == 0 {
		return &x
	}
	return Num(x)
}

// OrNull is a text for JSON, null where there is none.
func OrNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
