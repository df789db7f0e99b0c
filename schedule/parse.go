package schedule

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety/tomlfile"
	"rindkeep/wheel/verdict"
)

// planFile is what the file of a plan may have.
type planFile struct {
	Plan
	Dry   gateFile   `toml:"dry"`
	Steps []stepFile `toml:"step" need:"true"`
}

type stepFile struct {
	Step
	Every string `toml:"every" max:"1000"`
}

// gateFile is a verdict.Gate as the file has it; the bounds are our own. A highest loss of 0.12 is a
// fraction that somebody took for a percentage, and is refused.
type gateFile struct {
	MinDays     int               `toml:"min_days" range:"0 60 days"`
	MinLoss     quantity.Fraction `toml:"min_loss" range:"0 30"`
	MaxLoss     quantity.Fraction `toml:"max_loss" range:"1 60"`
	MaxSurface  quantity.Fraction `toml:"max_surface" range:"5 100"`
	MaxMoisture quantity.Fraction `toml:"max_moisture" range:"10 80"`
	CheckDays   int               `toml:"check_days" range:"1 30 days"`
	WeighDays   int               `toml:"weigh_days" range:"1 60 days"`
	UntilDay    int               // of the gated coat's step
}

// What can be wrong with a plan and no other file.
type (
	// OnlyOne is a key beside another of a list of which a step has one.
	OnlyOne struct {
		Of string `json:"of"`
	}
	// OnlyFor is a key that is for steps of another job.
	OnlyFor struct {
		Job wheel.Job `json:"job"`
		Is  wheel.Job `json:"is"`
	}
	// EmptyWindow is a window that closes before it opens. One end alone is of a
	// window that never opens, or has closed before any wheel is there.
	EmptyWindow struct {
		From  string `json:"from"`
		Until string `json:"until"`
	}
	// OutsideWindow is an age that the step's window leaves out.
	OutsideWindow struct {
		Day int `json:"day"`
	}
	// LongSlack is a slack as long as the days between two times of a job.
	LongSlack struct {
		Slack   int `json:"slack_days"`
		Between int `json:"between_days"`
	}
	// TimesElsewhere is a job with times on the make's own day in two steps.
	TimesElsewhere struct {
		Job wheel.Job `json:"job"`
	}
)

// The codes of the reasons.

func (OnlyOne) Code() string        { return "only-one" }
func (OnlyFor) Code() string        { return "only-for" }
func (EmptyWindow) Code() string    { return "empty-window" }
func (OutsideWindow) Code() string  { return "outside-window" }
func (LongSlack) Code() string      { return "long-slack" }
func (TimesElsewhere) Code() string { return "times-elsewhere" }

// ParsePlan reads a rind plan from TOML text. The name is the file's, for errors,
// which are each a tomlfile.Fault. A step without minutes gets DefaultMinutes; a
// file without figures for the gate gets verdict.DefaultGate.
func ParsePlan(name string, data []byte) (Plan, error) {
	file := planFile{Dry: gateFile(verdict.DefaultGate())}
	top, err := tomlfile.Decode(name, data, &file)
	if err != nil {
		return Plan{}, err
	}
	p := file.Plan
	top.Name("name", p.Name)
	for i, st := range file.Steps {
		t := top.In("step").Item(i)
		step := readStep(t, st)
		again := func(o Step) bool { return step.Timed() && o.Timed() && o.Job == step.Job }
		if slices.ContainsFunc(p.Steps, again) {
			t.Fail("minutes_after", TimesElsewhere{step.Job})
		}
		p.Steps = append(p.Steps, step)
		if step.Gated() {
			file.Dry.UntilDay = step.UntilDay
		}
	}
	p.Gate = verdict.Gate(file.Dry)
	checkGate(top.In("dry"), p.Gate)
	p.Text = string(tomlfile.Clean(data))
	if err := top.Err(); err != nil {
		return Plan{}, err
	}
	return p, nil
}

func readStep(t *tomlfile.Table, file stepFile) Step {
	st := file.Step
	st.Line = t.Line("")
	st.Job = readJob(t, string(st.Job))
	st.Coat = strings.ToLower(st.Coat)
	for _, only := range []struct {
		key string
		job wheel.Job
	}{{"coat", wheel.Coat}, {"to", wheel.Move}, {"when", wheel.Coat}} {
		if t.Has(only.key) && st.Job != only.job {
			t.Fail(only.key, OnlyFor{only.job, st.Job})
		}
	}
	if st.Job == wheel.Coat {
		t.Word("coat", st.Coat, namesOf(drying.Coats()))
	}
	if t.Has("to") && st.To == "" {
		t.Fail("to", tomlfile.Empty)
	}
	if t.Has("when") {
		t.Word("when", st.When, []string{"dry"})
	}
	readWays(t, &st, file.Every)
	readWindow(t, &st)
	checkSlack(t, st)
	if !t.Has("minutes") {
		st.Minutes = DefaultMinutes(st.Job)
	}
	return st
}

// readWays reads how often the job comes.
func readWays(t *tomlfile.Table, st *Step, every string) {
	ways := []string{"every", "per_day", "days", "minutes_after"}
	ways = slices.DeleteFunc(ways, func(k string) bool { return !t.Has(k) })
	if len(ways) > 1 {
		slices.SortFunc(ways, func(a, b string) int { return t.Line(a) - t.Line(b) })
		t.Fail(ways[1], OnlyOne{"every, per_day, days, minutes_after"})
	}
	if t.Has("every") {
		st.Every = readEvery(t, every)
	}
	if !st.Timed() {
		return
	}
	for _, k := range []string{"from_day", "until_day", "after", "slack"} {
		if t.Has(k) {
			t.Fail(k, reason.Together{What: reason.Thing(k), Other: "minutes_after"})
		}
	}
	if st.Job == wheel.Coat { // it comes when the wheel is dry enough
		t.Fail("minutes_after", reason.Together{What: "minutes_after", Other: "coat"})
	}
}

func readJob(t *tomlfile.Table, word string) wheel.Job {
	j, err := wheel.ParseJob(word)
	if err != nil {
		t.Word("job", word, namesOf(wheel.Jobs))
	}
	return j
}

func namesOf[T ~string](of []T) []string {
	out := make([]string, len(of))
	for i, x := range of {
		out[i] = string(x)
	}
	return out
}

var everyForm = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^([0-9]{1,3})([dw])$`)
})

// readEvery reads an interval of a day to a year (our own bounds).
func readEvery(t *tomlfile.Table, text string) int {
	m := everyForm().FindStringSubmatch(strings.ToLower(text))
	if m == nil {
		t.Fail("every", reason.Unreadable{What: "interval", Word: text})
		return 0
	}
	days, _ := strconv.Atoi(m[1])
	if m[2] == "w" {
		days *= 7
	}
	if days < 1 || days > 365 {
		t.Fail("every", tomlfile.Range{Low: 1, High: 365, Unit: "days", Whole: true})
	}
	return days
}

// rank orders the stages a wheel passes one after the other, to find a window
// that can never open. A coat may go on at any time once drying has begun, before
// or after the wheel ripens or is ready. The numbers are our choice.
var rank = map[string]int{
	string(wheel.Pressing): 0, string(wheel.Drying): 1, string(wheel.Ripening): 2, string(wheel.Ready): 3,
	string(wheel.Gone): 4,
}

func readWindow(t *tomlfile.Table, st *Step) {
	if !t.Has("from_day") {
		st.FromDay = None
	}
	if !t.Has("until_day") {
		st.UntilDay = None
	}
	if st.UntilDay != None && st.FromDay > st.UntilDay {
		t.Fail("until_day", EmptyWindow{strconv.Itoa(st.FromDay), strconv.Itoa(st.UntilDay)})
	}
	for _, d := range st.Days {
		if d < st.FromDay || st.UntilDay != None && d > st.UntilDay {
			t.Fail("days", OutsideWindow{d})
		}
	}
	st.After, st.Until = readEvent(t, "after", st.After), readEvent(t, "until", st.Until)
	switch {
	case st.After == string(wheel.Gone):
		t.Fail("after", EmptyWindow{From: st.After})
	case st.Until == string(wheel.Pressing):
		t.Fail("until", EmptyWindow{Until: st.Until})
	case st.After != "" && st.After == st.Until, closed(st.After, st.Until),
		st.After == string(wheel.Coated) && st.Until == string(wheel.Drying):
		t.Fail("until", EmptyWindow{st.After, st.Until})
	}
}

func closed(after, until string) bool {
	a, ok := rank[after]
	u, also := rank[until]
	return ok && also && a > u
}

// readEvent reads a stage or a job, either form; a coat put on is the stage
// "coated".
func readEvent(t *tomlfile.Table, key, word string) string {
	if !t.Has(key) {
		return ""
	}
	if st, err := wheel.ParseStage(word); err == nil {
		return string(st)
	}
	if j, err := wheel.ParseJob(word); err == nil {
		if j == wheel.Coat {
			return string(wheel.Coated)
		}
		return string(j)
	}
	t.Word(key, word, append(namesOf(wheel.Stages), namesOf(wheel.Jobs)...))
	return ""
}

func checkSlack(t *tomlfile.Table, st Step) {
	switch {
	case st.Slack == 0:
	case st.PerDay > 0:
		t.Fail("slack", reason.Together{What: "slack", Other: "per_day"})
	case st.Every > 0 && st.Slack >= st.Every:
		t.Fail("slack", LongSlack{st.Slack, st.Every})
	}
	for i := 1; i < len(st.Days); i++ {
		if between := st.Days[i] - st.Days[i-1]; st.Slack >= between {
			t.Fail("slack", LongSlack{st.Slack, between})
		}
	}
}

func checkGate(t *tomlfile.Table, g verdict.Gate) {
	// Under 0.1 % (our choice) it is a fraction that somebody took for a percentage.
	if g.MinLoss > 0 && g.MinLoss < 0.001 {
		t.Fail("min_loss", tomlfile.Range{Low: 0.1, High: 30, Unit: "%"})
	}
	if g.MinLoss >= g.MaxLoss {
		key, got, other, limit := "min_loss", g.MinLoss, "max_loss", g.MaxLoss
		if t.Has(other) {
			t.Fail(other, tomlfile.NotOver{Value: limit.Percent(), Other: key, Limit: got.Percent(), Unit: "%"})
		}
		t.Fail(key, tomlfile.NotUnder{Value: got.Percent(), Other: other, Limit: limit.Percent(), Unit: "%"})
	}
}
