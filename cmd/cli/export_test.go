package cli

import (
	"context"
	"encoding/csv"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestABookGoesOutAsTextAndComesBackTheSame(t *testing.T) {
	w := jsonWorld(t)
	file, other := filepath.Join(w.dir, "a.jsonl"), filepath.Join(w.dir, "other.book")
	out := w.must("book export " + file)
	same(t, "what an export says", strings.ReplaceAll(out, "\n", " "),
		"exported to "+file+": 1 room, 2 makes, 6 wheels, 30 entries, 0.0 MB ")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the export on standard output", w.must("book export -"), string(text))
	w.must("book import " + file + " --book " + other)
	same(t, "the export of the book made of it", w.must("book export - --book "+other), string(text))
	for _, line := range []string{"wheel list all --gone", "today", "dry all", "wheel show 261110A-01 --history 0",
		"make show 260920A", "log", "book check"} {
		same(t, "rindkeep "+line+" on the book made of it", w.must(line+" --book "+other), w.must(line))
	}
	w.env.In = strings.NewReader(string(text))
	w.must("book import - --book " + filepath.Join(w.dir, "third.book"))

	w.want(exitRefused, `there is a file at .*a\.jsonl already\nhint: repeat with --replace`, "book", "export", file)
	w.must("book export " + file + " --replace")
	w.want(exitRefused, `cave\.book is the book itself`, "book", "export", w.book, "--replace")
	w.want(exitRefused, `there is no folder`, "book", "export", filepath.Join(w.dir, "no", "a.jsonl"))
	w.want(exitRefused, `other\.book holds records already; an export goes into a new book or an empty one\nhint: give `+
		`a new one: --book FILE`, "book", "import", file, "--book", other)
	w.want(exitUsage, `needs FILE`, "book", "export")
	w.want(exitUsage, `not both`, "book", "export", "x", "--csv", "y")
	w.want(exitUsage, `leave --json out`, "book", "export", "-", "--json")
	w.want(exitRefused, `cannot read .*: it is not there`, "book", "import", filepath.Join(w.dir, "nothing.jsonl"),
		"--book", filepath.Join(w.dir, "n.book"))
	w.want(exitNoBook, `no book at`, "book", "export", filepath.Join(w.dir, "b.jsonl"), "--book",
		filepath.Join(w.dir, "n.book"))
	cut := w.file("cut.jsonl", string(text[:len(text)/2]))
	w.want(exitRefused, `cut\.jsonl: it is cut off after line \d+: .*; nothing was imported\n$`, "book", "import", cut,
		"--book", filepath.Join(w.dir, "n.book"))
	bad := w.file("bad.jsonl", strings.Replace(string(text), `"variety":"tomme"`, `"variety":"\u001b[2Jtumme"`, 1))
	r := w.want(exitRefused, `bad\.jsonl: line \d+: no variety .*; nothing was imported\n`, "book", "import", bad,
		"--book", filepath.Join(w.dir, "n.book"))
	r.plain(t, "a hostile export")
	if _, err := os.Stat(filepath.Join(w.dir, "n.book")); !os.IsNotExist(err) {
		t.Errorf("a refused import left a book: %v", err)
	}
}

func TestExportsAndImportsDocumentsKeepTheirFields(t *testing.T) {
	w := jsonWorld(t)
	file := filepath.Join(w.dir, "a.jsonl")
	for _, c := range []struct{ name, line string }{
		{"book-export", "book export " + file},
		{"book-import", "book import " + file + " --book " + filepath.Join(w.dir, "other.book")},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		same(t, "schema of rindkeep "+c.line, v["schema"], any("rindkeep/"+c.name+"/1"))
		golden(t, filepath.Join("json", c.name+".txt"), strings.Join(shapeOf(v), "\n")+"\n")
	}
}

func TestTablesForASpreadsheet(t *testing.T) {
	w := jsonWorld(t)
	w.run("wheel", "note", "261110A-01", "=HYPERLINK(1)")
	dir := filepath.Join(w.dir, "tables")
	w.must("book export --csv " + dir)
	read := func(name string) [][]string {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		return rows
	}
	col := func(rows [][]string, row int, name string) string {
		for i, h := range rows[0] {
			if h == name {
				return rows[row][i]
			}
		}
		t.Fatalf("no column %s in %v", name, rows[0])
		return ""
	}
	makes := read("makes.csv")
	for name, want := range map[string]string{"lot": "260920A", "date": "2026-09-20", "milk_treatment": "raw",
		"milk_litres": "40", "milk_fat_pct": "3.9", "salt_rate_pct": "1.8", "curd_g": "4200", "note": "late"} {
		same(t, name+" of a make", col(makes, 2, name), want)
	}
	wheels := read("wheels.csv")
	same(t, "wheels", len(wheels), 1+6)
	for name, want := range map[string]string{"lot": "260920A", "tag_now": "260920A-02", "gone_on": "2026-11-25",
		"plan": "tomme", "plan_now": "tomme"} {
		same(t, name+" of a wheel", col(wheels, 6, name), want)
	}
	entries := read("entries.csv")
	last := len(entries) - 1
	for name, want := range map[string]string{"of": "261110A-01", "kind": "noted", "note": "'=HYPERLINK(1)", "by": "Nora",
		"struck": "", "weight_g": ""} {
		same(t, name+" of the last entry", col(entries, last, name), want)
	}
	withdrawn := 0
	for i := range entries[1:] {
		if col(entries, i+1, "struck") == "yes" {
			withdrawn++
			same(t, "the weight that was withdrawn", col(entries, i+1, "weight_g"), "1900")
		}
	}
	same(t, "entries withdrawn", withdrawn, 1)
	same(t, "a table of rooms", col(read("rooms.csv"), 1, "rh_pct"), "85")
	w.want(exitRefused, `rooms\.csv is there already; nothing was written\nhint: repeat with --replace`, "book", "export",
		"--csv", dir)
	w.must("book export --csv " + dir + " --replace")
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestAnImportThatWaitsForItsInputEndsAtOnceWhenInterrupted(t *testing.T) {
	w := newWorld(t)
	in, never := io.Pipe()
	defer never.Close()
	w.env.In, w.env.InTTY = in, true
	ctx, cancel := context.WithCancel(t.Context())
	w.ctx = ctx
	time.AfterFunc(50*time.Millisecond, cancel)
	done := make(chan ran, 1)
	go func() { done <- w.line("book import -") }()
	select {
	case r := <-done:
		if r.Code != exitInterrupted || r.Out != "" {
			t.Errorf("exit code %d, want 130\n%s%s", r.Code, r.Out, r.Err)
		}
	case <-time.After(5 * time.Second):
		t.Error("it went on waiting")
	}
	if left, _ := os.ReadDir(w.dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}
