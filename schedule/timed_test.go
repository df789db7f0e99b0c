package schedule

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
)

// pressed is a make that begins at 9:00 and is turned in the press 90, 120 and
// 240 minutes later, and once more a day after; then turned daily.
const pressed = `
[[step]]
job           = "turn"
minutes_after = [90, 120, 240, 1440]

[[step]]
job   = "turn"
every = "1d"
after = "drying"
`

func pressing(t testing.TB, steps string) *keeping {
	k := keep(t, steps)
	k.began = made.Clock(9, 0, k.loc)
	return k
}

// clocks are the times of the rounds left of the timed task at an age.
func (k *keeping) clocks(age int) []string {
	out := []string{}
	on := k.made + day.Date(age)
	for _, task := range k.tasks() {
		if s, ok := task.On(on); ok {
			for r := s.Round; ; r++ {
				at, ok := task.Time(r, k.loc)
				if !ok {
					break
				}
				out = append(out, at.In(k.loc).Format("2 15:04"))
			}
		}
	}
	return out
}

func TestTheTimesOfAMakesDayAreRoundsOfIt(t *testing.T) {
	k := pressing(t, pressed)
	k.want(t, "0: turn 1/3", "1: turn", "2: turn")
	for _, c := range []struct {
		name string
		do   func()
		want []string
	}{
		{"nothing done: all three", func() {}, []string{"20 10:30", "20 11:00", "20 13:00"}},
		{"one done: two left", func() { k.at(0, 10, 31, wheel.Entry{Kind: wheel.Did, Job: wheel.Turn}) },
			[]string{"20 11:00", "20 13:00"}},
		{"one passed over: one left", func() {
			k.at(0, 11, 5, wheel.Entry{Kind: wheel.Skipped, Job: wheel.Turn, Note: "too soft"})
		}, []string{"20 13:00"}},
		{"all done: none left", func() { k.at(0, 13, 0, wheel.Entry{Kind: wheel.Did, Job: wheel.Turn}) }, []string{}},
	} {
		c.do()
		if d := cmp.Diff(c.want, k.clocks(0)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
	if d := cmp.Diff([]string{"21 09:00"}, k.clocks(1)); d != "" {
		t.Errorf("the next day's (-want +got):\n%s", d)
	}
}

func TestAStruckTurnInThePressIsDueAgain(t *testing.T) {
	k := pressing(t, pressed)
	id := k.at(0, 10, 31, wheel.Entry{Kind: wheel.Did, Job: wheel.Turn})
	k.want(t, "0: turn 2/3")
	k.at(0, 10, 40, wheel.Entry{Kind: wheel.Struck, Target: id})
	k.want(t, "0: turn 1/3")
}

func TestEntriesOfAMakesDayInAnyOrderAnswerTheSameRounds(t *testing.T) {
	k := pressing(t, pressed)
	k.at(0, 13, 0, wheel.Entry{Kind: wheel.Did, Job: wheel.Turn})
	k.at(0, 10, 30, wheel.Entry{Kind: wheel.Did, Job: wheel.Turn})
	k.want(t, "0: turn 3/3")
}

func TestAMissedTimeIsLateOneDayAndThenNoLonger(t *testing.T) {
	k := pressing(t, `
[[step]]
job           = "press"
minutes_after = [60, 180]
`)
	k.want(t, "0: press 1/2", "1: press 1/2 late 1", "2:")
	k.did(0, 10, wheel.PressOn)
	k.want(t, "0: press 2/2", "1: press 2/2 late 1", "2:")
}

func TestTimesPastMidnightAreTheNextDays(t *testing.T) {
	k := pressing(t, pressed)
	k.began = made.Clock(20, 0, k.loc)
	k.want(t, "0: turn 1/2", "1: turn 1/2")
	if d := cmp.Diff([]string{"20 21:30", "20 22:00"}, k.clocks(0)); d != "" {
		t.Errorf("the make's day (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{"21 00:00", "21 20:00"}, k.clocks(1)); d != "" {
		t.Errorf("the day after (-want +got):\n%s", d)
	}
}

func TestAMakeNobodySaidTheBeginningOfHasNoTimes(t *testing.T) {
	k := keep(t, pressed)
	k.want(t, "0:", "1: turn")
}

func TestAWheelWeighedOutOfThePressHasNoMoreTimes(t *testing.T) {
	k := pressing(t, pressed)
	k.at(0, 14, 0, wheel.Entry{Kind: wheel.Weighed, Weight: 2000})
	k.want(t, "0: turn", "1: turn late 1") // daily since drying began
}

func TestUntilSaysOtherwise(t *testing.T) {
	k := pressing(t, `
[[step]]
job           = "salt"
minutes_after = [600, 1500]
until         = "coated"
`)
	k.at(0, 14, 0, wheel.Entry{Kind: wheel.Weighed, Weight: 2000})
	k.want(t, "0: salt", "1: salt")
	k.at(1, 8, 0, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax"})
	k.want(t, "0: salt", "1:")
}

func TestAWheelGoneOrTakenInLaterHasNoTimes(t *testing.T) {
	k := pressing(t, pressed)
	k.at(0, 12, 0, wheel.Entry{Kind: wheel.Lost, Note: "dropped"})
	k.want(t, "0:", "1:")
	k = pressing(t, pressed)
	k.since = made + 3
	k.want(t, "0:", "1:", "3: turn")
}

func TestAWheelOnHoldIsPressedAllTheSame(t *testing.T) {
	k := pressing(t, pressed)
	k.at(0, 9, 30, wheel.Entry{Kind: wheel.Held, Note: "test pending"})
	k.want(t, "0: turn 1/3")
}

// On 29 March 2026 the clock in Dublin goes from 1:00 to 2:00: three hours after
// half past eleven in the evening it is half past three.
func TestMinutesAreMinutesThroughASummerTimeNight(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	k := keep(t, `
[[step]]
job           = "press"
minutes_after = 180
`)
	k.loc, k.made, k.since = dublin, day.Of(2026, time.March, 28), day.Of(2026, time.March, 28)
	k.began = k.made.Clock(23, 30, dublin)
	if d := cmp.Diff([]string{"29 03:30"}, k.clocks(1)); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

func TestTheTimesOfAMakesDayAreLookedAheadTo(t *testing.T) {
	k := pressing(t, pressed)
	k.did(0, 10, wheel.Turn)
	got := Project(k.plan, Subject{Life: k.life(), DryingDays: k.dry, ReadyDays: k.ready, Gate: k.gate, Loc: k.loc}, made,
		made+2)
	at := func(age, h, m int) time.Time { return (made + day.Date(age)).Clock(h, m, k.loc) }
	turn := Doing{Job: wheel.Turn}
	want := []Chore{
		{Doing: &turn, On: made, Low: made, High: made, Rounds: 2, Minutes: 0.5,
			Times: []time.Time{at(0, 11, 0), at(0, 13, 0)}},
		{Doing: &turn, On: made + 1, Low: made + 1, High: made + 1, Rounds: 1, Minutes: 0.25,
			Times: []time.Time{at(1, 9, 0)}},
		{Doing: &turn, On: made + 2, Low: made + 2, High: made + 2, Rounds: 1, Minutes: 0.25},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

func TestWhatComesADayAfterTheMakesIsNotCalledItsDay(t *testing.T) {
	k := pressing(t, `
[[step]]
job           = "salt"
minutes_after = [60, 1440, 2880, 2881]
`)
	k.did(2, 9, wheel.Salt)
	var got []reason.List
	for _, task := range k.tasks() {
		got = append(got, task.Why)
	}
	want := []reason.List{{MakeDay{2}, DoneOf{1, 2, day.None}}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("one done on the last day (-want +got):\n%s", d)
	}
	k = pressing(t, `
[[step]]
job           = "salt"
minutes_after = [60, 1440, 2880, 2881]
`)
	got = nil
	for _, task := range k.tasks() {
		got = append(got, task.Why)
	}
	want = []reason.List{{MakeDay{0}, Rounds{1}}, {MakeDay{1}, Rounds{1}}, {MakeDay{2}, Rounds{2}}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("nothing done (-want +got):\n%s", d)
	}
}

func TestAJobOfManyStepsIsListedOnceADayAroundItsTimes(t *testing.T) {
	k := pressing(t, `
[[step]]
job           = "salt"
minutes_after = [2880]

[[step]]
job   = "salt"
every = "1d"

[[step]]
job      = "salt"
days     = [1]
`)
	k.want(t, "0: salt", "1: salt late 1", "2: salt", "3: salt")
}

// Whatever steps ask for a job, a date lists it once where any of them is due
// on it, and not where none is.
func TestADateListsAJobOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var ts []Task
		timed := rapid.IntRange(0, 3).Draw(t, "first date with times")
		for n := rapid.IntRange(0, 2).Draw(t, "dates with times"); n > 0; n-- {
			on := made + day.Date(timed+n)
			ts = append(ts, Task{Job: wheel.Salt, Due: on, Until: on + 1, Times: []int{60}})
		}
		for n := rapid.IntRange(0, 3).Draw(t, "others"); n > 0; n-- {
			x := Task{Job: wheel.Salt, Due: made + day.Date(rapid.IntRange(0, 8).Draw(t, "due")), Until: day.None}
			if rapid.Bool().Draw(t, "ends") {
				x.Until = x.Due + day.Date(rapid.IntRange(0, 5).Draw(t, "days"))
			}
			ts = append(ts, x)
		}
		before := slices.Clone(ts)
		after := once(ts)
		for d := made; d < made+16; d++ {
			listed := func(ts []Task) (n int) {
				for _, x := range ts {
					if _, ok := x.On(d); ok {
						n++
					}
				}
				return n
			}
			if got, want := listed(after), min(1, listed(before)); got != want {
				t.Fatalf("day %d: listed %d times, want %d", d-made, got, want)
			}
		}
	})
}
