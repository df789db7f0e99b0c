package schedule

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// made is the make day of the tests' wheels: Friday 20 November 2026.
var made = day.Of(2026, time.November, 20)

// keeping is a wheel, its entries and its plan, as a test tells its story.
type keeping struct {
	plan    Plan
	made    day.Date
	since   day.Date
	began   time.Time // zero: nobody said when the make began
	loc     *time.Location
	gate    verdict.Windows
	dry     int // drying days of the variety
	ready   int // and the age it is ready at
	entries []wheel.Entry
}

// keep starts a wheel made on made and kept since then, under the steps given
// as TOML.
func keep(t testing.TB, steps string) *keeping {
	t.Helper()
	p, err := ParsePlan("test.toml", []byte("name = \"test\"\ntitle = \"Test\"\n"+steps))
	if err != nil {
		t.Fatal(err)
	}
	return &keeping{plan: p, made: made, since: made, loc: time.UTC, gate: verdict.Shut(), dry: 7, ready: 60}
}

// at writes an entry at h:m o'clock of an age in days.
func (k *keeping) at(age, h, m int, e wheel.Entry) uuid.UUID {
	n := len(k.entries) + 1
	e.ID = uuid.UUID{14: byte(n >> 8), 15: byte(n)}
	e.At = (k.made + day.Date(age)).Clock(h, m, k.loc)
	e.Written = k.made.Noon(time.UTC).Add(time.Duration(n) * time.Millisecond)
	k.entries = append(k.entries, e)
	return e.ID
}

func (k *keeping) did(age, h int, j wheel.Job) uuid.UUID {
	return k.at(age, h, 0, wheel.Entry{Kind: wheel.Did, Job: j})
}

func (k *keeping) life() wheel.Life {
	w := wheel.Wheel{Tag: "261120A-01", Plan: "test", Since: k.since.Clock(8, 0, k.loc)}
	return wheel.NewLife(w, wheel.Make{Lot: "261120A", Date: k.made, Began: k.began}, k.entries, k.loc, nil)
}

func (k *keeping) tasks() []Task {
	return Due(k.plan, Subject{Life: k.life(), DryingDays: k.dry, ReadyDays: k.ready, Gate: k.gate, Loc: k.loc})
}

// list is what stands on the list at an age: "turn 1/2", "brush late 3".
func (k *keeping) list(age int) []string {
	out := []string{}
	on := k.made + day.Date(age)
	for _, t := range k.tasks() {
		s, ok := t.On(on)
		if !ok {
			continue
		}
		w := string(t.Job)
		if t.Rounds > 1 {
			w += fmt.Sprintf(" %d/%d", s.Round, t.Rounds)
		}
		if s.LateDays > 0 {
			w += fmt.Sprintf(" late %d", s.LateDays)
		}
		if want := max(1, t.Rounds) - s.Round + 1; s.Left != want {
			w += fmt.Sprintf(" LEFT %d, NOT %d", s.Left, want)
		}
		out = append(out, w)
	}
	return out
}

// want compares the lists at several ages: "3: turn 1/2, weigh" for each.
func (k *keeping) want(t *testing.T, lists ...string) {
	t.Helper()
	for _, l := range lists {
		var age int
		if _, err := fmt.Sscanf(l, "%d:", &age); err != nil {
			t.Fatal(err)
		}
		_, want, _ := strings.Cut(l, ":")
		if got := strings.Join(k.list(age), ", "); got != strings.TrimSpace(want) {
			t.Errorf("at %d days the list is %q, want %q", age, got, strings.TrimSpace(want))
		}
	}
}

const twice = `
[[step]]
job = "turn"
per_day = 2
`

func TestTurnedTwiceADayThroughOneDay(t *testing.T) {
	k := keep(t, twice)
	k.want(t, "0: turn 1/2")
	k.did(0, 8, wheel.Turn)
	k.want(t, "0: turn 2/2")
	k.did(0, 20, wheel.Turn)
	k.want(t, "0:", "1: turn 1/2")
	k.did(0, 21, wheel.Turn) // a third time does no harm
	k.want(t, "0:", "1: turn 1/2")
}

func TestARoundMissedInTheEveningIsOneLateTask(t *testing.T) {
	k := keep(t, twice)
	k.did(0, 8, wheel.Turn)
	k.want(t, "0: turn 2/2", "1: turn 1/2 late 1", "5: turn 1/2 late 5")
	k.did(5, 8, wheel.Turn)
	k.want(t, "5: turn 2/2")
}

func TestALateJobIsOneLateTask(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"brush\"\nevery = \"3d\"\n")
	k.want(t, "0: brush", "1: brush late 1", "30: brush late 30")
	k.did(10, 12, wheel.Brush)
	k.want(t, "10:", "12:", "13: brush", "14: brush late 1", "40: brush late 27")
	if n := len(k.tasks()); n != 1 {
		t.Errorf("%d tasks for one job", n)
	}
	// Counted from when it was done, not on a grid from the start.
	k.did(15, 12, wheel.Brush)
	k.want(t, "16:", "17:", "18: brush")
}

func TestASkipCountsAsDone(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"brush\"\nevery = \"3d\"\n[[step]]\njob = \"pierce\"\nfrom_day = 5\n"+twice)
	k.at(0, 12, 0, wheel.Entry{Kind: wheel.Skipped, Job: wheel.Brush, Note: "wet"})
	k.at(0, 12, 0, wheel.Entry{Kind: wheel.Skipped, Job: wheel.Turn})
	k.want(t, "0: turn 2/2", "2: turn 1/2 late 2", "3: turn 1/2 late 3, brush", "5: turn 1/2 late 5, brush late 2, pierce")
	k.at(5, 12, 0, wheel.Entry{Kind: wheel.Skipped, Job: wheel.Pierce})
	k.want(t, "6: turn 1/2 late 6, brush late 3", "90: turn 1/2 late 90, brush late 87")
	for _, task := range k.tasks() {
		if task.Job == wheel.Brush && !task.Why.Equal(reason.List{Every{3}, LastSkipped{made}}) {
			t.Errorf("why: %+v", task.Why)
		}
	}
}

func TestAStruckDeedIsDueAgain(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"brush\"\nevery = \"3d\"\n")
	id := k.did(0, 12, wheel.Brush)
	k.want(t, "0:", "3: brush")
	k.at(1, 12, 0, wheel.Entry{Kind: wheel.Struck, Target: id})
	k.want(t, "0: brush", "3: brush late 3")
}

func TestAWheelCoatedBetweenRoundsIsTurnedWeekly(t *testing.T) {
	k := keep(t, gated)
	k.gate = verdict.Windows{CoatFrom: made + 4, CoatUntil: made + 6, CheckFrom: day.None, WeighFrom: day.None}
	for age := range 5 {
		k.did(age, 8, wheel.Turn)
		k.did(age, 18, wheel.Turn)
	}
	k.did(5, 8, wheel.Turn)
	k.want(t, "5: coat, turn 2/2")
	coat := k.at(5, 10, 0, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax"})
	k.gate = verdict.Shut() // as the verdict sets it
	k.want(t, "5:", "6:", "11:", "12: turn", "13: turn late 1")
	// Struck, the coat and the second round are back.
	k.at(5, 11, 0, wheel.Entry{Kind: wheel.Struck, Target: coat})
	k.gate = verdict.Windows{CoatFrom: made + 4, CoatUntil: made + 6, CheckFrom: day.None, WeighFrom: day.None}
	k.want(t, "5: coat, turn 2/2", "6: coat, turn 1/2 late 1")
	// It is late where the wheel is drier than it should be.
	k.gate.CoatWhy = reason.List{verdict.CoatAtOnce{}}
	k.want(t, "5: coat late 1, turn 2/2", "6: coat late 2, turn 1/2 late 1")
}

func TestAWheelMovedBetweenRoundsKeepsItsRound(t *testing.T) {
	k := keep(t, twice)
	k.did(3, 8, wheel.Turn)
	k.at(3, 12, 0, wheel.Entry{Kind: wheel.Moved, Place: "cellar/B/1"})
	k.want(t, "3: turn 2/2")
}

func TestAPlanChangedInMidLifeGoesOnFromWhatWasDone(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"turn\"\nper_day = 2\n")
	for age := range 10 {
		k.did(age, 8, wheel.Turn)
		k.did(age, 18, wheel.Turn)
	}
	k.did(9, 9, wheel.Brush)
	k.at(10, 12, 0, wheel.Entry{Kind: wheel.Planned, Plan: "other"})
	k.plan = keep(t, `
[[step]]
job = "turn"
every = "2d"
[[step]]
job = "brush"
every = "7d"
from_day = 5
[[step]]
job = "taste"
days = [5, 30]
[[step]]
job = "wash"
every = "1d"
until_day = 8
`).plan
	k.want(t, "10: taste late 5", "11: taste late 6, turn", "16: taste late 11, turn late 5, brush")
	if p := k.life().Plan; p != "other" {
		t.Errorf("plan %q", p)
	}
}

// Dublin puts the clock on at 01:00 on 29 March 2026 and back at 02:00 on
// 25 October; New York on 8 March and 1 November.
func TestASummerTimeNightMovesNothing(t *testing.T) {
	for _, c := range []struct {
		zone  string
		night day.Date
	}{
		{"Europe/Dublin", day.Of(2026, time.March, 29)}, {"Europe/Dublin", day.Of(2026, time.October, 25)},
		{"America/New_York", day.Of(2026, time.March, 8)}, {"America/New_York", day.Of(2026, time.November, 1)},
	} {
		t.Run(c.zone+" "+c.night.String(), func(t *testing.T) {
			loc, err := time.LoadLocation(c.zone)
			if err != nil {
				t.Fatal(err)
			}
			for _, hour := range []int{0, 1, 8, 23} {
				k := keep(t, twice+"[[step]]\njob = \"brush\"\nevery = \"3d\"\n[[step]]\njob = \"taste\"\ndays = [10]\n")
				k.made, k.since, k.loc = c.night-2, c.night-2, loc
				for age := 0; age <= 1; age++ { // the day before the night is age 1
					k.at(age, hour, 30, wheel.Entry{Kind: wheel.Did, Job: wheel.Turn})
					k.at(age, hour, 45, wheel.Entry{Kind: wheel.Did, Job: wheel.Turn})
				}
				k.at(0, hour, 30, wheel.Entry{Kind: wheel.Did, Job: wheel.Brush})
				k.want(t, "1:", "2: turn 1/2", "3: turn 1/2 late 1, brush", "10: turn 1/2 late 8, brush late 7, taste")
				k.at(2, hour, 30, wheel.Entry{Kind: wheel.Did, Job: wheel.Turn})
				k.want(t, "2: turn 2/2")
			}
		})
	}
}

func TestALeapDayIsADayLikeAnyOther(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"turn\"\nevery = \"7d\"\n[[step]]\njob = \"taste\"\ndays = [60]\n")
	k.made = day.Of(2028, time.January, 1)
	k.since = k.made
	k.did(57, 12, wheel.Turn) // Sunday 27 February 2028
	k.want(t, "59:", "60: taste", "63: taste late 3", "64: taste late 4, turn")
	if on := k.made + 60; on != day.Of(2028, time.March, 1) || k.made+64 != day.Of(2028, time.March, 5) {
		t.Errorf("sixty days from New Year are %s", on)
	}
}

func TestAWheelAddedWithAMakeDateAYearAgoFloodsNothing(t *testing.T) {
	k := keep(t, twice+"[[step]]\njob = \"brush\"\nevery = \"3d\"\n[[step]]\njob = \"taste\"\ndays = [60, 120, 365, "+
		"400]\n[[step]]\njob = \"wash\"\nevery = \"1d\"\nuntil_day = 30\n")
	k.since = made + 365
	k.want(t, "365: turn 1/2, brush, taste", "366: turn 1/2 late 1, brush late 1, taste late 1")
	// The green weight of a year ago, written down today, is no handling.
	k.plan = keep(t, "[[step]]\njob = \"weigh\"\nevery = \"7d\"\n").plan
	k.at(0, 12, 0, wheel.Entry{Kind: wheel.Weighed, Weight: 2000})
	k.want(t, "364:", "365: weigh", "367: weigh late 2")
}

func TestEveryBuiltinPlanTakesAnOldWheelWithoutAFlood(t *testing.T) {
	for _, p := range Builtin() {
		for _, age := range []int{0, 10, 100, 365, 1000} {
			for _, weighed := range []bool{false, true} {
				k := keep(t, twice)
				k.plan, k.since = p, made+day.Date(age)
				if weighed {
					k.at(0, 12, 0, wheel.Entry{Kind: wheel.Weighed, Weight: 2000})
				}
				for _, l := range k.list(age) {
					if strings.Contains(l, "late") {
						t.Errorf("%s: added at %d days, weighed %v: %s", p.Name, age, weighed, l)
					}
				}
			}
		}
	}
}

func TestAWheelOnHoldIsHandledAndAWheelGoneIsNot(t *testing.T) {
	k := keep(t, twice)
	k.at(2, 9, 0, wheel.Entry{Kind: wheel.Held, Note: "test pending"})
	k.want(t, "2: turn 1/2 late 2")
	k.at(3, 9, 0, wheel.Entry{Kind: wheel.Sent, To: "the shop"})
	k.want(t, "2:", "3:", "30:")
	k.at(4, 9, 0, wheel.Entry{Kind: wheel.Struck, Target: k.entries[1].ID})
	k.want(t, "4: turn 1/2 late 4")
}

func TestOverlappingStepsListAJobOnceADate(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"turn\"\nevery = \"1d\"\nuntil_day = 5\n[[step]]\njob = \"turn\"\nevery = "+
		"\"7d\"\n[[step]]\njob = \"turn\"\ndays = [3, 12]\n")
	for age := range 15 {
		if l := k.list(age); len(l) != 1 {
			t.Errorf("at %d days: %q", age, l)
		}
	}
	k.did(5, 12, wheel.Turn)
	// The step that ended is gone; of the others the one due first has the rest.
	k.want(t, "5:", "11:", "12: turn", "13: turn late 1")
	k = keep(t, "[[step]]\njob = \"turn\"\ndays = [0]\nuntil_day = 1\n[[step]]\njob = \"turn\"\nevery = "+
		"\"1d\"\nfrom_day = 1\n")
	k.want(t, "0: turn", "1: turn late 1", "2: turn", "3: turn late 1")
}

func TestEveryTaskSaysWhy(t *testing.T) {
	k := keep(t, twice+"[[step]]\njob = \"brush\"\nevery = \"14d\"\nafter = \"drying\"\nfrom_day = 2\n[[step]]\njob = "+
		"\"taste\"\ndays = [60]\n[[step]]\njob = \"wash\"\nper_day = 3\n[[step]]\njob = \"oil\"\nevery = "+
		"\"1w\"\n[[step]]\njob = \"salt\"\nevery = \"1d\"\n[[step]]\njob = \"rub\"\nper_day = 1\n")
	k.did(0, 8, wheel.Turn)
	k.did(0, 8, wheel.Rub)
	k.did(0, 8, wheel.Oil)
	got := map[wheel.Job]reason.List{}
	for _, task := range k.tasks() {
		got[task.Job] = task.Why
	}
	want := map[wheel.Job]reason.List{
		wheel.Turn:  {PerDay{2}, DoneOf{1, 2, made}},
		wheel.Brush: {Every{14}, FromDay{2}, After{"drying"}},
		wheel.Taste: {AtAge{60}},
		wheel.Wash:  {PerDay{3}},
		wheel.Oil:   {Every{7}, LastDone{made}},
		wheel.Salt:  {Every{1}, AtStart{}},
		wheel.Rub:   {PerDay{1}, LastDone{made}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestAWheelTakenInPastNoonIsListedThatDayAndNotLateNextMorning(t *testing.T) {
	loc := time.UTC
	made := day.Of(2026, 11, 25)
	for _, c := range []struct {
		hour int
		late int // days late the next day
	}{{8, 1}, {12, 0}, {17, 0}} {
		w := wheel.Wheel{Tag: "x", Plan: "test", Since: made.Clock(c.hour, 0, loc)}
		l := wheel.NewLife(w, wheel.Make{Lot: "x", Date: made}, nil, loc, nil)
		p := Plan{Steps: []Step{{Job: wheel.Turn, Every: 1, FromDay: None, UntilDay: None}}}
		tasks := Due(p, Subject{Life: l, Loc: loc, Gate: verdict.Shut()})
		on := func(d day.Date) (n, late int) {
			for _, x := range tasks {
				if st, ok := x.On(d); ok {
					n, late = n+1, st.LateDays
				}
			}
			return n, late
		}
		if n, late := on(made); n != 1 || late != 0 {
			t.Errorf("taken in at %d h: %d tasks, %d days late that day", c.hour, n, late)
		}
		if n, late := on(made + 1); n != 1 || late != c.late {
			t.Errorf("taken in at %d h: %d tasks, %d days late next day, want 1 and %d", c.hour, n, late, c.late)
		}
	}
}

func TestAJobAskedForIsListedUntilItIsDone(t *testing.T) {
	loc := time.UTC
	made := day.Of(2026, 11, 1)
	w := wheel.Wheel{Tag: "x", Plan: "test", Since: made.Clock(8, 0, loc)}
	ask := wheel.Entry{ID: uuid.New(), Kind: wheel.Asked, Job: wheel.Check, At: (made + 5).Clock(9, 0, loc),
		Note: "bitter seen on y"}
	done := wheel.Entry{ID: uuid.New(), Kind: wheel.Checked, At: (made + 6).Clock(9, 0, loc),
		Found: wheel.HandCheck{Cracks: wheel.No}}
	due := func(es ...wheel.Entry) []Task {
		return Due(Plan{},
			Subject{Life: wheel.NewLife(w, wheel.Make{Lot: "x", Date: made}, es, loc, nil), Loc: loc, Gate: verdict.Shut()})
	}
	if got := due(ask); len(got) != 1 || got[0].Job != wheel.Check || got[0].Due != made+5 ||
		!got[0].Why.Equal(reason.List{wheel.Says{Words: "bitter seen on y"}}) {
		t.Errorf("asked for: %+v", got)
	}
	if got := due(ask, done); len(got) != 0 {
		t.Errorf("done since: %+v", got)
	}
	// The plan wants it too: one task, that says both.
	k := keep(t, "[[step]]\njob = \"check\"\nevery = \"1d\"\n")
	k.at(2, 9, 0, wheel.Entry{Kind: wheel.Checked, Found: wheel.HandCheck{Cracks: wheel.No}})
	k.at(5, 9, 0, wheel.Entry{Kind: wheel.Asked, Job: wheel.Check, Note: "bitter seen on y"})
	var whys []reason.List
	for _, x := range k.tasks() {
		whys = append(whys, append(reason.List{LastDone{x.Due}}, x.Why...))
	}
	want := reason.List{LastDone{day.Of(2026, 11, 23)}, wheel.Says{Words: "bitter seen on y"}, Every{1},
		LastDone{day.Of(2026, 11, 22)}}
	if d := cmp.Diff([]reason.List{want}, whys); d != "" {
		t.Errorf("asked for and due by the plan (-want +got):\n%s", d)
	}
}

func TestWhatComesEverySoOftenAfterACoatCountsFromTheCoat(t *testing.T) {
	k := keep(t, gated+"[[step]]\njob = \"check\"\nevery = \"2w\"\nafter = \"coated\"\n"+
		"[[step]]\njob = \"brush\"\nevery = \"2w\"\nafter = \"coated\"\nfrom_day = 40\n")
	k.did(1, 8, wheel.Turn)
	k.at(20, 12, 0, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax", Weight: 2000})
	k.want(t, "20:", "26:", "27: turn", "34: turn late 7, check", "40: turn late 13, check late 6, brush")
	k.did(29, 8, wheel.Turn)
	k.did(29, 8, wheel.Check)
	k.want(t, "34:", "36: turn", "43: turn late 7, brush late 3, check")
}
