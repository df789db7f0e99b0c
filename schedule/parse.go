package schedule

import (
	"slices"
	"strconv"
	"strings"

	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety/tomlfile"
	"rindkeep/wheel/verdict"
)

var planSchema = tomlfile.Schema{
	Keys: []string{"name", "title", "note"},
	Tables: map[string][]string{
		"dry": {"min_days", "min_loss", "max_loss", "max_surface", "max_moisture", "check_days"},
	},
	Lists: map[string][]string{
		"step": {"job", "coat", "to", "every", "per_day", "days", "minutes_after", "from_day", "until_day", "after", "until", "when", "slack", "note", "minutes"},
	},
}

// ParsePlan reads a rind plan from TOML text. The name is the file's, for
// errors, which are each one sentence with the file, the line and the reason
// (*tomlfile.Error). A step without minutes gets DefaultMinutes; a file without
// figures for the gate gets verdict.DefaultGate.
func ParsePlan(name string, data []byte) (Plan, error) {
	d, err := tomlfile.Parse(name, data, planSchema)
	if err != nil {
		return Plan{}, err
	}
	top := d.Top()
	p := Plan{
		Name:  top.Required("name", 1000),
		Title: top.Required("title", 80),
		Note:  top.Text("note", 500),
		Text:  string(tomlfile.Clean(data)),
	}
	if r := tomlfile.CheckName(p.Name); r != "" {
		top.Fail("name", "%s", r)
	}
	list := d.List("step")
	switch {
	case len(list) == 0:
		top.Fail("", "the plan has no step; write [[step]] and a job below it")
	case len(list) > MaxSteps:
		list[MaxSteps].Fail("", "the plan has %d steps; %d are the most", len(list), MaxSteps)
		list = nil
	}
	for _, s := range list {
		st := readStep(s)
		if st.Timed() && slices.ContainsFunc(p.Steps, func(o Step) bool { return o.Timed() && o.Job == st.Job }) {
			s.Fail("minutes_after", "%s has minutes_after in a step before; put all its times in one list", st.Job)
		}
		p.Steps = append(p.Steps, st)
	}
	p.Gate = verdict.DefaultGate()
	if s, ok := d.Table("dry"); ok {
		readGate(s, &p.Gate)
	}
	if err := d.Err(); err != nil {
		return Plan{}, err
	}
	return p, nil
}

func readStep(s tomlfile.Section) Step {
	st := Step{FromDay: None, UntilDay: None, Line: s.Line}
	st.Job = readJob(s)
	st.Coat = readCoat(s, st.Job)
	if st.To = s.Text("to", 80); s.Has("to") {
		switch {
		case st.Job != wheel.Move:
			s.Fail("to", "to is for move steps only, and this is a %s step", st.Job)
		case st.To == "":
			s.Fail("to", "to is empty; say where, or take it out")
		}
	}

	var ways []string
	for _, k := range []string{"every", "per_day", "days", "minutes_after"} {
		if s.Has(k) {
			ways = append(ways, k)
		}
	}
	if len(ways) > 1 {
		slices.SortFunc(ways, func(a, b string) int { return s.LineOf(a) - s.LineOf(b) })
		s.Fail(ways[1], "a step has only one of every, per_day, days and minutes_after; make two steps of it")
	}
	st.Every = readEvery(s)
	st.PerDay = s.Int("per_day", 1, 6, "rounds a day")
	st.Days = s.Ints("days", maxDays, 0, maxAge, "days")
	for i := 1; i < len(st.Days); i++ {
		if st.Days[i] <= st.Days[i-1] {
			s.Fail("days", "days must rise, and %d comes after %d", st.Days[i], st.Days[i-1])
		}
	}

	readWindow(s, &st)
	readTimes(s, &st)

	if st.When = s.Text("when", 40); s.Has("when") {
		switch {
		case st.When != "dry":
			s.Fail("when", "when %s is no gate; the only one is \"dry\"", s.Shown("when"))
		case st.Job != wheel.Coat:
			s.Fail("when", "when is for coat steps only, and this is a %s step", st.Job)
		}
	}

	readSlack(s, &st)
	st.Note = s.Text("note", 500)
	st.Minutes = DefaultMinutes(st.Job)
	if s.Has("minutes") {
		st.Minutes = s.Number("minutes", 0, 120, "minutes a wheel")
	}
	return st
}

func readJob(s tomlfile.Section) wheel.Job {
	w := s.Text("job", 1000)
	if w == "" {
		s.Fail("job", "job is missing; give one of %s", strings.Join(jobNames(), ", "))
		return ""
	}
	j, err := wheel.ParseJob(w)
	if err != nil {
		s.Fail("job", "no job %s; %s", tomlfile.Quote(w), suggest(w, jobNames(), "jobs are"))
	}
	return j
}

func jobNames() []string {
	var out []string
	for _, j := range wheel.Jobs {
		out = append(out, string(j))
	}
	return out
}

func suggest(word string, words []string, list string) string {
	if n := tomlfile.Nearest(word, words); n != "" {
		return "did you mean " + strconv.Quote(n) + "?"
	}
	return list + " " + strings.Join(words, ", ")
}

func readCoat(s tomlfile.Section, j wheel.Job) string {
	var coats []string
	for _, c := range drying.Coats() {
		coats = append(coats, string(c))
	}
	if !s.Has("coat") {
		if j == wheel.Coat {
			s.Fail("job", "a coat step needs its coat; give one of %s", strings.Join(coats, ", "))
		}
		return ""
	}
	w := strings.ToLower(s.Text("coat", 1000))
	if j != wheel.Coat {
		s.Fail("coat", "coat is for coat steps only, and this is a %s step", j)
	}
	for _, c := range coats {
		if c == w {
			return c
		}
	}
	s.Fail("coat", "no coat %s; %s", tomlfile.Quote(w), suggest(w, coats, "coats are"))
	return ""
}

func readEvery(s tomlfile.Section) int {
	if !s.Has("every") {
		return 0
	}
	w := strings.ToLower(s.Text("every", 1000))
	unit := 0
	switch {
	case strings.HasSuffix(w, "d"):
		unit = 1
	case strings.HasSuffix(w, "w"):
		unit = 7
	}
	if unit == 0 || strings.Trim(w[:len(w)-1], "0123456789") != "" || len(w) < 2 {
		s.Fail("every", "every %s is no interval; write 7d or 2w", s.Shown("every"))
		return 0
	}
	n, err := strconv.Atoi(w[:len(w)-1])
	if err != nil || n < 1 || n > 365/unit {
		s.Fail("every", "every %s is out of range; give 1d to 365d, or 1w to 52w", s.Shown("every"))
		return 0
	}
	return n * unit
}

// readTimes reads minutes_after, one number or a list, and refuses beside it what
// would say the time in another way.
func readTimes(s tomlfile.Section, st *Step) {
	if !s.Has("minutes_after") {
		return
	}
	const key, unit = "minutes_after", "minutes since the make began"
	if s.IsList(key) {
		st.MinutesAfter = s.Ints(key, maxTimes, 0, maxMinutesAfter, unit)
	} else {
		st.MinutesAfter = []int{s.Int(key, 0, maxMinutesAfter, unit)}
	}
	for i := 1; i < len(st.MinutesAfter); i++ {
		if st.MinutesAfter[i] <= st.MinutesAfter[i-1] {
			s.Fail(key, "minutes_after must rise, and %d comes after %d", st.MinutesAfter[i], st.MinutesAfter[i-1])
		}
	}
	for _, k := range []string{"from_day", "until_day", "after", "slack"} {
		if s.Has(k) {
			s.Fail(k, "%s is not for a step with minutes_after, whose times are fixed by the make's beginning", k)
		}
	}
	if st.Job == wheel.Coat {
		s.Fail("job", "a coat comes when the wheel is dry enough, not minutes after the make began")
	}
}

// rank orders the stages a wheel passes one after the other, to find a window
// that can never open. A coat may go on at any time once drying has begun,
// before or after the wheel ripens or is ready.
var rank = map[string]int{
	string(wheel.Pressing): 0, string(wheel.Drying): 1, string(wheel.Ripening): 2, string(wheel.Ready): 3, string(wheel.Gone): 4,
}

func readWindow(s tomlfile.Section, st *Step) {
	if s.Has("from_day") {
		st.FromDay = s.Int("from_day", 0, maxAge, "days")
	}
	if s.Has("until_day") {
		st.UntilDay = s.Int("until_day", 0, maxAge, "days")
	}
	if s.Has("from_day") && s.Has("until_day") && st.FromDay > st.UntilDay {
		s.Fail("until_day", "the window is empty: until_day %d comes before from_day %d", st.UntilDay, st.FromDay)
	}
	for _, d := range st.Days {
		if d < st.FromDay || st.UntilDay != None && d > st.UntilDay {
			s.Fail("days", "day %d lies outside the window of from_day and until_day", d)
		}
	}
	st.After, st.Until = readEvent(s, "after"), readEvent(s, "until")
	switch {
	case st.After == string(wheel.Gone):
		s.Fail("after", `after "gone" never comes: a wheel that is gone is not handled`)
	case st.Until == string(wheel.Pressing):
		s.Fail("until", `until "pressing" is over before it begins: every wheel starts there`)
	case st.After == "" || st.Until == "":
	case st.After == st.Until:
		s.Fail("until", "the window is empty: it opens and closes with %q", st.After)
	case st.After == string(wheel.Coated) && st.Until == string(wheel.Drying), closed(st.After, st.Until):
		s.Fail("until", "the window is empty: %s comes before %s", st.Until, st.After)
	}
}

func closed(after, until string) bool {
	a, ok := rank[after]
	u, also := rank[until]
	return ok && also && a > u
}

// readEvent reads a stage or a job, either form; a coat put on is the stage
// "coated".
func readEvent(s tomlfile.Section, key string) string {
	if !s.Has(key) {
		return ""
	}
	w := s.Text(key, 1000)
	if st, err := wheel.ParseStage(w); err == nil {
		return string(st)
	}
	if j, err := wheel.ParseJob(w); err == nil {
		if j == wheel.Coat {
			return string(wheel.Coated)
		}
		return string(j)
	}
	var words []string
	for _, st := range wheel.Stages {
		words = append(words, string(st))
	}
	known := len(words)
	for _, j := range wheel.Jobs {
		words = append(words, string(j), j.Done())
	}
	if n := tomlfile.Nearest(w, words); n != "" {
		s.Fail(key, "%s %s is no stage or job; did you mean %q?", key, tomlfile.Quote(w), n)
	} else {
		s.Fail(key, "%s %s is no stage or job; stages are %s; jobs are %s", key, tomlfile.Quote(w), strings.Join(words[:known], ", "), strings.Join(jobNames(), ", "))
	}
	return ""
}

func readSlack(s tomlfile.Section, st *Step) {
	if !s.Has("slack") {
		return
	}
	st.Slack = s.Int("slack", 0, maxSlack, "days")
	switch {
	case st.Slack == 0:
	case st.PerDay > 0:
		s.Fail("slack", "slack is in days, and a job done every day has none to give")
	case st.Every > 0 && st.Slack >= st.Every:
		s.Fail("slack", "slack %d is too much for every %s; keep it under %d", st.Slack, s.Shown("every"), st.Every)
	}
	for i := 1; i < len(st.Days); i++ {
		if gap := st.Days[i] - st.Days[i-1]; st.Slack >= gap {
			s.Fail("slack", "slack %d is too much for days %d and %d; keep it under %d", st.Slack, st.Days[i-1], st.Days[i], gap)
		}
	}
}

// readGate reads the figures of the gate over the defaults it is given.
func readGate(s tomlfile.Section, g *verdict.Gate) {
	if s.Has("min_days") {
		g.MinDays = s.Int("min_days", 0, 60, "days")
	}
	if s.Has("check_days") {
		g.CheckDays = s.Int("check_days", 1, 30, "days")
	}
	// A loss under 0.1 % is a fraction written for a percentage.
	if s.Has("min_loss") {
		if g.MinLoss = s.Percent("min_loss", 0, 0.3); g.MinLoss > 0 && g.MinLoss < 0.001 {
			s.Fail("min_loss", "min_loss %s is under 0.1 %%; give 0.1%% to 30%%, or 0", s.Shown("min_loss"))
		}
	}
	if s.Has("max_loss") {
		g.MaxLoss = s.Percent("max_loss", 0.01, 0.6)
	}
	if s.Has("max_surface") {
		g.MaxSurface = s.Percent("max_surface", 0.05, 1)
	}
	if s.Has("max_moisture") {
		g.MaxMoisture = s.Percent("max_moisture", 0.1, 0.8)
	}
	if g.MinLoss >= g.MaxLoss {
		key := "max_loss"
		if !s.Has(key) {
			key = "min_loss"
		}
		s.Fail(key, "min_loss %g %% is not under max_loss %g %%", round(g.MinLoss.Percent()), round(g.MaxLoss.Percent()))
	}
}
