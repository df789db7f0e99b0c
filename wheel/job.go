package wheel

import (
	"slices"
	"strings"

	"rindkeep/cave/reason"
)

// Job is a kind of handling, named by the maker's verb for it. The zero value is no
// job.
type Job string

// The jobs that a rind plan can ask for and an entry can record.
const (
	Turn   Job = "turn"
	Brush  Job = "brush"
	Wash   Job = "wash"
	Rub    Job = "rub"
	Oil    Job = "oil"
	Pierce Job = "pierce"
	Salt   Job = "salt"
	Smoke  Job = "smoke"
	Weigh  Job = "weigh"
	Taste  Job = "taste"
	Coat   Job = "coat"
	Move   Job = "move"
	Check  Job = "check"

	PressOn Job = "press"   // put under the press, or under its next load
	Redress Job = "redress" // take out of the mould and put back in a straight cloth
)

// Jobs lists every job in the order of a round at one shelf: checks and weighings
// come before jobs that wet or close the rind, and a cheese is redressed and
// turned before it goes back under the press.
var Jobs = []Job{Check, Weigh, Taste, Redress, Turn, PressOn, Brush, Salt, Rub, Wash, Oil, Pierce, Smoke, Coat, Move}

var donePast = map[Job]string{
	Turn: "turned", Brush: "brushed", Wash: "washed", Rub: "rubbed", Oil: "oiled", Pierce: "pierced",
	Salt: "salted", Smoke: "smoked", Weigh: "weighed", Taste: "tasted", Coat: "coated", Move: "moved", Check: "checked",
	PressOn: "pressed", Redress: "redressed",
}

// Done is the past form of the job: turn gives "turned".
func (j Job) Done() string { return donePast[j] }

// Order is the job's rank within a round at one shelf, from 0; an unknown job
// sorts last.
func (j Job) Order() int {
	if i := slices.Index(Jobs, j); i >= 0 {
		return i
	}
	return len(Jobs)
}

// Wets is true for the jobs that leave water, brine, salt or oil on the rind, and so
// bear on the next weight.
func (j Job) Wets() bool { return j == Wash || j == Rub || j == Salt || j == Oil }

// ParseJob reads a job's name or its past form, in any case. The error lists the
// jobs.
func ParseJob(s string) (Job, error) {
	w := strings.ToLower(strings.TrimSpace(s))
	for _, j := range Jobs {
		if w == string(j) || w == donePast[j] {
			return j, nil
		}
	}
	names := make([]string, len(Jobs))
	for i, j := range Jobs {
		names[i] = string(j)
	}
	return "", reason.Err(reason.Unknown{What: "job", Word: s, Known: strings.Join(names, ", ")})
}

// Stage is a phase in a wheel's life. It follows from the entries and the date and
// is never stored by itself.
type Stage string

// The stages in time order.
const (
	Pressing Stage = "pressing" // made, no green weight yet
	Drying   Stage = "drying"   // out of the press or the brine, rind still open
	Coated   Stage = "coated"   // waxed, bound, plastic-coated or foiled
	Ripening Stage = "ripening" // uncoated, after the drying days of its variety
	Ready    Stage = "ready"    // old enough for its variety
	Gone     Stage = "gone"     // sent or lost
)

// Stages lists every stage in time order.
var Stages = []Stage{Pressing, Drying, Coated, Ripening, Ready, Gone}

// ParseStage reads a stage's name, in any case.
func ParseStage(s string) (Stage, error) {
	w := Stage(strings.ToLower(strings.TrimSpace(s)))
	for _, st := range Stages {
		if st == w {
			return st, nil
		}
	}
	return "", reason.Err(reason.Unknown{What: "stage", Word: s, Known: "pressing, drying, coated, ripening, ready, gone"})
}
