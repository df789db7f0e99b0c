package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/workbook"
)

// sheetsOf is what a spreadsheet library reads in a workbook, as it shows it.
func sheetsOf(t testing.TB, path string) (names []string, rows map[string][][]string) {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows = map[string][][]string{}
	for _, s := range f.GetSheetList() {
		if rows[s], err = f.GetRows(s); err != nil {
			t.Fatal(err)
		}
		for i, r := range rows[s] {
			for j := range r {
				if formula, err := f.GetCellFormula(s, workbook.CellName(i+1, j+1)); err != nil || formula != "" {
					t.Errorf("%s!%s is the formula %q (%v)", s, workbook.CellName(i+1, j+1), formula, err)
				}
			}
		}
	}
	return f.GetSheetList(), rows
}

// saved writes a workbook of another program's making into the world's folder.
func (w *world) saved(name string, fill func(f *excelize.File) error) string {
	w.t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	path := filepath.Join(w.dir, name)
	if err := errors.Join(fill(f), f.SaveAs(path)); err != nil {
		w.t.Fatal(err)
	}
	return path
}

// inSheet is a cell of the tables as a workbook shows it.
func inSheet(cell string, zone *time.Location) string {
	if t, err := time.Parse(time.RFC3339, cell); err == nil {
		return t.In(zone).Format("2006-01-02 15:04")
	}
	if s, ok := strings.CutPrefix(cell, "'"); ok {
		return s
	}
	if cell == "true" || cell == "false" {
		return strings.ToUpper(cell)
	}
	return cell
}

func TestAWorkbookHoldsWhatTheTablesHold(t *testing.T) {
	w := jsonWorld(t)
	w.run("wheel", "note", "261110A-01", "=HYPERLINK(\"x\")")
	w.run("wheel", "note", "261110A-02", "+two\nlines")
	w.must("customer new Shop --contact +00215550100")
	w.must("air log drying 11.8C 86% --at 2026-11-12T08:00 --quiet")
	w.must("plan add " + w.file("plan.toml", "name = \"mine\"\ntitle = \"Mine\"\n\n[[step]]\njob = \"turn\"\nevery = "+
		"\"2d\"\n"))
	dir, file := filepath.Join(w.dir, "tables"), filepath.Join(w.dir, "cave.xlsx")
	w.must("book export --csv " + dir)
	said := w.must("book export --xlsx " + file)
	if !strings.HasPrefix(said, "exported to "+file) {
		t.Errorf("it says %q", said)
	}
	zone, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	names, sheets := sheetsOf(t, file)
	var want []string
	for _, k := range care.TableKinds {
		want = append(want, k[0])
		f, err := os.Open(filepath.Join(dir, k[0]+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		got := sheets[k[0]]
		for i := range rows {
			if i >= len(got) {
				break
			}
			for j := range rows[i] {
				if i > 0 {
					rows[i][j] = inSheet(rows[i][j], zone)
				}
			}
			for j, h := range got[0] { // of instants the zone is told
				if i == 0 {
					got[0][j] = strings.TrimSuffix(h, " (Europe/Dublin)")
				}
			}
			for len(got[i]) < len(rows[i]) {
				got[i] = append(got[i], "")
			}
		}
		same(t, "sheet "+k[0], got, rows)
	}
	same(t, "sheets", names, want)

	// Dates and numbers are such, not text that looks like them.
	f, err := excelize.OpenFile(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	raw, err := f.GetRows("entries", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	col := func(name string) int { return slices.Index(raw[0], name) }
	for _, c := range []struct {
		column string
		want   float64
		// the green weight of the first wheel, 10 November at 17:00
	}{{"at (Europe/Dublin)", 46336 + 17.0/24}, {"weight_g", 2104}} {
		found := false
		for _, r := range raw[1:] {
			x, err := strconv.ParseFloat(r[col(c.column)], 64)
			found = found || err == nil && x-c.want < 1e-9 && c.want-x < 1e-9
		}
		if !found {
			t.Errorf("no entry's %s is the number %v", c.column, c.want)
		}
	}

	before, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	w.want(exitRefused, `cave\.xlsx is there already; nothing was written\nhint: repeat with --replace`, "book", "export",
		"--xlsx", file)
	w.must("book export --replace --xlsx " + file)
	after, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(before, after) {
		t.Error("the same book came to another workbook")
	}
	var d struct {
		Schema  string
		Path    string
		Bytes   int
		Records []care.Tally
	}
	w.doc(&d, "book export --replace --xlsx "+file)
	same(t, "its document", fmt.Sprintln(d.Schema, d.Path, d.Bytes, d.Records), fmt.Sprintln("rindkeep/book-export/1",
		file, len(after), "[{room 1} {plan 1} {variety 0} {customer 1} {make 2} {wheel 6} {entry 32} {air 1}]"))
	w.want(exitUsage, `ends in \.xlsx`, "book", "export", "--xlsx", "-")
	w.want(exitUsage, `ends in \.xlsx`, "book", "export", "--xlsx", filepath.Join(w.dir, "cave.xls"))
	w.want(exitUsage, `not both`, "book", "export", "--xlsx", file, "--csv", dir)
	w.want(exitUsage, `not both`, "book", "export", "x.jsonl", "--xlsx", file)
	w.want(exitRefused, `there is no folder`, "book", "export", "--xlsx", filepath.Join(w.dir, "no", "a.xlsx"))
	w.want(exitNoBook, `no book at`, "book", "export", "--xlsx", filepath.Join(w.dir, "b.xlsx"), "--book",
		filepath.Join(w.dir, "n.book"))
	own := filepath.Join(w.dir, "own.xlsx")
	if err := os.Rename(w.book, own); err != nil {
		t.Fatal(err)
	}
	w.want(exitRefused, `own\.xlsx is the book itself`, "book", "export", "--replace", "--xlsx", own, "--book", own)
	if left, _ := filepath.Glob(filepath.Join(w.dir, ".*new-*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestAWorkbookThatIsInterruptedLeavesNothing(t *testing.T) {
	w := newWorld(t).kept()
	for _, after := range []int{0, 1, 3, 10} {
		w.ctx = &patience{Context: t.Context(), left: after}
		r := w.run("book", "export", "--xlsx", filepath.Join(w.dir, "cave.xlsx"))
		if r.Code != exitInterrupted || r.Out != "" {
			t.Errorf("interrupted at look %d: exit code %d\n%s%s", after, r.Code, r.Out, r.Err)
		}
		if left, _ := filepath.Glob(filepath.Join(w.dir, "*.xlsx*")); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
		if left, _ := filepath.Glob(filepath.Join(w.dir, ".cave.xlsx*")); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
	}
}

// patience is a context that ends after it was looked at so often.
type patience struct {
	context.Context
	left int
}

func (p *patience) Err() error {
	if p.left--; p.left < 0 {
		return context.Canceled
	}
	return nil
}

func TestACellTooLongForAWorkbookIsSaid(t *testing.T) {
	w := newWorld(t).kept()
	w.must("plan add " + w.file("plan.toml",
		"name = \"mine\"\ntitle = \"Mine\"\n# "+strings.Repeat("x", 40000)+"\n[[step]]\njob = \"turn\"\nevery = \"2d\"\n"))
	r := w.run("book", "export", "--quiet", "--xlsx", filepath.Join(w.dir, "a.xlsx"))
	if want := "plans!C2 held more than the 32767 letters of a cell and was cut; " +
		"all of it is in: rindkeep book export FILE\n"; r.Code != 0 || r.Err != want {
		t.Errorf("exit code %d, it says %q, want %q", r.Code, r.Err, want)
	}
}

func TestTheTablesOfATraceGoIntoWorkbooks(t *testing.T) {
	w := tracedWorld(t)
	w.must("customer new Lab --contact =cmd|x --address +00")
	sheet, recall := filepath.Join(w.dir, "sheet.XLSX"), filepath.Join(w.dir, "recall.xlsx")
	for range 2 { // they write over their own kind
		r := w.run("trace", "261110A", "--fsma", sheet, "--recall", recall, "--site", "Hollow Ash, Hollow Ash")
		if r.Code != 0 || !strings.Contains(r.Err, "your local authority decides") ||
			!strings.Contains(r.Err, " written: 2 rows") {
			t.Fatalf("exit code %d\n%s%s", r.Code, r.Out, r.Err)
		}
	}
	names, rows := sheetsOf(t, sheet)
	same(t, "its sheet", names, []string{"FSMA 204"})
	want := [][]string{
		trade.FSMAHead,
		{"transformation", "2026-11-10", "261110A", "4", "wheels", "Cheddar, waxed", "Hollow Ash, Hollow Ash", "", "", "",
			"Hollow Ash, Hollow Ash", "make sheet 261110A", "milk M1; meso C77", "make sheet"},
		{"transformation", "2026-11-11", "261111A", "2", "wheels", "Tomme, natural rind", "Hollow Ash, Hollow Ash", "", "",
			"", "Hollow Ash, Hollow Ash", "make sheet 261111A", "curd 261110A", "make sheet"},
		{"shipping", "2026-11-20", "261110A", "2000", "g", "Cheddar, waxed, whole, wheel 261110A-01",
			"Hollow Ash, Hollow Ash", "Shop", "555-0100", "Elmfold", "Hollow Ash, Hollow Ash", "DN-1", "", "delivery note"},
		{"shipping", "2026-11-21", "261110A", "300", "g", "Cheddar, waxed, piece, wheel 261110A-02", "Hollow Ash, Hollow Ash",
			"Lab", "=cmd|x", "+00", "Hollow Ash, Hollow Ash", "missing", "", "missing"},
	}
	same(t, "the sheet of FSMA 204", rows["FSMA 204"], want)
	_, rows = sheetsOf(t, recall)
	same(t, "the recall list", rows["recall"], [][]string{
		trade.RecallHead,
		{"261110A-01", "261110A", "Shop", "555-0100", "Elmfold", "2026-11-20", "2000", "whole", "DN-1"},
		{"261110A-02", "261110A", "Lab", "=cmd|x", "+00", "2026-11-21", "300", "piece"},
	})
	f, err := excelize.OpenFile(recall)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	raw, err := f.GetRows("recall", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the date as a number", raw[1][5], "46346")

	refused := func(path, pattern string) {
		t.Helper()
		if r := w.run("trace", "261110A", "--fsma", path); r.Code != exitRefused ||
			!regexp.MustCompile(pattern).MatchString(r.Err) {
			t.Errorf("--fsma %s: exit code %d\n%s", path, r.Code, r.Err)
		}
	}
	for _, c := range []struct{ name, content string }{{"text.xlsx", "my notes"}, {"pk.xlsx", "PK\x03\x04"}} {
		path := w.file(c.name, c.content)
		refused(path, "is there already and is something else")
		if b, _ := os.ReadFile(path); string(b) != c.content {
			t.Errorf("%s was written over", c.name)
		}
	}
	refused(recall, "is there already and is something else")
	refused(filepath.Join(w.dir, "no", "a.xlsx"), "there is no folder")
}
