package schedule

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

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
