package page

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cmd/workbook"
)

// bring sends a table.
func (st *stage) bring(table, file string, more string) (status int, doc map[string]any) {
	st.t.Helper()
	const form = `{"table":%q,"name":"x.csv","file":%q%s}`
	body := fmt.Sprintf(form, table, base64.StdEncoding.EncodeToString([]byte(file)), more)
	r := st.do("POST", "/api/import", isJSON, body)
	if err := json.Unmarshal([]byte(saidBy(st.t, r)), &doc); err != nil {
		st.t.Fatal(err)
	}
	return r.StatusCode, doc
}

const dry = `,"dry_run":true`

func TestATableIsLookedThroughThenRecorded(t *testing.T) {
	const tomme = "My cave, all of it\nLaib;Sorte;Hergestellt am;Gewicht kg;Lagerort;Regalbrett alt\n" +
		"T-1;Tomme;2026-11-24;1,95;cellar/A/1;9\nT-2;Tomme;2026-11-24;2,01;cellar/A/1;9\n"
	for _, c := range []struct {
		name, table, file, more string
		want                    map[string]any
		after                   string // an address
		says                    string // what it says once recorded
	}{
		{"wheels under German headings", "wheels", tomme, `,"on":"2026-11-24"`, map[string]any{
			"dry_run": true, "headings.0.field": "tag", "headings.3.unit": "kg", "headings.3.field": "weight",
			"headings.5.field": "", "headings.5.column": "F", "sample.0.0": "T-1", "sample.0.7": "1950 g",
			"said.0": "would record from 2 rows: 1 new lot, 2 new wheels, 2 weights",
		}, "/api/wheels/T-1", `"place": "cellar/A/1"`},
		{"wheels with a column named", "wheels", strings.Replace(tomme, "Lagerort", "Wo", 1),
			`,"on":"2026-11-24","columns":{"place":"Wo"}`, map[string]any{"headings.4.field": "place"}, "/api/wheels/T-2",
			"cellar/A/1"},
		{"weights without dates", "weights", "wheel,weight\na,9020\n", `,"on":"2026-11-25"`, map[string]any{
			"head.1": "weight", "sample.0.0": "a", "said.0": "would record 1 weight of 1 wheel",
		}, "/api/wheels/a", "9020"},
		{"air", "air", "time,temp_c,rh\n2026-11-24 08:00,11.5,86\n2026-11-24 09:00,11.6,87\n", `,"room":"cellar"`,
			map[string]any{"sample.1.0": "2026-11-24 09:00", "sample.1.1": "11.6 °C", "room": "cellar"},
			"/api/rooms/cellar/air", `"readings": 2`},
		{"air with its order said", "air", "time,temp_c,rh\n05/11/2026 08:00,11.5,86\n", `,"room":"cellar","dates":"dmy"`,
			map[string]any{"sample.0.0": "2026-11-05 08:00"}, "/api/rooms/cellar/air?days=30", `"readings": 1`},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := newStage(t)
			status, doc := st.bring(c.table, c.file, c.more+dry)
			if status != 200 {
				t.Fatalf("%d %v", status, doc)
			}
			for path, want := range c.want {
				if d := cmp.Diff(want, inside(doc, path)); d != "" {
					t.Errorf("%s (-want +got):\n%s", path, d)
				}
			}
			if said := saidBy(t, st.do("GET", c.after, nil, "")); strings.Contains(said, c.says) {
				t.Errorf("only looked through, the book has %s", said)
			}
			id := `,"id":"01a212d7-2dba-796f-b6c8-34d6aa000007"`
			for range 2 { // sent twice, it's recorded once
				if status, doc := st.bring(c.table, c.file, c.more+id); status != 200 || doc["dry_run"] != false {
					t.Fatalf("%d %v", status, doc)
				}
			}
			if said := saidBy(t, st.do("GET", c.after, nil, "")); !strings.Contains(said, c.says) {
				t.Errorf("recorded, the book has %s", said)
			}
		})
	}
}

func TestWhatWasSaidOfATableIsKeptForTheNext(t *testing.T) {
	st := newStage(t)
	const said = `,"on":"2026-11-24","mapping":"old book","columns":{"tag":"Cheese no","weight":"Scale"},"unit":"kg"`
	const file = "Cheese no,Scale\na,9.02\n"
	for _, more := range []string{dry, ""} {
		if status, doc := st.bring("weights", file, said+more); status != 200 || inside(doc, "sample.0.1") != "9020 g" {
			t.Fatalf("%d %v", status, doc)
		}
	}
	const next = `,"on":"2026-11-25","mapping":"Old book"`
	status, doc := st.bring("weights", strings.Replace(file, "9.02", "8.99", 1), next+dry)
	for path, want := range map[string]any{
		"headings.0.field": "tag", "headings.1.field": "weight", "sample.0.1": "8990 g", "fields.0": "tag",
	} {
		if d := cmp.Diff(want, inside(doc, path)); d != "" {
			t.Errorf("%d: %s (-want +got):\n%s\n%v", status, path, d, doc)
		}
	}
	for _, c := range []struct{ name, table, more, where string }{
		{"a table of another sort", "wheels", next, "mapping"},
		{"a name nobody gave", "weights", `,"mapping":"new book"`, "mapping"},
		{"a name that can't be one", "weights", `,"mapping":"a\nb","unit":"kg"`, "mapping"},
		{"a unit of weights", "air", `,"unit":"kg"`, "unit"}, {"a unit of air", "weights", `,"unit":"F"`, "unit"},
	} {
		if status, doc := st.bring(c.table, file, c.more); status < 400 || doc["where"] != c.where {
			t.Errorf("%s: %d %v", c.name, status, doc)
		}
	}
	page := saidBy(t, st.do("GET", "/import", nil, ""))
	if !strings.Contains(page, `<option value="old book">`) || !strings.Contains(page, `data-for="weights"`) {
		t.Errorf("the form doesn't offer it:\n%s", page)
	}
}

func TestAFaultyTableSaysWhatIsWrongAndWhere(t *testing.T) {
	st := newStage(t)
	for _, c := range []struct {
		name, table, file, more string
		want                    map[string]any
	}{
		{"a kind nobody knows", "wheels", "tag,made,variety\nT-1,2026-10-01,Bergkäse\nT-2,2026-10-01,Bergkäse\n", "",
			map[string]any{
				"code": "faulty-table", "error": "x.csv has 2 problems; nothing was recorded", "problems.0.rows": 2.0,
				"problems.0.where.0": "line 2, column C", "problems.0.where.1": "line 3, column C",
				"questions.0.name": "kinds.Bergkäse", "headings.2.field": "variety",
			}},
		{"a cell that is no weight", "weights", "wheel,weight,date\na,heavy,2026-11-24\n", "",
			map[string]any{"problems.0.where.0": "line 2, column B", "problems.0.sure": false}},
		{"a bare weight", "weights", "wheel,weight,date\na,9.02,2026-11-24\n", "", map[string]any{
			"questions.0.name": "unit", "problems.0.words": `"9.02" looks like 9.02 kg; if it is, choose kg, or head the ` +
				"column weight_kg"}},
		{"two columns of weights", "weights", "wheel,weight,gross,date\na,9020,9030,2026-11-24\n", "", map[string]any{
			"questions.0.name": "columns.weight", "questions.0.options.1.0": "gross"}},
		{"no kind at all", "wheels", "tag,made\nT-1,2026-10-01\n", "", map[string]any{"questions.0.name": "kinds."}},
		{"air without a time", "air", "temp_c,rh\n11.5,86\n", `,"room":"cellar"`, map[string]any{
			"questions.0.name": "columns.time", "questions.0.options.1.0": "rh"}},
		{"a weight without a date", "weights", "wheel,weight\na,9020\n", "", map[string]any{"problems.0.rows": 1.0}},
		{"a weight that looks wrong", "weights", "wheel,weight,date\na,9020,2026-11-23\na,12lb,2026-11-24\n", "",
			map[string]any{"problems.0.where.0": "line 3, column B", "problems.0.sure": true}},
		{"no tag", "weights", "colour,weight\nred,9020\n", "", map[string]any{"problems.0.code": "no-column"}},
		{"dates in either order", "air", "time,temp_c,rh\n05/11/2026 08:00,11.5,86\n", `,"room":"cellar"`,
			map[string]any{"questions.0.name": "dates", "questions.0.options.0.0": "dmy"}},
		{"an air that looks wrong", "air", "time,temp_c,rh\n2026-11-24 08:00,11.5,3\n", `,"room":"cellar"`,
			map[string]any{"problems.0.sure": true, "problems.0.where.0": "line 2"}},
		{"no file of ours", "wheels", "t\x00", "", map[string]any{"problems.0.code": "not-a-table"}},
		{"a sample nobody awaits", "results", "sample,result\nS1,<10 cfu/g\n", "", map[string]any{"problems.0.rows": 1.0}},
		{"no room", "air", "time,temp_c,rh\n2026-11-24 08:00,11.5,86\n", "", map[string]any{"where": "room"}},
		{"another room", "air", "time,temp_c,rh\n2026-11-24 08:00,11.5,86\n", `,"room":"attic"`,
			map[string]any{"code": "not-found"}},
		{"a sheet of a text", "wheels", "tag\nx\n", `,"sheet":"July"`, map[string]any{"where": "sheet"}},
		{"no such table", "cheeses", "tag\nx\n", "", map[string]any{"where": "table"}},
	} {
		for _, more := range []string{dry, ""} {
			status, doc := st.bring(c.table, c.file, c.more+more)
			if status < 400 {
				t.Errorf("%s: %d %v", c.name, status, doc)
			}
			for path, want := range c.want {
				if d := cmp.Diff(want, inside(doc, path)); d != "" {
					t.Errorf("%s: %s (-want +got):\n%s\n%v", c.name, path, d, doc)
				}
			}
		}
	}
}

func TestASheetIsTakenAndALargeFileIsNot(t *testing.T) {
	st := newStage(t)
	var b bytes.Buffer
	w := workbook.NewWriter(&b)
	for _, err := range []error{
		w.Sheet("July", "tag", "made", "variety"), w.Row("T-1", "2026-10-01", "tomme"), w.Close(),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	status, doc := st.bring("wheels", b.String(), dry+`,"sheet":"July"`)
	if status != 200 || inside(doc, "sample.0.0") != "T-1" {
		t.Errorf("%d %v", status, doc)
	}
	if status, doc := st.bring("wheels", b.String(), dry+`,"sheet":"May"`); status < 400 || doc["where"] != "sheet" {
		t.Errorf("%d %v", status, doc)
	}
	if status, doc := st.bring("wheels", strings.Repeat("x", maxTable+1), dry); status != 400 || doc["where"] != "file" {
		t.Errorf("%d %v", status, doc)
	}
	if status, doc := st.bring("wheels", strings.Repeat("x", 2*maxTable), dry); status != 413 {
		t.Errorf("%d %v", status, doc)
	}
}
