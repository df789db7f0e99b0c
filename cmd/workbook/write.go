package workbook

import (
	"archive/zip"
	"bufio"
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"rindkeep/cave/day"
)

// Writer writes a workbook to a stream, one sheet after the other.
type Writer struct {
	zip    *zip.Writer
	sheets []written
	base   string // the present sheet's name without a number
	head   []string
	part   *bufio.Writer // of the present sheet, once its beginning is written
	held   bytes.Buffer  // its first rows, until the widths of its columns are known
	rows   int           // of the present sheet, including the heading
	widths []int
	cut    int    // cells that were cut
	first  string // the first of them
	most   int    // rows of a sheet
	err    error
}

// written is a sheet, finished or not.
type written struct {
	name    string
	columns int
	rows    int
}

const (
	rowsMeasured = 500 // rows whose texts set the widths of the columns
	widest       = 60  // width of a column at most, in characters
)

// NewWriter makes a workbook that is written to w row by row.
func NewWriter(w io.Writer) *Writer { return &Writer{zip: zip.NewWriter(w), most: MaxRows} }

// The styles of cells, in the order of cellXfs below.
const (
	styleHead = 1 + iota
	styleText
	styleDate
	styleTime
)

// Sheet begins a sheet whose heading row stays in sight and has filters. A sheet
// that is full continues in another with the same heading: air, air 2.
func (w *Writer) Sheet(name string, head ...string) error {
	w.end()
	w.base, w.head = name, head
	switch {
	case w.err != nil:
	case len(head) == 0 || len(head) > MaxColumns:
		w.err = fmt.Errorf("a sheet of %d columns cannot be written", len(head))
	default:
		w.begin(name)
	}
	return w.err
}

func (w *Writer) begin(name string) {
	for _, s := range w.sheets {
		if strings.EqualFold(s.name, name) {
			w.err = fmt.Errorf("two sheets are named %s", quoted(name))
			return
		}
	}
	if name == "" || utf8.RuneCountInString(name) > 31 || strings.ContainsAny(name, `[]:*?/\'`) {
		w.err = fmt.Errorf("a sheet cannot be named %s", quoted(name))
		return
	}
	w.sheets = append(w.sheets, written{name: name, columns: len(w.head)})
	w.rows, w.part = 0, nil
	w.held.Reset()
	w.widths = make([]int, len(w.head))
	w.row(styleHead, len(w.head), func(i int) any { return w.head[i] })
}

// Row writes a row under the heading. A cell is nil if empty, a string, an int, a float64, a bool, a day.Date, or a
// time.Time, which is written as the clock shows it in its own zone. A string is always text. If it doesn't fit in
// a cell it is cut; see Cut.
func (w *Writer) Row(cells ...any) error {
	if w.err == nil && len(w.sheets) == 0 {
		w.err = errors.New("a row needs its sheet")
	}
	if w.err == nil && len(cells) > len(w.head) {
		w.err = fmt.Errorf("a row of %d cells under %d headings", len(cells), len(w.head))
	}
	if w.err != nil {
		return w.err
	}
	if w.rows == w.most {
		n := 2
		for w.name() != w.base && w.name() != fmt.Sprintf("%s %d", w.base, n-1) {
			n++
		}
		w.end()
		if w.err == nil {
			w.begin(fmt.Sprintf("%s %d", w.base, n))
		}
	}
	if w.err == nil {
		w.row(0, len(cells), func(i int) any { return cells[i] })
	}
	return w.err
}

func (w *Writer) name() string { return w.sheets[len(w.sheets)-1].name }

// Cut counts the cells whose text was cut and names the first, like plans!C2.
func (w *Writer) Cut() (n int, first string) { return w.cut, w.first }

func (w *Writer) row(style, n int, cell func(int) any) {
	w.rows++
	b := &w.held
	fmt.Fprintf(b, `<row r="%d">`, w.rows)
	for i := range n {
		w.cell(b, i, style, cell(i))
	}
	b.WriteString("</row>\n")
	switch {
	case w.part != nil:
		_, w.err = b.WriteTo(w.part)
	case w.rows >= rowsMeasured || b.Len() >= 1<<20:
		w.open()
	}
}

// cell writes one cell and notes its width.
func (w *Writer) cell(b *bytes.Buffer, i, style int, v any) {
	name := CellName(w.rows, i+1)
	wide := 0
	switch v := v.(type) {
	case nil:
	case string:
		wide = w.text(b, name, style, v)
	case bool:
		n := "0"
		if v {
			n = "1"
		}
		fmt.Fprintf(b, `<c r="%s" t="b"><v>%s</v></c>`, name, n)
		wide = 5
	case int:
		wide = number(b, name, 0, strconv.Itoa(v))
	case float64:
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			wide = number(b, name, 0, strconv.FormatFloat(v, 'g', -1, 64))
		}
	case day.Date:
		if n, ok := serialOf(v); ok {
			number(b, name, styleDate, strconv.Itoa(n))
			wide = len("2026-11-25")
		} else {
			wide = w.text(b, name, style, v.String())
		}
	case time.Time:
		wide = w.instant(b, name, style, v)
	default:
		w.err = fmt.Errorf("a cell cannot hold a %T", v)
	}
	if w.rows <= rowsMeasured {
		w.widths[i] = max(w.widths[i], wide)
	}
}

// number writes a cell and gives its width in characters, as text and instant do.
func number(b *bytes.Buffer, name string, style int, s string) int {
	fmt.Fprintf(b, `<c r="%s"`, name)
	if style > 0 {
		fmt.Fprintf(b, ` s="%d"`, style)
	}
	fmt.Fprintf(b, `><v>%s</v></c>`, s)
	return len(s)
}

func (w *Writer) instant(b *bytes.Buffer, name string, style int, t time.Time) int {
	y, m, d := t.Date()
	n, ok := serialOf(day.Of(y, m, d))
	if t.IsZero() {
		return 0
	}
	if !ok {
		return w.text(b, name, style, t.Format(time.RFC3339))
	}
	hour, minute, s := t.Clock()
	seconds := float64(hour*3600+minute*60+s) + float64(t.Nanosecond())/1e9
	number(b, name, styleTime, strconv.FormatFloat(float64(n)+seconds/86400, 'f', -1, 64))
	return len("2026-11-25 07:40")
}

func (w *Writer) text(b *bytes.Buffer, name string, style int, s string) int {
	if s == "" {
		return 0
	}
	short, all := fitting(s)
	if !all {
		if w.cut++; w.cut == 1 {
			w.first = w.name() + "!" + name
		}
	}
	fmt.Fprintf(b, `<c r="%s" s="%d" t="inlineStr"><is><t xml:space="preserve">`, name, cmp.Or(style, styleText))
	escape(b, short)
	b.WriteString(`</t></is></c>`)
	line, _, _ := strings.Cut(short[:min(len(short), 4*widest)], "\n")
	if style == styleHead {
		line += "   " // for the button of the filter
	}
	return utf8.RuneCountInString(line)
}

const (
	xmlHead  = `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>` + "\n"
	mainNS   = `http://schemas.openxmlformats.org/spreadsheetml/2006/main`
	relNS    = `http://schemas.openxmlformats.org/officeDocument/2006/relationships`
	packNS   = `http://schemas.openxmlformats.org/package/2006/`
	mime     = `application/vnd.openxmlformats-officedocument.spreadsheetml.`
	relsHead = `<Relationships xmlns="` + packNS + `relationships">`
)

// create begins a part. All have one date, so that equal cells give equal files.
func (w *Writer) create(name string) (io.Writer, error) {
	modified := time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)
	return w.zip.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: modified})
}

// open writes a sheet's beginning with the widths of its columns, and its first rows.
func (w *Writer) open() {
	p, err := w.create(fmt.Sprintf("xl/worksheets/sheet%d.xml", len(w.sheets)))
	if err != nil {
		w.err = err
		return
	}
	w.part = bufio.NewWriterSize(p, 64<<10)
	selected := ""
	if len(w.sheets) == 1 {
		selected = ` tabSelected="1"`
	}
	fmt.Fprintf(w.part, xmlHead+`<worksheet xmlns="%s"><sheetPr><pageSetUpPr fitToPage="1"/></sheetPr>`+
		`<sheetViews><sheetView%s workbookViewId="0">`+
		`<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/>`+
		`<selection pane="bottomLeft" activeCell="A2" sqref="A2"/></sheetView></sheetViews><cols>`, mainNS, selected)
	for i, n := range w.widths {
		fmt.Fprintf(w.part, `<col min="%d" max="%d" width="%d" customWidth="1"/>`, i+1, i+1, min(max(n, 4), widest)+2)
	}
	fmt.Fprint(w.part, "</cols><sheetData>\n")
	_, w.err = w.held.WriteTo(w.part)
}

// end finishes the present sheet.
func (w *Writer) end() {
	if w.err != nil || len(w.sheets) == 0 || w.base == "" {
		return
	}
	if w.part == nil {
		w.open()
	}
	if w.err != nil {
		return
	}
	s := &w.sheets[len(w.sheets)-1]
	s.rows = w.rows
	fmt.Fprintf(w.part, `</sheetData><autoFilter ref="A1:%s"/>`+
		`<pageSetup orientation="landscape" fitToHeight="0"/></worksheet>`, CellName(s.rows, s.columns))
	w.err = w.part.Flush()
}

// Close writes the lists of sheets and styles. It doesn't close the stream.
func (w *Writer) Close() error {
	w.end()
	w.base = ""
	if w.err == nil && len(w.sheets) == 0 {
		w.err = errors.New("a workbook needs a sheet")
	}
	var types, sheets, names, rels strings.Builder
	for i, s := range w.sheets {
		fmt.Fprintf(&types, `<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="%sworksheet+xml"/>`, i+1, mime)
		var name bytes.Buffer
		escape(&name, s.name)
		fmt.Fprintf(&sheets, `<sheet name="%s" sheetId="%d" r:id="rId%d"/>`, name.Bytes(), i+1, i+1)
		fmt.Fprintf(&rels, `<Relationship Id="rId%d" Type="%s/worksheet" Target="worksheets/sheet%d.xml"/>`, i+1, relNS, i+1)
		fmt.Fprintf(&names, `<definedName name="_xlnm._FilterDatabase" localSheetId="%d" hidden="1">`+
			`'%s'!$A$1:$%s$%d</definedName>`+
			`<definedName name="_xlnm.Print_Titles" localSheetId="%[1]d">'%[2]s'!$1:$1</definedName>`,
			i, name.Bytes(), ColumnName(s.columns), s.rows)
	}
	last := len(w.sheets) + 1
	fmt.Fprintf(&rels, `<Relationship Id="rId%d" Type="%s/styles" Target="styles.xml"/>`, last, relNS)
	for _, part := range []struct{ name, text string }{
		{"xl/workbook.xml", `<workbook xmlns="` + mainNS + `" xmlns:r="` + relNS + `">` +
			`<bookViews><workbookView/></bookViews><sheets>` + sheets.String() + `</sheets>` +
			`<definedNames>` + names.String() + `</definedNames></workbook>`},
		{"xl/_rels/workbook.xml.rels", relsHead + rels.String() + `</Relationships>`},
		{"xl/styles.xml", styles},
		{"_rels/.rels", relsHead + `<Relationship Id="rId1" Type="` + relNS + `/officeDocument" ` +
			`Target="xl/workbook.xml"/></Relationships>`},
		{"[Content_Types].xml", `<Types xmlns="` + packNS + `content-types"><Default Extension="rels" ` +
			`ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
			`<Default Extension="xml" ContentType="application/xml"/>` +
			`<Override PartName="/xl/workbook.xml" ContentType="` + mime + `sheet.main+xml"/>` +
			`<Override PartName="/xl/styles.xml" ContentType="` + mime + `styles+xml"/>` + types.String() + `</Types>`},
	} {
		if w.err != nil {
			return w.err
		}
		p, err := w.create(part.name)
		if err == nil {
			_, err = io.WriteString(p, xmlHead+part.text)
		}
		w.err = err
	}
	if w.err != nil {
		return w.err
	}
	w.err = w.zip.Close()
	return w.err
}

// styles: the heading is bold on grey, text stays text when somebody types over it
// (format 49), and dates begin with the year, which can't be misread.
const styles = `<styleSheet xmlns="` + mainNS + `">` +
	`<numFmts count="2"><numFmt numFmtId="164" formatCode="yyyy\-mm\-dd"/>` +
	`<numFmt numFmtId="165" formatCode="yyyy\-mm\-dd\ hh:mm"/></numFmts>` +
	`<fonts count="2"><font><sz val="11"/><name val="Calibri"/><family val="2"/></font>` +
	`<font><b/><sz val="11"/><name val="Calibri"/><family val="2"/></font></fonts>` +
	`<fills count="3"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill>` +
	`<fill><patternFill patternType="solid"><fgColor rgb="FFE7E6E6"/><bgColor indexed="64"/></patternFill></fill>` +
	`</fills>` +
	`<borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>` +
	`<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>` +
	`<cellXfs count="5"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>` +
	`<xf numFmtId="49" fontId="1" fillId="2" borderId="0" xfId="0" applyNumberFormat="1" applyFont="1" applyFill="1"/>` +
	`<xf numFmtId="49" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>` +
	`<xf numFmtId="164" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>` +
	`<xf numFmtId="165" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/></cellXfs>` +
	`<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>`

// cutMark ends a text that was cut.
const cutMark = " … (cut)"

// fitting is s, cut if it doesn't fit in a cell; all is false if it was.
func fitting(s string) (short string, all bool) {
	if len(s) <= MaxText {
		return s, true
	}
	units, keep := 0, 0
	for i, r := range s {
		if units += max(utf16.RuneLen(r), 1); units > MaxText {
			return s[:keep] + cutMark, false
		}
		if units <= MaxText-utf8.RuneCountInString(cutMark) {
			keep = i + utf8.RuneLen(r)
			if r == utf8.RuneError {
				_, n := utf8.DecodeRuneInString(s[i:])
				keep = i + n
			}
		}
	}
	return s, true
}

// escape writes text as XML. Characters that XML can't contain are written by their numbers, and text that looks like
// such a number is protected.
func escape(b *bytes.Buffer, s string) {
	from := 0 // what was not written yet
	for i, r := range s {
		mark := ""
		if r > 0 && r < 0x20 && r != '\t' && r != '\n' {
			mark = fmt.Sprintf("_x%04X_", r)
		} else if _, ok := escaped(s, i); ok {
			mark = "_x005F_"
		}
		if mark != "" {
			_ = xml.EscapeText(b, []byte(s[from:i]))
			b.WriteString(mark)
			from = i + 1
		}
	}
	_ = xml.EscapeText(b, []byte(s[from:]))
}
