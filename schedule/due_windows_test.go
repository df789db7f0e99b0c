package schedule

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
)

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
