package cli

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"rindkeep/cmd/intake"
)

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
