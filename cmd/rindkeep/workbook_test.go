package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/xuri/excelize/v2"
)

// uuids are identities, new with every run, and marks what is made of them.
var uuids = regexp.MustCompile(`\b[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}\b`)

// cellsIn writes the cells of a workbook as text, a row a line, as a spreadsheet
// library shows them.
func cellsIn(path string) (string, error) {
	f, err := excelize.OpenFile(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	var b strings.Builder
	for _, s := range f.GetSheetList() {
		fmt.Fprintf(&b, "[%s]\n", s)
		rows, err := f.GetRows(s)
		if err != nil {
			return "", err
		}
		mark := -1
		for i, r := range rows {
			for j, c := range r {
				switch {
				case i == 0 && c == "mark":
					mark = j
				case j == mark:
					c = "MARK"
				}
				c = strings.ReplaceAll(uuids.ReplaceAllString(c, "UUID"), "\n", `\n`)
				if j > 0 {
					b.WriteString(" | ")
				}
				b.WriteString(c)
			}
			b.WriteString("\n")
		}
	}
	return b.String(), nil
}

// cellsOf writes the cells of a workbook into a file: cells FILE.xlsx TO.
func cellsOf(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: cells FILE.xlsx TO")
	}
	text, err := cellsIn(ts.MkAbs(args[0]))
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(text), 0o666))
}

// sheetsOf makes a workbook of text, as another program would: sheets IN OUT.xlsx,
// where IN has a line [NAME] for a sheet and under it a row a line, cells parted
// by |. A cell is a number, a date like 2026-11-25, a percentage, a formula =...
// without its result, or text.
func sheetsOf(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: sheets IN OUT.xlsx")
	}
	f := excelize.NewFile()
	defer f.Close()
	name, row, first := "", 0, true
	for _, l := range strings.Split(strings.TrimSuffix(ts.ReadFile(args[0]), "\n"), "\n") {
		if s, ok := strings.CutPrefix(l, "["); ok {
			name, row = strings.TrimSuffix(s, "]"), 0
			if first {
				ts.Check(f.SetSheetName("Sheet1", name))
				first = false
			} else {
				_, err := f.NewSheet(name)
				ts.Check(err)
			}
			continue
		}
		row++
		for i, c := range strings.Split(l, "|") {
			at, err := excelize.CoordinatesToCellName(i+1, row)
			ts.Check(err)
			ts.Check(setCell(f, name, at, strings.TrimSpace(c)))
		}
	}
	ts.Check(f.SaveAs(ts.MkAbs(args[1])))
}

func setCell(f *excelize.File, sheet, at, c string) error {
	style := func(id int) error {
		n, err := f.NewStyle(&excelize.Style{NumFmt: id})
		return errors.Join(err, f.SetCellStyle(sheet, at, at, n))
	}
	var x float64
	var y, m, d int
	switch {
	case c == "":
		return nil
	case c[0] == '=':
		return f.SetCellFormula(sheet, at, c[1:])
	case len(c) == 10 && scans(c, "%4d-%2d-%2d", &y, &m, &d):
		days := 0
		for n := 1900; n < y; n++ { // counted out, not by the package under test
			days += 365
			if n%4 == 0 && n%100 != 0 || n%400 == 0 {
				days++
			}
		}
		for n := 1; n < m; n++ {
			days += [...]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[n-1]
			if n == 2 && (y%4 == 0 && y%100 != 0 || y%400 == 0) {
				days++
			}
		}
		return errors.Join(f.SetCellFloat(sheet, at, float64(days+d+1), -1, 64), style(14))
	case strings.HasSuffix(c, "%") && scans(strings.TrimSuffix(c, "%"), "%g", &x):
		return errors.Join(f.SetCellFloat(sheet, at, x/100, -1, 64), style(10))
	case scans(c, "%g", &x):
		return f.SetCellFloat(sheet, at, x, -1, 64)
	}
	return f.SetCellStr(sheet, at, c)
}

// scans says whether the whole of s is of a form.
func scans(s, form string, to ...any) bool {
	rest := ""
	n, _ := fmt.Sscanf(s+" .", form+" %s", append(to, &rest)...)
	return n == len(to)+1 && rest == "."
}

func TestTheWorkbookOfABookIsReadByAnotherLanguage(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatal("python3 is not installed")
		}
		t.Skip("python3 is not installed")
	}
	dir := t.TempDir()
	run := func(args ...string) string {
		t.Helper()
		exe, err := os.Executable()
		if err != nil {
			t.Fatal(err)
		}
		c := exec.Command(filepath.Join(filepath.Dir(exe), "rindkeep"), args...)
		if _, err := os.Stat(c.Path); err != nil { // testscript puts it first in the path
			if c.Path, err = exec.LookPath("rindkeep"); err != nil {
				t.Fatal(err)
			}
		}
		c.Env = append(os.Environ(), "TZ=Europe/Dublin", "RINDKEEP_BOOK="+filepath.Join(dir, "d.book"), "RINDKEEP_BY=Nora",
			"RINDKEEP_TEST_NOW=2026-11-25T08:00:00Z", "RINDKEEP_TEST_TICKS="+filepath.Join(dir, "ticks"))
		out, err := c.CombinedOutput()
		if err != nil {
			t.Fatalf("rindkeep %q: %v\n%s", args, err, out)
		}
		return string(out)
	}
	file := filepath.Join(dir, "d.xlsx")
	run("demo", "--quiet", "--book", filepath.Join(dir, "d.book"))
	run("book", "export", "--xlsx", file)
	out, err := exec.Command(python, filepath.Join("..", "workbook", "testdata", "cells.py"), file).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	other := map[string]int{} // cells by sheet
	for _, l := range strings.Split(string(out), "\n") {
		if s, _, ok := strings.Cut(l, "!"); ok {
			other[s]++
		}
	}
	f, err := excelize.OpenFile(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, s := range f.GetSheetList() {
		rows, err := f.GetRows(s, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for i, r := range rows {
			for j, c := range r {
				if c == "" {
					continue
				}
				n++
				at, err := excelize.CoordinatesToCellName(j+1, i+1)
				if err != nil {
					t.Fatal(err)
				}
				if plain := strings.Trim(c, "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ.- "); plain == "" &&
					!strings.Contains(string(out), fmt.Sprintf("%s!%s ", s, at)) {
					t.Errorf("%s!%s is %q and the other reader has no such cell", s, at, c)
				}
			}
		}
		if n != other[s] || n == 0 {
			t.Errorf("sheet %s: %d cells, the other reader has %d", s, n, other[s])
		}
	}
}
