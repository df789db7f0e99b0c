package workbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"
)

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
