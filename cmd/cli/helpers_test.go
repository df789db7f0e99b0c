package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"rindkeep/cmd/cli/console"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/spf13/cobra"
)

var update = flag.Bool("update", false, "rewrite the golden files")

const (
	exitDone        = console.ExitDone
	exitNoBook      = console.ExitNoBook
	exitUsage       = console.ExitUsage
	exitBusy        = console.ExitBusy
	exitNotFound    = console.ExitNotFound
	exitFault       = console.ExitBug
	exitInterrupted = console.ExitInterrupted
	exitRefused     = console.ExitRefused
)

var exitCode = console.ExitCode

// world is a machine of its own for the command line: a clock that moves on a
// second with every command, an environment, a folder and a book in it.
type world struct {
	t    testing.TB
	dir  string
	book string
	env  Env
	vars map[string]string
	ctx  context.Context
	from time.Time // when its clock starts
	ran  int       // commands so far, a second apart
}

// morning is when most worlds' clocks start.
var morning = time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)

func newWorld(t testing.TB) *world {
	t.Helper()
	w := &world{t: t, dir: t.TempDir(), ctx: t.Context(), from: morning}
	w.book = filepath.Join(w.dir, "cave.book")
	w.vars = map[string]string{"TZ": "Europe/Dublin", "RINDKEEP_BOOK": w.book, "RINDKEEP_BY": "Nora", "HOME": w.dir}
	w.env = Env{
		In:     strings.NewReader(""),
		Now:    func() time.Time { return w.from.Add(time.Duration(w.ran) * time.Second) },
		Getenv: func(k string) string { return w.vars[k] },
	}
	return w
}

// ran is what came of one command line.
type ran struct {
	Code     int
	Out, Err string
}

// run runs a command line in the world.
func (w *world) run(args ...string) ran {
	w.t.Helper()
	var out, errs bytes.Buffer
	w.ran++
	e := w.env
	e.Out, e.Err = &out, &errs
	code := Run(w.ctx, args, e)
	return ran{code, out.String(), errs.String()}
}

// line is run for a command line without quotes or spaces inside words.
func (w *world) line(line string) ran { w.t.Helper(); return w.run(strings.Fields(line)...) }

// must is line for what has to succeed.
func (w *world) must(line string) string {
	w.t.Helper()
	r := w.line(line)
	if r.Code != 0 {
		w.t.Fatalf("rindkeep %s: exit code %d\n%s%s", line, r.Code, r.Out, r.Err)
	}
	return r.Out
}

// want runs a line and wants its exit code and, on stderr, a text that matches
// the pattern; where it fails stdout is empty.
func (w *world) want(code int, pattern string, args ...string) ran {
	w.t.Helper()
	r := w.run(args...)
	if r.Code != code {
		w.t.Errorf("rindkeep %q: exit code %d, want %d\n%s%s", args, r.Code, code, r.Out, r.Err)
	}
	if !regexp.MustCompile(pattern).MatchString(r.Err) {
		w.t.Errorf("rindkeep %q: stderr does not match %q:\n%s", args, pattern, r.Err)
	}
	if code != 0 && r.Out != "" {
		w.t.Errorf("rindkeep %q failed and printed on stdout all the same:\n%s", args, r.Out)
	}
	return r
}

// doc runs a line with --json and decodes its document into v.
func (w *world) doc(v any, line string) {
	w.t.Helper()
	out := w.must(line + " --json")
	d := json.NewDecoder(strings.NewReader(out))
	if err := d.Decode(v); err != nil {
		w.t.Fatalf("rindkeep %s --json: %v\n%s", line, err, out)
	}
	if d.More() {
		w.t.Fatalf("rindkeep %s --json: more than one document\n%s", line, out)
	}
}

// file writes a file in the world's folder and gives its path.
func (w *world) file(name, content string) string {
	w.t.Helper()
	p := filepath.Join(w.dir, name)
	if err := os.WriteFile(p, []byte(content), 0o644); err != nil {
		w.t.Fatal(err)
	}
	return p
}

// kept puts a drying room and one lot of four wheels in the world's book, with
// two weeks of weights and turning behind them.
func (w *world) kept() *world {
	w.t.Helper()
	w.must("room new drying --temp 12C --rh 85% --racks A:4x8 --quiet")
	w.must("make new --variety cheddar-waxed --wheels 4 --weights 2104,2098,2111,2089 --place drying/A/1 --at " +
		"2026-11-10T17:00 --quiet")
	for _, l := range weighed0 {
		w.must("weigh " + l + " --quiet")
	}
	return w
}

// weighed0 are invented weights that dry as expected.
var weighed0 = []string{
	"261110A-01 2092 261110A-02 2086 261110A-03 2099 261110A-04 2077 --at 2026-11-11T09:00",
	"261110A-01 2074 261110A-02 2068 261110A-03 2081 261110A-04 2059 --at 2026-11-13T09:00",
	"261110A-01 2061 261110A-02 2055 261110A-03 2068 261110A-04 2046 --at 2026-11-15T09:00",
	"261110A-01 2050 261110A-02 2044 261110A-03 2057 261110A-04 2035 --at 2026-11-17T09:00",
}

// sound wants the book to check out.
func (w *world) sound() {
	w.t.Helper()
	var d struct{ Sound bool }
	w.doc(&d, "book check")
	if !d.Sound {
		w.t.Error("book check: the book is not sound")
	}
}

// same compares whole values.
func same(t testing.TB, what string, got, want any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("%s (-want +got):\n%s", what, d)
	}
}

// unsafe finds what must never reach a terminal: control characters but tab
// and newline, and marks that turn the direction of text or have no width.
var unsafe = regexp.MustCompile(
	`[\x00-\x08\x0b-\x1f\x7f-\x9f\x{200b}-\x{200f}\x{202a}-\x{202e}\x{2066}-\x{2069}\x{feff}]`)

// plain wants nothing of the kind on stdout or stderr, and valid text.
func (r ran) plain(t testing.TB, what string) {
	t.Helper()
	for name, s := range map[string]string{"stdout": r.Out, "stderr": r.Err} {
		if m := unsafe.FindStringIndex(s); m != nil {
			t.Errorf("%s: %s holds a raw %q: %.200q", what, name, s[m[0]:m[1]], s)
		}
		if strings.ToValidUTF8(s, "\x00") != s {
			t.Errorf("%s: %s is not valid text: %.200q", what, name, s)
		}
	}
}

// console is a run of the command line in the world, its flags read.
func (w *world) console(ctx context.Context) *console.Console {
	c, _ := console.New(ctx, w.env)
	c.Book = w.book
	if err := c.ReadFlags(&cobra.Command{Use: "rindkeep"}); err != nil {
		w.t.Fatal(err)
	}
	return c
}
