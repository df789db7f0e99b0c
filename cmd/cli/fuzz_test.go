package cli

import (
	"context"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
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
	for _, s := range []string{"all", "261110A", "261110A-01", "261110A-*", "drying", "drying/A/1", "drying/*", "*", "/",
		"a*b", "261110A-01,261110A-02", "", ",", "..", "\x1b[2J", "ALL", "draing", strings.Repeat("x",
			300), "\u202e", "é", "261110a-01"} {
		f.Add(s)
	}
	book := smallBook(f)
	f.Fuzz(func(t *testing.T, what string) {
		w := newWorld(t)
		if err := os.WriteFile(w.book, book, 0o600); err != nil {
			t.Fatal(err)
		}
		for _, args := range [][]string{{"wheel", "list", "--", what}, {"dry", "--json", "--", what},
			{"did", "turn", "--", what}, {"curve", "--", what}} {
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
// book, to stdout, and to files in the folder they are run in.
var fuzzed = []string{
	"today", "ahead", "did", "skip", "weigh", "dry", "curve", "check", "coat", "taste", "make", "wheel", "room", "plan",
	"variety", "work", "strike",
	"customer", "stock", "trace", "log", "sheet", "version", "help", "__complete",
}

// keptBack are words that no command line of FuzzArgs has: they read or write
// files anywhere, or never end.
var keptBack = []string{"add", "import", "book", "demo", "page", "completion", "photo"}

// mayWrite says whether a command line names no file but, for a sheet or a
// calendar, a plain name in the folder it is run in.
func mayWrite(args []string) bool {
	for i, a := range args {
		if slices.Contains(keptBack, a) {
			return false
		}
		flag, name, given := strings.Cut(a, "=")
		for _, f := range []string{"--svg", "--book", "--recall", "--fsma", "--photo"} {
			if strings.HasPrefix(a, f) {
				return false
			}
		}
		switch flag {
		case "--from": // a date for a trace or a log, a file for the rest
			if args[0] != "trace" && args[0] != "log" && args[0] != "sheet" {
				return false
			}
		case "--out", "--ics":
			if !given && i+1 < len(args) {
				name = args[i+1]
			}
			if strings.ContainsAny(name, "/\\\x00") || name == "." || name == ".." {
				return false
			}
		}
	}
	return true
}

func FuzzArgs(f *testing.F) {
	for _, s := range []string{
		"today --only turn,brush --room drying --on tomorrow", "did turn all --at 07:15", "skip turn all --why tired --due",
		"weigh 261110A-01 4lb5oz --sure", "dry 261110A-01 --on +3d --json",
		"curve 261110A --days 30 --csv", "check 261110A-01 --dry-to-touch --cracks no",
		"coat 261110A-01 wax --before 2000 --after 2050", "make new --variety edam --wheels 3 --weights 1,2,3",
		"make new --variety tomme --diameter 20cm --height 8cm --ph 5.2 --milk-fat 4%", "make show 261110A",
		"make note 261110A x", "wheel show 261110A-01 --history 0", "wheel send 261110A-01 --to Shop",
		"wheel move all drying/A/2", "wheel tag 261110A-01 pepper", "wheel core 261110A-01 --removed 12g",
		"room new cellar --temp 54F --rh 85 --racks A:5x10,B:2", "plan show waxed-hard", "variety list --units imperial",
		"work salt --curd 4.2kg --rate 1.8%", "work moisture --start 39% --loss 5%",
		"work air --temp 12 --rh 85 --pressure 1e300",
		"work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --days 3",
		"strike last --why x", "--json", "--units x", "-- --", "work curve --days -1", "today --on 9999-99-99",
		"weigh 261110A-01 1e400", "work air --temp nan --rh inf", "help make new", "__complete weigh 2",
		"room new x --temp -300C", "dry --at 0001-01-01", "today --on +999999d",
		"make new --variety edam --wheels 1 --on 1969-12-31",
		"sheet today --large --paper letter --out a.pdf", "sheet today --only turn --room drying --on +2d --replace",
		"sheet labels 261110A --start 5 --stock roll-62 --cut", "sheet labels all --out -",
		"sheet wheel 261110A-01 --history 0",
		"sheet make 261110A --out cave.book --replace", "sheet trace 261110A-01,261110A", "sheet recall 261110A --large",
		"sheet trace --ingredient C77 --paper A4", "sheet recall --room drying --from 2026-11-10 --to today",
		"sheet recall --customer Shop --json",
		"ahead --days 9 --rest sat,sun --room drying", "ahead --days 60 --ics a.ics", "ahead --ics - --days 1",
		"ahead --json --days 366", "ahead --on +400d",
		"taste 261110A-01 --flavour 4 --fault bitter --core 12g", "taste 261110A --fault-own dust,Fog --texture 1",
		"taste show 261110A", "taste show all --json", "taste show 261110A-01 --on yesterday",
		"check 261110A-02 --gas yes --dry-to-touch no",
		"customer new Shop --contact 555", "stock --json", "trace 261110A", "log 261110A --by-day", "__complete taste show 2",
		"__complete sheet recall --ro",
	} {
		f.Add(s)
	}
	book := smallBook(f)
	f.Fuzz(func(t *testing.T, line string) {
		args := strings.Split(line, " ")
		if len(line) > 4000 || len(args) == 0 || !known(args[0]) {
			return
		}
		if !mayWrite(args) {
			return
		}
		w := newWorld(t)
		if err := os.WriteFile(w.book, book, 0o600); err != nil {
			t.Fatal(err)
		}
		t.Chdir(w.dir)
		r := w.run(args...)
		if strings.HasPrefix(r.Out, "%PDF-") || strings.HasPrefix(r.Out, "BEGIN:VCALENDAR\r\n") {
			whole(t, args, []byte(r.Out))
			r.Out = "" // for a printer or a calendar, not for a terminal
		}
		harmless(t, r, args)
		w.sound()
		left, err := os.ReadDir(w.dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range left {
			n := x.Name()
			if n == "cave.book" || n == ".cave.book.queue" {
				continue
			}
			b, err := os.ReadFile(n)
			if err != nil {
				t.Fatal(err)
			}
			whole(t, args, b)
			if r.Code != 0 {
				t.Errorf("rindkeep %q: exit code %d, and it left %s", args, r.Code, n)
			}
		}
	})
}

// whole wants a sheet or a calendar, and all of it.
func whole(t *testing.T, args []string, b []byte) {
	t.Helper()
	s := string(b)
	pdf := strings.HasPrefix(s, "%PDF-") && strings.HasSuffix(strings.TrimSpace(s), "%%EOF")
	ics := strings.HasPrefix(s, "BEGIN:VCALENDAR\r\n") && strings.HasSuffix(s, "END:VCALENDAR\r\n")
	if !pdf && !ics {
		t.Errorf("rindkeep %q wrote what is no whole sheet and no whole calendar: %.60q", args, s)
	}
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

// wordsOfLines are what FuzzLines puts into command lines: what belongs there,
// what belongs elsewhere, and what belongs nowhere.
var wordsOfLines = []string{
	"", "0", "1", "3", "-1", "2.5", "1e9", "1e400", "nan", "inf", "5%", "101%", "-5%", "12C", "-300C", "54F", "2kg",
	"1942", "12g", "4lb5oz", "20cm", "15 cm",
	"today", "tomorrow", "yesterday", "mon", "+400d", "-3d", "2026-11-24", "0001-01-01", "9999-12-31", "07:15",
	"2026-11-24T09:30", "sat,sun", "a4", "letter", "a4-3x8", "roll-62",
	"all", "last", "*", "drying", "drying/A/1", "drying/*", "261110A", "261110a", "261110A-01", "261110A-02,261110A-03",
	"261110A-*", "261110B", "Shop", "C77", "bitter", "dust", "old milk,acid",
	"wax", "turn", "turn,brush", "check", "edam", "waxed-hard", "yes", "no", "some", "raw", "é奶酪", "a\x1b[2Jb", "\u202ex",
	"x\xff", "a;b", "'", "=1+1", strings.Repeat("x", 300), "cave.book", "-", "a.pdf", "a.ics", "metric", "imperial", "--",
	"milk", "ph", "step",
}

// FuzzLines makes command lines of the commands and flags there are, as a number
// says, and runs them one after the other on one book.
func FuzzLines(f *testing.F) {
	for n := range uint64(60) {
		f.Add(n)
	}
	book := smallBook(f)
	root := rootCmd(newWorld(f).console(context.Background()), "")
	var leaves []*cobra.Command
	for _, c := range allCommands(root) {
		path := strings.Fields(c.CommandPath())[1:]
		if len(path) > 0 && slices.Contains(fuzzed, path[0]) &&
			!slices.ContainsFunc(path, func(w string) bool { return slices.Contains(keptBack, w) }) {
			leaves = append(leaves, c)
		}
	}
	if len(leaves) < 40 {
		f.Fatalf("%d commands: does this still look at the tree of commands?", len(leaves))
	}
	f.Fuzz(func(t *testing.T, n uint64) {
		r := rand.New(rand.NewPCG(n, 1))
		word := func() string { return wordsOfLines[r.IntN(len(wordsOfLines))] }
		w := newWorld(t)
		if err := os.WriteFile(w.book, book, 0o600); err != nil {
			t.Fatal(err)
		}
		t.Chdir(w.dir)
		for range 12 {
			c := leaves[r.IntN(len(leaves))]
			args := strings.Fields(c.CommandPath())[1:]
			for range r.IntN(4) {
				args = append(args, word())
			}
			var flags []*pflag.Flag
			c.LocalFlags().VisitAll(func(x *pflag.Flag) { flags = append(flags, x) })
			c.InheritedFlags().VisitAll(func(x *pflag.Flag) {
				if r.IntN(8) == 0 {
					flags = append(flags, x)
				}
			})
			for range r.IntN(5) {
				if len(flags) == 0 {
					break
				}
				x := flags[r.IntN(len(flags))]
				switch {
				case x.Name == "help" || x.Value.Type() == "bool" && r.IntN(4) > 0:
					args = append(args, "--"+x.Name)
				case x.Name == "out" || x.Name == "ics":
					args = append(args, "--"+x.Name, []string{"-", "a.pdf", "b", "cave.book"}[r.IntN(4)])
				default:
					args = append(args, "--"+x.Name, word())
				}
			}
			if !mayWrite(args) {
				continue
			}
			ran := w.run(args...)
			if strings.HasPrefix(ran.Out, "%PDF-") || strings.HasPrefix(ran.Out, "BEGIN:VCALENDAR\r\n") {
				whole(t, args, []byte(ran.Out))
				ran.Out = ""
			}
			harmless(t, ran, args)
			if ran.Code != 0 && ran.Out != "" && !strings.Contains(ran.Out, "Usage:") {
				t.Errorf("rindkeep %q: exit code %d and yet it printed\n%.300s", args, ran.Code, ran.Out)
			}
		}
		w.sound()
	})
}
