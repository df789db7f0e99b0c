package cli

import (
	"os"
	"strings"
	"testing"
)

// smallBook is a book of four wheels and its bytes, for worlds that begin
// with it.
func smallBook(f *testing.F) []byte {
	w := newWorld(f).kept()
	w.must("check 261110A-01 --dry-to-touch --cracks no --at 2026-11-24T09:30")
	b, err := os.ReadFile(w.book)
	if err != nil {
		f.Fatal(err)
	}
	return b
}

// harmless wants of a command line that it ends without a fault and prints
// nothing that acts on a terminal.
func harmless(t *testing.T, r ran, args []string) {
	t.Helper()
	switch r.Code {
	case exitDone, exitRefused, exitUsage, exitBusy, exitNotFound, exitNoBook:
	default:
		t.Errorf("rindkeep %q: exit code %d\n%s%s", args, r.Code, r.Out, r.Err)
	}
	if r.Code != 0 && r.Err == "" && r.Out == "" {
		t.Errorf("rindkeep %q: exit code %d without a word", args, r.Code)
	}
	// TOML and examples are printed as they are written, tabs with them.
	r.plain(t, "rindkeep "+strings.Join(args, " "))
}

func FuzzWhat(f *testing.F) {
	for _, s := range []string{"all", "261110A", "261110A-01", "261110A-*", "drying", "drying/A/1", "drying/*", "*", "/", "a*b", "261110A-01,261110A-02", "", ",", "..", "\x1b[2J", "ALL", "draing", strings.Repeat("x", 300), "\u202e", "é", "261110a-01"} {
		f.Add(s)
	}
	book := smallBook(f)
	f.Fuzz(func(t *testing.T, what string) {
		w := newWorld(t)
		if err := os.WriteFile(w.book, book, 0o600); err != nil {
			t.Fatal(err)
		}
		for _, args := range [][]string{{"wheel", "list", "--", what}, {"dry", "--json", "--", what}, {"did", "turn", "--", what}, {"curve", "--", what}} {
			r := w.run(args...)
			harmless(t, r, args)
			if r.Code != 0 && r.Out != "" {
				t.Errorf("rindkeep %q: exit code %d and yet it printed\n%s", args, r.Code, r.Out)
			}
		}
		w.sound()
	})
}

// fuzzed are the commands that FuzzArgs may run: all that write only to the
// book and to stdout.
var fuzzed = []string{"today", "did", "skip", "weigh", "dry", "curve", "check", "coat", "make", "wheel", "room", "plan", "variety", "work", "strike", "version", "help", "__complete"}

func FuzzArgs(f *testing.F) {
	for _, s := range []string{
		"today --only turn,brush --room drying --on tomorrow", "did turn all --at 07:15", "skip turn all --why tired --due", "weigh 261110A-01 4lb5oz --sure", "dry 261110A-01 --on +3d --json",
		"curve 261110A --days 30 --csv", "check 261110A-01 --dry-to-touch --cracks no", "coat 261110A-01 wax --before 2000 --after 2050", "make new --variety edam --wheels 3 --weights 1,2,3",
		"make new --variety tomme --diameter 20cm --height 8cm --ph 5.2 --milk-fat 4%", "make show 261110A", "make note 261110A x", "wheel show 261110A-01 --history 0", "wheel send 261110A-01 --to Shop",
		"wheel move all drying/A/2", "wheel tag 261110A-01 pepper", "wheel core 261110A-01 --removed 12g", "room new cellar --temp 54F --rh 85 --racks A:5x10,B:2", "plan show waxed-hard", "variety list --units imperial",
		"work salt --curd 4.2kg --rate 1.8%", "work moisture --start 39% --loss 5%", "work air --temp 12 --rh 85 --pressure 1e300", "work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --days 3",
		"strike last --why x", "--json", "--units x", "-- --", "work curve --days -1", "today --on 9999-99-99", "weigh 261110A-01 1e400", "work air --temp nan --rh inf", "help make new", "__complete weigh 2", "room new x --temp -300C", "dry --at 0001-01-01", "today --on +999999d", "make new --variety edam --wheels 1 --on 1969-12-31",
	} {
		f.Add(s)
	}
	book := smallBook(f)
	f.Fuzz(func(t *testing.T, line string) {
		args := strings.Split(line, " ")
		if len(line) > 4000 || len(args) == 0 || !known(args[0]) {
			return
		}
		for _, a := range args {
			// No file but the book is written, and no other book is opened.
			for _, flag := range []string{"--svg", "--book", "--from"} {
				if strings.HasPrefix(a, flag) {
					return
				}
			}
			if a == "add" || a == "import" {
				return
			}
		}
		w := newWorld(t)
		if err := os.WriteFile(w.book, book, 0o600); err != nil {
			t.Fatal(err)
		}
		r := w.run(args...)
		harmless(t, r, args)
		w.sound()
		left, err := os.ReadDir(w.dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range left {
			if n := x.Name(); n != "cave.book" && n != ".cave.book.queue" {
				t.Errorf("rindkeep %q left a file: %s", args, n)
			}
		}
	})
}

func known(word string) bool {
	if strings.HasPrefix(word, "-") {
		return true
	}
	for _, c := range fuzzed {
		if c == word {
			return true
		}
	}
	return false
}
