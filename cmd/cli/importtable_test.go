package cli

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"rindkeep/cmd/app/care"
)

const wheelsTable = `Cheese no;Batch;Date made;Type;Location;Start weight (kg);Weight (kg);Weighed on;Colour
T-01;T;01.11.2026;Tomme;drying/A/2;2,1;2,05;05.11.2026;red
T-02;T;01.11.2026;tomme;drying/A/2;2,12;2,07;05.11.2026;red
261110A-01;;;;;;2,047;2026-11-18;
`

func TestATableOfWheelsIsShownAsUnderstoodAndThenTaken(t *testing.T) {
	w := newWorld(t).kept()
	file := w.file("wheels.csv", wheelsTable)
	before := w.must("book export -")
	same(t, "a dry run", w.must("book import "+file+" --map --dry-run"), `columns
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
    weight 2050 g; weighed 2026-11-05
  +T-02; lot T; made 2026-11-01; variety tomme; place drying/A/2; green 2120 g;
    weight 2070 g; weighed 2026-11-05
  261110A-01; lot 261110A; made 2026-11-10; variety cheddar-waxed;
    weight 2047 g; weighed 2026-11-18

would record from 3 rows: 1 new lot, 2 new wheels, 5 weights; 2 older wheels
taken over: their plans start now, and nothing is late; 1 wheel in the book
already
`)
	same(t, "the book after a dry run", w.must("book export -"), before)

	var d struct {
		Dry       bool `json:"dry_run"`
		Sample    []care.Sample
		Lots      []string `json:"new_lots"`
		Wheels    int      `json:"new_wheels"`
		Known     int      `json:"known_wheels"`
		Weights   int      `json:"new_weights"`
		Same      int      `json:"known_weights"`
		Elsewhere int      `json:"kept_at_the_books_place"`
		Unused    []string `json:"unused_headings"`
	}
	w.doc(&d, "book import "+file+" --map")
	place := "drying/A/2"
	text := func(s string) *string { return &s }
	figure := func(x float64) *float64 { return &x }
	same(t, "the first row as understood", d.Sample[0], care.Sample{Tag: "T-01", New: true, Lot: "T", Made: "2026-11-01",
		Variety: "tomme", Place: &place, Green: figure(2100), Weight: figure(2050), Weighed: text("2026-11-05")})
	same(t, "a row of a wheel that was there", d.Sample[2], care.Sample{Tag: "261110A-01", Lot: "261110A",
		Made: "2026-11-10", Variety: "cheddar-waxed", Weight: figure(2047), Weighed: text("2026-11-18")})
	same(t, "what came of it", fmt.Sprint(d.Dry, d.Lots, d.Wheels, d.Known, d.Weights, d.Same, d.Unused),
		"false [T] 2 1 5 0 [Colour]")
	var c struct {
		Green  float64 `json:"green_weight_g"`
		Weight float64 `json:"weight_g"`
		Place  string
		Made   string
	}
	w.doc(&c, "wheel show T-02")
	same(t, "a wheel of the table", fmt.Sprintf("%v %v %s %s",
		c.Green, c.Weight, c.Place, c.Made), "2120 2070 drying/A/2 2026-11-01")

	w.must("wheel move T-01 drying/A/3")
	w.doc(&d, "book import "+file+" --map")
	same(t, "the same table again, a wheel moved meanwhile",
		fmt.Sprint(d.Lots, d.Wheels, d.Known, d.Weights, d.Same, d.Elsewhere), "[] 0 3 0 5 1")
	w.doc(&c, "wheel show T-01")
	same(t, "the place of the wheel that was moved", c.Place, "drying/A/3")
	w.sound()
}

func TestATableOfWheelsFindsItsLots(t *testing.T) {
	w := newWorld(t).kept()
	for _, c := range []struct{ name, table, wheels string }{
		{"by the beginning of the tag", "tag,weight\n261110A-05,\n", "261110A-05 261110A cheddar-waxed 2026-11-10"},
		{"by make date and variety, one lot for both rows", "tag,made,variety\nX1,2026-11-20,edam\nX2,2026-11-20,Edam\n",
			"X1 261120A edam 2026-11-20, X2 261120A edam 2026-11-20"},
		{"a second lot of that day for another variety", "tag,made,variety\nX3,2026-11-20,tomme\n",
			"X3 261120B tomme 2026-11-20"},
		{"columns the maker names", "Nr,Charge,Tag,Sorte\nY1,Q,2026-11-21,tomme\n", "Y1 Q tomme 2026-11-21"},
	} {
		spec := "--map"
		if strings.HasPrefix(c.table, "Nr") {
			spec = "--map=tag=Nr,lot=Charge,made=Tag,variety=Sorte"
		}
		w.must("book import " + w.file("t.csv", c.table) + " " + spec)
		var got []string
		for _, l := range strings.Split(strings.TrimSpace(c.table), "\n")[1:] {
			tag, _, _ := strings.Cut(l, ",")
			var d struct{ Wheel, Lot, Variety, Made string }
			w.doc(&d, "wheel show "+tag)
			got = append(got, strings.Join([]string{d.Wheel, d.Lot, d.Variety, d.Made}, " "))
		}
		same(t, c.name, strings.Join(got, ", "), c.wheels)
	}
	w.sound()
}

func TestATableOfWheelsIsRefusedWholeWithEveryReason(t *testing.T) {
	w := newWorld(t).kept()
	before := w.must("book export -")
	table := func(rows string) string {
		return w.file("t.csv", "tag,lot,made,variety,place,green weight,weight,date weighed\n"+rows)
	}
	for _, c := range []struct{ name, rows, want string }{
		{"a new wheel without a variety", "Z1,Z,2026-11-20,,,,,\n",
			`line 2, column [A-Z] \(variety\): wheel Z1 is new, and so is its make; give the variety`},
		{"a new wheel without a make date", "Z1,Z,,tomme,,,,\n",
			`\(made\): wheel Z1 is new, and so is its make; give the date it was made`},
		{"a variety nobody knows", "Z1,Z,2026-11-20,tume,,,,\n", `\(variety\): no variety "tume"; did you mean tomme`},
		{"a date that is none", "Z1,Z,11/31/2026,tomme,,,,\n", `\(made\): "11/31/2026" is not a date`},
		{"a date that can be two", "Z1,Z,11/10/2026,tomme,,,,\n",
			`\(made\): "11/10/2026" could be 11 October or 10 November 2026`},
		{"a date without its year", "Z1,Z,20 Nov,tomme,,,,\n", `\(made\): "20 Nov" is another day when the table is read`},
		{"a make to come", "Z1,Z,2026-12-20,tomme,,,,\n", `\(made\): 2026-12-20 is in the future`},
		{"a room nobody knows", "Z1,Z,2026-11-20,tomme,attic,,,\n", `\(place\): no room named "attic"`},
		{"another make date than the lot's", "261110A-09,261110A,2026-11-11,,,,,\n",
			`\(made\): in the book, lot 261110A was made on 2026-11-10`},
		{"another variety than the lot's", "261110A-09,261110A,,tomme,,,,\n",
			`\(variety\): in the book, lot 261110A is cheddar-waxed`},
		{"another lot than the wheel's", "261110A-01,Z,,,,,,\n", `\(lot\): in the book, wheel 261110A-01 is of lot 261110A`},
		{"another make date than the wheel's", "261110A-01,,2026-11-11,,,,,\n",
			`\(made\): in the book, wheel 261110A-01 was made on 2026-11-10`},
		{"another variety than the wheel's", "261110A-01,,,tomme,,,,\n",
			`\(variety\): in the book, wheel 261110A-01 is cheddar-waxed`},
		{"a date that is none, without a weight", "261110A-01,,,,,,,someday\n", `\(date weighed\): .*someday`},
		{"a tag twice", "Z1,Z,2026-11-20,tomme,,,,\nz1,Z,2026-11-20,tomme,,,,\n",
			`line 3, column A \(tag\): wheel z1 is in the table already`},
		{"a tag that cannot be", "a/b,Z,2026-11-20,tomme,,,,\n", `\(tag\): tag "a/b" holds "/"`},
		{"a weight that looks wrong", "261110A-01,,,,,,1500,2026-11-24\n",
			`\(weight\): 261110A-01 at 1500 g looks wrong.*--sure`},
		{"a weight that is none", "Z1,Z,2026-11-20,tomme,,,heavy,\n", `\(weight\): `},
		{"a weighing to come", "261110A-01,,,,,,2040,2026-12-24\n", `\(date\): 2026-12-24 is in the future`},
		{"a good row before a bad one", "Z1,Z,2026-11-20,tomme,,2000,,\nZ2,Z,2026-11-20,tomme,,x,,\n",
			`line 3, column [A-Z] \(green weight\): `},
	} {
		r := w.want(exitRefused, `line \d+, column [A-Z].*`+"(?s:.*)"+`nothing was recorded`, "book", "import", table(c.rows),
			"--map")
		r.plain(t, c.name)
		if !regexp.MustCompile(c.want).MatchString(r.Err) {
			t.Errorf("%s: want %s, got %s", c.name, c.want, r.Err)
		}
	}
	same(t, "the book after tables that were refused", w.must("book export -"), before)
	w.want(exitUsage, `go with --map`, "book", "import", table(""), "--dry-run")
	w.want(exitUsage, `there is no field "colour"; there are tag`, "book", "import", table(""), "--map=colour=red")
	w.want(exitRefused, `no column for the wheel.s tag; head it tag, or name it with --map="tag=HEADING" \(.* are lot\)`,
		"book", "import", w.file("u.csv", "lot\nA\n"), "--map")
	for _, h := range hostile[:13] {
		quoted := `"` + strings.ReplaceAll(h.word, `"`, `""`) + `"`
		for i := range 8 {
			cells := []string{"Z1", "Z", "2026-11-20", "tomme", "", "", "", ""}
			cells[i] = quoted
			r := w.run("book", "import", table(strings.Join(cells, ",")+"\n"), "--map")
			r.plain(t, fmt.Sprintf("%s in column %d", h.what, i+1))
			western := !utf8.ValidString(h.word) // it's read as Windows-1252
			if r.Code == 0 && !western || r.Code == exitFault {
				t.Errorf("%s in column %d: exit code %d\n%s", h.what, i+1, r.Code, r.Err)
			}
		}
	}
	w.sound()
}

func TestATableOnATerminalAsksBeforeItIsTaken(t *testing.T) {
	w := newWorld(t).kept()
	file := w.file("wheels.csv", wheelsTable)
	w.env.InTTY, w.env.OutTTY = true, true
	w.vars["NO_COLOR"] = "1"
	w.env.In = strings.NewReader("no\n")
	r := w.run("book", "import", file, "--map")
	if r.Code != exitRefused || !strings.Contains(r.Err, "strike can't cancel makes and wheels [no]") || !strings.Contains(
		r.Err, "not confirmed; nothing was recorded") || !strings.Contains(r.Out, "would record from 3 rows") {
		t.Errorf("not confirmed: exit code %d\n%s%s", r.Code, r.Out, r.Err)
	}
	w.want(exitNotFound, "T-01", "wheel", "list", "T-01")
	w.env.In = strings.NewReader("yes\n")
	if r := w.run("book", "import", file, "--map"); r.Code != 0 ||
		!strings.Contains(r.Out, "\nrecorded from 3 rows: 1 new lot, 2 new wheels, 5 weights") {
		t.Errorf("confirmed: exit code %d\n%s%s", r.Code, r.Out, r.Err)
	}
	w.must("wheel list T-01")
}

func TestTheDocumentOfATableKeepsItsFields(t *testing.T) {
	w := newWorld(t).kept()
	file := w.file("wheels.csv", wheelsTable)
	var v map[string]any
	w.doc(&v, "book import "+file+" --map --dry-run")
	same(t, "its schema", v["schema"], any("rindkeep/book-import-table/1"))
	golden(t, filepath.Join("json", "book-import-table.txt"), strings.Join(shapeOf(v), "\n")+"\n")
}
