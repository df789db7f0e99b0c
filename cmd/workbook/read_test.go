package workbook

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
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
