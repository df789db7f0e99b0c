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

// NoResult is the text of a cell that holds a formula whose result is not in the
// file: the program that wrote it did not reckon. No cell can hold it as text.
const NoResult = "\x00="

// What is read at most. A workbook may be packed a thousandfold.
const (
	maxUnpacked = 1 << 29 // bytes of all parts together
	maxStep     = 1 << 20 // bytes of one mark or text
	maxRowText  = 1 << 22 // bytes of a row's own texts
	maxShared   = 1 << 26 // bytes of the texts that cells share
	maxTexts    = 1 << 21 // of them
	maxStyles   = 1 << 16
	maxParts    = 1 << 14
	maxSheets   = 1 << 10
)

var (
	errDamaged = errors.New("it is a damaged workbook; open it in a spreadsheet program and save it again as XLSX, or as CSV UTF-8")
	errNone    = errors.New("it is no XLSX workbook; save it from a spreadsheet program as XLSX or as CSV UTF-8")
	errLocked  = errors.New("it is locked with a password, or of an older form; save it from a spreadsheet program as XLSX without a password, or as CSV UTF-8")
	errHuge    = fmt.Errorf("it unpacks to more than %d MB; save its table alone, or as CSV UTF-8", maxUnpacked>>20)
)

// Is says whether a file that begins so is a workbook, or looks like one:
// packed (PK), or the old or locked form, which Open refuses with a sentence.
func Is(head []byte) bool {
	return bytes.HasPrefix(head, []byte("PK\x03\x04")) || bytes.HasPrefix(head, []byte("\xd0\xcf\x11\xe0"))
}

// Book is a workbook to read.
type Book struct {
	ctx      context.Context
	parts    map[string]*zip.File
	left     int64 // bytes that may yet be unpacked
	sheets   []sheetRef
	from1904 bool
	formats  []format // by style
	shared   []string
}

type sheetRef struct {
	name, part string
	hidden     bool
}

// Open reads what a workbook of size bytes holds. What is wrong with it is said
// in a sentence that does not name the file.
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
	main := ""
	for _, t := range top {
		if t.kind == "officeDocument" {
			main = t.part
		}
	}
	if b.parts[main] == nil {
		return nil, errNone
	}
	dir, file := path.Split(main)
	rels, err := b.relations(dir+"_rels/"+file+".rels", dir)
	if err != nil {
		return nil, err
	}
	if err := b.book(main, rels); err != nil {
		return nil, err
	}
	for _, t := range rels {
		switch {
		case b.parts[t.part] == nil:
		case t.kind == "styles" && b.formats == nil:
			err = b.styles(t.part)
		case t.kind == "sharedStrings" && b.shared == nil:
			err = b.texts(t.part)
		}
		if err != nil {
			return nil, err
		}
	}
	return b, nil
}

// partName is a part's name as it is looked for: names do not tell capitals apart.
func partName(s string) string {
	return strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(s, `\`, "/"), "/"))
}

// relation is a part that another one names.
type relation struct{ id, kind, part string }

// relations reads which parts a part names; dir is where it lies.
func (b *Book) relations(part, dir string) ([]relation, error) {
	var out []relation
	err := b.marks(part, func(m xml.Token) error {
		if e, ok := m.(xml.StartElement); ok && e.Name.Local == "Relationship" {
			if len(out) == maxParts {
				return errDamaged
			}
			target := attr(e, "Target")
			if !strings.HasPrefix(target, "/") {
				target = dir + target
			}
			out = append(out, relation{attr(e, "Id"), path.Base(attr(e, "Type")), partName(path.Clean(target))})
		}
		return nil
	})
	return out, err
}

// book reads the list of sheets and from when days are counted.
func (b *Book) book(part string, rels []relation) error {
	root := ""
	err := b.marks(part, func(m xml.Token) error {
		e, ok := m.(xml.StartElement)
		if !ok {
			return nil
		}
		if root == "" {
			root = e.Name.Local
		}
		switch e.Name.Local {
		case "workbookPr":
			b.from1904 = truth(attr(e, "date1904"))
		case "sheet":
			id := ""
			for _, a := range e.Attr {
				if a.Name.Local == "id" && a.Name.Space != "" {
					id = a.Value
				}
			}
			if len(b.sheets) == maxSheets {
				return errDamaged
			}
			for _, t := range rels {
				if t.id == id && t.kind == "worksheet" && b.parts[t.part] != nil {
					state := attr(e, "state")
					b.sheets = append(b.sheets, sheetRef{attr(e, "name"), t.part, state != "" && state != "visible"})
					break
				}
			}
		}
		return nil
	})
	switch {
	case err != nil:
		return err
	case root != "workbook":
		return errNone
	case len(b.sheets) == 0:
		return errors.New("it holds no sheet with a table")
	}
	return nil
}

func truth(s string) bool { return s == "1" || s == "true" || s == "on" }

// styles reads which style shows a number as what.
func (b *Book) styles(part string) error {
	own := map[int]format{}
	inCells := false
	return b.marks(part, func(m xml.Token) error {
		switch e := m.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "numFmt":
				if n, err := strconv.Atoi(attr(e, "numFmtId")); err == nil && len(own) < maxStyles {
					own[n] = formatOf(attr(e, "formatCode"))
				}
			case "cellXfs":
				inCells = true
			case "xf":
				if !inCells {
					break
				}
				if len(b.formats) == maxStyles {
					return errDamaged
				}
				n, _ := strconv.Atoi(attr(e, "numFmtId"))
				f, ok := own[n]
				if !ok {
					f = builtIn(n)
				}
				b.formats = append(b.formats, f)
			}
		case xml.EndElement:
			inCells = inCells && e.Name.Local != "cellXfs"
		}
		return nil
	})
}

// texts reads the texts that cells share.
func (b *Book) texts(part string) error {
	var t textMarks
	size := 0
	return b.marks(part, func(m xml.Token) error {
		if err := t.mark(m); err != nil {
			return err
		}
		if e, ok := m.(xml.EndElement); ok && e.Name.Local == "si" {
			s := t.take()
			if size += len(s); size > maxShared || len(b.shared) == maxTexts {
				return errHuge
			}
			b.shared = append(b.shared, s)
		}
		return nil
	})
}

// textMarks gathers the text of a string that may come in runs; how it is
// spoken (rPh) is none of it.
type textMarks struct {
	b      bytes.Buffer
	in     bool
	spoken int
}

func (t *textMarks) mark(m xml.Token) error {
	switch e := m.(type) {
	case xml.StartElement:
		switch e.Name.Local {
		case "rPh":
			t.spoken++
		case "t":
			t.in = t.spoken == 0
		}
	case xml.EndElement:
		switch e.Name.Local {
		case "rPh":
			t.spoken = max(t.spoken-1, 0)
		case "t":
			t.in = false
		}
	case xml.CharData:
		if t.in {
			if t.b.Len()+len(e) > maxRowText {
				return errHuge
			}
			t.b.Write(e)
		}
	}
	return nil
}

func (t *textMarks) take() string {
	s := plain(t.b.String())
	t.clear()
	return s
}

func (t *textMarks) clear() {
	t.b.Reset()
	t.in, t.spoken = false, 0
}

// Sheets are the names of the sheets that hold cells, in the workbook's order.
func (b *Book) Sheets() []string {
	out := make([]string, len(b.sheets))
	for i, s := range b.sheets {
		out[i] = s.name
	}
	return out
}

// Sheet opens a sheet by its name, in any case; "" is the first that is not hidden.
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
	m, err := b.open(b.sheets[i].part)
	if err != nil {
		return nil, err
	}
	return &Sheet{book: b, m: m, Name: b.sheets[i].name}, nil
}

// Sheet is a sheet's cells, row by row.
type Sheet struct {
	Name string
	book *Book
	m    *marked
	data bool // inside the cells
	last int  // the row read last
	err  error
}

// Close ends the reading.
func (s *Sheet) Close() error { return s.m.Close() }

// Row gives the next row that the file holds, with its number from 1, each cell
// as the text that shown describes; io.EOF after the last. Rows of empty cells
// may come or be left out.
func (s *Sheet) Row() (number int, cells []string, err error) {
	if s.err == nil {
		number, cells, s.err = s.row()
	}
	if s.err != nil {
		return 0, nil, s.err
	}
	return number, cells, nil
}

func (s *Sheet) row() (int, []string, error) {
	for {
		t, err := s.m.next()
		if errors.Is(err, io.EOF) {
			return 0, nil, errDamaged // cut off
		}
		if err != nil {
			return 0, nil, err
		}
		switch e := t.(type) {
		case xml.StartElement:
			switch {
			case e.Name.Local == "sheetData":
				s.data = true
			case s.data && e.Name.Local == "row":
				n := s.last + 1
				if a := attr(e, "r"); a != "" {
					if n, err = strconv.Atoi(a); err != nil {
						return 0, nil, errDamaged
					}
				}
				if n <= s.last || n > MaxRows {
					return 0, nil, errDamaged
				}
				s.last = n
				cells, err := s.cells()
				return n, cells, err
			}
		case xml.EndElement:
			if e.Name.Local == "sheetData" || e.Name.Local == "worksheet" {
				if err := s.m.drain(); err != nil {
					return 0, nil, err
				}
				return 0, nil, io.EOF
			}
		}
	}
}

// oneCell is a cell as its marks come.
type oneCell struct {
	column  int
	kind    string
	style   int
	formula bool
	result  bool   // it has one, were it empty
	in      string // the mark whose text is read: v, f, or none
	value   bytes.Buffer
	text    textMarks
}

// begin makes it another cell, in the room of the one before.
func (c *oneCell) begin(column int) {
	c.column, c.kind, c.style, c.formula, c.result, c.in = column, "", 0, false, false, ""
	c.value.Reset()
	c.text.clear()
}

// cells reads up to the end of a row.
func (s *Sheet) cells() ([]string, error) {
	var row []string
	var c oneCell
	column, size := 0, 0
	for {
		t, err := s.m.next()
		if errors.Is(err, io.EOF) {
			return nil, errDamaged
		}
		if err != nil {
			return nil, err
		}
		if c.column > 0 && c.kind == "inlineStr" {
			if err := c.text.mark(t); err != nil {
				return nil, err
			}
		}
		switch e := t.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "c":
				c.begin(column + 1)
				c.kind = attr(e, "t")
				c.style, _ = strconv.Atoi(attr(e, "s"))
				if ref := attr(e, "r"); ref != "" {
					n, col, ok := parseCell(ref)
					if !ok || n != s.last {
						return nil, errDamaged
					}
					c.column = col
				}
				if c.column <= column || c.column > MaxColumns {
					return nil, errDamaged
				}
				column = c.column
			case "v", "f":
				c.in = e.Name.Local
				c.formula = c.formula || c.in == "f"
				c.result = c.result || c.in == "v"
			}
		case xml.CharData:
			if c.in == "v" {
				c.value.Write(e)
			}
		case xml.EndElement:
			switch e.Name.Local {
			case "v", "f":
				c.in = ""
			case "c":
				if c.column == 0 {
					return nil, errDamaged
				}
				v, err := s.book.textOf(&c)
				if err != nil {
					return nil, err
				}
				if c.kind != "s" {
					size += len(v)
				}
				if size > maxRowText {
					return nil, errHuge
				}
				if v != "" {
					for len(row) < c.column {
						row = append(row, "")
					}
					row[c.column-1] = v
				}
				c.begin(0)
			case "row":
				return row, nil
			case "sheetData":
				return nil, errDamaged
			}
		}
		if c.value.Len() > maxStep {
			return nil, errHuge
		}
	}
}

// textOf is what a cell says.
func (b *Book) textOf(c *oneCell) (string, error) {
	v := c.value.String()
	f := general
	if c.style >= 0 && c.style < len(b.formats) {
		f = b.formats[c.style]
	}
	switch c.kind {
	case "inlineStr":
		return c.text.take(), nil
	case "str":
		if c.formula && !c.result {
			return NoResult, nil
		}
		return plain(v), nil
	case "s":
		i, err := strconv.Atoi(strings.TrimSpace(v))
		if err != nil || i < 0 || i >= len(b.shared) {
			return "", errDamaged
		}
		return b.shared[i], nil
	}
	v = strings.TrimSpace(v)
	switch {
	case v == "" && c.formula:
		return NoResult, nil
	case v == "":
		return "", nil
	case c.kind == "b":
		if truth(v) {
			return "TRUE", nil
		}
		return "FALSE", nil
	case c.kind == "d":
		date, clock, _ := strings.Cut(v, "T")
		if strings.Count(clock, ":") == 2 {
			clock = strings.TrimSuffix(clock, ":00")
		}
		if clock == "" || f == dateOnly {
			return date, nil
		}
		return date + " " + clock, nil
	case c.kind == "" || c.kind == "n":
		if x, err := strconv.ParseFloat(v, 64); err == nil {
			return shown(x, f, b.from1904), nil
		}
	}
	return v, nil
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name && a.Name.Space == "" {
			return a.Value
		}
	}
	return ""
}
