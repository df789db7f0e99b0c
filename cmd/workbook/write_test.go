package workbook

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"rindkeep/cave/day"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// golden compares with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s (-want +got):\n%s", name, d)
	}
}

// program finds a program that tests read with.
func program(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatalf("%s is not installed", name)
		}
		t.Skipf("%s is not installed", name)
	}
	return path
}

// table is one sheet to write.
type table struct {
	name string
	head []string
	rows [][]any
}

func workbookOf(t testing.TB, most int, tables ...table) []byte {
	t.Helper()
	var b bytes.Buffer
	w := NewWriter(&b)
	if most > 0 {
		w.most = most
	}
	for _, s := range tables {
		if err := w.Sheet(s.name, s.head...); err != nil {
			t.Fatal(err)
		}
		for _, r := range s.rows {
			if err := w.Row(r...); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// every is a table of everything a cell may hold.
func every(t testing.TB) []byte {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	return workbookOf(t, 0,
		table{"every kind", []string{"what", "weight_g", "on", "at (Europe/Dublin)"}, [][]any{
			{"a number, a date, a time", 1942.5, day.Of(2026, 11, 25), time.Date(2026, 6, 1, 6, 40, 30, 0, time.UTC).In(dublin)},
			{"a whole number, no date", 3, day.None, time.Time{}},
			{"none", nil, nil, nil},
			{"yes and no", true, false, nil},
			{"the first date that is sure", -0.25, day.Of(1900, 3, 1), time.Date(1900, 3, 1, 0, 0, 0, 0, time.UTC)},
			{"a date before it", 1e-7, day.Of(1900, 2, 28), time.Date(1899, 12, 31, 12, 0, 0, 0, time.UTC)},
			{"the last date", 1e21, day.MaxDate, time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC)},
			{"no numbers", math.NaN(), math.Inf(1), math.Inf(-1)},
			{"=HYPERLINK(\"x\")", "+1", "-1", "@x"},
			{"<&>\"'", "two\nlines", "a\ttab", "a\rreturn"},
			{"bell \a and nothing \x00", "_x0041_ as it is", "no text \xff", "\ufffe"},
			{" spaces kept ", "Käse 🧀", "١٢", ""},
		}},
		table{"nothing in it", []string{"tag", "weight_g"}, nil},
	)
}

func TestAWorkbookHoldsWhatWasWrittenByAReaderOfAnotherLanguage(t *testing.T) {
	python := program(t, "python3")
	path := filepath.Join(t.TempDir(), "every.xlsx")
	if err := os.WriteFile(path, every(t), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(python, filepath.Join("testdata", "cells.py"), path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	golden(t, "every.txt", string(out))
}

func TestAWorkbookHoldsWhatWasWrittenByASpreadsheetLibrary(t *testing.T) {
	f, err := excelize.OpenReader(bytes.NewReader(every(t)))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var b strings.Builder
	for _, s := range f.GetSheetList() {
		p, err := f.GetPanes(s)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "%s: frozen %v, %d row, top %s\n", s, p.Freeze, p.YSplit, p.TopLeftCell)
		shown, err := f.GetRows(s)
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range shown {
			for j, v := range r {
				name := CellName(i+1, j+1)
				kind, err := f.GetCellType(s, name)
				if err != nil {
					t.Fatal(err)
				}
				formula, err := f.GetCellFormula(s, name)
				if err != nil || formula != "" {
					t.Errorf("%s!%s holds the formula %q (%v)", s, name, formula, err)
				}
				if v != "" {
					fmt.Fprintf(&b, "%s!%s %d %q\n", s, name, kind, v)
				}
			}
		}
	}
	for _, n := range f.GetDefinedName() {
		fmt.Fprintf(&b, "name %s of %s: %s\n", n.Name, n.Scope, n.RefersTo)
	}
	golden(t, "every_library.txt", b.String())
}

func TestAWorkbookOfTheSameCellsIsTheSameFile(t *testing.T) {
	if !bytes.Equal(every(t), every(t)) {
		t.Error("two workbooks of the same cells differ")
	}
}

// readAll is a sheet as we read it ourselves.
func readAll(t testing.TB, file []byte, sheet string) (names []string, rows [][]string) {
	t.Helper()
	b, err := Open(t.Context(), bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.Sheet(sheet)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for {
		n, r, err := s.Row()
		if errors.Is(err, io.EOF) {
			return b.Sheets(), rows
		}
		if err != nil {
			t.Fatal(err)
		}
		for len(rows) < n {
			rows = append(rows, nil)
		}
		rows[n-1] = r
	}
}

func TestAFullSheetGoesOnInAnotherWithTheSameHeading(t *testing.T) {
	var all [][]any
	for i := range 7 {
		all = append(all, []any{i})
	}
	file := workbookOf(t, 4, table{"air", []string{"n"}, all}, table{"air 9", []string{"m"}, [][]any{{1}}})
	names, _ := readAll(t, file, "")
	got := map[string][][]string{}
	for _, n := range names {
		_, got[n] = readAll(t, file, n)
	}
	want := map[string][][]string{"air": {{"n"}, {"0"}, {"1"}, {"2"}}, "air 2": {{"n"}, {"3"}, {"4"}, {"5"}},
		"air 3": {{"n"}, {"6"}}, "air 9": {{"m"}, {"1"}}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("sheets (-want +got):\n%s", d)
	}
	if NewWriter(io.Discard).most != 1048576 {
		t.Error("a sheet is not as long as a sheet may be")
	}
}

func TestATextThatIsTooLongForACellIsCutAndSaidSo(t *testing.T) {
	whole := strings.Repeat("é", MaxText)
	for _, c := range []struct {
		name, text string
		units      int
		cut        bool
	}{
		{"as long as may be", whole, MaxText, false},
		{"one letter more", whole + "x", MaxText, true},
		{"letters of two units", strings.Repeat("🧀", MaxText), MaxText - 1, true},
		{"text that is none", strings.Repeat("\xff", 3*MaxText), MaxText, true},
	} {
		var b bytes.Buffer
		w := NewWriter(&b)
		if err := errors.Join(w.Sheet("plans", "name", "toml"), w.Row("a", c.text), w.Row("b", "short"),
			w.Close()); err != nil {
			t.Fatal(err)
		}
		n, first := w.Cut()
		want := "0 "
		if c.cut {
			want = "1 plans!B2"
		}
		if got := fmt.Sprint(n, " ", first); got != want {
			t.Errorf("%s: cut %s, want %s", c.name, got, want)
		}
		_, rows := readAll(t, b.Bytes(), "")
		got := rows[1][1]
		if n := len(utf16.Encode([]rune(got))); n != c.units || c.cut != strings.HasSuffix(got, " … (cut)") ||
			!strings.HasPrefix(strings.ReplaceAll(c.text, "\xff", "\ufffd"), strings.TrimSuffix(got, cutMark)) {
			t.Errorf("%s: %d units, want %d, ending in %q", c.name, n, c.units, got[len(got)-20:])
		}
	}
}

func TestAWriterRefusesWhatNoWorkbookHolds(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(w *Writer) error
		want string
	}{
		{"a row before its sheet", func(w *Writer) error { return w.Row("a") }, "a row needs its sheet"},
		{"no sheet", func(w *Writer) error { return w.Close() }, "a workbook needs a sheet"},
		{"no columns", func(w *Writer) error { return w.Sheet("a") }, "a sheet of 0 columns cannot be written"},
		{"a name twice", func(w *Writer) error { return errors.Join(w.Sheet("a", "x"), w.Sheet("A", "x")) },
			`two sheets are named "A"`},
		{"a name with a stroke", func(w *Writer) error { return w.Sheet("a/b", "x") }, `a sheet cannot be named "a/b"`},
		{"a name too long", func(w *Writer) error { return w.Sheet(strings.Repeat("n", 32), "x") },
			`a sheet cannot be named "nnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnn"`},
		{"more cells than headings", func(w *Writer) error { return errors.Join(w.Sheet("a", "x"), w.Row(1, 2)) },
			"a row of 2 cells under 1 headings"},
		{"what is no cell", func(w *Writer) error { return errors.Join(w.Sheet("a", "x"), w.Row([]int{1})) },
			"a cell cannot hold a []int"},
	} {
		w := NewWriter(io.Discard)
		if err := c.do(w); err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
		if err := w.Close(); err == nil {
			t.Errorf("%s: the workbook was closed as if it were whole", c.name)
		}
	}
}

// full is a disk that takes so many bytes.
type full int

func (f *full) Write(p []byte) (int, error) {
	if *f -= full(len(p)); *f < 0 {
		return 0, errors.New("disk full")
	}
	return len(p), nil
}

func TestAFullDiskIsNoticed(t *testing.T) {
	size := len(tableOf(t, 2000))
	for room := range size {
		if room%997 != 0 {
			continue
		}
		f := full(room)
		w := NewWriter(&f)
		err := w.Sheet("weights", "tag")
		for i := 0; i < 2000 && err == nil; i++ {
			err = w.Row(fmt.Sprintf("261120A-%05d-%d", i, i*i*i))
		}
		if err == nil {
			err = w.Close()
		}
		if err == nil && room < size/2 {
			t.Errorf("%d bytes: no error", room)
		}
	}
}

// said is what our reader makes of a cell that was written.
func said(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case bool:
		return strings.ToUpper(fmt.Sprint(v))
	case float64:
		return figure(v)
	case time.Time:
		if v.Second() == 0 {
			return v.Format("2006-01-02 15:04")
		}
		return v.Format("2006-01-02 15:04:05")
	}
	return fmt.Sprint(v)
}

func TestWhateverIsWrittenIsReadBack(t *testing.T) {
	cell := rapid.OneOf(
		rapid.Just[any](nil),
		rapid.Map(rapid.String(), func(s string) any { return s }),
		rapid.Map(rapid.SampledFrom([]string{"=1+1", "+4", "-x", "@a", "_x000D_", "_x_", "_xzzzz_", "_x005F_x000D_", "a\r\nb",
			"\x01", "]]>", "&amp;", " "}), func(s string) any { return s }),
		rapid.Map(rapid.Float64(), func(x float64) any { return x }),
		rapid.Map(rapid.Int(), func(n int) any { return float64(n % 1e9) }),
		rapid.Map(rapid.Bool(), func(b bool) any { return b }),
		rapid.Map(rapid.IntRange(0, int(day.MaxDate)), func(n int) any { return day.Date(n) }),
		rapid.Map(rapid.Int64Range(0, int64(day.MaxDate)*86400), func(n int64) any { return time.Unix(n, 0).UTC() }),
	)
	rapid.Check(t, func(t *rapid.T) {
		head := []string{"a", "b", "c"}
		want := [][]string{head}
		var b bytes.Buffer
		w := NewWriter(&b)
		if err := w.Sheet("s", head...); err != nil {
			t.Fatal(err)
		}
		for range rapid.IntRange(0, 20).Draw(t, "rows") {
			var row []any
			text := make([]string, 3)
			for i := range 3 {
				v := cell.Draw(t, "cell")
				row = append(row, v)
				text[i] = strings.NewReplacer("\x00", "\ufffd", "\ufffe", "\ufffd", "\uffff",
					"\ufffd").Replace(strings.ToValidUTF8(said(v), "\ufffd"))
			}
			if err := w.Row(row...); err != nil {
				t.Fatal(err)
			}
			want = append(want, text)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		book, err := Open(t.Context(), bytes.NewReader(b.Bytes()), int64(b.Len()))
		if err != nil {
			t.Fatal(err)
		}
		s, err := book.Sheet("S")
		if err != nil {
			t.Fatal(err)
		}
		var got [][]string
		for {
			_, r, err := s.Row()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			for len(r) < 3 {
				r = append(r, "")
			}
			got = append(got, r)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("read back (-want +got):\n%s", d)
		}
	})
}

func TestNamesOfCells(t *testing.T) {
	for _, c := range []struct {
		row, column int
		want        string
	}{{1, 1, "A1"}, {7, 26, "Z7"}, {7, 27, "AA7"}, {7, 702, "ZZ7"}, {1048576, 16384, "XFD1048576"}} {
		if got := CellName(c.row, c.column); got != c.want {
			t.Errorf("row %d, column %d is %s, want %s", c.row, c.column, got, c.want)
		}
		if row, column, ok := parseCell(strings.ToLower(c.want)); !ok || row != c.row || column != c.column {
			t.Errorf("%s read as row %d, column %d, %v", c.want, row, column, ok)
		}
	}
	for _, s := range []string{"", "A", "7", "A0", "XFE1", "A1048577", "AAAA1", "A-1", "A1B", "Ä1",
		"A99999999999999999999"} {
		if row, column, ok := parseCell(s); ok {
			t.Errorf("%q read as row %d, column %d", s, row, column)
		}
	}
}

func TestTheProgramItselfIsFreeOfTheSpreadsheetLibrary(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", "rindkeep/cmd/rindkeep").Output()
	if err != nil {
		t.Skipf("go list: %v", err)
	}
	if !strings.Contains(string(out), "rindkeep/cmd/workbook\n") {
		t.Error("the program does not use this package: does this test still look at the right thing?")
	}
	if strings.Contains(string(out), "xuri/excelize") {
		t.Error("the program is linked with the spreadsheet library, which costs every command its setting up")
	}
}
