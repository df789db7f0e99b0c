package lines

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
)

// Short makes a word of a file fit for a sentence.
func Short(s string) string {
	s = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return '·'
		}
		return r
	}, strings.ToValidUTF8(s, "·"))
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "…"
	}
	return s
}

// Error is a file that is no whole export, or a line of one that the book
// will not take. Line counts from 1; 0 where the whole file is meant. Cause is why: a
// Fault, or why the book refuses the fact.
type Error struct {
	Line  int
	Cause error
}

// Error is for logs and tests.
func (e *Error) Error() string {
	if e.Line == 0 {
		return e.Cause.Error()
	}
	return fmt.Sprintf("line %d: %s", e.Line, e.Cause)
}

// Unwrap gives why.
func (e *Error) Unwrap() error { return e.Cause }

// maxLine is the longest line of an export read, in bytes.
const maxLine = 4 << 20

// Whole is what is wrong with the whole file.
func Whole(why Fault) error { return &Error{0, reason.Err(why)} }

// Reader reads the lines of an export.
type Reader struct {
	r     *bufio.Reader
	Lines int // read so far
}

// NewReader begins to read an export.
func NewReader(from io.Reader) *Reader { return &Reader{r: bufio.NewReaderSize(from, 1<<20)} }

// Bad is what is wrong with the line that was read.
func (l *Reader) Bad(why Fault) error { return &Error{l.Lines, reason.Err(why)} }

// next reads a line, without its end.
func (l *Reader) next() ([]byte, error) {
	var line []byte
	for {
		part, err := l.r.ReadSlice('\n')
		if len(line)+len(part) > maxLine {
			l.Lines++
			return nil, l.Bad(Fault{Is: "too-long", Wants: maxLine})
		}
		switch {
		case err == nil && line == nil:
			line = part
		case err == nil, errors.Is(err, bufio.ErrBufferFull), errors.Is(err, io.EOF):
			line = append(line[:len(line):len(line)], part...)
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case errors.Is(err, io.EOF) && len(line) > 0:
			if !json.Valid(line) {
				return nil, l.cutOff()
			}
		case err != nil:
			return nil, err
		}
		break
	}
	l.Lines++
	line = bytes.TrimRight(line, "\r\n")
	if !utf8.Valid(line) {
		return nil, l.Bad(Fault{Is: "not-utf-8"})
	}
	return line, nil
}

func (l *Reader) cutOff() error {
	return Whole(Fault{Is: "cut-off", Has: l.Lines})
}

var recordStart = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^\s*\{\s*"record"\s*:\s*"([a-z_]+)"\s*(,|\}\s*$)`)
})

// split takes the record's sort off a line and leaves an object of its fields.
func (l *Reader) split(line []byte) (record string, rest []byte, err error) {
	m := recordStart().FindSubmatchIndex(line)
	if m == nil {
		return "", nil, l.Bad(Fault{Is: "no-record"})
	}
	record = string(line[m[2]:m[3]])
	if line[m[4]] == '}' {
		return record, []byte("{}"), nil
	}
	rest = line[m[4]:]
	rest[0] = '{'
	return record, rest, nil
}

// End proves that the file is whole.
func (l *Reader) End(rest []byte) error {
	var e endLine
	if err := Parse(rest, &e); err != nil {
		return l.Refused(err)
	}
	if e.Lines != l.Lines-1 {
		return l.Bad(Fault{Is: "lines-differ", Has: l.Lines - 1, Wants: e.Lines})
	}
	for {
		line, err := l.next()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		case len(bytes.TrimSpace(line)) > 0:
			return l.Bad(Fault{Is: "after-end"})
		}
	}
}

// Head reads the first two lines, and gives the fields of the second: the book's settings.
func (l *Reader) Head() ([]byte, error) {
	line, err := l.next()
	if errors.Is(err, io.EOF) {
		return nil, Whole(Fault{Is: "no-lines"})
	}
	if err != nil {
		return nil, err
	}
	var h headLine
	if err := json.Unmarshal(bytes.TrimPrefix(line, []byte("\xef\xbb\xbf")), &h); err != nil || h.Schema == "" {
		return nil, l.Bad(Fault{Is: "no-schema", Other: Schema})
	}
	if h.Schema != Schema {
		return nil, l.Bad(Fault{Is: "other-schema", Word: Short(h.Schema), Other: Schema})
	}
	record, rest, err := l.Record()
	if err == nil && record != "book" {
		err = l.Bad(Fault{Is: "no-book", Word: Short(record)})
	}
	return rest, err
}

// Record reads a line: its sort of record, and an object of its fields. Before the last
// line there must be one.
func (l *Reader) Record() (record string, fields []byte, err error) {
	line, err := l.next()
	if errors.Is(err, io.EOF) {
		err = l.cutOff()
	}
	if err != nil {
		return "", nil, err
	}
	return l.split(line)
}

// Refused puts the line to an error, unless it's trouble with a file or names a line.
func (l *Reader) Refused(err error) error {
	var be *bookfile.Error
	var ie *Error
	switch {
	case err == nil, errors.As(err, &be), errors.As(err, &ie), errors.Is(err, context.Canceled):
		return err
	}
	return &Error{l.Lines, err}
}

// Parse reads one JSON object and nothing else, every field of it known.
func Parse(b []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		var typ *json.UnmarshalTypeError
		var syn *json.SyntaxError
		switch {
		case errors.As(err, &typ) && typ.Field != "":
			return reason.Err(Fault{Is: "field-type", Word: Short(typ.Field), Other: typ.Value})
		case errors.As(err, &syn), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
			return reason.Err(Fault{Is: "not-json"})
		}
		if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
			return reason.Err(Fault{Is: "field-unknown", Word: Short(strings.Trim(name, `"`))})
		}
		return reason.Err(Fault{Is: "unreadable", Word: Short(strings.TrimPrefix(err.Error(), "json: "))})
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return reason.Err(Fault{Is: "two-objects"})
	}
	return nil
}

// Fault is what is wrong with a line of an export, or with the whole of it: Is is
// the code, the rest what it is about.
type Fault struct {
	Is    string `json:"-"`
	Word  string `json:"word,omitempty"`
	Other string `json:"other,omitempty"`
	Has   int    `json:"has,omitempty"`
	Wants int    `json:"wants,omitempty"`
}

// Code implements reason.Reason.
func (f Fault) Code() string { return "line-" + f.Is }

// ErrTwice is a record that an import has met before.
var ErrTwice = reason.Err(Fault{Is: "twice"})
