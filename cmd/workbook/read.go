package workbook

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"
)

// NoResult is the text of a cell whose formula has no result in the file, because
// the program that wrote it didn't calculate. No cell can contain it as text.
const NoResult = "\x00="

// Limits of what is read: a workbook can be packed a thousandfold.
const (
	maxUnpacked = 1 << 29 // bytes of all parts together
	maxElement  = 1 << 22 // bytes of one row or shared text
	maxShared   = 1 << 26 // bytes of all shared texts
	maxTexts    = 1 << 21 // shared texts
	maxStyles   = 1 << 16
	maxParts    = 1 << 14
	maxDepth    = 1 << 10 // of elements inside each other
)

var (
	errDamaged = errors.New("it is a damaged workbook; " +
		"open it in a spreadsheet program and save it again as XLSX, or as CSV UTF-8")
	errNone   = errors.New("it isn't an XLSX workbook; save it from a spreadsheet program as XLSX or as CSV UTF-8")
	errLocked = errors.New("it is locked with a password, or in an older format; " +
		"save it from a spreadsheet program as XLSX without a password, or as CSV UTF-8")
	errHuge = fmt.Errorf("it unpacks to more than %d MB, or one row to more than %d MB; "+
		"save its table alone, or as CSV UTF-8", maxUnpacked>>20, maxElement>>20)
)

// Is is true where a file that begins with head is a workbook, or a locked or older
// one, which Open refuses with a sentence.
func Is(head []byte) bool {
	return bytes.HasPrefix(head, []byte("PK\x03\x04")) || bytes.HasPrefix(head, []byte("\xd0\xcf\x11\xe0"))
}

// Book is a workbook open for reading.
type Book struct {
	ctx      context.Context
	parts    map[string]*zip.File
	left     int64 // bytes that may still be unpacked
	sheets   []sheetRef
	from1904 bool
	formats  []format // by style
	shared   []string
}

type sheetRef struct {
	name, part string
	hidden     bool
}

// Open reads all of a workbook of size bytes except its sheets. Its errors are sentences that don't name the file.
func Open(ctx context.Context, r io.ReaderAt, size int64) (*Book, error) {
	head := make([]byte, 4)
	if _, err := r.ReadAt(head, 0); err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("could not read it: %w", err)
	}
	switch {
	case bytes.Equal(head, []byte("\xd0\xcf\x11\xe0")):
		return nil, errLocked
	case !Is(head):
		return nil, errNone
	}
	z, err := zip.NewReader(r, size)
	if err != nil || len(z.File) > maxParts {
		return nil, errDamaged
	}
	b := &Book{ctx: ctx, parts: map[string]*zip.File{}, left: maxUnpacked}
	for _, f := range z.File {
		name := partName(f.Name)
		if b.parts[name] == nil {
			b.parts[name] = f
		}
	}
	top, err := b.relations("_rels/.rels", "")
	if err != nil {
		return nil, err
	}
	main := slices.IndexFunc(top, func(t relation) bool { return t.kind == "officeDocument" })
	if main < 0 || b.parts[top[main].part] == nil {
		return nil, errNone
	}
	return b, b.read(top[main].part)
}

// read reads the main part and the parts that it names.
func (b *Book) read(main string) error {
	dir, file := path.Split(main)
	rels, err := b.relations(dir+"_rels/"+file+".rels", dir)
	if err != nil {
		return err
	}
	if err := b.list(main, rels); err != nil {
		return err
	}
	for _, t := range rels {
		switch {
		case t.kind == "styles" && b.formats == nil:
			err = b.styles(t.part)
		case t.kind == "sharedStrings" && b.shared == nil:
			err = b.texts(t.part)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// partName is the key of a part: names are compared without regard to case.
func partName(s string) string {
	return strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(s, `\`, "/"), "/"))
}

// relation is a part that another one refers to.
type relation struct{ id, kind, part string }

// relations reads a list of relations; their targets are relative to dir.
func (b *Book) relations(name, dir string) ([]relation, error) {
	var out []relation
	err := b.each(name, func(p *part, e xml.StartElement) error {
		if e.Name.Local != "Relationship" {
			return nil
		}
		if len(out) == maxParts {
			return errDamaged
		}
		target := attr(e, "Target")
		if !strings.HasPrefix(target, "/") {
			target = dir + target
		}
		out = append(out, relation{attr(e, "Id"), path.Base(attr(e, "Type")), partName(path.Clean(target))})
		return nil
	})
	return out, err
}

// list reads the list of sheets and the date that days are counted from.
func (b *Book) list(name string, rels []relation) error {
	var doc struct {
		XMLName xml.Name
		Pr      struct {
			From1904 string `xml:"date1904,attr"`
		} `xml:"workbookPr"`
		Sheets []struct {
			Name  string     `xml:"name,attr"`
			State string     `xml:"state,attr"`
			Rest  []xml.Attr `xml:",any,attr"`
		} `xml:"sheets>sheet"`
	}
	if err := b.each(name, func(p *part, e xml.StartElement) error { return p.decode(e, &doc) }); err != nil {
		return err
	}
	if doc.XMLName.Local != "workbook" {
		return errNone
	}
	b.from1904 = truth(doc.Pr.From1904)
	parts := map[string]string{}
	for _, t := range rels {
		if t.kind == "worksheet" && b.parts[t.part] != nil {
			parts[t.id] = t.part
		}
	}
	for _, s := range doc.Sheets {
		// The id that counts is the one in the namespace of relations.
		i := slices.IndexFunc(s.Rest, func(a xml.Attr) bool { return a.Name.Local == "id" && a.Name.Space != "" })
		if i >= 0 && parts[s.Rest[i].Value] != "" {
			hidden := s.State != "" && s.State != "visible"
			b.sheets = append(b.sheets, sheetRef{s.Name, parts[s.Rest[i].Value], hidden})
		}
	}
	if len(b.sheets) == 0 {
		return errors.New("it has no sheet with a table")
	}
	return nil
}

func truth(s string) bool { return s == "1" || s == "true" || s == "on" }

// styles reads which kind of value each style shows.
func (b *Book) styles(name string) error {
	own := map[int]format{}
	inCells := false
	return b.each(name, func(p *part, e xml.StartElement) error {
		n, err := strconv.Atoi(attr(e, "numFmtId"))
		switch e.Name.Local {
		case "numFmt":
			if err == nil && len(own) < maxStyles {
				own[n] = formatOf(attr(e, "formatCode"))
			}
		case "cellXfs", "cellStyleXfs":
			inCells = e.Name.Local == "cellXfs"
		case "xf":
			if !inCells {
				break
			}
			if len(b.formats) == maxStyles {
				return errDamaged
			}
			f, ok := own[n]
			if !ok {
				f = builtIn(n)
			}
			b.formats = append(b.formats, f)
		}
		return nil
	})
}

// texts reads the shared texts.
func (b *Book) texts(name string) error {
	size := 0
	return b.each(name, func(p *part, e xml.StartElement) error {
		if e.Name.Local != "si" {
			return nil
		}
		var t richText
		if err := p.decode(e, &t); err != nil {
			return err
		}
		s := t.String()
		if size += len(s); size > maxShared || len(b.shared) == maxTexts {
			return errHuge
		}
		b.shared = append(b.shared, s)
		return nil
	})
}

// richText is a text, in one piece or in runs. Its phonetic runs (rPh) are left out.
type richText struct {
	Text []string `xml:"t"`
	Runs []string `xml:"r>t"`
}

func (t *richText) String() string {
	if t == nil {
		return ""
	}
	return plain(strings.Join(t.Text, "") + strings.Join(t.Runs, ""))
}

// Sheets are the names of the worksheets, in the workbook's order.
func (b *Book) Sheets() []string {
	out := make([]string, len(b.sheets))
	for i, s := range b.sheets {
		out[i] = s.name
	}
	return out
}

// Sheet opens a sheet by name, in any case; "" opens the first that isn't hidden.
func (b *Book) Sheet(name string) (*Sheet, error) {
	i := slices.IndexFunc(b.sheets, func(s sheetRef) bool {
		return name == "" && !s.hidden || name != "" && strings.EqualFold(s.name, strings.TrimSpace(name))
	})
	if i < 0 && name == "" {
		i = 0
	}
	if i < 0 {
		var all []string
		for _, s := range b.Sheets()[:min(len(b.sheets), 8)] {
			all = append(all, quoted(s))
		}
		return nil, fmt.Errorf("it has no sheet named %s; it has %s", quoted(name), strings.Join(all, ", "))
	}
	p, err := b.open(b.sheets[i].part)
	if err != nil {
		return nil, err
	}
	return &Sheet{book: b, part: p, Name: b.sheets[i].name}, nil
}

// Sheet is a sheet that is read row by row.
type Sheet struct {
	Name string
	book *Book
	part *part
	last int // number of the row read last
	err  error
}

// Close ends the reading.
func (s *Sheet) Close() error { return s.part.file.Close() }

// Row gives the next row of the file and its number from 1, with each cell as the text that shown describes. It
// returns io.EOF after the last row. Empty rows may be missing.
func (s *Sheet) Row() (number int, cells []string, err error) {
	if s.err == nil {
		cells, s.err = s.row()
	}
	if s.err != nil {
		return 0, nil, s.err
	}
	return s.last, cells, nil
}

// cell is a cell of the file.
type cell struct {
	Ref     string    `xml:"r,attr"`
	Kind    string    `xml:"t,attr"`
	Style   string    `xml:"s,attr"`
	Formula *struct{} `xml:"f"`
	Value   *string   `xml:"v"`
	Text    *richText `xml:"is"`
}

func (s *Sheet) row() ([]string, error) {
	for {
		t, err := s.part.token()
		if err == io.EOF {
			return nil, errDamaged // cut off
		}
		if err != nil {
			return nil, err
		}
		switch e := t.(type) {
		case xml.EndElement:
			if e.Name.Local == "sheetData" || e.Name.Local == "worksheet" {
				if err := s.part.drain(); err != nil {
					return nil, err
				}
				return nil, io.EOF
			}
		case xml.StartElement:
			if e.Name.Local != "row" {
				continue
			}
			var row struct {
				Number string `xml:"r,attr"`
				Cells  []cell `xml:"c"`
			}
			if err := s.part.decode(e, &row); err != nil {
				return nil, err
			}
			n := s.last + 1
			if row.Number != "" {
				n, err = strconv.Atoi(row.Number)
			}
			if err != nil || n <= s.last || n > MaxRows {
				return nil, errDamaged
			}
			s.last = n
			return s.cells(row.Cells)
		}
	}
}

// cells gives the texts of a row's cells by column.
func (s *Sheet) cells(cs []cell) ([]string, error) {
	var out []string
	column := 0
	for _, c := range cs {
		column++
		if c.Ref != "" {
			row, col, ok := parseCell(c.Ref)
			if !ok || row != s.last || col < column {
				return nil, errDamaged
			}
			column = col
		}
		if column > MaxColumns {
			return nil, errDamaged
		}
		v, err := s.book.textOf(c)
		if err != nil {
			return nil, err
		}
		if v != "" {
			out = append(out, make([]string, column-len(out))...)
			out[column-1] = v
		}
	}
	return out, nil
}

// textOf is the text of a cell.
func (b *Book) textOf(c cell) (string, error) {
	v := ""
	if c.Value != nil {
		v = *c.Value
	}
	switch c.Kind {
	case "inlineStr":
		return c.Text.String(), nil
	case "str":
		if c.Formula != nil && c.Value == nil {
			return NoResult, nil
		}
		return plain(v), nil
	}
	v = strings.TrimSpace(v)
	switch {
	case c.Kind == "s":
		i, err := strconv.Atoi(v)
		if err != nil || i < 0 || i >= len(b.shared) {
			return "", errDamaged
		}
		return b.shared[i], nil
	case v == "" && c.Formula != nil:
		return NoResult, nil
	case v == "":
		return "", nil
	}
	return b.valueOf(v, c), nil
}

// valueOf is the text of a number, date or truth value.
func (b *Book) valueOf(v string, c cell) string {
	f := general
	if i, err := strconv.Atoi(c.Style); err == nil && i >= 0 && i < len(b.formats) {
		f = b.formats[i]
	}
	switch c.Kind {
	case "b":
		return strings.ToUpper(strconv.FormatBool(truth(v)))
	case "d":
		date, clock, _ := strings.Cut(v, "T")
		if strings.Count(clock, ":") == 2 {
			clock = strings.TrimSuffix(clock, ":00")
		}
		if clock == "" || f == dateOnly {
			return date
		}
		return date + " " + clock
	case "", "n":
		if x, err := strconv.ParseFloat(v, 64); err == nil {
			return shown(x, f, b.from1904)
		}
	}
	return v
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name && a.Name.Space == "" {
			return a.Value
		}
	}
	return ""
}
