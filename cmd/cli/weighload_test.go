package cli

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cmd/app/drying"
)

// loadsFrom has tables of more rows than that loaded.
func loadsFrom(t *testing.T, long int) {
	t.Helper()
	was := drying.Long
	drying.Long = long
	t.Cleanup(func() { drying.Long = was })
}

// shelf is a world with a lot of that many tommes, two weeks old.
func shelf(t *testing.T, wheels int) *world {
	t.Helper()
	w := newWorld(t)
	w.must("room new cellar --temp 12C --rh 90% --quiet")
	w.must(fmt.Sprintf("make new --variety tomme --wheels %d --lot big --place cellar --on 2026-11-10 --quiet", wheels))
	return w
}

// weights is a table of each of the wheels weighed on so many days.
func weights(wheels, days int) string {
	tag := func(k int) string {
		if wheels < 100 {
			return fmt.Sprintf("big-%02d", k)
		}
		return fmt.Sprintf("big-%03d", k)
	}
	var b strings.Builder
	b.WriteString("wheel,kg,day,time,remark\n")
	for d := range days {
		for k := 1; k <= wheels; k++ {
			fmt.Fprintf(&b, "%s,%.3f,2026-11-%02d,08:%02d,%s\n", tag(k), 2-0.008*float64(d)-0.001*float64(k%3), 11+d, k%60,
				map[bool]string{true: "by hand"}[k == 2])
		}
	}
	return b.String()
}

func TestALongTableRecordsWhatAShortOneDoes(t *testing.T) {
	type entry struct {
		What, At, By, Note string
		Weight             *float64 `json:"weight_g"`
	}
	history := func(w *world, tag string) (out []entry) {
		var card struct{ Entries []entry }
		w.doc(&card, "wheel show "+tag+" --history 0")
		return card.Entries
	}
	short, long := shelf(t, 6), shelf(t, 6)
	table := weights(6, 9)
	short.must("weigh --from " + short.file("w.csv", table) + " --note all --by Ann")
	loadsFrom(t, 20)
	if got, want := long.must("weigh --from "+long.file("w.csv",
		table)+" --note all --by Ann --quiet"), "recorded 54 weights of 6 wheels\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for k := 1; k <= 6; k++ {
		tag := fmt.Sprintf("big-%02d", k)
		if d := cmp.Diff(history(short, tag), history(long, tag)); d != "" {
			t.Errorf("%s (-short +long):\n%s", tag, d)
		}
	}
	long.sound()
	if d := cmp.Diff(short.must("today --on 2026-12-01"), long.must("today --on 2026-12-01")); d != "" {
		t.Errorf("the day's list (-short +long):\n%s", d)
	}
	// Over again, by either way.
	for _, limit := range []int{20, 1000} {
		loadsFrom(t, limit)
		if got := long.must("weigh --from " + filepath.Join(long.dir, "w.csv") + " --quiet"); !strings.Contains(got,
			"54 weights in the book already") && strings.Count(got, "no change") != 54 {
			t.Errorf("again with %d: %s", limit, got)
		}
	}
}

func TestALoadsDocumentKeepsItsFields(t *testing.T) {
	w := shelf(t, 3)
	loadsFrom(t, 5)
	var v map[string]any
	w.doc(&v, "weigh --from "+w.file("w.csv", weights(3, 4)))
	golden(t, filepath.Join("json", "weigh-load.txt"), strings.Join(shapeOf(v), "\n")+"\n")
	want := map[string]any{"schema": "rindkeep/weigh-load/1", "rows": 12.0, "recorded": 12.0, "no_change": 0.0,
		"wheels": 3.0, "dry_run": false}
	if d := cmp.Diff(want, v); d != "" {
		t.Error(d)
	}
}

func TestADryRunOfALoadChecksEveryRowAndRecordsNothing(t *testing.T) {
	w := shelf(t, 3)
	loadsFrom(t, 5)
	before := w.must("book export -")
	same(t, "a dry run", w.must("weigh --dry-run --from "+w.file("w.csv", weights(3, 4))),
		"checked 12 weights: nothing is wrong with them\n")
	w.want(exitRefused, "line 14", "weigh", "--dry-run", "--from",
		w.file("w.csv", weights(3, 4)+"big-01,heavy,2026-11-24\n"))
	same(t, "the book after them", w.must("book export -"), before)
}

func TestALoadWantsEachRowsDay(t *testing.T) {
	loadsFrom(t, 3)
	for _, x := range []struct{ what, flags, rows, says string }{
		{"no date", "", "big-01,2000,\n",
			`w.csv line 6, column C (date): a table of over 3 rows needs each row's date; give it, or --on or --at for all`},
		{"a word for a day", "", "big-01,2000,yesterday\n",
			`"yesterday" is another day when the table is read again; write the date as 2026-11-25`},
		{"a day of the week", "", "big-01,2000,wed\n", `"wed" is another day`},
		{"a time alone", "", "big-01,2000,07:15\n", `"07:15" is another day`},
		{"no date at all", "", "big-01,2000,soon\n", `"soon" is not a date or time`},
		{"the future", "", "big-01,2000,2026-11-26\n", `2026-11-26 is in the future`},
		{"no identity", "", "big-01,2000,2026-11-20,x\n", `(id): "x" is not a UUID`},
		{"a heavy row", "", "big-01,2500,2026-11-20\n", `looks wrong: it is 510 g heavier`},
		{"no such wheel", "", "bog-01,2000,2026-11-20\n", `no wheel tagged "bog-01"; did you mean big-01`},
		{"a date for all", " --on 2026-11-20", "big-01,1960,\n", ""},
		{"a heavy row that is sure", " --sure", "big-01,2500,2026-11-20\n", ""},
	} {
		w := shelf(t, 2).here(t)
		table := "tag,weight,date,id\nbig-01,2000,2026-11-12\nbig-01,1990,2026-11-15\nbig-02,2000,2026-11-" +
			"12\nbig-02,1990,2026-11-15\n" + x.rows
		r := w.line("weigh --from " + filepath.Base(w.file("w.csv", table)) + x.flags)
		if x.says == "" {
			if r.Code != 0 || !strings.HasPrefix(r.Out, "recorded 5 weights of 2 wheels") {
				t.Errorf("%s: %+v", x.what, r)
			}
			continue
		}
		if r.Code != 1 || r.Out != "" || !strings.Contains(r.Err, x.says) ||
			!strings.Contains(r.Err, "w.csv has 1 problem; nothing was recorded") {
			t.Errorf("%s: %+v", x.what, r)
		}
		if got := w.must("wheel show big-02"); strings.Contains(got, "2000 g") {
			t.Errorf("%s: something was recorded:\n%s", x.what, got)
		}
	}
}

func TestATableOfSomeLengthIsOneCommandsAndIsStruckAsOne(t *testing.T) {
	loadsFrom(t, 10_000)
	w := shelf(t, drying.Few+1)
	// a row without its date: it is of the day given
	table := w.file("w.csv", strings.Replace(weights(drying.Few+1, 2), "2026-11-11,08:01", ",", 1))
	if got := w.must("weigh --from " + table + " --on today --sure"); !strings.HasPrefix(got, fmt.Sprintf(
		"recorded %d weights of %d wheels", 2*(drying.Few+1), drying.Few+1)) || !strings.Contains(got, "strike last") {
		t.Fatal(got)
	}
	if got := w.must("strike last --why wrong"); !strings.Contains(got, fmt.Sprintf("and %d more", 2*(drying.Few+1)-20)) {
		t.Errorf("struck: %s", got)
	}
	w.sound()
}

func TestAWrongBeginningOfALongTableEndsIt(t *testing.T) {
	loadsFrom(t, 5)
	w := shelf(t, 2).here(t)
	table := weights(2, 10) + "\"big-01,1.9\n"
	r := w.line("weigh --from " + filepath.Base(w.file("w.csv", table)))
	if r.Code != 1 || !strings.Contains(r.Err, "a quote mark is where none belongs") ||
		!strings.Contains(r.Err, "nothing was recorded") {
		t.Errorf("%+v", r)
	}
	var many strings.Builder
	many.WriteString("tag,weight,date\n")
	for i := range 3000 {
		fmt.Fprintf(&many, "none-%d,2000,2026-11-12\n", i)
	}
	r = w.line("weigh --from " + filepath.Base(w.file("w.csv", many.String())))
	if r.Code != 1 || !strings.HasSuffix(r.Err, "w.csv has at least 1000 problems; nothing was recorded\n") {
		t.Errorf("exit code %d, %d bytes of problems", r.Code, len(r.Err))
	}
}

func TestALoadTellsHowFarItHasCome(t *testing.T) {
	loadsFrom(t, 5)
	w := shelf(t, 400)
	table := w.file("w.csv", weights(400, 8))
	var n atomic.Int64 // several look at the clock at once
	w.env.Now = func() time.Time {
		return morning.Add(time.Duration(w.ran)*time.Second + time.Duration(n.Add(1))*300*time.Millisecond)
	}
	if r := w.line("weigh --from " + table); strings.Contains(r.Err, "\r") {
		t.Errorf("to no terminal: %q", r.Err)
	}
	w.env.OutTTY = true
	for _, quiet := range []string{" --quiet", " --json"} {
		if r := w.line("weigh --from " + table + quiet); strings.Contains(r.Err, "\r") {
			t.Errorf("with%s: %q", quiet, r.Err)
		}
	}
	r := w.line("weigh --from " + table)
	for _, want := range []string{`\rread \d+ % of the table`, `\rchecked 3200 of 3200 weights`,
		`\rrecorded 3200 of 3200 weights`} {
		if !regexp.MustCompile(want).MatchString(r.Err) {
			t.Errorf("%q does not tell %q", r.Err, want)
		}
	}
	if !strings.HasSuffix(r.Err, "\r\x1b[K") {
		t.Errorf("the line is left standing: %q", r.Err)
	}
	w.env.OutTTY = false
	if r := w.line("weigh --verbose --log-format json --from " + table); !strings.Contains(r.Err, `"message":"recorded"`) {
		t.Errorf("--verbose: %q", r.Err)
	}
}
