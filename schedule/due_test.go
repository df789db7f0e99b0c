package schedule

import (
	"fmt"
	"math/rand"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

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

const gated = `
[[step]]
job = "turn"
per_day = 2
until = "coated"
[[step]]
job = "coat"
coat = "wax"
when = "dry"
note = "two thin coats"
[[step]]
job = "turn"
every = "7d"
after = "coated"
`

func TestAGateThatIsShutListsWhatItWaitsFor(t *testing.T) {
	k := keep(t, gated)
	k.gate.WeighFrom, k.gate.WeighWhy = made+4, reason.List{verdict.DryByCurve{}}
	k.want(t, "3: turn 1/2 late 3", "4: turn 1/2 late 4, weigh", "6: turn 1/2 late 6, weigh late 2")
	k.gate = verdict.Shut()
	k.gate.CheckFrom, k.gate.CheckWhy = made+5, reason.List{verdict.FiguresMet{}}
	k.want(t, "4: turn 1/2 late 4", "5: turn 1/2 late 5, check", "9: turn 1/2 late 9, check late 4")
	k.gate = verdict.Shut()
	k.want(t, "30: turn 1/2 late 30")
}

func TestAGateThatIsOpenListsTheCoatUntilTheCheckIsStale(t *testing.T) {
	k := keep(t, gated)
	k.gate = verdict.Windows{CoatFrom: made + 5, CoatUntil: made + 7, CheckFrom: made + 8, WeighFrom: day.None,
		CoatWhy: reason.List{verdict.DryAndSound{}}, CheckWhy: reason.List{verdict.CheckStale{}}}
	for age := range 10 {
		k.did(age, 8, wheel.Turn)
		k.did(age, 18, wheel.Turn)
	}
	k.want(t, "4:", "5: coat", "7: coat", "8: check", "10: check late 2, turn 1/2")
	var coat Task
	for _, task := range k.tasks() {
		if task.Job == wheel.Coat {
			coat = task
		}
	}
	want := Task{Job: wheel.Coat, Due: made + 5, Until: made + 7, Rounds: 1, Round: 1, RoundOn: day.None, Minutes: 4,
		Coat: "wax", Why: reason.List{verdict.DryAndSound{}}, Step: 2}
	if diff := cmp.Diff(want, coat); diff != "" {
		t.Error(diff)
	}
}

func TestWhatTheGateAsksForIsListedOnceBesideThePlansOwn(t *testing.T) {
	k := keep(t, gated+"[[step]]\njob = \"weigh\"\nevery = \"1d\"\nuntil = \"coated\"\n[[step]]\njob = \"check\"\nevery "+
		"= \"1d\"\nuntil = \"coated\"\n")
	k.gate.WeighFrom, k.gate.CheckFrom = made+4, made+4
	k.want(t, "4: turn 1/2 late 4, weigh late 4, check late 4")
	k.at(4, 9, 0, wheel.Entry{Kind: wheel.Weighed, Weight: 1900})
	k.gate.WeighFrom = made + 5 // as the verdict sets it after a weighing
	k.want(t, "4: turn 1/2 late 4, check late 4", "5: turn 1/2 late 5, check late 5, weigh")
}

func TestWhatTheGateAsksForMayBePassedOverForADay(t *testing.T) {
	k := keep(t, gated)
	k.gate.CheckFrom, k.gate.WeighFrom = made+4, made+4
	k.did(6, 8, wheel.Turn)
	k.did(6, 18, wheel.Turn)
	k.at(6, 9, 0, wheel.Entry{Kind: wheel.Skipped, Job: wheel.Check, Note: "no time"})
	k.at(6, 9, 0, wheel.Entry{Kind: wheel.Skipped, Job: wheel.Weigh, Note: "scale broken"})
	k.want(t, "6:", "7: turn 1/2, check, weigh")
	k.gate = verdict.Windows{CoatFrom: made + 5, CoatUntil: made + 8, CheckFrom: day.None, WeighFrom: day.None}
	k.at(6, 10, 0, wheel.Entry{Kind: wheel.Skipped, Job: wheel.Coat, Note: "no wax"})
	k.want(t, "6:", "7: turn 1/2, coat", "8: turn 1/2 late 1, coat")
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

func TestWindowsByAge(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"wash\"\nevery = \"2d\"\nfrom_day = 3\nuntil_day = 9\n[[step]]\njob = "+
		"\"wash\"\nevery = \"7d\"\nfrom_day = 10\n")
	k.want(t, "2:", "3: wash", "9: wash late 6")
	k.did(8, 12, wheel.Wash)
	// Within its window it would be due at day 10, when the next step is open:
	// that one counts its week from the last wash.
	k.want(t, "9:", "10:", "14:", "15: wash", "16: wash late 1")
}

func TestAStepThatWasNeverDoneInItsWindowIsNotOwed(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"wash\"\nevery = \"2d\"\nuntil_day = 9\n")
	k.want(t, "9: wash late 9", "10:", "100:")
}

func TestWindowsByStage(t *testing.T) {
	k := keep(t, `
[[step]]
job = "turn"
every = "1d"
after = "drying"
until = "ripening"
[[step]]
job = "turn"
every = "3d"
after = "ripening"
until = "ready"
[[step]]
job = "check"
every = "7d"
after = "ready"
`)
	// Unweighed: drying from day 1, ripening 7 days later, ready at 60.
	k.want(t, "0:", "1: turn", "7: turn late 6", "8: turn", "59: turn late 51", "60: check", "61: check late 1")
	k.did(7, 12, wheel.Turn)
	k.want(t, "7:", "8:", "9:", "10: turn")
	// Weighed on the day of the make: all of it a day earlier.
	k.entries = nil
	k.at(0, 12, 0, wheel.Entry{Kind: wheel.Weighed, Weight: 2000})
	k.want(t, "0: turn", "6: turn late 6", "7: turn", "8: turn late 1")
	// A stage nobody named days for never comes.
	k.dry, k.ready = 0, 0
	k.want(t, "400: turn late 400")
}

func TestWindowsByJob(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"rub\"\nevery = \"2d\"\nuntil = \"oil\"\n[[step]]\njob = \"oil\"\nfrom_day = "+
		"20\n[[step]]\njob = \"oil\"\nevery = \"30d\"\nafter = \"oil\"\n")
	k.want(t, "0: rub", "20: rub late 20, oil")
	k.did(20, 9, wheel.Rub)
	k.did(21, 12, wheel.Oil)
	k.want(t, "21:", "22:", "50:", "51: oil")
	k.did(52, 12, wheel.Oil)
	k.want(t, "81:", "82: oil")
}

func TestDaysStepsWithSlack(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"taste\"\ndays = [60, 120, 180]\nslack = 5\n")
	k.want(t, "59:", "60: taste", "70: taste late 10", "119: taste late 59", "130: taste late 70")
	k.did(54, 12, wheel.Taste) // six days early is another tasting
	k.want(t, "60: taste")
	k.did(55, 12, wheel.Taste) // five is this one
	k.want(t, "60:", "119:", "120: taste", "125: taste late 5")
	k.did(177, 12, wheel.Taste) // the third, early; the second is not owed any more
	k.want(t, "180:", "400:")
	if s := k.tasks(); len(s) != 0 {
		t.Errorf("left over: %+v", s)
	}
}

func TestOnceSteps(t *testing.T) {
	k := keep(t, "[[step]]\njob = \"pierce\"\nfrom_day = 10\nuntil_day = 20\nslack = 2\n[[step]]\njob = "+
		"\"smoke\"\nafter = \"drying\"\nminutes = 7\nnote = \"cold\"\n[[step]]\njob = \"move\"\nto = \"cold "+
		"room\"\nfrom_day = 30\n")
	k.want(t, "0:", "1: smoke", "9: smoke late 8", "10: smoke late 9, pierce", "20: smoke late 19, pierce late 10",
		"21: smoke late 20", "30: smoke late 29, move")
	k.did(7, 12, wheel.Pierce) // before its days and its slack
	k.want(t, "10: smoke late 9, pierce")
	k.did(8, 12, wheel.Pierce)
	k.did(3, 12, wheel.Smoke)
	k.at(30, 12, 0, wheel.Entry{Kind: wheel.Moved, Place: "cold/A"})
	k.want(t, "8:", "10:", "30:", "400:")
	k.entries = nil
	want := []Task{
		{Job: wheel.Smoke, Due: made + 1, Until: day.None, Rounds: 1, Round: 1, RoundOn: day.None, Minutes: 7,
			Why: reason.List{Once{}, After{"drying"}}, Step: 2},
		{Job: wheel.Pierce, Due: made + 10, Until: made + 20, Rounds: 1, Round: 1, RoundOn: day.None, Minutes: 2, Slack: 2,
			Why: reason.List{Once{}, FromDay{10}}, Step: 1},
		{Job: wheel.Move, Due: made + 30, Until: day.None, Rounds: 1, Round: 1, RoundOn: day.None, Minutes: 0.5,
			To: "cold room", Why: reason.List{Once{}, FromDay{30}}, Step: 3},
	}
	if diff := cmp.Diff(want, k.tasks()); diff != "" {
		t.Error(diff)
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
