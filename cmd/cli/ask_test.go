package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

func TestMakeNewAsksOnATerminalAndTakesItsDefaults(t *testing.T) {
	for _, c := range []struct {
		what    string
		answers string
		variety string
		wheels  float64
		date    string
		weights []any // of the wheels, in grams
		place   string
	}{
		{"everything by default but the variety", "edam\n\n\n\n\n\n", "edam", 1, "2026-11-25", []any{nil}, ""},
		{"everything answered", "cheddar-waxed\nyesterday\n3\n2100, 2090, 2080\nraw\ndrying/A/1\n", "cheddar-waxed", 3,
			"2026-11-24", []any{2100.0, 2090.0, 2080.0}, "drying/A/1"},
		{"one weight for all", "tomme\n2026-11-20\n2\n1.7kg\n\n\n", "tomme", 2, "2026-11-20", []any{1700.0, 1700.0}, ""},
		{"slips, asked again",
			"cheddar\ncheddar-waxed\nsomeday\ntoday\nmany\n0\n2\n2100\nboiled\npasteurised\na/b/c/d\ndrying\n", "cheddar-waxed",
			2, "2026-11-25", []any{2100.0, 2100.0}, "drying"},
	} {
		w := newWorld(t)
		w.must("room new drying --racks A:4x8 --quiet")
		w.env.In, w.env.InTTY = strings.NewReader(c.answers), true
		r := w.line("make new --json")
		if r.Code != 0 {
			t.Errorf("%s: exit code %d\n%s", c.what, r.Code, r.Err)
			continue
		}
		if !strings.Contains(r.Err, "what kind of cheese?") || strings.Contains(r.Out, "?") {
			t.Errorf("%s: the questions belong on stderr\nstdout %s\nstderr %s", c.what, r.Out, r.Err)
		}
		var makes struct{ Makes []map[string]any }
		w.doc(&makes, "make list")
		var list struct{ Wheels []map[string]any }
		w.doc(&list, "wheel list")
		if len(makes.Makes) != 1 || len(list.Wheels) != int(c.wheels) {
			t.Errorf("%s: %d makes, %d wheels", c.what, len(makes.Makes), len(list.Wheels))
			continue
		}
		var got []any
		for _, x := range list.Wheels {
			got = append(got, x["weight_g"])
			same(t, c.what+": place", x["place"], any(c.place))
		}
		same(t, c.what+": weights", got, c.weights)
		same(t, c.what+": variety", makes.Makes[0]["variety"], any(c.variety))
		same(t, c.what+": date", makes.Makes[0]["date"], any(c.date))
	}
}

func TestMakeNewThatIsNotAnsweredRecordsNothing(t *testing.T) {
	for _, answers := range []string{"", "edam\n", "edam\n\n2\n", "edam\n\n2\n1,2,3\n"} {
		w := newWorld(t)
		w.env.In, w.env.InTTY = strings.NewReader(answers), true
		w.want(exitUsage, "the answers ended early; nothing was recorded", "make", "new")
		w.want(exitNoBook, "no book at", "make", "list")
	}
}

func TestMakeNewNeverAsksWithFlagsOrWithoutATerminal(t *testing.T) {
	w := newWorld(t)
	w.env.In, w.env.InTTY = strings.NewReader("edam\n\n\n\n\n\n"), true
	w.want(exitUsage, "--variety is missing", "make", "new", "--wheels", "2")
	r := w.line("make new --variety edam --wheels 2")
	if r.Code != 0 || strings.Contains(r.Err, "?") {
		t.Errorf("make new with flags on a terminal: exit code %d, stderr %q", r.Code, r.Err)
	}
	w.env.InTTY = false
	w.want(exitUsage, "needs at least --variety and --wheels", "make", "new")
}

func TestNothingElseAsksOnATerminal(t *testing.T) {
	w := newWorld(t).kept()
	w.env.In, w.env.InTTY = strings.NewReader("yes\nyes\nyes\n"), true
	for _, args := range [][]string{{"weigh"}, {"coat", "all"}, {"wheel", "send", "all"}, {"strike", "last"}, {"did"},
		{"check", "all"}} {
		if r := w.run(args...); r.Code != exitUsage || strings.Contains(r.Err, "[y") {
			t.Errorf("rindkeep %q: exit code %d, stderr %q; want a usage error and no question", args, r.Code, r.Err)
		}
	}
}

func TestStrikeLastAsksOnATerminalUnlessItIsTheCommandJustTyped(t *testing.T) {
	w := newWorld(t).kept()
	answer := func(s string) { w.env.In, w.env.InTTY = strings.NewReader(s), true }
	answer("")
	w.must("weigh 261110A-01 1989 --sure")
	if r := w.run("strike", "last", "--why", "slip"); r.Code != 0 || strings.Contains(r.Err, "Type yes or no") ||
		!strings.Contains(r.Out, "cancelled: 261110A-01 weighed 1989 g") {
		t.Errorf("of the command just typed: %+v", r)
	}
	w.must("weigh 261110A-01 1990 --sure")
	w.want(exitRefused, "", "weigh", "261110A-02", "19900") // what was typed last wrote nothing
	answer("no\n")
	r := w.run("strike", "last", "--why", "slip")
	if r.Code != exitRefused || r.Out != "" || !strings.Contains(r.Err, "(rindkeep weigh, ") ||
		!strings.Contains(r.Err, "261110A-01 weighed 1990 g") || !strings.Contains(r.Err, "nothing was cancelled") {
		t.Errorf("%+v", r)
	}
	w.env.InTTY = false
	if strings.Count(w.must("wheel show 261110A-01 --history 0"), "STRUCK") != 1 {
		t.Error("it was cancelled nevertheless")
	}
	answer("yes\n")
	if r := w.run("strike", "last", "--why", "slip"); r.Code != 0 ||
		!strings.Contains(r.Out, "cancelled: 261110A-01 weighed 1990 g") {
		t.Errorf("%+v", r)
	}
	answer("no\n")
	w.must("weigh 261110A-01 1991 --sure")
	w.from = w.from.Add(6 * time.Minute)
	w.want(exitRefused, "Cancel it", "strike", "last", "--why", "slip")
	answer("")
	if got := w.must("strike last --why slip --sure"); !strings.Contains(got, "cancelled: 261110A-01 weighed 1991 g") {
		t.Errorf("with --sure: %s", got)
	}
	w.env.InTTY = false
	w.must("weigh 261110A-01 1992 --sure")
	w.from = w.from.Add(6 * time.Minute)
	w.want(exitRefused, `some time ago \(rindkeep weigh, `, "strike", "last", "--why", "slip")
	w.must("strike last --why slip --sure")
}

func TestMovingOrSavingWheelsToAFullPlaceAsksOnATerminal(t *testing.T) {
	w := newWorld(t).kept()
	w.must("room new larder --racks A:1x2 --quiet")
	for _, args := range [][]string{
		{"wheel", "move", "261110A-01", "261110A-02", "261110A-03", "larder/A/1"},
		{"make", "new", "--variety", "tomme", "--wheels", "3", "--place", "larder/A/1"},
		{"make", "wheels", "261110A", "--weights", "2000,2010,2020", "--place", "larder/A/1"},
		{"make", "receive", "--from", "Alder Farm", "--variety", "tomme", "--wheels", "3", "--place", "larder/A/1"},
	} {
		w.env.InTTY = false
		w.want(exitRefused, "larder/A/1 has room for 2 and would hold .* over capacity", args...)
		for _, answer := range []string{"no\n", "yes\n"} { // once they are there, other questions come first
			code := exitDone
			if answer == "no\n" {
				code = exitRefused
			}
			w.env.In, w.env.InTTY = strings.NewReader(answer), true
			r := w.run(args...)
			if r.Code != code || !strings.Contains(r.Err, "over capacity. Put them there? Type yes or no: ") {
				t.Errorf("%q answered %q: exit code %d, %s", args, answer, r.Code, r.Err)
			}
		}
	}
}

func TestSendingAWholeLotAsksOnATerminal(t *testing.T) {
	w := newWorld(t).kept()
	w.must("make new --lot L --variety tomme --treatment pasteurised --wheels 3 --quiet")
	send := func(answer string, what ...string) ran {
		w.env.In, w.env.InTTY = strings.NewReader(answer), answer != ""
		return w.run(append(append([]string{"wheel", "send"}, what...), "--to", "Shop")...)
	}
	const question = "send all 3 wheels to Shop: L-01 to -03? Type yes or no: "
	if r := send("no\n", "L"); r.Code != exitRefused || !strings.Contains(r.Err, question) ||
		!strings.Contains(r.Err, "nothing was sent") {
		t.Errorf("answered no: %+v", r)
	}
	if r := send("no\n", "L-01", "L-02..03"); r.Code != exitDone || strings.Contains(r.Err, "Type yes") {
		t.Errorf("named one by one: %+v", r)
	}
	w.must("strike last --why slip --sure")
	if r := send("yes\n", "L"); r.Code != exitDone || !strings.Contains(r.Out, "sent 3 wheels to Shop: L-01 to -03") {
		t.Errorf("answered yes: %+v", r)
	}
	w.must("make new --lot M --variety tomme --treatment pasteurised --wheels 2 --quiet")
	const sent = "sent 2 wheels to Shop: M-01, -02\nwrong? rindkeep strike last --why TEXT"
	if r := send("", "M"); r.Code != exitDone || !strings.Contains(r.Out, sent) {
		t.Errorf("without a terminal: %+v", r)
	}
}

func TestColourIsForTerminalsAloneAndNeverTheOnlyMark(t *testing.T) {
	w := newWorld(t).kept()
	w.must("check all --dry-to-touch --cracks no --weeping no --mould no")
	w.must("weigh 261110A-01 2016 261110A-02 2010 261110A-03 2023 261110A-04 2001")
	for _, line := range []string{"today", "dry", "wheel show 261110A-01", "curve 261110A-01", "room show drying"} {
		plain := w.line(line)
		plain.plain(t, "rindkeep "+line+" to a file")
		w.env.OutTTY, w.env.Width = true, 80
		colour := w.line(line)
		w.vars["NO_COLOR"] = "1"
		none := w.line(line)
		delete(w.vars, "NO_COLOR")
		w.vars["TERM"] = "dumb"
		dumb := w.line(line)
		delete(w.vars, "TERM")
		w.env.OutTTY, w.env.Width = false, 0
		if !strings.Contains(colour.Out, "\x1b[") {
			t.Errorf("rindkeep %s on a terminal has no colour", line)
		}
		same(t, "rindkeep "+line+" with NO_COLOR", none.Out, plain.Out)
		same(t, "rindkeep "+line+" on a dumb terminal", dumb.Out, plain.Out)
		same(t, "rindkeep "+line+" with its colour taken off", stripped(colour.Out), stripped(plain.Out))
	}
}

var (
	styles   = regexp.MustCompile("\x1b\\[[0-9;]*m")
	trailing = regexp.MustCompile(`(?m) +$`)
)

// stripped takes ANSI styles out of a text, and the spaces that end a line.
func stripped(s string) string {
	return trailing.ReplaceAllString(styles.ReplaceAllString(s, ""), "")
}

// spoiler is a person at the terminal whose disk goes away behind the last answer.
type spoiler struct {
	answers *strings.Reader
	spoil   func()
}

func (s spoiler) Read(p []byte) (int, error) {
	n, err := s.answers.Read(p)
	if s.answers.Len() == 0 {
		s.spoil()
	}
	return n, err
}

func TestStartThatCannotSaveGivesTheAnswersBackAsFlags(t *testing.T) {
	w := newWorld(t)
	dir := filepath.Join(t.TempDir(), "usb")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	book := filepath.Join(dir, "cave.book")
	w.env.InTTY = true
	w.env.In = spoiler{strings.NewReader("my fridge\n\n\n\n\nedam\nyesterday\n2\n\n1700\n\nraw\n\n"),
		func() { os.RemoveAll(dir) }}
	r := w.run("start", "--book", book)
	want := "rindkeep start --book " + book +
		" --place 'my fridge' --variety edam --made yesterday --wheels 2 --weights '1700;' --treatment raw\n"
	if r.Code == 0 || r.Out != "" || !strings.Contains(r.Err, want) {
		t.Errorf("%+v\nwant %s", r, want)
	}
}
