package workbook

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// parts are the parts of a workbook made by hand.
type parts map[string]string

// plainBook is the least that is a workbook, with a sheet of these rows.
func plainBook(rows string) parts {
	return parts{
		"[Content_Types].xml": `<Types/>`,
		"_rels/.rels": `<Relationships><Relationship Id="r" Type="` + relNS +
			`/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml": `<workbook xmlns:r="` + relNS +
			`"><sheets><sheet name="Cellar" sheetId="1" r:id="r1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="r1" Type="` + relNS +
			`/worksheet" Target="worksheets/s.xml"/><Relationship Id="r2" Type="` + relNS +
			`/styles" Target="styles.xml"/><Relationship Id="r3" Type="` + relNS +
			`/sharedStrings" Target="/xl/sharedStrings.xml"/></Relationships>`,
		"xl/worksheets/s.xml": `<worksheet><sheetData>` + rows + `</sheetData></worksheet>`,
		"xl/styles.xml": `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="d mmm yyyy"/><numFmt ` +
			`numFmtId="165" formatCode="[$-409]h:mm AM/PM;@"/></numFmts><cellStyleXfs><xf numFmtId="14"/></cellStyleXfs>` +
			`<cellXfs><xf/><xf numFmtId="14"/><xf numFmtId="22"/><xf numFmtId="164"/><xf numFmtId="165"/><xf ` +
			`numFmtId="10"/><xf numFmtId="46"/></cellXfs></styleSheet>`,
		"xl/sharedStrings.xml": `<sst><si><t>tag</t></si><si><r><t xml:space="preserve">the </t></r><r><rPr><b/></rPr>` +
			`<t>wheel</t></r><rPh sb="0" eb="1"><t>spoken</t></rPh></si></sst>`,
	}
}

func (p parts) with(name, text string) parts {
	out := parts{}
	for n, s := range p {
		out[n] = s
	}
	out[name] = text
	return out
}

func (p parts) without(name string) parts {
	out := p.with(name, "")
	delete(out, name)
	return out
}

func (p parts) pack(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for n, s := range p {
		w, err := z.Create(n)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, s); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// read is all rows of a file's first sheet, or the error.
func read(ctx context.Context, file []byte, sheet string) (rows [][]string, err error) {
	b, err := Open(ctx, bytes.NewReader(file), int64(len(file)))
	if err != nil {
		return nil, err
	}
	s, err := b.Sheet(sheet)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	for {
		n, r, err := s.Row()
		if errors.Is(err, io.EOF) {
			return rows, nil
		}
		if err != nil {
			return nil, err
		}
		if n < 1 || n > MaxRows || len(r) > MaxColumns {
			return nil, fmt.Errorf("row %d of %d cells", n, len(r))
		}
		rows = append(rows, append([]string{fmt.Sprint(n)}, r...))
	}
}

func TestACellIsReadAsWhatItShows(t *testing.T) {
	for _, c := range []struct{ name, cell, want string }{
		{"a number", `<c><v>1942</v></c>`, "1942"},
		{"a number with the noise of binary fractions", `<c t="n"><v>1.9419999999999999</v></c>`, "1.942"},
		{"a number with an exponent", `<c><v>1.942E3</v></c>`, "1942"},
		{"a long whole number", `<c><v>261120123456</v></c>`, "261120123456"},
		{"a shared text", `<c t="s"><v>0</v></c>`, "tag"},
		{"a shared text in runs, without how it is spoken", `<c t="s"><v>1</v></c>`, "the wheel"},
		{"a text of its own", `<c t="inlineStr"><is><t>A&amp;B</t></is></c>`, "A&B"},
		{"a text of its own in runs", `<c t="inlineStr"><is><r><t>A</t></r><r><t>B</t></r></is></c>`, "AB"},
		{"a text with a letter by number", `<c t="inlineStr"><is><t>a_x000A_b</t></is></c>`, "a\nb"},
		{"a text with nothing by number", `<c t="inlineStr"><is><t>_x0000_=</t></is></c>`, "\ufffd="},
		{"a formula's number", `<c><f>1+1</f><v>2</v></c>`, "2"},
		{"a formula's text", `<c t="str"><f>"a"</f><v>a</v></c>`, "a"},
		{"a formula's empty text", `<c t="str"><f>""</f><v></v></c>`, ""},
		{"a formula's text without its result", `<c t="str"><f>A1</f></c>`, NoResult},
		{"a formula's date", `<c s="1"><f>TODAY()</f><v>46351</v></c>`, "2026-11-25"},
		{"a formula without its result", `<c><f>1+1</f></c>`, NoResult},
		{"a formula with an empty result", `<c><f>1+1</f><v/></c>`, NoResult},
		{"a formula that failed", `<c t="e"><f>1/0</f><v>#DIV/0!</v></c>`, "#DIV/0!"},
		{"yes", `<c t="b"><v>1</v></c>`, "TRUE"},
		{"no", `<c t="b"><v>0</v></c>`, "FALSE"},
		{"a date, format 14", `<c s="1"><v>46351</v></c>`, "2026-11-25"},
		{"a date that hides its time", `<c s="1"><v>46351.75</v></c>`, "2026-11-25"},
		{"a date and time, format 22", `<c s="2"><v>46351.3194444444</v></c>`, "2026-11-25 07:40"},
		{"a date and time with seconds", `<c s="2"><v>46351.319791666669</v></c>`, "2026-11-25 07:40:30"},
		{"the last moment of a day, rounded into the next", `<c s="2"><v>46351.9999999999</v></c>`, "2026-11-26 00:00"},
		{"midnight of a date with time", `<c s="2"><v>46351</v></c>`, "2026-11-25 00:00"},
		{"a time of day in a cell of date and time", `<c s="2"><v>0.5</v></c>`, "12:00"},
		{"a date of an own format", `<c s="3"><v>46351</v></c>`, "2026-11-25"},
		{"a time of day of an own format", `<c s="4"><v>0.3194444444</v></c>`, "07:40"},
		{"a time of day that hides its date", `<c s="4"><v>46351.3194444444</v></c>`, "07:40"},
		{"a percentage", `<c s="5"><v>0.86</v></c>`, "86%"},
		{"a percentage with the noise of binary fractions", `<c s="5"><v>0.57999999999999996</v></c>`, "58%"},
		{"hours and minutes gone by", `<c s="6"><v>0.25</v></c>`, "06:00"},
		{"more than a day of them is a number", `<c s="6"><v>1.25</v></c>`, "1.25"},
		{"1 January 1900", `<c s="1"><v>1</v></c>`, "1900-01-01"},
		{"28 February 1900", `<c s="1"><v>59</v></c>`, "1900-02-28"},
		{"29 February 1900, which never was", `<c s="1"><v>60</v></c>`, "60"},
		{"1 March 1900", `<c s="1"><v>61</v></c>`, "1900-03-01"},
		{"31 December 9999", `<c s="1"><v>2958465</v></c>`, "9999-12-31"},
		{"a day after all dates", `<c s="1"><v>2958466</v></c>`, "2958466"},
		{"a day before all dates", `<c s="1"><v>-1</v></c>`, "-1"},
		{"a date written as one", `<c t="d"><v>2026-11-25</v></c>`, "2026-11-25"},
		{"a date and time written as such", `<c t="d" s="2"><v>2026-11-25T07:40:00</v></c>`, "2026-11-25 07:40"},
		{"a whole hour written as such, without seconds", `<c t="d" s="2"><v>2026-11-25T07:00</v></c>`, "2026-11-25 07:00"},
		{"a date and time written as such, shown as a date", `<c t="d" s="1"><v>2026-11-25T00:00:00</v></c>`, "2026-11-25"},
		{"a style that is not there", `<c s="99"><v>46351</v></c>`, "46351"},
		{"a number that is none", `<c><v>heavy</v></c>`, "heavy"},
		{"an empty cell", `<c s="1"/>`, ""},
		{"marks of another kind around it", `<c r="A1"><extLst><ext><x>9</x></ext></extLst><v>5</v></c>`, "5"},
		{"a name before every mark", `<x:c xmlns:x="m" r="A1"><x:v>5</x:v></x:c>`, "5"},
	} {
		rows, err := read(t.Context(), plainBook(`<row r="1">`+c.cell+`</row>`).pack(t), "")
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		want := [][]string{{"1", c.want}}
		if c.want == "" {
			want = [][]string{{"1"}}
		}
		if d := cmp.Diff(want, rows); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

func TestDaysAreCountedFrom1904WhereTheWorkbookSaysSo(t *testing.T) {
	for _, c := range []struct{ said, cell, want string }{
		{`<workbookPr date1904="1"/>`, `<c s="1"><v>44889</v></c>`, "2026-11-25"},
		{`<workbookPr date1904="true"/>`, `<c s="2"><v>44889.5</v></c>`, "2026-11-25 12:00"},
		{`<workbookPr date1904="1"/>`, `<c s="1"><v>0</v></c>`, "1904-01-01"},
		{`<workbookPr date1904="1"/>`, `<c s="4"><v>0.5</v></c>`, "12:00"},
		{`<workbookPr date1904="1"/>`, `<c s="1"><v>2957004</v></c>`, "2957004"}, // 1 January 10000
		{`<workbookPr date1904="0"/>`, `<c s="1"><v>46351</v></c>`, "2026-11-25"},
	} {
		p := plainBook(`<row>` + c.cell + `</row>`)
		p["xl/workbook.xml"] = strings.Replace(p["xl/workbook.xml"], "<sheets>", c.said+"<sheets>", 1)
		rows, err := read(t.Context(), p.pack(t), "")
		if err != nil || len(rows) != 1 || len(rows[0]) != 2 || rows[0][1] != c.want {
			t.Errorf("%s %s: %v %v, want %s", c.said, c.cell, rows, err, c.want)
		}
	}
}

func TestFormatsShowDatesTimesPercentOrNumbers(t *testing.T) {
	for _, c := range []struct {
		code string
		want format
	}{
		{"General", general}, {"GENERAL", general}, {"0.00", general}, {"#,##0.0 \"kg\"", general}, {`0 \d\a\y\s`, general},
		{"[Red]0;[Blue]-0", general}, {"[$€-407]#,##0", general}, {"@", general}, {"0.00E+00", general}, {"_-* #,##0_-",
			general}, {"", general}, {`"days and hours`, general}, {"[h", general}, {`0_d`, general}, {"0*d", general},
		{"0%", percent}, {"0.0 %", percent}, {`0"%"`, general}, {`0\%`, general},
		{"yyyy-mm-dd", dateOnly}, {"d/m/yy", dateOnly}, {"[$-809]dd mmmm yyyy;@", dateOnly}, {"mmm", dateOnly},
		{"DD.MM.YYYY", dateOnly}, {`yyyy"年"m"月"`, dateOnly}, {"0;d", general},
		{"h:mm", timeOnly}, {"mm:ss.0", timeOnly}, {"h:mm AM/PM", timeOnly},
		{"yyyy-mm-dd hh:mm", dateTime}, {`dd/mm/yyyy\ hh:mm:ss`, dateTime},
		{"[h]:mm", elapsed}, {"[hh]:mm:ss", elapsed}, {"[mm]:ss", elapsed}, {"[ss]", elapsed},
	} {
		if got := formatOf(c.code); got != c.want {
			t.Errorf("%q shows %d, want %d", c.code, got, c.want)
		}
	}
}

// Another program's workbook, with the formats that programs give dates.
func TestAWorkbookOfASpreadsheetLibraryIsRead(t *testing.T) {
	f := excelize.NewFile()
	defer f.Close()
	style := func(s *excelize.Style) int {
		t.Helper()
		n, err := f.NewStyle(s)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	custom := `dd\.mm\.yyyy`
	for _, err := range []error{
		f.SetSheetRow("Sheet1", "A2", &[]any{"tag", "weight", "on", "at", "rh", "rich", "long"}),
		f.SetSheetRow("Sheet1", "A4", &[]any{"A-1", 1.942, time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC),
			time.Date(2026, 11, 25, 7, 40, 0, 0, time.UTC), 0.86}),
		f.SetCellStyle("Sheet1", "C4", "C4", style(&excelize.Style{CustomNumFmt: &custom})),
		f.SetCellStyle("Sheet1", "E4", "E4", style(&excelize.Style{NumFmt: 9})),
		f.SetCellRichText("Sheet1", "F4",
			[]excelize.RichTextRun{{Text: "half "}, {Text: "bold", Font: &excelize.Font{Bold: true}}}),
		f.SetCellFormula("Sheet1", "G4", "B4*2"),
		f.SetSheetRow("Sheet1", "A1000", &[]any{261120, true}),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	if _, err := f.NewSheet("Hidden"); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := read(t.Context(), b.Bytes(), "sheet1")
	if err != nil {
		t.Fatal(err)
	}
	var got [][]string
	for _, r := range rows {
		if len(r) > 1 {
			got = append(got, r)
		}
	}
	want := [][]string{
		{"2", "tag", "weight", "on", "at", "rh", "rich", "long"},
		{"4", "A-1", "1.942", "2026-11-25", "2026-11-25 07:40", "86%", "half bold", NoResult},
		{"1000", "261120", "TRUE"},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("rows (-want +got):\n%s", d)
	}
}

func TestSheetsAreFoundByName(t *testing.T) {
	p := plainBook(`<row><c><v>1</v></c></row>`)
	p["xl/workbook.xml"] = `<workbook xmlns:r="x"><sheets><sheet name="Lists" r:id="r1" state="hidden"/><sheet ` +
		`name="Chart" r:id="r2"/><sheet name="Cellar 2" r:id="r4"/><sheet name="Bad" r:id="nowhere"/></sheets></workbook>`
	p["xl/_rels/workbook.xml.rels"] = strings.Replace(p["xl/_rels/workbook.xml.rels"], "</Relationships>",
		`<Relationship Id="r4" Type="x/worksheet" Target="worksheets/t.xml"/></Relationships>`, 1)
	p["XL/worksheets\\T.XML"] = `<worksheet><sheetData><row><c><v>2</v></c></row></sheetData></worksheet>`
	file := p.pack(t)
	for _, c := range []struct{ name, want string }{{"", "[[1 2]]"}, {"cellar 2", "[[1 2]]"}, {"LISTS", "[[1 1]]"}} {
		rows, err := read(t.Context(), file, c.name)
		if err != nil || fmt.Sprint(rows) != c.want {
			t.Errorf("sheet %q: %v %v, want %s", c.name, rows, err, c.want)
		}
	}
	_, err := read(t.Context(), file, "Attic")
	if want := `it has no sheet named "Attic"; it has "Lists", "Cellar 2"`; err == nil || err.Error() != want {
		t.Errorf("a sheet that is not there: %v, want %s", err, want)
	}
}

func TestWhatIsNoWorkbookIsSaidInASentence(t *testing.T) {
	ok := plainBook(`<row><c><v>1</v></c></row>`)
	rows := func(s string) []byte { return plainBook(s).pack(t) }
	whole := ok.pack(t)
	locked := bytes.Clone(whole)
	for i := 0; i+4 < len(locked); i++ { // the mark of a locked part, at its beginning and in the list
		switch string(locked[i : i+4]) {
		case "PK\x03\x04":
			locked[i+6] |= 1
		case "PK\x01\x02":
			locked[i+8] |= 1
		}
	}
	for _, c := range []struct {
		name string
		file []byte
		want error
	}{
		{"nothing", nil, errNone},
		{"text", []byte("tag,weight\nA-1,2000\n"), errNone},
		{"the older form, or one with a password", []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1rest"), errLocked},
		{"a part with a password", locked, errLocked},
		{"a beginning", []byte("PK\x03\x04rest"), errDamaged},
		{"another packed file", parts{"mimetype": "text", "content.xml": "<x/>"}.pack(t), errNone},
		{"a document of another kind", ok.with("xl/workbook.xml", `<document/>`).pack(t), errNone},
		{"a list of parts that is none", ok.with("_rels/.rels", `<`).pack(t), errDamaged},
		{"no sheets", ok.with("xl/workbook.xml", `<workbook/>`).pack(t), errors.New("it has no sheet with a table")},
		{"no workbook in it", ok.without("xl/workbook.xml").pack(t), errNone},
		{"no sheet in it", ok.without("xl/worksheets/s.xml").pack(t), errors.New("it has no sheet with a table")},
		{"a shared text that is not there", rows(`<row><c t="s"><v>2</v></c></row>`), errDamaged},
		{"a shared text before the first", rows(`<row><c t="s"><v>-1</v></c></row>`), errDamaged},
		{"no shared texts at all", ok.with("xl/worksheets/s.xml", `<worksheet><sheetData><row><c t="s"><v>0</v></c></row>`+
			`</sheetData></worksheet>`).without("xl/sharedStrings.xml").pack(t), errDamaged},
		{"rows out of order", rows(`<row r="2"/><row r="1"/>`), errDamaged},
		{"a row twice", rows(`<row r="2"/><row r="2"/>`), errDamaged},
		{"a row after the last", rows(`<row r="1048577"/>`), errDamaged},
		{"a row that is no number", rows(`<row r="x"/>`), errDamaged},
		{"a cell of another row", rows(`<row r="2"><c r="A1"/></row>`), errDamaged},
		{"cells out of order", rows(`<row><c r="B1"/><c r="A1"/></row>`), errDamaged},
		{"a cell after the last", rows(`<row><c r="XFE1"/></row>`), errDamaged},
		{"a cell without end", rows(`<row><c r="A1"><v>1`), errDamaged},
		{"cells without a sheet's end", ok.with("xl/worksheets/s.xml", `<worksheet><sheetData><row/>`).pack(t), errDamaged},
		{"a row without end", ok.with("xl/worksheets/s.xml", `<worksheet><sheetData><row><c/>`).pack(t), errDamaged},
		{"another text encoding",
			ok.with("xl/worksheets/s.xml", `<?xml version="1.0" encoding="UTF-16"?><worksheet/>`).pack(t), errDamaged},
		{"words that grow (a document type)", ok.with("xl/worksheets/s.xml", `<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">`+
			`<!ENTITY b "&a;&a;&a;">]><worksheet><sheetData><row><c t="inlineStr"><is><t>&b;</t></is></c></row></sheetData>`+
			`</worksheet>`).pack(t), errDamaged},
		{"a word nobody explained", rows(`<row><c t="inlineStr"><is><t>&b;</t></is></c></row>`), errDamaged},
	} {
		rows, err := read(t.Context(), c.file, "")
		if err == nil || err.Error() != c.want.Error() {
			t.Errorf("%s: %v %v, want %v", c.name, rows, err, c.want)
		}
	}
}

// bomb packs a workbook of which one part repeats a piece very often, without
// ever having that part in memory.
func bomb(t *testing.T, p parts, name string, before, again string, times int, after string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for n, s := range p.without(name) {
		w, err := z.Create(n)
		if err == nil {
			_, err = io.WriteString(w, s)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	w, err := z.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	chunk := []byte(strings.Repeat(again, 1<<16/len(again)+1))
	if _, err := io.WriteString(w, before); err != nil {
		t.Fatal(err)
	}
	for n := 0; n < times; n += len(chunk) / len(again) {
		if _, err := w.Write(chunk); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := io.WriteString(w, after); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestAPackedBombEndsInASentenceAndLittleMemory(t *testing.T) {
	ok := plainBook("")
	sheet, shared := "xl/worksheets/s.xml", "xl/sharedStrings.xml"
	head, tail := `<worksheet><sheetData>`, `</sheetData></worksheet>`
	for _, c := range []struct {
		name          string
		part          string
		before, again string
		times         int
		after         string
		want          error
	}{
		{"one endless text", sheet, head + `<row><c t="inlineStr"><is><t>`, "x", 64 << 20, `</t></is></c></row>` + tail,
			errHuge},
		{"one endless mark", sheet, head + `<row `, `a="b" `, 10 << 20, `/>` + tail, errHuge},
		{"one endless name", sheet, head + `<`, `a`, 64 << 20, `/>` + tail, errHuge},
		{"one endless remark", sheet, head + `<!--`, `a`, 64 << 20, `-->` + tail, errHuge},
		{"an endless text in pieces", sheet, head + `<row><c t="inlineStr"><is>`, "<t>0123456789</t>", 4 << 20,
			`</is></c></row>` + tail, errHuge},
		{"an endless number in pieces", sheet, head + `<row><c>`, "<v>0123456789</v>", 4 << 20, `</c></row>` + tail, errHuge},
		{"a row of endless texts", sheet, head + `<row>`, `<c t="str"><v>` + strings.Repeat("x", 30000) + `</v></c>`, 1000,
			`</row>` + tail, errHuge},
		{"a row of endless cells", sheet, head + `<row>`, `<c/>`, 20000, `</row>` + tail, errDamaged},
		{"marks in marks in marks", sheet, head, `<a>`, 4 << 20, tail, errDamaged},
		{"marks in marks in a row", sheet, head + `<row>`, `<a>`, 4 << 20, tail, errHuge},
		{"a row of cells without end", sheet, head + `<row>`, `<c/>`, 4 << 20, tail, errHuge},
		{"after the cells", sheet, head + tail, strings.Repeat(" ", 1024), 600 << 10, "", errHuge},
		{"shared texts without end", shared, `<sst>`, `<si/>`, 3 << 20, `</sst>`, errHuge},
		{"shared texts of great length", shared, `<sst>`, `<si><t>` + strings.Repeat("x", 30000) + `</t></si>`, 4000,
			`</sst>`, errHuge},
		{"styles without end", "xl/styles.xml", `<styleSheet><cellXfs>`, `<xf/>`, 1 << 20, `</cellXfs></styleSheet>`,
			errDamaged},
		{"formats without end", "xl/styles.xml", `<styleSheet>`, `<numFmt numFmtId="1" formatCode="[h]"/>`, 1 << 20,
			`</styleSheet>`, nil},
		{"sheets without end", "xl/workbook.xml", `<workbook xmlns:r="x"><sheets>`, `<sheet name="x" r:id="r1"/>`, 1 << 20,
			`</sheets></workbook>`, errHuge},
		{"parts without end", "xl/_rels/workbook.xml.rels", `<Relationships>`, `<Relationship Id="a"/>`, 1 << 20,
			`</Relationships>`, errDamaged},
	} {
		t.Run(c.name, func(t *testing.T) {
			file := bomb(t, ok, c.part, c.before, c.again, c.times, c.after)
			runtime.GC()
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			most := uint64(0)
			done := make(chan struct{})
			watched := make(chan struct{})
			go func() {
				defer close(watched)
				for {
					select {
					case <-done:
						return
					case <-time.After(20 * time.Millisecond):
						var m runtime.MemStats
						runtime.ReadMemStats(&m)
						most = max(most, m.HeapAlloc)
					}
				}
			}()
			_, err := read(t.Context(), file, "")
			close(done)
			<-watched
			runtime.ReadMemStats(&after)
			if fmt.Sprint(err) != fmt.Sprint(c.want) {
				t.Errorf("%v, want %v", err, c.want)
			}
			if grown := int64(max(most, after.HeapAlloc)) - int64(before.HeapAlloc); grown > 300<<20 {
				t.Errorf("it took %d MB", grown>>20)
			}
			t.Logf("%d kB of file, at most %d MB of memory", len(file)>>10, (int64(most)-int64(before.HeapAlloc))>>20)
		})
	}
}

func TestADamagedWorkbookNeverPanics(t *testing.T) {
	whole := every(t)
	refused := 0
	for n := 0; n < len(whole); n += 7 {
		if _, err := read(t.Context(), whole[:n], ""); err == nil {
			t.Errorf("cut off after %d of %d bytes it is read as if it were whole", n, len(whole))
		}
		bad := bytes.Clone(whole)
		bad[n] ^= 0x55
		if _, err := read(t.Context(), bad, ""); err != nil {
			refused++
			sentence(t, err)
		}
	}
	if refused == 0 {
		t.Error("no damage was noticed")
	}
}

// sentence wants one line of text without what does not print.
func sentence(t testing.TB, err error) {
	t.Helper()
	s := err.Error()
	if s == "" || strings.ContainsAny(s, "\n\r\x00\x1b") || strings.ToValidUTF8(s, "") != s || len(s) > 600 {
		t.Errorf("no sentence: %q", s)
	}
}

func TestReadingAWorkbookCanBeInterrupted(t *testing.T) {
	file := tableOf(t, 20000)
	ctx, cancel := context.WithCancel(t.Context())
	b, err := Open(ctx, bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.Sheet("")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, _, err := s.Row(); err != nil {
		t.Fatal(err)
	}
	cancel()
	n := 0
	for ; err == nil; n++ {
		_, _, err = s.Row()
	}
	if !errors.Is(err, context.Canceled) || n > 5000 {
		t.Errorf("after %d rows: %v", n, err)
	}
}

func TestAWrongCheckSumIsNoticed(t *testing.T) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for n, s := range plainBook(`<row><c><v>1942</v></c></row>`) {
		sum := crc32.ChecksumIEEE([]byte(s))
		if strings.HasPrefix(n, "xl/worksheets/") {
			sum++
		}
		w, err := z.CreateRaw(&zip.FileHeader{Name: n, Method: zip.Store, CRC32: sum, CompressedSize64: uint64(len(s)),
			UncompressedSize64: uint64(len(s))})
		if err == nil {
			_, err = io.WriteString(w, s)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if rows, err := read(t.Context(), b.Bytes(), ""); !errors.Is(err, errDamaged) {
		t.Errorf("%v %v, want %v", rows, err, errDamaged)
	}
}

func FuzzSheet(f *testing.F) {
	ok := plainBook("")
	for _, s := range []string{
		`<worksheet><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="C1" s="1"><v>46351.5</v></c></row><row><c ` +
			`t="inlineStr"><is><r><t>a</t></r><rPh><t>b</t></rPh></is></c></row></sheetData></worksheet>`,
		`<x:worksheet xmlns:x="m"><x:sheetData><x:row><x:c><x:f>1</x:f></x:c></x:row></x:sheetData></x:worksheet>`,
		`<worksheet><sheetData/></worksheet>`,
	} {
		f.Add(s, ok["xl/styles.xml"], ok["xl/sharedStrings.xml"], ok["xl/workbook.xml"], ok["xl/_rels/workbook.xml.rels"])
	}
	f.Fuzz(func(t *testing.T, sheet, styles, shared, book, rels string) {
		p := ok.with("xl/worksheets/s.xml", sheet)
		p["xl/styles.xml"], p["xl/sharedStrings.xml"] = styles, shared
		p["xl/workbook.xml"], p["xl/_rels/workbook.xml.rels"] = book, rels
		rows, err := read(t.Context(), p.pack(t), "")
		if err != nil {
			sentence(t, err)
		}
		for _, r := range rows {
			for _, c := range r {
				if strings.Contains(c, "\x00") && c != NoResult {
					t.Errorf("a cell holds nothing: %q", c)
				}
			}
		}
	})
}

func FuzzFile(f *testing.F) {
	f.Add(every(f))
	f.Add(plainBook(`<row><c><v>1</v></c></row>`).pack(f))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, file []byte) {
		if _, err := read(t.Context(), file, ""); err != nil {
			sentence(t, err)
		}
	})
}

func FuzzNumber(f *testing.F) {
	f.Add(46351.3194444444, "yyyy-mm-dd hh:mm", false)
	f.Add(-1.0, "[h]:mm", true)
	f.Add(math.Inf(1), "0%", false)
	f.Fuzz(func(t *testing.T, x float64, code string, from1904 bool) {
		s := shown(x, formatOf(code), from1904)
		if s == "" || strings.ContainsAny(s, "\n\x00") || len(s) > 40 {
			t.Errorf("%v as %q shows %q", x, code, s)
		}
	})
}
