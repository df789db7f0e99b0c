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
		Gate: verdict.Gate{MinDays: 4, MinLoss: 0.03, MaxLoss: 0.10, MaxSurface: 0.6, MaxMoisture: 0.365, CheckDays: 1},
		Steps: []Step{
			{Job: wheel.Turn, PerDay: 2, FromDay: None, UntilDay: None, Until: "coated", Minutes: DefaultMinutes(wheel.Turn), Line: 13},
			{Job: wheel.Coat, Coat: "wax", When: "dry", FromDay: None, UntilDay: None, After: "weigh", Note: "two coats", Minutes: 7.5, Line: 18},
			{Job: wheel.Rub, Every: 14, FromDay: 0, UntilDay: 90, After: "coated", Slack: 3, Minutes: DefaultMinutes(wheel.Rub), Line: 26},
			{Job: wheel.Taste, Days: []int{60, 120}, FromDay: None, UntilDay: None, Minutes: DefaultMinutes(wheel.Taste), Line: 34},
			{Job: wheel.Move, To: "room 2", FromDay: None, UntilDay: None, Minutes: DefaultMinutes(wheel.Move), Line: 38},
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
	dry := func(line string) string { return head + "[dry]\n" + line + "\n[[step]]\njob = \"turn\"\n" }
	for _, c := range []struct{ name, text, want string }{
		{"minutes after the make began, and a day", step(turn, `minutes_after = 30`, `from_day = 1`),
			`p.toml line 6: from_day is not for a step with minutes_after, whose times are fixed by the make's beginning`},
		{"minutes after the make began, and slack", step(turn, `minutes_after = 30`, `slack = 1`),
			`p.toml line 6: slack is not for a step with minutes_after, whose times are fixed by the make's beginning`},
		{"minutes after the make began, and a stage", step(turn, `minutes_after = 30`, `after = "drying"`),
			`p.toml line 6: after is not for a step with minutes_after, whose times are fixed by the make's beginning`},
		{"minutes after the make began, and an interval", step(turn, `every = "1d"`, `minutes_after = 30`),
			`p.toml line 6: a step has only one of every, per_day, days and minutes_after; make two steps of it`},
		{"minutes that fall", step(turn, `minutes_after = [60, 30]`),
			`p.toml line 5: minutes_after must rise, and 30 comes after 60`},
		{"minutes twice the same", step(turn, `minutes_after = [60, 60]`),
			`p.toml line 5: minutes_after must rise, and 60 comes after 60`},
		{"an empty list of minutes", step(turn, `minutes_after = []`),
			`p.toml line 5: minutes_after must be a list of 1 to 24 whole numbers, like [60, 120]`},
		{"minutes before the make", step(turn, `minutes_after = -5`),
			`p.toml line 5: minutes_after -5 is out of range; give a whole number from 0 to 4320 minutes since the make began`},
		{"minutes beyond three days", step(turn, `minutes_after = [4321]`),
			`p.toml line 5: minutes_after 4321 is out of range; give a whole number from 0 to 4320 minutes since the make began`},
		{"half a minute", step(turn, `minutes_after = 1.5`),
			`p.toml line 5: minutes_after 1.5 is out of range; give a whole number from 0 to 4320 minutes since the make began`},
		{"minutes in words", step(turn, `minutes_after = "1h"`),
			`p.toml line 5: minutes_after "1h" is out of range; give a whole number from 0 to 4320 minutes since the make began`},
		{"a coat minutes after the make began", step(coat, `minutes_after = 30`),
			`p.toml line 4: a coat comes when the wheel is dry enough, not minutes after the make began`},
		{"the times of a job in two steps", step(turn, `minutes_after = 30`, `[[step]]`, turn, `minutes_after = 60`),
			`p.toml line 8: turn has minutes_after in a step before; put all its times in one list`},
		{"an interval with a wrong letter", step(turn, `every = "7x"`),
			`p.toml line 5: every "7x" is no interval; write 7d or 2w`},
		{"an interval without its letter", step(turn, `every = "7"`),
			`p.toml line 5: every "7" is no interval; write 7d or 2w`},
		{"an interval as a bare number", step(turn, `every = 7`),
			`p.toml line 5: every must be text in quotes, not 7`},
		{"an interval of letters only", step(turn, `every = "d"`),
			`p.toml line 5: every "d" is no interval; write 7d or 2w`},
		{"an empty interval", step(turn, `every = ""`),
			`p.toml line 5: every "" is no interval; write 7d or 2w`},
		{"a negative interval", step(turn, `every = "-7d"`),
			`p.toml line 5: every "-7d" is no interval; write 7d or 2w`},
		{"an interval of no days", step(turn, `every = "0d"`),
			`p.toml line 5: every "0d" is out of range; give 1d to 365d, or 1w to 52w`},
		{"an interval over a year", step(turn, `every = "53w"`),
			`p.toml line 5: every "53w" is out of range; give 1d to 365d, or 1w to 52w`},
		{"an interval too long to count", step(turn, `every = "99999999999999999999d"`),
			`p.toml line 5: every "99999999999999999999d" is out of range; give 1d to 365d, or 1w to 52w`},
		{"no rounds a day", step(turn, `per_day = 0`),
			`p.toml line 5: per_day 0 is out of range; give a whole number from 1 to 6 rounds a day`},
		{"seven rounds a day", step(turn, `per_day = 7`),
			`p.toml line 5: per_day 7 is out of range; give a whole number from 1 to 6 rounds a day`},
		{"half a round", step(turn, `per_day = 1.5`),
			`p.toml line 5: per_day 1.5 is out of range; give a whole number from 1 to 6 rounds a day`},
		{"both an interval and rounds", step(turn, `every = "7d"`, `per_day = 2`),
			`p.toml line 6: a step has only one of every, per_day, days and minutes_after; make two steps of it`},
		{"both an interval and days", step(turn, `days = [1]`, `every = "7d"`),
			`p.toml line 6: a step has only one of every, per_day, days and minutes_after; make two steps of it`},
		{"days that fall", step(turn, `days = [60, 30]`),
			`p.toml line 5: days must rise, and 30 comes after 60`},
		{"a day named twice", step(turn, `days = [60, 60]`),
			`p.toml line 5: days must rise, and 60 comes after 60`},
		{"a day before the make", step(turn, `days = [-1]`),
			`p.toml line 5: days -1 is out of range; give a whole number from 0 to 3650 days`},
		{"a day after ten years", step(turn, `days = [3651]`),
			`p.toml line 5: days 3651 is out of range; give a whole number from 0 to 3650 days`},
		{"no days", step(turn, `days = []`),
			`p.toml line 5: days must be a list of 1 to 100 whole numbers, like [60, 120]`},
		{"days as text", step(turn, `days = "60"`),
			`p.toml line 5: days must be a list of 1 to 100 whole numbers, like [60, 120]`},
		{"a day as text", step(turn, `days = ["60"]`),
			`p.toml line 5: days "60" is out of range; give a whole number from 0 to 3650 days`},
		{"a window that ends before it begins", step(turn, `from_day = 20`, `until_day = 10`),
			`p.toml line 6: the window is empty: until_day 10 comes before from_day 20`},
		{"a window that begins before the make", step(turn, `from_day = -1`),
			`p.toml line 5: from_day -1 is out of range; give a whole number from 0 to 3650 days`},
		{"a window that ends too late", step(turn, `until_day = 4000`),
			`p.toml line 5: until_day 4000 is out of range; give a whole number from 0 to 3650 days`},
		{"a day outside the window", step(turn, `days = [5, 60]`, `from_day = 10`),
			`p.toml line 5: day 5 lies outside the window of from_day and until_day`},
		{"a day after the window", step(turn, `days = [5, 60]`, `until_day = 59`),
			`p.toml line 5: day 60 lies outside the window of from_day and until_day`},
		{"a stage misspelt", step(turn, `after = "coatd"`),
			`p.toml line 5: after "coatd" is no stage or job; did you mean "coated"?`},
		{"a job misspelt in a window", step(turn, `until = "piercd"`),
			`p.toml line 5: until "piercd" is no stage or job; did you mean "pierce"?`},
		{"a stage like no other word", step(turn, `until = "xyzzy"`),
			`p.toml line 5: until "xyzzy" is no stage or job; stages are pressing, drying, coated, ripening, ready, gone; jobs are check, weigh, taste, redress, turn, press, brush, salt, rub, wash, oil, pierce, smoke, coat, move`},
		{"an empty stage", step(turn, `until = ""`),
			`p.toml line 5: until "" is no stage or job; stages are pressing, drying, coated, ripening, ready, gone; jobs are check, weigh, taste, redress, turn, press, brush, salt, rub, wash, oil, pierce, smoke, coat, move`},
		{"a window that opens and closes with one thing", step(turn, `after = "coat"`, `until = "coated"`),
			`p.toml line 6: the window is empty: it opens and closes with "coated"`},
		{"a window that runs backwards", step(turn, `after = "ready"`, `until = "drying"`),
			`p.toml line 6: the window is empty: drying comes before ready`},
		{"a coat before drying", step(turn, `after = "coated"`, `until = "drying"`),
			`p.toml line 6: the window is empty: drying comes before coated`},
		{"a window after the end", step(turn, `after = "gone"`),
			`p.toml line 5: after "gone" never comes: a wheel that is gone is not handled`},
		{"a window until the beginning", step(turn, `until = "pressing"`),
			`p.toml line 5: until "pressing" is over before it begins: every wheel starts there`},
		{"no job", step(`every = "7d"`),
			`p.toml line 3: job is missing; give one of check, weigh, taste, redress, turn, press, brush, salt, rub, wash, oil, pierce, smoke, coat, move`},
		{"a job misspelt", step(`job = "trun"`),
			`p.toml line 4: no job "trun"; did you mean "turn"?`},
		{"a job there is not", step(`job = "sing"`),
			`p.toml line 4: no job "sing"; jobs are check, weigh, taste, redress, turn, press, brush, salt, rub, wash, oil, pierce, smoke, coat, move`},
		{"a job that is no text", step(`job = 3`),
			`p.toml line 4: job must be text in quotes, not 3`},
		{"a coat on a turn", step(turn, `coat = "wax"`),
			`p.toml line 5: coat is for coat steps only, and this is a turn step`},
		{"a coat step without its coat", step(`job = "coat"`),
			`p.toml line 4: a coat step needs its coat; give one of ` + coats},
		{"a coat misspelt", step(`job = "coat"`, `coat = "wacks"`),
			`p.toml line 5: no coat "wacks"; coats are ` + coats},
		{"a coat nearly right", step(`job = "coat"`, `coat = "waxs"`),
			`p.toml line 5: no coat "waxs"; did you mean "wax"?`},
		{"a place on a turn", step(turn, `to = "room 1"`),
			`p.toml line 5: to is for move steps only, and this is a turn step`},
		{"an empty place", step(`job = "move"`, `to = " "`),
			`p.toml line 5: to is empty; say where, or take it out`},
		{"a gate on a turn", step(turn, `when = "dry"`),
			`p.toml line 5: when is for coat steps only, and this is a turn step`},
		{"a gate there is not", step(coat, `when = "sunny"`),
			`p.toml line 6: when "sunny" is no gate; the only one is "dry"`},
		{"slack as long as the interval", step(turn, `every = "3d"`, `slack = 3`),
			`p.toml line 6: slack 3 is too much for every "3d"; keep it under 3`},
		{"slack on rounds", step(turn, `per_day = 2`, `slack = 1`),
			`p.toml line 6: slack is in days, and a job done every day has none to give`},
		{"slack as long as the gap between days", step(turn, `days = [1, 3]`, `slack = 2`),
			`p.toml line 6: slack 2 is too much for days 1 and 3; keep it under 2`},
		{"negative slack", step(turn, `slack = -1`),
			`p.toml line 5: slack -1 is out of range; give a whole number from 0 to 30 days`},
		{"more than two hours a wheel", step(turn, `minutes = 121`),
			`p.toml line 5: minutes 121 is out of range; give a number from 0 to 120 minutes a wheel`},
		{"minutes that are no number", step(turn, `minutes = nan`),
			`p.toml line 5: minutes NaN is out of range; give a number from 0 to 120 minutes a wheel`},
		{"minutes as text", step(turn, `minutes = "3"`),
			`p.toml line 5: minutes "3" is out of range; give a number from 0 to 120 minutes a wheel`},
		{"a note with an escape sequence", step(turn, `note = "\u001b[2J"`),
			`p.toml line 5: note holds a character that does not show; keep it to one plain line`},
		{"a note that turns the direction of writing", step(turn, `note = "\u202e"`),
			`p.toml line 5: note holds a character that does not show; keep it to one plain line`},
		{"a note of two lines", step(turn, `note = "a\nb"`),
			`p.toml line 5: note holds a character that does not show; keep it to one plain line`},
		{"a note too long", step(turn, `note = "`+strings.Repeat("x", 501)+`"`),
			`p.toml line 5: note is 501 characters long; keep it to 500`},
		{"a key misspelt", step(turn, `evry = "7d"`),
			`p.toml line 5: no key "evry" in [[step]]; did you mean "every"?`},
		{"a key in capitals", step(turn, `EVERY = "7d"`),
			`p.toml line 5: no key "EVERY" in [[step]]; did you mean "every"?`},
		{"a key there is not", step(turn, `colour = "red"`),
			`p.toml line 5: no key "colour" in [[step]]; keys are job, coat, to, every, per_day, days, minutes_after, from_day, until_day, after, until, when, slack, note, minutes`},
		{"a key with an escape sequence", step(turn, `"\u001b[2J" = 1`),
			`p.toml line 5: no key "\x1b[2J" in [[step]]; keys are job, coat, to, every, per_day, days, minutes_after, from_day, until_day, after, until, when, slack, note, minutes`},
		{"a key at the top there is not", "nam = \"x\"\n" + step(turn),
			`p.toml line 1: no key "nam" at the top of the file; did you mean "name"?`},
		{"a key of a step at the top", "every = \"7d\"\n" + step(turn),
			`p.toml line 1: no key "every" at the top of the file; keys are name, title, note`},
		{"a key given twice", step(turn, turn),
			`p.toml line 5: not TOML: key job is already defined`},
		{"a table misspelt", step(turn) + "[dri]\n",
			`p.toml line 5: no table "dri"; did you mean "[dry]"?`},
		{"a table there is not", step(turn) + "[humidity]\n",
			`p.toml line 5: no table "humidity"; tables are [[step]], [dry]`},
		{"a table inside a step", step(turn) + "[step.more]\n",
			`p.toml line 5: no table "more" inside step`},
		{"a step with one bracket", head + "[step]\njob = \"turn\"\n",
			`p.toml line 3: [step] has one bracket too few; write [[step]]`},
		{"a gate with two brackets", step(turn) + "[[dry]]\n",
			`p.toml line 5: [[dry]] has one bracket too many; write [dry]`},
		{"the name as a table", "title = \"x\"\n[name]\n",
			`p.toml line 2: name is a plain key, not a table; write name = ... above the first table`},
		{"a step that is no table", head + "step = 3\n",
			`p.toml line 3: step is a list of tables; write [[step]] and its keys below`},
		{"a step by a dotted key", head + "step.job = \"turn\"\n",
			`p.toml line 3: step is a list of tables; write [[step]] and its keys below`},
		{"a key inside a plain key", head + "[[step]]\njob.turn = 1\n",
			`p.toml line 4: no key "turn" inside job`},
		{"a gate by dotted keys, with a fault", head + "dry.min_days = -2\n[[step]]\njob = \"turn\"\n",
			`p.toml line 3: min_days -2 is out of range; give a whole number from 0 to 60 days`},
		{"a list of steps that are no tables", head + "step = [1]\n",
			`p.toml line 3: step is a list of tables; write [[step]] and its keys below`},
		{"a gate that is no table", head + "dry = true\n",
			`p.toml line 3: dry is a table; write [dry] and its keys below`},
		{"an inline step with a fault", head + "step = [{job = \"turn\"},\n {job = \"trun\"}]\n",
			`p.toml line 4: no job "trun"; did you mean "turn"?`},
		{"an inline step with a wrong key", head + "step = [{job = \"turn\", evry = \"7d\"}]\n",
			`p.toml line 3: no key "evry" in [[step]]; did you mean "every"?`},
		{"a table where text belongs", step(`job = {turn = 1}`),
			`p.toml line 4: job must be text in quotes, not table`},
		{"no step", head,
			`p.toml: the plan has no step; write [[step]] and a job below it`},
		{"too many steps", head + strings.Repeat("[[step]]\njob = \"turn\"\n", 101),
			`p.toml line 203: the plan has 101 steps; 100 are the most`},
		{"no name", "title = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml: name is missing; give it`},
		{"no title", "name = \"xx\"\n[[step]]\njob = \"turn\"\n",
			`p.toml: title is missing; give it`},
		{"a name in capitals", "name = \"Waxed\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 1: name "Waxed" is not 2 to 40 of a-z, 0-9 and dashes; write it like waxed-hard`},
		{"a name that looks like a flag", "name = \"-rf\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 1: name "-rf" is not 2 to 40 of a-z, 0-9 and dashes; write it like waxed-hard`},
		{"a name of one letter", "name = \"a\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 1: name "a" is not 2 to 40 of a-z, 0-9 and dashes; write it like waxed-hard`},
		{"a name of ten kilobytes is cut", "name = \"" + strings.Repeat("a", 900) + "\"\ntitle = \"x\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 1: name "` + strings.Repeat("a", 39) + `…" is not 2 to 40 of a-z, 0-9 and dashes; write it like waxed-hard`},
		{"a title too long", "name = \"xx\"\ntitle = \"" + strings.Repeat("x", 81) + "\"\n[[step]]\njob = \"turn\"\n",
			`p.toml line 2: title is 81 characters long; keep it to 80`},
		{"a control character in the file", head + "# \x07\n",
			`p.toml line 3: character U+0007 does not show; take it out`},
		{"a direction mark in a comment", head + "# \u202e\n",
			`p.toml line 3: character U+202E does not show; take it out`},
		{"a lone carriage return", head + "# a\rb\n",
			`p.toml line 3: character U+000D does not show; take it out`},
		{"bytes that are no UTF-8", head + "# \xff\n",
			`p.toml line 3: byte 0xff is no UTF-8; save the file as UTF-8`},
		{"a file too large", strings.Repeat("#\n", 32769),
			`p.toml: the file has 65538 bytes; at most 65536 are read`},
		{"a gate with a wrong key", dry(`min_lost = 3`),
			`p.toml line 4: no key "min_lost" in [dry]; did you mean "min_loss"?`},
		{"a loss over everything", dry(`min_loss = "138%"`),
			`p.toml line 4: min_loss "138%" is over 100 %; give 0% to 30%`},
		{"a loss below nothing", dry(`min_loss = "-1%"`),
			`p.toml line 4: min_loss "-1%" is under 0 %; give 0% to 30%`},
		{"a loss that is no figure", dry(`min_loss = "some"`),
			`p.toml line 4: min_loss "some" is no percentage; give 0% to 30%`},
		{"a loss given as a fraction", dry(`min_loss = 0.025`),
			`p.toml line 4: min_loss 0.025 is under 0.1 %; give 0.1% to 30%, or 0`},
		{"a highest loss given as a fraction", dry(`max_loss = 0.12`),
			`p.toml line 4: max_loss 0.12 is under 1 %; give 1% to 60%`},
		{"a surface share given as a fraction", dry(`max_surface = 0.75`),
			`p.toml line 4: max_surface 0.75 is under 5 %; give 5% to 100%`},
		{"a surface share over one", dry(`max_surface = 120`),
			`p.toml line 4: max_surface 120 is over 100 %; give 5% to 100%`},
		{"a moisture too high", dry(`max_moisture = 95`),
			`p.toml line 4: max_moisture 95 is over 80 %; give 10% to 80%`},
		{"a loss that is no number", dry(`min_loss = inf`),
			`p.toml line 4: min_loss must be a number or text with its unit, not +Inf`},
		{"the least loss over the highest", dry(`max_loss = "2%"`),
			`p.toml line 4: min_loss 2.5 % is not under max_loss 2 %`},
		{"the least loss at the highest by default", dry(`min_loss = "12%"`),
			`p.toml line 4: min_loss 12 % is not under max_loss 12 %`},
		{"days of drying below nothing", dry(`min_days = -1`),
			`p.toml line 4: min_days -1 is out of range; give a whole number from 0 to 60 days`},
		{"a hand check that is stale at once", dry(`check_days = 0`),
			`p.toml line 4: check_days 0 is out of range; give a whole number from 1 to 30 days`},
		{"something that is no TOML", head + "job: turn\n",
			`p.toml line 3: not TOML: expected '=' after key`},
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
		"":                        "the file",
		strings.Repeat("x", 5000): strings.Repeat("x", 79) + "…",
	} {
		_, err := ParsePlan(name, nil)
		if want += ": name is missing; give it"; err == nil || err.Error() != want {
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
			if ways > 1 || st.Line < 1 || st.Job.Done() == "" || (st.Job == wheel.Coat) != (st.Coat != "") || st.Minutes < 0 || st.Minutes > 120 {
				t.Errorf("unsound step accepted: %+v", st)
			}
		}
	})
}
