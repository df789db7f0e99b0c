// Package workbook writes and reads tables as XLSX workbooks (SpreadsheetML, ECMA-376 parts 1 and 2) row by row, so
// that only shared texts take memory that grows with the table. It knows texts, numbers, dates and times, and not
// what they mean.
//
// It uses only the standard library: a spreadsheet library would be initialized by every command, and hardly any
// opens a workbook. The tests compare it with such a library and with a reader in another language.
package workbook

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"rindkeep/cave/day"
)

// The size of a sheet. ECMA-376 sets no limits; these are common practice in spreadsheet programs.
const (
	MaxRows    = 1 << 20 // including the heading
	MaxColumns = 1 << 14
	MaxText    = 1<<15 - 1 // of a cell, in UTF-16 units
)

// CellName is the name of a cell in a spreadsheet: C7 for row 7, column 3, both from 1.
func CellName(row, column int) string { return ColumnName(column) + strconv.Itoa(row) }

// ColumnName is the name of a column in a spreadsheet: A is 1, AA is 27.
func ColumnName(column int) string {
	var b []byte
	for n := column; n > 0; n = (n - 1) / 26 {
		b = append([]byte{byte('A' + (n-1)%26)}, b...)
	}
	return string(b)
}

// parseCell reads C7 as row 7, column 3; ok is false for anything else.
func parseCell(s string) (row, column int, ok bool) {
	i := 0
	for ; i < len(s) && i < 4; i++ {
		c := s[i] &^ 0x20
		if c < 'A' || c > 'Z' {
			break
		}
		column = column*26 + int(c-'A') + 1
	}
	n, err := strconv.ParseUint(s[i:], 10, 31)
	if err != nil || i == 0 {
		return 0, 0, false
	}
	row = int(n)
	return row, column, row >= 1 && row <= MaxRows && column >= 1 && column <= MaxColumns
}

// A spreadsheet counts days from 1900 or from 1904. The count from 1900 has a 29
// February 1900, day 60, which didn't exist; from 1 March 1900, day 61, it agrees
// with a count from 30 December 1899 (ECMA-376 part 1, 18.17.4.1).
const (
	epoch1900   day.Date = -25569
	epoch1904   day.Date = -24107
	maxSerial            = 2958465 // 31 December 9999 in the count from 1900
	firstSerial          = 61      // 1 March 1900
)

// serialOf is a date in the count from 1900. ok is false for dates before 1 March
// 1900 and after 9999, which are written as text.
func serialOf(d day.Date) (n int, ok bool) {
	n = int(d) - int(epoch1900)
	return n, n >= firstSerial && n <= maxSerial
}

// clockOf is the date and time of a serial number; date is false for a time without
// a date. ok is false if it has no meaning.
func clockOf(serial float64, from1904 bool) (t time.Time, date, ok bool) {
	if !(serial >= 0 && serial < maxSerial+1) {
		return t, false, false
	}
	whole, frac := math.Modf(serial)
	n := int(whole)
	seconds := int(math.Round(frac * 86400))
	if seconds == 86400 {
		n, seconds = n+1, 0
	}
	from := epoch1900
	switch {
	case from1904:
		from = epoch1904
		date = true
	case n == 60:
		return t, false, false
	case n < 60:
		from++
		date = n > 0
	default:
		date = true
	}
	y, m, d := (from + day.Date(n)).Civil()
	if y > 9999 {
		return t, false, false
	}
	return time.Date(y, m, d, 0, 0, seconds, 0, time.UTC), date, true
}

// format is the kind of value that a number format shows.
type format uint8

const (
	general format = iota
	percent
	dateOnly
	timeOnly
	dateTime
	elapsed // hours, possibly more than a day
)

// literals are the parts of a format code that aren't placeholders: quoted text,
// escaped characters, and what is in brackets.
var literals = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`"[^"]*("|$)|[\\_*](.|$)|\[[^\]]*(\]|$)`)
})

// formatOf gives the kind of value that a format code shows, by its first section (ECMA-376 part 1, 18.8.31).
func formatOf(code string) format {
	code = literals().ReplaceAllStringFunc(strings.ToLower(code), func(l string) string {
		if unit, ok := strings.CutSuffix(l, "]"); ok && len(unit) > 1 && strings.Trim(unit[1:], "hms") == "" {
			return "[" // hours, minutes or seconds that don't end at a day
		}
		return ""
	})
	code, _, _ = strings.Cut(code, ";")
	date, clock := strings.ContainsAny(code, "yd"), strings.ContainsAny(code, "hs")
	switch {
	case strings.Contains(code, "["):
		return elapsed
	case date && clock:
		return dateTime
	case clock:
		return timeOnly
	case date || strings.Contains(code, "m"):
		return dateOnly
	case strings.Contains(code, "%"):
		return percent
	}
	return general
}

// builtIn gives the kind of value of a built-in format (ECMA-376 part 1, 18.8.30).
func builtIn(id int) format {
	switch {
	case id == 9 || id == 10:
		return percent
	case id >= 14 && id <= 17, id >= 27 && id <= 31, id == 36, id >= 50 && id <= 58:
		return dateOnly
	case id >= 18 && id <= 21, id >= 32 && id <= 35, id == 45, id == 47:
		return timeOnly
	case id == 22:
		return dateTime
	case id == 46:
		return elapsed
	}
	return general
}

// shown is the text of a number by its format: a date like 2026-11-25, a time like 07:40, both separated by a
// space, a percentage like 86%, or the number itself to the 15 digits that spreadsheets keep.
func shown(x float64, f format, from1904 bool) string {
	if f == percent {
		return figure(x*100) + "%"
	}
	t, date, ok := clockOf(x, from1904)
	if !ok || f == general || f == elapsed && x >= 1 || f == dateOnly && !date {
		return figure(x)
	}
	if f == dateOnly {
		return t.Format("2006-01-02")
	}
	clock := "15:04"
	if t.Second() != 0 {
		clock = "15:04:05"
	}
	if f == dateTime && date {
		clock = "2006-01-02 " + clock
	}
	return t.Format(clock)
}

// figure is a number to 15 digits, without an exponent unless it is very large or small.
func figure(x float64) string {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
	if err != nil {
		y = x
	}
	if a := math.Abs(y); a != 0 && (a < 1e-9 || a >= 1e21) {
		return strconv.FormatFloat(y, 'g', -1, 64)
	}
	return strconv.FormatFloat(y, 'f', -1, 64)
}

// escaped reads a character that is written by its number at i, like _x000D_
// (ECMA-376 part 1, 22.9.2.19); ok is false if there is none.
func escaped(s string, i int) (r rune, ok bool) {
	if len(s) < i+7 || s[i:i+2] != "_x" || s[i+6] != '_' {
		return 0, false
	}
	n, err := strconv.ParseUint(s[i+2:i+6], 16, 32)
	return rune(n), err == nil
}

// plain decodes the characters that are written by their numbers.
func plain(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		if r, ok := escaped(s, i); ok {
			if r == 0 { // NoResult begins with it
				r = utf8.RuneError
			}
			b.WriteRune(r)
			i += 7
			continue
		}
		b.WriteByte(s[i])
		i++
	}
	return b.String()
}

// quoted puts s in a sentence, shortened and printable.
func quoted(s string) string {
	r := []rune(strings.ToValidUTF8(s, "\ufffd"))
	if len(r) > 40 {
		r = append(r[:40], '…')
	}
	return fmt.Sprintf("%q", string(r))
}
