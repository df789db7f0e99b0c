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
	"rindkeep/cmd/intake"
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

func TestATableOfWheelsComesFromAWorkbook(t *testing.T) {
	w := newWorld(t).kept()
	day := func(m time.Month, d, h int) time.Time { return time.Date(2026, m, d, h, 0, 0, 0, time.UTC) }
	fill := func(sheet string) func(f *excelize.File) error {
		return func(f *excelize.File) error {
			_, err := f.NewSheet(sheet)
			for i, r := range [][]any{
				{"Cheese no", "Batch", "Date made", "Type", "Location", "Start weight (kg)", "Weight (kg)", "Weighed on", "Colour"},
				{"T-01", "T", day(11, 1, 0), "Tomme", "drying/A/2", 2.1, 2.05, day(11, 5, 9), "red"},
				{"T-02", "T", day(11, 1, 0), "tomme", "drying/A/2", 2.12, 2.07, day(11, 5, 9)},
				{},
				{"261110A-01", nil, nil, nil, nil, nil, 2.047, day(11, 18, 9)},
			} {
				err = errors.Join(err, f.SetSheetRow(sheet, fmt.Sprintf("A%d", i+3), &r))
			}
			return errors.Join(err, f.SetSheetRow("Sheet1", "A1", &[]any{"this is not the table"}))
		}
	}
	file := w.saved("wheels.xlsx", fill("Cellar"))
	before := w.must("book export -")
	same(t, "a dry run", w.must("book import "+file+" --map --sheet cellar --dry-run"), `columns
  tag           column A, "Cheese no"
  lot           column B, "Batch"
  made          column C, "Date made"
  variety       column D, "Type"
  place         column E, "Location"
  green weight  column F, "Start weight (kg)", in kg
  weight        column G, "Weight (kg)", in kg
  date weighed  column H, "Weighed on"
  not used      Colour

first rows, as understood; + is a new wheel
  +T-01; lot T; made 2026-11-01; variety tomme; place drying/A/2; green 2100 g;
    weight 2050 g; weighed 2026-11-05 09:00
  +T-02; lot T; made 2026-11-01; variety tomme; place drying/A/2; green 2120 g;
    weight 2070 g; weighed 2026-11-05 09:00
  261110A-01; lot 261110A; made 2026-11-10; variety cheddar-waxed;
    weight 2047 g; weighed 2026-11-18 09:00

would record from 3 rows: 1 new lot, 2 new wheels, 5 weights; 2 older wheels
taken over: their plans start now, and nothing is late; 1 wheel in the book
already
`)
	same(t, "the book after a dry run", w.must("book export -"), before)
	w.want(exitRefused, `: row 1: no column for the wheel.s tag; head it tag, or name it`, "book", "import", file, "--map")
	w.want(exitRefused, `: it has no sheet named "Attic"; it has "Sheet1", "Cellar"\n`, "book", "import", file, "--map",
		"--sheet", "Attic")
	w.want(exitUsage, `--sheet goes with an XLSX workbook, and .* isn't one\n`, "book", "import", w.file("t.csv", "tag\n"),
		"--map", "--sheet", "Attic")
	w.want(exitRefused, `is a workbook, not an export\nhint: add --map`, "book", "import", file, "--book",
		filepath.Join(w.dir, "new.book"))
	w.want(exitUsage, `--sheet, --kinds, --unit, --dry-run and --sure go with --map`,
		"book", "import", file, "--sheet", "Cellar")
	w.want(exitRefused, `--map="weight=HEADING"`, "book", "import", w.saved("two.xlsx", func(f *excelize.File) error {
		return f.SetSheetRow("Sheet1", "A1", &[]any{"tag", "weight", "kg"})
	}), "--map")

	// The same through a pipe, with the columns named.
	packed, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	w.env.In = bytes.NewReader(packed)
	var d struct {
		Lots    []string `json:"new_lots"`
		Wheels  int      `json:"new_wheels"`
		Weights int      `json:"new_weights"`
		Columns []intake.WheelColumn
	}
	w.doc(&d, "book import - --map=place=Location --sheet Cellar")
	same(t, "what came of it", fmt.Sprintln(d.Lots, d.Wheels, d.Weights, d.Columns[2].Heading, d.Columns[2].Column),
		"[T] 2 5 Date made 3\n")
	w.doc(&d, "book import "+file+" --map --sheet Cellar")
	same(t, "the same table again", fmt.Sprint(d.Lots, d.Wheels, d.Weights), "[] 0 0")
	var c struct {
		Made    string
		Entries []struct{ At string }
	}
	w.doc(&c, "wheel show T-02")
	same(t, "a wheel of the table", c.Made, "2026-11-01")
	w.sound()
}

func TestATableOfAWorkbookIsRefusedWholeByItsCells(t *testing.T) {
	w := newWorld(t).kept()
	before := w.must("book export -")
	no := w.saved("bad.xlsx", func(f *excelize.File) error {
		var err error
		for i, r := range [][]any{
			{"tag", "lot", "made", "variety", "weight_g", "date weighed"},
			{"Z1", "Z", time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC), "tume", 2000},
			{"Z2", "Z", 46351, "tomme", 2000},
			{"Z3", "Z", "2026-11-20", "tomme", "heavy"},
			{"Z4", "Z", "2026-11-20", "tomme", nil},
			{"Z5", "Z", "2026-11-20", "tomme", 2000, time.Date(2026, 12, 20, 0, 0, 0, 0, time.UTC)},
			{nil, "Z", "2026-11-20", "tomme", 2000},
			{"Z7", "Z", "2026-11-20", "tomme", 2000, nil, nil, "beside"},
			{"Z8", "Z", true, "tomme", 2000},
		} {
			err = errors.Join(err, f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &r))
		}
		return errors.Join(err, f.SetCellFormula("Sheet1", "E5", "1000*2"))
	})
	r := w.want(exitRefused, `nothing was recorded`, "book", "import", no, "--map")
	r.plain(t, "a bad workbook")
	for _, want := range []string{
		`cell D2 (variety): no variety "tume"; did you mean tomme`,
		`cell C3 (made): "46351" is not a date`,
		`cell E4 (weight): "heavy" is not a weight`,
		`cell E5 (weight): the cell holds a formula, and the file has no result of it; open it in a spreadsheet program ` +
			`and save it again`,
		`cell A7 (tag): a wheel's tag is missing; give it like 261120A-03`,
		`cell H8: "beside" is in a column without a heading; head the column or clear the cell`,
		`cell C9 (made): "TRUE" is not a date`,
	} {
		if !strings.Contains(r.Err, want) {
			t.Errorf("it does not say %q:\n%s", want, r.Err)
		}
	}
	r = w.want(exitRefused, `"where":"[^"]*bad\.xlsx:2"`, "book", "import", no, "--map", "--json")
	for _, c := range []struct{ name, content, want string }{
		{"cut.xlsx", "PK\x03\x04rest",
			`: it is a damaged workbook; open it in a spreadsheet program and save it again as XLSX, or as CSV UTF-8\n$`},
		{"old.xlsx", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1rest", `: it is locked with a password, or in an older format; `},
		{"text.xlsx", "tag,weight\nA-1,heavy\n", ` line 2, column B \(weight\): "heavy" is not a weight`},
		{"empty.xlsx", "", `: it holds no rows`},
	} {
		file := w.file(c.name, c.content)
		w.want(exitRefused, c.want, "book", "import", file, "--map").plain(t, c.name)
		if c.name != "text.xlsx" {
			w.want(exitRefused, c.want, "weigh", "--from", file).plain(t, c.name)
		}
		w.env.In = strings.NewReader(c.content)
		if r := w.run("book", "import", "-", "--map"); r.Code != exitRefused {
			t.Errorf("%s through a pipe: exit code %d\n%s", c.name, r.Code, r.Err)
		}
	}
	same(t, "the book after workbooks that were refused", w.must("book export -"), before)
	if left, _ := filepath.Glob(filepath.Join(os.TempDir(), "rindkeep-*.xlsx")); len(left) > 0 {
		t.Errorf("copies left behind: %v", left)
	}
}

func TestWeightsComeFromAWorkbook(t *testing.T) {
	w := newWorld(t).kept()
	file := w.saved("weights.xlsx", func(f *excelize.File) error {
		clock := "h:mm"
		style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &clock})
		return errors.Join(err,
			f.SetSheetProps("Sheet1", &excelize.SheetPropsOptions{}),
			f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: ptr(true)}),
			f.SetSheetRow("Sheet1", "A1", &[]any{"wheel", "weight (kg)", "date", "time", "note"}),
			f.SetSheetRow("Sheet1", "A2",
				&[]any{"261110A-01", 2.041, time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC), 0.3194444444, "by hand"}),
			f.SetSheetRow("Sheet1", "A3", &[]any{"261110A-02", "2.035kg", "2026-11-20"}),
			f.SetCellStyle("Sheet1", "D2", "D2", style),
		)
	})
	var d struct {
		Results []struct {
			Wheel string
			At    string
			Gross float64 `json:"gross_g"`
		}
	}
	w.doc(&d, "weigh --from "+file)
	same(t, "what was weighed", fmt.Sprint(d.Results),
		"[{261110A-01 2026-11-20T07:40:00Z 2041} {261110A-02 2026-11-20T12:00:00Z 2035}]")
	bad := w.saved("bad.xlsx", func(f *excelize.File) error {
		return errors.Join(f.SetSheetRow("Sheet1", "A1", &[]any{"wheel", "note", "weight"}), f.SetSheetRow("Sheet1", "A2",
			&[]any{"261110A-01", nil, 9000}), f.SetSheetRow("Sheet1", "A3", &[]any{"261110A-09", nil, 2000}))
	})
	r := w.want(exitRefused, ` cell C2 \(weight\): 261110A-01 at 9000 g looks wrong`, "weigh", "--from", bad, "--on",
		"today")
	if !strings.Contains(r.Err, ` cell A3 (tag): no wheel tagged "261110A-09"`) {
		t.Errorf("the wheel that is not there is not named by its cell:\n%s", r.Err)
	}
	w.want(exitUsage, `--sheet goes with --from`, "weigh", "261110A-01", "2000", "--sheet", "x")
	w.sound()
}

func ptr[T any](v T) *T { return &v }

func TestAirComesFromAWorkbook(t *testing.T) {
	w := newWorld(t).kept()
	fill := func(bad bool) func(f *excelize.File) error {
		return func(f *excelize.File) error {
			percent, err := f.NewStyle(&excelize.Style{NumFmt: 10})
			moment, merr := f.NewStyle(&excelize.Style{NumFmt: 22})
			err = errors.Join(err, merr,
				f.SetSheetRow("Sheet1", "A1", &[]any{"Logger 7, cellar"}),
				f.SetSheetRow("Sheet1", "A3", &[]any{"Time", "Temperature (°C)", "Humidity"}),
				f.SetCellStyle("Sheet1", "C4", "C400", percent),
			)
			for i := range 288 {
				r := []any{time.Date(2026, 11, 24, 0, 5*i, 0, 0, time.UTC), 12.1, 0.845}
				if bad && i == 100 {
					r[1] = "?"
				}
				err = errors.Join(err, f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+4), &r))
			}
			return errors.Join(err, f.SetCellStyle("Sheet1", "A4", "A400", moment))
		}
	}
	var d struct {
		Rows, Added int
		Twice       int
		First, Last string
		Unit        string
	}
	file := w.saved("air.xlsx", fill(false))
	w.doc(&d, "air import drying "+file)
	same(t, "what was read", fmt.Sprint(d), "{288 288 0 2026-11-24T00:00:00Z 2026-11-24T23:55:00Z C}")
	packed, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	w.env.In = bytes.NewReader(packed)
	w.doc(&d, "air import drying - --sheet sheet1")
	same(t, "the same again, through a pipe", fmt.Sprint(d.Rows, d.Added), "288 0")
	w.want(exitRefused, ` cell B104 \(temperature\): can't read "\?" as a temperature`, "air", "import", "drying",
		w.saved("bad.xlsx", fill(true)))
	w.want(exitRefused, `: it has no sheet named "x"`, "air", "import", "drying", file, "--sheet", "x")
	if !strings.Contains(w.must("air show drying"), "84") && !strings.Contains(w.must("air show drying"), "85") {
		t.Error("the humidity was not read as percent")
	}
	w.sound()
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
