package schedule

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

const head = "name = \"waxed-hard\"\ntitle = \"Waxed\"\n" // lines 1 and 2

func TestPlanIsReadWhole(t *testing.T) {
	got, err := ParsePlan("mine.toml", []byte("\xef\xbb\xbf"+`name  = "my-plan"
title = "Mine"
note  = "of my own"

[dry]
min_days     = 4
min_loss     = 3
max_loss     = "10%"
max_surface  = "60%"
max_moisture = "36,5%"
check_days   = 1
weigh_days   = 9

[[step]]
job     = "Turned"
per_day = 2
until   = "coated"

[[step]]
job     = "coat"
coat    = "wax"
when    = "dry"
after   = "WEIGHED"
note    = "two coats"
minutes = 7.5

[[step]]
job       = "rub"
every     = "2w"
from_day  = 0
until_day = 90
after     = "coat"
slack     = 3

[[step]]
job  = "taste"
days = [60, 120]

[[step]]
job = "move"
to  = "room 2"
`))
	if err != nil {
		t.Fatal(err)
	}
	if got.Text[:4] != "name" {
		t.Errorf("Text begins %q, want the byte order mark gone", got.Text[:4])
	}
	got.Text = ""
	want := Plan{
		Name: "my-plan", Title: "Mine", Note: "of my own",
		Gate: verdict.Gate{MinDays: 4, MinLoss: 0.03, MaxLoss: 0.10, MaxSurface: 0.6, MaxMoisture: 0.365, CheckDays: 1,
			WeighDays: 9, UntilDay: None},
		Steps: []Step{
			{Job: wheel.Turn, PerDay: 2, FromDay: None, UntilDay: None, Until: "coated", Minutes: DefaultMinutes(wheel.Turn),
				Line: 14},
			{Job: wheel.Coat, Coat: "wax", When: "dry", FromDay: None, UntilDay: None, After: "weigh", Note: "two coats",
				Minutes: 7.5, Line: 19},
			{Job: wheel.Rub, Every: 14, FromDay: 0, UntilDay: 90, After: "coated", Slack: 3,
				Minutes: DefaultMinutes(wheel.Rub), Line: 27},
			{Job: wheel.Taste, Days: []int{60, 120}, FromDay: None, UntilDay: None, Minutes: DefaultMinutes(wheel.Taste),
				Line: 35},
			{Job: wheel.Move, To: "room 2", FromDay: None, UntilDay: None, Minutes: DefaultMinutes(wheel.Move), Line: 39},
		},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestPlanIsRefusedByNameLineAndReason(t *testing.T) {
	step := func(lines ...string) string {
		return head + "[[step]]\n" + strings.Join(lines, "\n") + "\n" // keys from line 4
	}
	turn := `job = "turn"`
	coat := "job = \"coat\"\ncoat = \"wax\""
	var names []string
	for _, c := range drying.Coats() {
		names = append(names, string(c))
	}
	coats := strings.Join(names, ", ")
	const (
		jobs   = "check, weigh, taste, redress, turn, press, brush, salt, rub, wash, oil, pierce, smoke, coat, move"
		events = "pressing, drying, coated, ripening, ready, gone, " + jobs
		keys   = "job, coat, to, per_day, days, minutes_after, from_day, until_day, after, until, when, slack, note, " +
			"minutes, every"
	)
	dry := func(line string) string { return head + "[dry]\n" + line + "\n[[step]]\njob = \"turn\"\n" }
	for _, c := range []struct{ name, text, want string }{
		{"minutes after the make began, and a day", step(turn, `minutes_after = 30`, `from_day = 1`),
			`p.toml line 6: from_day: not-together {What:from_day Other:minutes_after}`},
		{"minutes after the make began, and slack", step(turn, `minutes_after = 30`, `slack = 1`),
			`p.toml line 6: slack: not-together {What:slack Other:minutes_after}`},
		{"minutes after the make began, and a stage", step(turn, `minutes_after = 30`, `after = "drying"`),
			`p.toml line 6: after: not-together {What:after Other:minutes_after}`},
		{"minutes after the make began, and an interval", step(turn, `every = "1d"`, `minutes_after = 30`),
			`p.toml line 6: minutes_after: only-one {Of:every, per_day, days, minutes_after}`},
		{"minutes that fall", step(turn, `minutes_after = [60, 30]`),
			`p.toml line 5: minutes_after: not-rising {Before:60 After:30}`},
		{"minutes twice the same", step(turn, `minutes_after = [60, 60]`),
			`p.toml line 5: minutes_after: not-rising {Before:60 After:60}`},
		{"an empty list of minutes", step(turn, `minutes_after = []`),
			`p.toml line 5: minutes_after: empty empty`},
		{"minutes before the make", step(turn, `minutes_after = -5`),
			`p.toml line 5: minutes_after: out-of-range {Low:0 High:4320 Unit:minutes Whole:true}`},
		{"minutes beyond three days", step(turn, `minutes_after = [4321]`),
			`p.toml line 5: minutes_after: out-of-range {Low:0 High:4320 Unit:minutes Whole:true}`},
		{"half a minute", step(turn, `minutes_after = 1.5`),
			`p.toml line 5: minutes_after: out-of-range {Low:0 High:4320 Unit:minutes Whole:true}`},
		{"minutes in words", step(turn, `minutes_after = "1h"`),
			`p.toml line 5: minutes_after: out-of-range {Low:0 High:4320 Unit:minutes Whole:true}`},
		{"a coat minutes after the make began", step(coat, `minutes_after = 30`),
			`p.toml line 6: minutes_after: not-together {What:minutes_after Other:coat}`},
		{"the times of a job in two steps", step(turn, `minutes_after = 30`, `[[step]]`, turn, `minutes_after = 60`),
			`p.toml line 8: minutes_after: times-elsewhere {Job:turn}`},
		{"an interval with a wrong letter", step(turn, `every = "7x"`),
			`p.toml line 5: every: unreadable {What:interval Word:7x}`},
		{"an interval without its letter", step(turn, `every = "7"`),
			`p.toml line 5: every: unreadable {What:interval Word:7}`},
		{"an interval as a bare number", step(turn, `every = 7`),
			`p.toml line 5: every: wrong-kind {Want:text}`},
		{"an interval of letters only", step(turn, `every = "d"`),
			`p.toml line 5: every: unreadable {What:interval Word:d}`},
		{"an empty interval", step(turn, `every = ""`),
			`p.toml line 5: every: unreadable {What:interval Word:}`},
		{"a negative interval", step(turn, `every = "-7d"`),
			`p.toml line 5: every: unreadable {What:interval Word:-7d}`},
		{"an interval of no days", step(turn, `every = "0d"`),
			`p.toml line 5: every: out-of-range {Low:1 High:365 Unit:days Whole:true}`},
		{"an interval over a year", step(turn, `every = "53w"`),
			`p.toml line 5: every: out-of-range {Low:1 High:365 Unit:days Whole:true}`},
		{"an interval too long to count", step(turn, `every = "99999999999999999999d"`),
			`p.toml line 5: every: unreadable {What:interval Word:99999999999999999999d}`},
		{"no rounds a day", step(turn, `per_day = 0`),
			`p.toml line 5: per_day: out-of-range {Low:1 High:6 Unit:rounds Whole:true}`},
		{"seven rounds a day", step(turn, `per_day = 7`),
			`p.toml line 5: per_day: out-of-range {Low:1 High:6 Unit:rounds Whole:true}`},
		{"half a round", step(turn, `per_day = 1.5`),
			`p.toml line 5: per_day: out-of-range {Low:1 High:6 Unit:rounds Whole:true}`},
		{"both an interval and rounds", step(turn, `every = "7d"`, `per_day = 2`),
			`p.toml line 6: per_day: only-one {Of:every, per_day, days, minutes_after}`},
		{"both an interval and days", step(turn, `days = [1]`, `every = "7d"`),
			`p.toml line 6: every: only-one {Of:every, per_day, days, minutes_after}`},
		{"days that fall", step(turn, `days = [60, 30]`),
			`p.toml line 5: days: not-rising {Before:60 After:30}`},
		{"a day named twice", step(turn, `days = [60, 60]`),
			`p.toml line 5: days: not-rising {Before:60 After:60}`},
		{"a day before the make", step(turn, `days = [-1]`),
			`p.toml line 5: days: out-of-range {Low:0 High:3650 Unit:days Whole:true}`},
		{"a day after ten years", step(turn, `days = [3651]`),
			`p.toml line 5: days: out-of-range {Low:0 High:3650 Unit:days Whole:true}`},
		{"no days", step(turn, `days = []`),
			`p.toml line 5: days: empty empty`},
		{"days as text", step(turn, `days = "60"`),
			`p.toml line 5: days: wrong-kind {Want:numbers}`},
		{"a day as text", step(turn, `days = ["60"]`),
			`p.toml line 5: days: out-of-range {Low:0 High:3650 Unit:days Whole:true}`},
		{"a window that ends before it begins", step(turn, `from_day = 20`, `until_day = 10`),
			`p.toml line 6: until_day: empty-window {From:20 Until:10}`},
		{"a window that begins before the make", step(turn, `from_day = -1`),
			`p.toml line 5: from_day: out-of-range {Low:0 High:3650 Unit:days Whole:true}`},
		{"a window that ends too late", step(turn, `until_day = 4000`),
			`p.toml line 5: until_day: out-of-range {Low:0 High:3650 Unit:days Whole:true}`},
		{"a day outside the window", step(turn, `days = [5, 60]`, `from_day = 10`),
			`p.toml line 5: days: outside-window {Day:5}`},
		{"a day after the window", step(turn, `days = [5, 60]`, `until_day = 59`),
			`p.toml line 5: days: outside-window {Day:60}`},
		{"a stage misspelt", step(turn, `after = "coatd"`),
			`p.toml line 5: after: unknown {What:after Word:coatd Known:` + events + `}`},
		{"a job misspelt in a window", step(turn, `until = "piercd"`),
			`p.toml line 5: until: unknown {What:until Word:piercd Known:` + events + `}`},
		{"a stage like no other word", step(turn, `until = "xyzzy"`),
			`p.toml line 5: until: unknown {What:until Word:xyzzy Known:` + events + `}`},
		{"an empty stage", step(turn, `until = ""`),
			`p.toml line 5: until: unknown {What:until Word: Known:` + events + `}`},
		{"a window that opens and closes with one thing", step(turn, `after = "coat"`, `until = "coated"`),
			`p.toml line 6: until: empty-window {From:coated Until:coated}`},
		{"a window that runs backwards", step(turn, `after = "ready"`, `until = "drying"`),
			`p.toml line 6: until: empty-window {From:ready Until:drying}`},
		{"a coat before drying", step(turn, `after = "coated"`, `until = "drying"`),
			`p.toml line 6: until: empty-window {From:coated Until:drying}`},
		{"a window after the end", step(turn, `after = "gone"`),
			`p.toml line 5: after: empty-window {From:gone Until:}`},
		{"a window until the beginning", step(turn, `until = "pressing"`),
			`p.toml line 5: until: empty-window {From: Until:pressing}`},
		{"no job", step(`every = "7d"`),
			`p.toml line 3: job: unknown {What:job Word: Known:` + jobs + `}`},
		{"a job misspelt", step(`job = "trun"`),
			`p.toml line 4: job: unknown {What:job Word:trun Known:` + jobs + `}`},
		{"a job there is not", step(`job = "sing"`),
			`p.toml line 4: job: unknown {What:job Word:sing Known:` + jobs + `}`},
		{"a job that is no text", step(`job = 3`),
			`p.toml line 4: job: wrong-kind {Want:text}`},
		{"a coat on a turn", step(turn, `coat = "wax"`),
			`p.toml line 5: coat: only-for {Job:coat Is:turn}`},
		{"a coat step without its coat", step(`job = "coat"`),
			`p.toml line 3: coat: unknown {What:coat Word: Known:` + coats + `}`},
		{"a coat misspelt", step(`job = "coat"`, `coat = "wacks"`),
			`p.toml line 5: coat: unknown {What:coat Word:wacks Known:` + coats + `}`},
		{"a coat nearly right", step(`job = "coat"`, `coat = "waxs"`),
			`p.toml line 5: coat: unknown {What:coat Word:waxs Known:` + coats + `}`},
		{"a place on a turn", step(turn, `to = "room 1"`),
			`p.toml line 5: to: only-for {Job:move Is:turn}`},
		{"an empty place", step(`job = "move"`, `to = " "`),
			`p.toml line 5: to: empty empty`},
		{"a gate on a turn", step(turn, `when = "dry"`),
			`p.toml line 5: when: only-for {Job:coat Is:turn}`},
		{"a gate there is not", step(coat, `when = "sunny"`),
			`p.toml line 6: when: unknown {What:when Word:sunny Known:dry}`},
		{"slack as long as the interval", step(turn, `every = "3d"`, `slack = 3`),
			`p.toml line 6: slack: long-slack {Slack:3 Between:3}`},
		{"slack on rounds", step(turn, `per_day = 2`, `slack = 1`),
			`p.toml line 6: slack: not-together {What:slack Other:per_day}`},
		{"slack as long as the gap between days", step(turn, `days = [1, 3]`, `slack = 2`),
			`p.toml line 6: slack: long-slack {Slack:2 Between:2}`},
		{"negative slack", step(turn, `slack = -1`),
			`p.toml line 5: slack: out-of-range {Low:0 High:30 Unit:days Whole:true}`},
		{"more than two hours a wheel", step(turn, `minutes = 121`),
			`p.toml line 5: minutes: out-of-range {Low:0 High:120 Unit:minutes Whole:false}`},
		{"minutes that are no number", step(turn, `minutes = nan`),
			`p.toml line 5: minutes: out-of-range {Low:0 High:120 Unit:minutes Whole:false}`},
		{"minutes as text", step(turn, `minutes = "3"`),
			`p.toml line 5: minutes: out-of-range {Low:0 High:120 Unit:minutes Whole:false}`},
		{"a note with an escape sequence", step(turn, `note = "\u001b[2J"`),
			`p.toml line 5: note: hidden-character {Char:0}`},
		{"a note that turns the direction of writing", step(turn, `note = "\u202e"`),
			`p.toml line 5: note: hidden-character {Char:0}`},
		{"a note of two lines", step(turn, `note = "a\nb"`),
			`p.toml line 5: note: hidden-character {Char:0}`},
		{"a note too long", step(turn, `note = "`+strings.Repeat("x", 501)+`"`),
			`p.toml line 5: note: too-long {What:text Has:501 Most:500}`},
		{"a key misspelt", step(turn, `evry = "7d"`),
			`p.toml line 5: evry: unknown {What:key Word:evry Known:` + keys + `}`},
		{"a key in capitals", step(turn, `EVERY = "7d"`),
			`p.toml line 5: EVERY: unknown {What:key Word:EVERY Known:` + keys + `}`},
		{"a key there is not", step(turn, `colour = "red"`),
			`p.toml line 5: colour: unknown {What:key Word:colour Known:` + keys + `}`},
		{"a key with an escape sequence", step(turn, `"\u001b[2J" = 1`),
			`p.toml line 5: ?[2J: unknown {What:key Word:?[2J Known:` + keys + `}`},
		{"a key at the top there is not", "nam = \"x\"\n" + step(turn),
			`p.toml line 1: nam: unknown {What:key Word:nam Known:name, title, note, dry, step}`},
		{"a key of a step at the top", "every = \"7d\"\n" + step(turn),
			`p.toml line 1: every: unknown {What:key Word:every Known:name, title, note, dry, step}`},
		{"a key given twice", step(turn, turn),
			`p.toml line 5: : not-toml {Detail:key job is already defined}`},
		{"a table misspelt", step(turn) + "[dri]\n",
			`p.toml line 5: dri: unknown {What:key Word:dri Known:name, title, note, dry, step}`},
		{"a table there is not", step(turn) + "[humidity]\n",
			`p.toml line 5: humidity: unknown {What:key Word:humidity Known:name, title, note, dry, step}`},
		{"a table inside a step", step(turn) + "[step.more]\n",
			`p.toml line 5: more: unknown {What:key Word:more Known:` + keys + `}`},
		{"a step with one bracket", head + "[step]\njob = \"turn\"\n",
			`p.toml line 3: step: wrong-kind {Want:tables}`},
		{"a gate with two brackets", step(turn) + "[[dry]]\n",
			`p.toml line 5: dry: wrong-kind {Want:table}`},
		{"the name as a table", "title = \"x\"\n[name]\n",
			`p.toml line 2: name: wrong-kind {Want:text}`},
		{"a step that is no table", head + "step = 3\n",
			`p.toml line 3: step: wrong-kind {Want:tables}`},
		{"a step by a dotted key", head + "step.job = \"turn\"\n",
			`p.toml line 3: step: wrong-kind {Want:tables}`},
		{"a key inside a plain key", head + "[[step]]\njob.turn = 1\n",
			`p.toml line 4: job: wrong-kind {Want:text}`},
		{"a gate by dotted keys, with a fault", head + "dry.min_days = -2\n[[step]]\njob = \"turn\"\n",
			`p.toml line 3: min_days: out-of-range {Low:0 High:60 Unit:days Whole:true}`},
		{"a list of steps that are no tables", head + "step = [1]\n",
			`p.toml line 3: step: wrong-kind {Want:tables}`},
		{"a gate that is no table", head + "dry = true\n",
			`p.toml line 3: dry: wrong-kind {Want:table}`},
		{"an inline step with a fault", head + "step = [{job = \"turn\"},\n {job = \"trun\"}]\n",
			`p.toml line 4: job: unknown {What:job Word:trun Known:` + jobs + `}`},
		{"an inline step with a wrong key", head + "step = [{job = \"turn\", evry = \"7d\"}]\n",
			`p.toml line 3: evry: unknown {What:key Word:evry Known:` + keys + `}`},
		{"a table where text belongs", step(`job = {turn = 1}`),
			`p.toml line 4: job: wrong-kind {Want:text}`},
		{"no step", head,
			`p.toml line 0: step: missing {What:step}`},
		{"too many steps", head + strings.Repeat("[[step]]\njob = \"turn\"\n", 101),
			`p.toml line 3: step: too-long {What:list Has:101 Most:100}`},
		{"no name", "title = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 0: name: missing {What:name}`},
		{"no title", "name = \"xx\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 0: title: missing {What:title}`},
		{"a name in capitals", "name = \"Waxed\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 1: name: unreadable {What:name Word:Waxed}`},
		{"a name that looks like a flag", "name = \"-rf\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 1: name: unreadable {What:name Word:-rf}`},
		{"a name of one letter", "name = \"a\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 1: name: unreadable {What:name Word:a}`},
		{"a name of ten kilobytes is cut", "name = \"" + strings.Repeat("a", 900) +
			"\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 1: name: unreadable {What:name Word:aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa…}`},
		{"a title too long", "name = \"xx\"\ntitle = \"" + strings.Repeat("x", 81) + "\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 2: title: too-long {What:text Has:81 Most:80}`},
		{"a control character in the file", head + "# \x07\n",
			`p.toml line 3: : hidden-character {Char:7}`},
		{"a direction mark in a comment", head + "# \u202e\n",
			`p.toml line 3: : hidden-character {Char:8238}`},
		{"a lone carriage return", head + "# a\rb\n",
			`p.toml line 3: : not-toml {Detail:carriage returns are not allowed in comments}`},
		{"bytes that are no UTF-8", head + "# \xff\n",
			`p.toml line 3: : not-toml {Detail:invalid UTF-8 character in comment}`},
		{"a file too large", strings.Repeat("#\n", 32769),
			`p.toml line 0: : too-long {What:file Has:65538 Most:65536}`},
		{"a gate with a wrong key", dry(`min_lost = 3`),
			`p.toml line 4: min_lost: unknown {What:key Word:min_lost` +
				` Known:min_days, min_loss, max_loss, max_surface, max_moisture, check_days, weigh_days}`},
		{"a loss over everything", dry(`min_loss = "138%"`),
			`p.toml line 4: min_loss: out-of-range {Low:0 High:30 Unit:% Whole:false}`},
		{"a loss below nothing", dry(`min_loss = "-1%"`),
			`p.toml line 4: min_loss: out-of-range {Low:0 High:30 Unit:% Whole:false}`},
		{"a loss that is no figure", dry(`min_loss = "some"`),
			`p.toml line 4: min_loss: out-of-range {Low:0 High:30 Unit:% Whole:false}`},
		{"a loss given as a fraction", dry(`min_loss = 0.025`),
			`p.toml line 4: min_loss: out-of-range {Low:0.1 High:30 Unit:% Whole:false}`},
		{"a highest loss given as a fraction", dry(`max_loss = 0.12`),
			`p.toml line 4: max_loss: out-of-range {Low:1 High:60 Unit:% Whole:false}`},
		{"a surface share given as a fraction", dry(`max_surface = 0.75`),
			`p.toml line 4: max_surface: out-of-range {Low:5 High:100 Unit:% Whole:false}`},
		{"a surface share over one", dry(`max_surface = 120`),
			`p.toml line 4: max_surface: out-of-range {Low:5 High:100 Unit:% Whole:false}`},
		{"a moisture too high", dry(`max_moisture = 95`),
			`p.toml line 4: max_moisture: out-of-range {Low:10 High:80 Unit:% Whole:false}`},
		{"a loss that is no number", dry(`min_loss = inf`),
			`p.toml line 4: min_loss: out-of-range {Low:0 High:30 Unit:% Whole:false}`},
		{"the least loss over the highest", dry(`max_loss = "2%"`),
			`p.toml line 4: max_loss: not-over {Value:2 Other:min_loss Limit:2.5 Unit:%}`},
		{"the least loss at the highest by default", dry(`min_loss = "12%"`),
			`p.toml line 4: min_loss: not-under {Value:12 Other:max_loss Limit:12 Unit:%}`},
		{"days of drying below nothing", dry(`min_days = -1`),
			`p.toml line 4: min_days: out-of-range {Low:0 High:60 Unit:days Whole:true}`},
		{"a hand check that is stale at once", dry(`check_days = 0`),
			`p.toml line 4: check_days: out-of-range {Low:1 High:30 Unit:days Whole:true}`},
		{"something that is no TOML", head + "job: turn\n",
			`p.toml line 3: : not-toml {Detail:expected '=' after key}`},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, err := ParsePlan("p.toml", []byte(c.text))
			if err == nil {
				t.Fatalf("accepted as %+v, want %s", p, c.want)
			}
			if err.Error() != c.want {
				t.Errorf("\n got %s\nwant %s", err, c.want)
			}
		})
	}
}

func TestFileNameInAnErrorIsFitToPrint(t *testing.T) {
	for name, want := range map[string]string{
		"waxed-hard.toml":         "waxed-hard.toml",
		"some/where/mine.toml":    "mine.toml",
		"a\x1b[2Jb.toml":          "a?[2Jb.toml",
		"":                        "",
		strings.Repeat("x", 5000): strings.Repeat("x", 79) + "…",
	} {
		_, err := ParsePlan(name, nil)
		if want += " line 0: name: missing {What:name}"; err == nil || err.Error() != want {
			t.Errorf("ParsePlan(%q): got %v, want %s", name, err, want)
		}
	}
}

func TestAHostileFileIsRefusedQuickly(t *testing.T) {
	const n = 60_000
	for name, text := range map[string]string{
		"deep lists":       "name = " + strings.Repeat("[", n),
		"closed lists":     "name = " + strings.Repeat("[", n/2) + strings.Repeat("]", n/2),
		"deep tables":      "name = " + strings.Repeat("{a=", n/3),
		"a long key":       "step" + strings.Repeat(".a", n/2) + " = 1",
		"a long table":     "[step" + strings.Repeat(".a", n/2) + "]",
		"a long word":      head + "[[step]]\njob = \"" + strings.Repeat("a", n) + "\"",
		"many steps":       head + strings.Repeat("[[step]]\n", n/9),
		"many in a row":    head + "step = [" + strings.Repeat("{},", n/3) + "]",
		"many days":        head + "[[step]]\njob = \"turn\"\ndays = [" + strings.Repeat("1,", n/2) + "]",
		"a long key twice": strings.Repeat(strings.Repeat("a", n/2)+" = 1\n", 2),
		"many wrong keys":  head + strings.Repeat("x = 1\n", n/6),
	} {
		t.Run(name, func(t *testing.T) {
			start := time.Now()
			_, err := ParsePlan("p.toml", []byte(text))
			if err == nil || len(err.Error()) > 400 {
				t.Errorf("got %.400v", err)
			}
			// Far more than it takes; a file of this size must not grow a
			// square.
			if d := time.Since(start); d > 2*time.Second {
				t.Errorf("took %v", d)
			}
		})
	}
}

func FuzzParsePlan(f *testing.F) {
	for _, p := range Builtin() {
		f.Add([]byte(p.Text))
	}
	f.Add([]byte(head + "step = [{job = \"turn\", days = [1, 2]}]\ndry = {min_loss = 3}"))
	f.Add([]byte(head + "[[step]]\njob = \"coat\"\ncoat = \"oil\"\n[dry]\nmax_loss = 1e300\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ParsePlan("p.toml", data)
		if err != nil {
			if s := err.Error(); strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f }) {
				t.Errorf("the error has a control character: %q", s)
			}
			return
		}
		again, err := ParsePlan("p.toml", []byte(p.Text))
		if err != nil {
			t.Fatalf("its own text is refused: %v", err)
		}
		if !reflect.DeepEqual(p, again) {
			t.Errorf("read twice, it differs: %s", cmp.Diff(p, again))
		}
		for _, st := range p.Steps {
			ways := 0
			for _, is := range []bool{st.Every > 0, st.PerDay > 0, len(st.Days) > 0} {
				if is {
					ways++
				}
			}
			if ways > 1 || st.Line < 1 || st.Job.Done() == "" || (st.Job == wheel.Coat) != (st.Coat != "") || st.Minutes < 0 ||
				st.Minutes > 120 {
				t.Errorf("unsound step accepted: %+v", st)
			}
		}
	})
}
