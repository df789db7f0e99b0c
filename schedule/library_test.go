package schedule

import (
	"slices"
	"strings"
	"testing"

	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

func plan(t *testing.T, name string) Plan {
	t.Helper()
	p, ok := Find(name)
	if !ok {
		t.Fatalf("no built-in plan %q", name)
	}
	return p
}

// steps gives the plan's recurring steps for a job, in order of their window.
func (p Plan) recurring(j wheel.Job) []Step {
	var out []Step
	for _, s := range p.Steps {
		if s.Job == j && recurs(s) {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b Step) int { return a.FromDay - b.FromDay })
	return out
}

// open says whether the step is open for a wheel of that age that dries, and
// had its smoke, and has a coat or not.
func (s Step) openAt(age int, coated bool) bool {
	if s.FromDay != None && age < s.FromDay || s.UntilDay != None && age > s.UntilDay {
		return false
	}
	return !(s.After == "coated" && !coated || s.Until == "coated" && coated)
}

func TestBuiltinPlansAreSortedNamedLikeTheirFilesAndTheCallersOwn(t *testing.T) {
	all := Builtin()
	list, err := files.ReadDir("library")
	if err != nil || len(list) != len(all) || len(all) < 12 {
		t.Fatalf("%d plans of %d files, %v", len(all), len(list), err)
	}
	for i, p := range all {
		if _, err := files.ReadFile("library/" + p.Name + ".toml"); err != nil {
			t.Errorf("plan %q is not in a file of its name", p.Name)
		}
		if i > 0 && all[i-1].Name >= p.Name {
			t.Errorf("%q comes after %q", p.Name, all[i-1].Name)
		}
		if !strings.Contains(p.Text, "practice") && !strings.Contains(p.Text, "(read") {
			t.Errorf("plan %q names no source", p.Name)
		}
	}
	all[0].Steps[0].Job = "spoilt"
	if Builtin()[0].Steps[0].Job == "spoilt" {
		t.Error("a change by one caller reaches the next")
	}
	if _, ok := Find("no-such-plan"); ok {
		t.Error("found a plan there is not")
	}
}

func TestEveryVarietyHasItsPlanAndEveryPlanItsVariety(t *testing.T) {
	used := map[string]bool{}
	for _, v := range variety.Builtin() {
		p, ok := Find(v.Plan)
		used[v.Plan] = true
		if !ok {
			t.Errorf("%s: no plan %q", v.Name, v.Plan)
			continue
		}
		// What makes the rind what it is.
		want := map[string]wheel.Job{
			"waxed": wheel.Coat, "cloth": wheel.Coat, "plastic": wheel.Coat, "brine-rubbed": wheel.Rub, "brushed": wheel.Brush,
			"washed": wheel.Wash, "bloomy": wheel.Turn, "blue": wheel.Pierce, "oiled": wheel.Oil, "smoked": wheel.Smoke,
			"fresh": wheel.Turn,
		}[v.Rind]
		coat := map[string]string{"waxed": "wax", "cloth": "cloth", "plastic": "breathable"}[v.Rind]
		if !slices.ContainsFunc(p.Steps, func(s Step) bool { return s.Job == want && (coat == "" || s.Coat == coat) }) {
			t.Errorf("%s has a %s rind, but its plan %s has no %s step for it", v.Name, v.Rind, p.Name, want)
		}
		// A target to be dry at is for a wheel that waits at the gate.
		if gated := slices.ContainsFunc(p.Steps, Step.Gated); v.DryTarget > 0 && !gated {
			t.Errorf("%s has a dry target, but nothing in %s waits for it", v.Name, p.Name)
		}
	}
	for _, p := range Builtin() {
		if !used[p.Name] {
			t.Errorf("no variety follows %s", p.Name)
		}
	}
}

// The schedule takes the step due first where two are open: a plan in which two
// recurring steps for one job overlap says something it does not mean, and one
// with a gap forgets the wheel.
func TestBuiltinPlansTurnEveryWheelAtEveryAgeByExactlyOneStep(t *testing.T) {
	for _, p := range Builtin() {
		coats := slices.ContainsFunc(p.Steps, func(s Step) bool { return s.Job == wheel.Coat })
		for _, coated := range []bool{false, true} {
			if coated && !coats {
				continue
			}
			for age := 1; age <= 1000; age++ {
				open := map[wheel.Job]int{}
				for _, s := range p.Steps {
					if recurs(s) && s.openAt(age, coated) {
						open[s.Job]++
					}
				}
				for j, n := range open {
					if n > 1 {
						t.Fatalf("%s: %d %s steps are open at %d days, coated %v", p.Name, n, j, age, coated)
					}
				}
				if open[wheel.Turn] != 1 || open[wheel.Check] != 1 {
					t.Fatalf("%s: %d turn and %d check steps are open at %d days, coated %v", p.Name, open[wheel.Turn],
						open[wheel.Check], age, coated)
				}
			}
		}
	}
}

func TestAPlanWithAGateWeighsAndChecksDailyUntilCoated(t *testing.T) {
	for _, p := range Builtin() {
		gates := 0
		for _, s := range p.Steps {
			if s.Gated() {
				gates++
			}
		}
		if gates == 0 {
			continue
		}
		if gates > 1 {
			t.Errorf("%s has %d gates", p.Name, gates)
		}
		for _, j := range []wheel.Job{wheel.Weigh, wheel.Check} {
			if !slices.ContainsFunc(p.Steps, func(s Step) bool { return s.Job == j && s.Every == 1 && s.Until == "coated" }) {
				t.Errorf("%s has a gate, but no daily %s until coated", p.Name, j)
			}
		}
		if !strings.Contains(p.Text, "[dry]") {
			t.Errorf("%s has a gate, but does not show its figures", p.Name)
		}
	}
}

// 3 to 7 days from the hoop before wax: Thom and Fisk 1918, Van Slyke and
// Publow.
func TestWaxWaitsThreeToSevenDays(t *testing.T) {
	for _, name := range []string{"waxed-hard", "waxed-semi-hard"} {
		if d := plan(t, name).Gate.MinDays; d < 3 || d > 7 {
			t.Errorf("%s: wax after %d days, want 3 to 7", name, d)
		}
	}
}

// Once or twice daily while drying; waxed cheese weekly: Thom and Fisk 1918 and
// common practice.
func TestWaxedCheeseIsTurnedDailyWhileDryingThenWeekly(t *testing.T) {
	for _, name := range []string{"waxed-hard", "waxed-semi-hard"} {
		s := plan(t, name).recurring(wheel.Turn)
		if len(s) != 2 || s[0].PerDay < 1 || s[0].PerDay > 2 || s[0].Until != "coated" || s[1].Every != 7 ||
			s[1].After != "coated" {
			t.Errorf("%s: turn steps %+v", name, s)
		}
	}
}

// Pressed cheese: daily in the first weeks, then 2 to 3 a week, then weekly
// (read; common practice).
func TestPressedCheeseIsTurnedDailyThenTwoOrThreeAWeekThenWeekly(t *testing.T) {
	for _, name := range []string{"cloth-bound", "plastic-coat", "alpine-rubbed", "warm-room", "tomme", "brushed-young",
		"washed-rind", "oiled-sheep"} {
		var got []Step
		for _, s := range plan(t, name).recurring(wheel.Turn) {
			if s.Every > 0 {
				got = append(got, s)
			}
		}
		if len(got) != 3 || got[0].Every != 1 || !aWeek(got[1], 2, 3) || got[2].Every != 7 {
			t.Errorf("%s: turn steps %+v", name, got)
			continue
		}
		if got[0].UntilDay < 14 || got[0].UntilDay > 28 {
			t.Errorf("%s: turned daily until day %d, want the first weeks", name, got[0].UntilDay)
		}
	}
}

// aWeek says whether the step comes low to high times a week.
func aWeek(s Step, low, high float64) bool {
	n := 7 / float64(s.Every)
	return n >= low-0.01 && n <= high+0.01
}

// Washed rinds: every 1 to 2 days at first, then twice weekly, then weekly
// (read). Every third day is the nearest to twice weekly that is not rarer.
func TestWashedRindsAreWashedEveryOneToTwoDaysThenTwiceWeeklyThenWeekly(t *testing.T) {
	for _, name := range []string{"washed-rind", "washed-soft"} {
		s := plan(t, name).recurring(wheel.Wash)
		if len(s) != 3 || s[0].Every < 1 || s[0].Every > 2 || !aWeek(s[1], 2, 7./3) || s[2].Every != 7 {
			t.Errorf("%s: wash steps %+v", name, s)
		}
	}
}

// Alpine types: brine-rubbed 2 a week for 3 weeks, then weekly (read).
func TestAlpineTypesAreRubbedTwiceAWeekForThreeWeeksThenWeekly(t *testing.T) {
	s := plan(t, "alpine-rubbed").recurring(wheel.Rub)
	if len(s) != 2 || !aWeek(s[0], 2, 7./3) || s[0].UntilDay != 21 || s[1].Every != 7 {
		t.Errorf("rub steps %+v", s)
	}
}

// Tomme type: washed at least twice in 3 weeks, rubbed weekly (read).
func TestTommeIsWashedTwiceInThreeWeeksAndRubbedWeekly(t *testing.T) {
	p := plan(t, "tomme")
	washed := 0
	for _, s := range p.Steps {
		for _, d := range s.Days {
			if s.Job == wheel.Wash && d <= 21 {
				washed++
			}
		}
	}
	if s := p.recurring(wheel.Rub); washed < 2 || len(s) != 1 || s[0].Every != 7 {
		t.Errorf("washed %d times in 3 weeks, rub steps %+v", washed, s)
	}
}

// Hard grating types: brushed and turned every 7 to 15 days; tasted by trier
// from 9 to 12 months (read).
func TestHardGratingIsBrushedAndTurnedEverySevenToFifteenDays(t *testing.T) {
	p := plan(t, "hard-grating")
	for _, j := range []wheel.Job{wheel.Brush, wheel.Turn} {
		for _, s := range p.recurring(j) {
			if (j == wheel.Brush || s.FromDay > 42) && (s.Every < 7 || s.Every > 15) {
				t.Errorf("%s every %d days from day %d", j, s.Every, s.FromDay)
			}
		}
	}
	for _, s := range p.Steps {
		if s.Job == wheel.Taste && (s.Days[0] < 270 || s.Days[0] > 365) {
			t.Errorf("first tasted at %d days, want 9 to 12 months", s.Days[0])
		}
	}
}

// Cheddar by trier from 2 months, then every 3 months (read in a secondary
// source).
func TestClothBoundCheddarIsTastedFromTwoMonthsThenEveryThree(t *testing.T) {
	for _, s := range plan(t, "cloth-bound").Steps {
		if s.Job != wheel.Taste {
			continue
		}
		for i, d := range s.Days {
			if d != 60+90*i {
				t.Errorf("tasted at %v days", s.Days)
			}
		}
	}
}

func TestEveryJobHasDefaultMinutes(t *testing.T) {
	for _, j := range wheel.Jobs {
		if m := DefaultMinutes(j); !(m > 0 && m < 60) {
			t.Errorf("%s takes %v minutes", j, m)
		}
	}
}

// recurs says whether the step comes again and again.
func recurs(s Step) bool { return s.Every > 0 || s.PerDay > 0 }
