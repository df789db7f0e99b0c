package schedule

import (
	"math/rand"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// anyPlan draws a plan of a few steps of few jobs, so that they overlap.
func anyPlan(t *rapid.T) Plan {
	p := Plan{Name: "any", Gate: verdict.DefaultGate()}
	jobs := []wheel.Job{wheel.Turn, wheel.Brush, wheel.Weigh, wheel.Check, wheel.Coat, wheel.Taste, wheel.Move}
	for range rapid.IntRange(1, 8).Draw(t, "steps") {
		s := Step{Job: rapid.SampledFrom(jobs).Draw(t, "job"), FromDay: None, UntilDay: None, Minutes: 1}
		switch rapid.IntRange(0, 4).Draw(t, "how") {
		case 0:
			s.Every = rapid.IntRange(1, 9).Draw(t, "every")
		case 1:
			s.PerDay = rapid.IntRange(1, 3).Draw(t, "per day")
		case 2:
			s.Days = []int{rapid.IntRange(0, 10).Draw(t, "age"), rapid.IntRange(11, 30).Draw(t, "age"),
				rapid.IntRange(31, 50).Draw(t, "age")}
			s.Slack = rapid.IntRange(0, 12).Draw(t, "slack")
		case 3:
			s.Slack = rapid.IntRange(0, 3).Draw(t, "slack")
		case 4:
			if s.Job != wheel.Coat && !slices.ContainsFunc(p.Steps, func(o Step) bool { return o.Job == s.Job && o.Timed() }) {
				s.MinutesAfter = []int{rapid.IntRange(0, 100).Draw(t, "minutes"), rapid.IntRange(101, 1000).Draw(t, "minutes"),
					rapid.IntRange(1001, 4000).Draw(t, "minutes")}
				s.Until = rapid.SampledFrom([]string{"", "drying", "coated", "turn"}).Draw(t, "timed until")
				p.Steps = append(p.Steps, s)
				continue
			}
		}
		if s.Job == wheel.Coat {
			s = Step{Job: wheel.Coat, Coat: "wax", FromDay: None, UntilDay: None}
			if rapid.Bool().Draw(t, "gated") {
				s.When = "dry"
			}
		}
		if rapid.Bool().Draw(t, "from") {
			s.FromDay = rapid.IntRange(0, 30).Draw(t, "from day")
		}
		if rapid.Bool().Draw(t, "until") {
			s.UntilDay = rapid.IntRange(0, 50).Draw(t, "until day")
		}
		events := []string{"", "", "", "drying", "coated", "ripening", "ready", "turn", "brush", "taste"}
		s.After, s.Until = rapid.SampledFrom(events).Draw(t, "after"), rapid.SampledFrom(events).Draw(t, "until what")
		p.Steps = append(p.Steps, s)
	}
	return p
}

func anyKeeping(t *rapid.T) *keeping {
	k := &keeping{plan: anyPlan(t), made: made, loc: time.UTC, dry: rapid.IntRange(0, 10).Draw(t, "drying days"),
		ready: rapid.IntRange(0, 40).Draw(t, "ready days")}
	if rapid.Bool().Draw(t, "began") {
		k.began = made.Clock(rapid.IntRange(0, 23).Draw(t, "hour"), 30, time.UTC)
	}
	k.since = made + day.Date(rapid.SampledFrom([]int{0, 0, 5, 40, 365}).Draw(t, "since"))
	w := func(name string) day.Date {
		if rapid.Bool().Draw(t, name+" set") {
			return made + day.Date(rapid.IntRange(0, 40).Draw(t, name))
		}
		return day.None
	}
	k.gate = verdict.Windows{CoatFrom: w("coat from"), CheckFrom: w("check from"), WeighFrom: w("weigh from"),
		CoatUntil: day.None}
	if k.gate.CoatFrom != day.None {
		k.gate.CoatUntil = k.gate.CoatFrom + day.Date(rapid.IntRange(0, 4).Draw(t, "coat days"))
	}
	for range rapid.IntRange(0, 15).Draw(t, "entries") {
		k.do(rapid.IntRange(-2, 50).Draw(t, "age"),
			rapid.SampledFrom([]wheel.Job{wheel.Turn, wheel.Turn, wheel.Brush, wheel.Weigh, wheel.Check, wheel.Coat, wheel.Taste,
				wheel.Move}).Draw(t, "done"), rapid.IntRange(0, 4).Draw(t, "skip") == 0)
	}
	return k
}

// do writes down that a job was done, each by its own kind of entry.
func (k *keeping) do(age int, j wheel.Job, skip bool) {
	e := wheel.Entry{Kind: wheel.Did, Job: j}
	switch {
	case skip:
		e.Kind = wheel.Skipped
	case j == wheel.Weigh:
		e = wheel.Entry{Kind: wheel.Weighed, Weight: 1900}
	case j == wheel.Check:
		e = wheel.Entry{Kind: wheel.Checked, Found: wheel.HandCheck{DryToTouch: wheel.Yes}}
	case j == wheel.Coat:
		e = wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax"}
	case j == wheel.Move:
		e = wheel.Entry{Kind: wheel.Moved, Place: "cellar/B/1"}
	}
	k.at(age, 12, 0, e)
}

func TestDueIsPureAndListsNoJobTwiceOnADate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := anyKeeping(t)
		a := k.tasks()
		es := slices.Clone(k.entries)
		rand.New(rand.NewSource(rapid.Int64().Draw(t, "order"))).Shuffle(len(es),
			func(i, j int) { es[i], es[j] = es[j], es[i] })
		k.entries = es
		if diff := cmp.Diff(a, k.tasks()); diff != "" {
			t.Fatalf("asked twice, with the entries in another order:\n%s", diff)
		}
		for age := range 70 {
			seen := map[wheel.Job]bool{}
			for _, task := range a {
				s, ok := task.On(made + day.Date(age))
				if !ok {
					continue
				}
				if seen[task.Job] {
					t.Fatalf("%s is listed twice at %d days: %+v", task.Job, age, a)
				}
				seen[task.Job] = true
				if s.Round < 1 || s.Round > task.Rounds || s.Left != task.Rounds-s.Round+1 || s.LateDays < 0 {
					t.Fatalf("%+v stands as %+v at %d days", task, s, age)
				}
			}
		}
	})
}

func TestNothingIsDueFromBeforeTheBookKeptTheWheelOrWithoutAReason(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := anyKeeping(t)
		why := reason.List{verdict.FiguresMet{}}
		k.gate.CoatWhy, k.gate.CheckWhy, k.gate.WeighWhy = why, why, why
		since := k.life().Since
		for _, task := range k.tasks() {
			if task.Due < since || len(task.Why) == 0 || task.Until != day.None && task.Until < task.Due {
				t.Fatalf("kept since %s: %+v", since, task)
			}
		}
	})
}

// Everything on the list done or passed over, none of it is listed again that
// day. (A coat put on may open further steps, and then those are; of a step of
// several rounds beside one that asks for less, the rounds that remain.)
func TestDoingWhatIsListedLeavesNothingOfItListed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := anyKeeping(t)
		age := rapid.IntRange(51, 60).Draw(t, "today")
		if rapid.Bool().Draw(t, "early") {
			for _, e := range k.entries {
				age = max(age-50, int(day.At(e.At, time.UTC)-made))
			}
		}
		on := made + day.Date(age)
		did := map[wheel.Job]bool{}
		for range 10 {
			var fresh []wheel.Job
			for _, task := range k.tasks() {
				s, ok := task.On(on)
				if !ok {
					continue
				}
				if did[task.Job] && s.Round == 1 {
					t.Fatalf("%s was done on %s and is listed again: %+v, %+v", task.Job, on, task, s)
				}
				skip := rapid.IntRange(0, 3).Draw(t, "skip") == 0
				for range s.Left {
					k.do(age, task.Job, skip)
				}
				fresh = append(fresh, task.Job)
			}
			for _, j := range fresh {
				did[j] = true
			}
			if len(fresh) == 0 {
				return
			}
		}
		t.Fatalf("the list never comes to an end: %v", k.list(age))
	})
}

func TestDueHandsOutPlansUnchanged(t *testing.T) {
	for _, p := range Builtin() {
		k := keep(t, twice)
		k.plan = p
		k.did(5, 12, wheel.Turn)
		k.tasks()
		q, _ := Find(p.Name)
		if diff := cmp.Diff(q, p); diff != "" {
			t.Errorf("%s changed:\n%s", p.Name, diff)
		}
	}
}
