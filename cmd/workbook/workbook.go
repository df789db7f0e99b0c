// Package workbook writes and reads tables of cells as XLSX workbooks
// (SpreadsheetML, ECMA-376 parts 1 and 2), row by row, in memory that does not
// grow with the table but for the texts its cells share. It knows cells of text,
// number, date and time, and nothing of what they mean.
//
// It needs no more than the standard library: a whole spreadsheet library would
// be set up at the start of every command, of which hardly one opens a workbook.
// The tests hold it to such a library, and to a reader of another language.
package workbook

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"rindkeep/cave/day"
)

// What a sheet can hold (ECMA-376 sets no such figures; these are what the
// programs that open workbooks take, common practice).
const (
	MaxRows    = 1 << 20 // with the heading
	MaxColumns = 1 << 14
	MaxText    = 1<<15 - 1 // of a cell, in UTF-16 units
)

// CellName is what a spreadsheet calls a cell: C7 for row 7, column 3, both from 1.
func CellName(row, column int) string { return ColumnName(column) + strconv.Itoa(row) }

// ColumnName is what a spreadsheet calls a column: A is 1, AA is 27.
func ColumnName(column int) string {
	var b []byte
	for n := column; n > 0; n = (n - 1) / 26 {
		b = append([]byte{byte('A' + (n-1)%26)}, b...)
	}
	return string(b)
}

// parseCell reads C7 as row 7, column 3; ok is false for what is no cell of a sheet.
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

// A spreadsheet counts days from one of two beginnings. That of 1900 has a
// 29 February 1900, day 60, which never was; from 1 March 1900 on, day 61, the
// count is from 30 December 1899 (ECMA-376 part 1, 18.17.4.1).
const (
	epoch1900 day.Date = -25569
	epoch1904 day.Date = -24107
	maxSerial          = 2958465 // 31 December 9999 in the count of 1900
	firstSure          = 61      // 1 March 1900
)

// serialOf is the date as a cell of the count of 1900 holds it; ok is false for
// one before 1 March 1900 or after 9999, which is written as text.
func serialOf(d day.Date) (n int, ok bool) {
	n = int(d) - int(epoch1900)
	return n, n >= firstSure && n <= maxSerial
}

// Clock is a date and the time of day that a serial number stands for; date is
// false where it is a time of day alone.
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

// format is what a number format shows a number as.
type format uint8

const (
	general format = iota
	percent
	dateOnly
	timeOnly
	dateTime
	elapsed // hours that may go beyond a day
)

// formatOf tells what a format code shows, by its first section (ECMA-376 part
// 1, 18.8.31).
func formatOf(code string) format {
	var hasDate, hasTime, hasMonth, hasPercent, over bool
	if strings.EqualFold(code, "general") {
		return general
	}
	for i := 0; i < len(code); i++ {
		switch c := code[i] | 0x20; {
		case code[i] == ';':
			i = len(code)
		case code[i] == '"':
			n := strings.IndexByte(code[i+1:], '"')
			if n < 0 {
				i = len(code)
			}
			i += n + 1
		case code[i] == '\\' || code[i] == '_' || code[i] == '*':
			i++
		case code[i] == '[':
			n := strings.IndexByte(code[i:], ']')
			if n < 0 {
				i = len(code)
				break
			}
			over = over || n > 1 && strings.Trim(strings.ToLower(code[i+1:i+n]), "hms") == ""
			i += n
		case code[i] == '%':
			hasPercent = true
		case c == 'y' || c == 'd':
			hasDate = true
		case c == 'h' || c == 's':
			hasTime = true
		case c == 'm':
			hasMonth = true
		}
	}
	switch {
	case over:
		return elapsed
	case hasDate && hasTime:
		return dateTime
	case hasTime:
		return timeOnly
	case hasDate || hasMonth:
		return dateOnly
	case hasPercent:
		return percent
	}
	return general
}

// builtIn tells what a format of the fixed list shows (ECMA-376 part 1, 18.8.30).
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

// shown is the text of a number as its format means it: a date like 2026-11-25,
// a time like 07:40, both with a space between, a percentage like 86%, or the
// number itself, to the 15 digits that spreadsheets keep.
func shown(x float64, f format, from1904 bool) string {
	switch f {
	case percent:
		return figure(x*100) + "%"
	case dateOnly, timeOnly, dateTime, elapsed:
		if f == elapsed && x >= 1 {
			break
		}
		t, date, ok := clockOf(x, from1904)
		if !ok {
			break
		}
		clock := "15:04"
		if t.Second() != 0 {
			clock = "15:04:05"
		}
		switch {
		case f == timeOnly || f == elapsed || f == dateTime && !date:
			return t.Format(clock)
		case !date:
		case f == dateOnly:
			return t.Format("2006-01-02")
		default:
			return t.Format("2006-01-02 " + clock)
		}
	}
	return figure(x)
}

// figure is a number to 15 digits, without an exponent where it is of a common size.
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

// escaped says whether s at i is a letter written by its number, _x000D_
// (ECMA-376 part 1, 22.9.2.19), and which.
func escaped(s string, i int) (rune, bool) {
	if len(s) < i+7 || s[i:i+2] != "_x" || s[i+6] != '_' {
		return 0, false
	}
	n, err := strconv.ParseUint(s[i+2:i+6], 16, 32)
	return rune(n), err == nil
}

// plain reads a cell's text with the letters written by number in it.
func plain(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		if r, ok := escaped(s, i); ok {
			if r == 0 { // it begins NoResult
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

// quoted puts s in a sentence, short and without what does not print.
func quoted(s string) string {
	r := []rune(strings.ToValidUTF8(s, "\ufffd"))
	if len(r) > 40 {
		r = append(r[:40], '…')
	}
	return fmt.Sprintf("%q", string(r))
}
