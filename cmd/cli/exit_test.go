package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
)

// onWrite is an output that does something when it is first written to.
type onWrite struct {
	bytes.Buffer
	do   func()
	done bool
}

func (o *onWrite) Write(b []byte) (int, error) {
	if !o.done {
		o.done = true
		o.do()
	}
	return o.Buffer.Write(b)
}

func TestWhatIsPrintedAsDoneIsInTheBookAlready(t *testing.T) {
	for _, line := range []string{
		"did turn all", "skip turn all --why tired", "weigh 261110A-01 2026", "check all --dry-to-touch",
		"coat 261110A-01 wax",
		"wheel move all drying/A/2", "wheel hold all --why tests", "wheel note all hello", "make note 261110A hello",
		"strike last --why wrong",
		"make new --variety edam --wheels 2", "room new cellar",
	} {
		w := newWorld(t).kept()
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		// The program is stopped the moment its first byte comes out.
		out := &onWrite{do: cancel}
		var before, after struct{ Entries, Makes, Rooms int }
		w.doc(&before, "book info")
		var errs bytes.Buffer
		e := w.env
		e.Out, e.Err = out, &errs
		code := Run(ctx, strings.Fields(line), e)
		w.doc(&after, "book info")
		if before == after || code != 0 || out.Len() == 0 {
			t.Errorf("rindkeep %s, stopped as it began to print: exit code %d, the book went from %+v to %+v, "+
				"and printed was %q %q", line, code, before, after, out.String(), errs.String())
		}
	}
}

func TestAnInterruptedCommandExitsWith130AndLeavesNothing(t *testing.T) {
	w := newWorld(t).kept()
	var before, after struct{ Entries int }
	w.doc(&before, "book info")
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	w.ctx = gone
	for _, line := range []string{"did turn all", "weigh 261110A-01 2030", "today", "dry", "wheel list", "book check",
		"demo --book " + filepath.Join(w.dir, "demo.book")} {
		w.want(exitInterrupted, `^rindkeep: interrupted; nothing was half-saved\n$`, strings.Fields(line)...)
	}
	w.ctx = t.Context()
	w.doc(&after, "book info")
	same(t, "entries after interrupted commands", after, before)
	if _, err := os.Stat(filepath.Join(w.dir, "demo.book")); !os.IsNotExist(err) {
		t.Errorf("an interrupted demo left its book: %v", err)
	}
	w.sound()
}

func TestInterruptingOneWhoWaitsForInputEndsAtOnce(t *testing.T) {
	for _, line := range []string{"weigh --from -", "work fit --from -", "make new", "plan add -", "variety check -"} {
		w := newWorld(t).kept()
		in, never := io.Pipe() // a person who types nothing
		defer never.Close()
		w.env.In, w.env.InTTY = in, true
		ctx, cancel := context.WithCancel(t.Context())
		w.ctx = ctx
		time.AfterFunc(50*time.Millisecond, cancel)
		done := make(chan ran, 1)
		go func() { done <- w.line(line) }()
		select {
		case r := <-done:
			if r.Code != exitInterrupted || r.Out != "" {
				t.Errorf("rindkeep %s: exit code %d, want 130\n%s%s", line, r.Code, r.Out, r.Err)
			}
		case <-time.After(5 * time.Second):
			t.Errorf("rindkeep %s went on waiting for its input", line)
		}
	}
}

func TestAFaultOfOurOwnExitsWith70AndSaysWhereTheDetailsAre(t *testing.T) {
	w := newWorld(t).kept()
	tmp := t.TempDir()
	t.Setenv("TMPDIR", tmp)
	t.Setenv("TMP", tmp)
	var before, after struct{ Entries int }
	w.doc(&before, "book info")
	sane := w.env.Now
	n := 0
	w.env.Now = func() time.Time { // breaks in the midst of the transaction
		if n++; n > 0 {
			panic("a clock\x1b[31m that broke")
		}
		return morning
	}
	r := w.want(exitFault, `^rindkeep: Sorry, rindkeep hit a bug and stopped. Nothing from this command was saved; the `+
		`details are in (\S+)\n$`, "did", "turn", "all")
	r.plain(t, "a fault")
	details, err := os.ReadFile(regexp.MustCompile(`are in (\S+)`).FindStringSubmatch(r.Err)[1])
	if err != nil || !strings.Contains(string(details), "that broke") || !strings.Contains(string(details), "goroutine") {
		t.Errorf("the details of the fault: %v\n%s", err, details)
	}
	r = w.want(exitFault, `"exit":70`, "did", "turn", "all", "--json")
	w.env.Now = sane
	w.doc(&after, "book info")
	same(t, "entries after a fault", after, before)
	w.sound()
}

func TestAnOutputThatCannotBeWrittenFailsAndAReaderThatLeftDoesNot(t *testing.T) {
	w := newWorld(t).kept()
	for _, c := range []struct {
		err  error
		code int
	}{{os.ErrInvalid, exitRefused}, {io.ErrClosedPipe, exitDone}} {
		in, out := io.Pipe()
		in.CloseWithError(c.err)
		var errs bytes.Buffer
		e := w.env
		e.Out, e.Err = out, &errs
		if code := Run(t.Context(), []string{"today"}, e); code != c.code {
			t.Errorf("an output that fails with %q: exit code %d, want %d\n%s", c.err, code, c.code, errs.String())
		}
	}
}

func TestErrorsWithJSONAreOneObjectOnStderr(t *testing.T) {
	w := newWorld(t).kept()
	other := filepath.Join(w.dir, "other.book")
	text := w.file("text.book", strings.Repeat("a shopping list\n", 400))
	bad := w.file("bad.csv", "tag,weight\n261110A-01,heavy\n261110A-99,2000\n")
	future := w.file("good.csv", "tag,weight\n261110A-01,2026\n")
	for _, c := range []struct {
		what string
		line string
		code int
		want errorDoc
	}{
		{"a wheel that is not there", "wheel show 261110A-09", exitNotFound,
			errorDoc{`no wheel tagged "261110A-09"`, "261110A-09",
				"did you mean 261110A-01, 261110A-02, 261110A-03? lot 261110A has 4 wheels: 261110A-01 to -04", 4, "", nil}},
		{"a room that is not there", "today --room attic", exitNotFound,
			errorDoc{`no room named "attic"`, "--room", "", 4, "", nil}},
		{"a book that is not there", "today --book " + other, exitNoBook, errorDoc{"no book at " + other, "rindkeep today",
			"start one with: rindkeep start --book " + other + "   or look around: rindkeep demo", 5, "", nil}},
		{"a file that is no book", "today --book " + text, exitRefused,
			errorDoc{text + " is not a rindkeep book", "rindkeep today", "", 1, "", nil}},
		{"a table with a bad row", "weigh --from " + bad, exitRefused, errorDoc{"", bad + ":2", "", 1, "", nil}},
		{"a moment to come", "weigh 261110A-01 2000 --at 2026-11-25T12:00", exitRefused,
			errorDoc{"2026-11-25 12:00 is in the future: only what has happened can be recorded", "--at", "", 1, "", nil}},
		{"a flag that is none", "today --fast", exitUsage, errorDoc{"unknown flag: --fast", "rindkeep today",
			"rindkeep today --help shows its flags", 2, "", nil}},
		{"a word where a number belongs", "taste 261110A-01 --flavour good", exitUsage,
			errorDoc{`--flavour "good" can't be read; give a whole number`, "rindkeep taste",
				"rindkeep taste --help shows its flags", 2, "", nil}},
		{"a fraction where a whole number belongs", "ahead --days 1.5", exitUsage,
			errorDoc{`--days "1.5" can't be read; give a whole number`, "rindkeep ahead",
				"rindkeep ahead --help shows its flags", 2, "", nil}},
		{"a beginning at no time of day", "make new --variety tomme --wheels 1 --start 25:00", exitUsage,
			errorDoc{`can't read "25:00" as a time of day; give it like 8:30`, "--start", "", 2, "", nil}},
		{"two tables into one file", "trace 261110A --recall a.csv --fsma a.csv", exitUsage,
			errorDoc{"--recall and --fsma are two tables; name a file for each", "rindkeep trace", "", 2, "", nil}},
		{"a tag where an entry belongs", "wheel photo 261110A-01 --out a.jpg", exitNotFound,
			errorDoc{`no entry "261110A-01"`, "261110A-01", "name an entry by its wheel and its code, like 261120A-03:9f3c1a; " +
				"rindkeep wheel show TAG --history 0 shows the codes", 4, "", nil}},
		{"a command that is none", "tody", exitUsage,
			errorDoc{`no command "tody" in rindkeep`, "rindkeep", "did you mean rindkeep today?", 2, "", nil}},
		{"a job that is none", "did juggle all", exitUsage, errorDoc{"", "JOB", "", 2, "", nil}},
		{"two ways to give a weight", "weigh --from " + future + " 261110A-01 2000", exitUsage,
			errorDoc{"give weights on the command line or with --from, not both", "rindkeep weigh", "", 2, "", nil}},
	} {
		r := w.line(c.line + " --json")
		var got errorDoc
		d := json.NewDecoder(strings.NewReader(r.Err))
		d.DisallowUnknownFields()
		if err := d.Decode(&got); err != nil || d.More() {
			t.Errorf("%s: stderr is not one JSON object of error, where, hint, exit: %v\n%s", c.what, err, r.Err)
			continue
		}
		// A sentence or a hint that this test does not pin must be there.
		if c.want.Error == "" && got.Error != "" {
			c.want.Error = got.Error
		}
		if c.want.Hint == "" {
			c.want.Hint = got.Hint
		}
		if strings.Contains(got.Code, " ") {
			t.Errorf("%s: the code %q is no code", c.what, got.Code)
		}
		got.Code, got.Figures = "", nil // added where a refusal has them
		if r.Code != c.code || r.Out != "" || got != c.want {
			t.Errorf("%s: exit code %d, stdout %q, error\n%+v\nwant %d and\n%+v", c.what, r.Code, r.Out, got, c.code, c.want)
		}
	}
}

type errorDoc struct {
	Error   string `json:"error"`
	Where   string `json:"where"`
	Hint    string `json:"hint"`
	Exit    int    `json:"exit"`
	Code    string `json:"code"`
	Figures any    `json:"figures"`
}

func TestEveryKindOfFailureHasItsExitCode(t *testing.T) {
	w := newWorld(t).kept()
	for _, c := range []struct {
		what string
		line string
		code int
	}{
		{"a command that did its work", "today", 0},
		{"help", "weigh --help", 0},
		{"help of a group", "book", 0},
		{"help on a command", "help weigh", 0},
		{"help on nothing there is", "help wegh", 2},
		{"a weight that is refused", "weigh 261110A-01 2500", 1},
		{"a plan file that is not there", "plan check nowhere.toml", 1},
		{"a flag without its value", "today --room", 2},
		{"an argument missing", "wheel show", 2},
		{"one argument too many", "today all", 2},
		{"no such command", "yesterday", 2},
		{"no such command in a group", "book burn", 2},
		{"no such flag", "today --loudly", 2},
		{"a weight that is none", "weigh 261110A-01 heavy", 2},
		{"a date that is none", "today --on someday", 2},
		{"a number that is none", "demo --wheels many", 2},
		{"units that are none", "today --units cubits", 2},
		{"a log format that is none", "today --log-format xml", 2},
		{"both --on and --at", "today --on today --at 10:00", 2},
		{"no such wheel", "weigh 261110A-77 2000", 4},
		{"no such lot", "make show 990101A", 4},
		{"no such room", "room show attic", 4},
		{"no such plan", "plan show nothing", 4},
		{"no such variety", "variety show nothing", 4},
		{"no such entry", "strike 261110A-01:abcdef --why wrong", 4},
		{"no book there", "today --book " + filepath.Join(w.dir, "none.book"), 5},
	} {
		if r := w.line(c.line); r.Code != c.code {
			t.Errorf("%s (rindkeep %s): exit code %d, want %d\n%s%s", c.what, c.line, r.Code, c.code, r.Out, r.Err)
		} else if c.code != 0 && (r.Out != "" || !strings.HasPrefix(r.Err, "rindkeep: ")) {
			t.Errorf("%s (rindkeep %s): stdout %q, stderr %q; want one sentence on stderr", c.what, c.line, r.Out, r.Err)
		}
	}
}

func TestASlipOfTheCommandLineIsToldWhatWouldDo(t *testing.T) {
	w := newWorld(t).kept()
	w.must("make log 261110A ingredient --kind culture --name meso --lot MM-100 --quiet")
	for _, c := range []struct {
		code       int
		hint, line string
	}{
		{exitUsage, "hint: give it like: rindkeep coat WHAT wax", "wax"},
		{exitUsage, "hint: give it like: rindkeep did turn WHAT", "turn 261110A"},
		{exitUsage, "hint: give it like: rindkeep wheel hold WHAT", "hold 261110A --why blown"},
		{exitUsage, "hint: rindkeep wheel hold takes --kind, --why; --help says more", "wheel hold 261110A --because blown"},
		{exitUsage, "hint: rindkeep coat 261110A-01 wax", "coat wax 261110A-01"},
		{exitUsage, "hint: give it like: rindkeep make log LOT ingredient --kind culture", "make log 261110A culture"},
		{exitNotFound, "hint: it is the lot of an ingredient or of milk: rindkeep trace --ingredient MM-100", "trace MM-100"},
		{exitNotFound, "lot 261110A has 4 wheels: 261110A-01 to -04", "did turn 261110A-05"},
		{exitNotFound, "lot 261110A has 4 wheels: 261110A-01 to -04", "weigh 261110A-05 2000"},
	} {
		w.want(c.code, regexp.QuoteMeta(c.hint), strings.Fields(c.line)...)
	}
	w.must("taste 261110A-01 --flavor 4 --color 3 --quiet")
	if out := w.must("weigh 261110A-01 2.02 kg 261110A-02 2.015 kg"); !strings.Contains(out, "261110A-01  2020 g") ||
		!strings.Contains(out, "261110A-02  2015 g") {
		t.Errorf("a unit apart:\n%s", out)
	}
}

func TestAnActThatStoppedHalfWayIsNotSaidToHaveDoneNothing(t *testing.T) {
	w := newWorld(t)
	var errs bytes.Buffer
	e := w.env
	e.Out, e.Err = io.Discard, &errs
	c, _ := console.New(t.Context(), e)
	stopped := app.Stopped{Done: 2, Of: 5, ID: "ID", Err: context.Canceled}
	_, done, err := console.Saved(c, app.Did[int]{}, stopped)
	if code := c.Report(&errs, err, false); !done || code != exitInterrupted {
		t.Errorf("done %t, exit code %d", done, code)
	}
	want := "recorded for 2 of 5 wheels before that; to go on, run the same command again with --id ID;\n" +
		"to undo it: rindkeep strike last --why TEXT\nrindkeep: interrupted\n"
	if errs.String() != want {
		t.Errorf("%q, want %q", errs.String(), want)
	}
}
