package wheel

import (
	"fmt"
	"strings"
)

// Job is a kind of handling a wheel gets, in the maker's own verb. The zero
// value is no job.
type Job string

// The jobs a rind plan may ask for and an entry may record.
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
	Redress Job = "redress" // taken out of the mould and put back in a straight cloth
)

// Jobs lists every job in the order a round does them at one shelf: what is
// looked at and weighed comes before what wets or closes the rind; a cheese is
// redressed and turned before it goes back under the press.
var Jobs = []Job{Check, Weigh, Taste, Redress, Turn, PressOn, Brush, Salt, Rub, Wash, Oil, Pierce, Smoke, Coat, Move}

var donePast = map[Job]string{
	Turn: "turned", Brush: "brushed", Wash: "washed", Rub: "rubbed", Oil: "oiled", Pierce: "pierced",
	Salt: "salted", Smoke: "smoked", Weigh: "weighed", Taste: "tasted", Coat: "coated", Move: "moved", Check: "checked",
	PressOn: "pressed", Redress: "redressed",
}

// Done is the word for the job once done: turn gives "turned".
func (j Job) Done() string { return donePast[j] }

// Order is the job's rank within a round at one shelf, from 0; an unknown job
// sorts last.
func (j Job) Order() int {
	for i, k := range Jobs {
		if k == j {
			return i
		}
	}
	return len(Jobs)
}

// ParseJob reads a job's name or its past form, in any case. The error names
// the jobs there are.
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
	return "", fmt.Errorf("no job %q; jobs are %s", s, strings.Join(names, ", "))
}

// Stage is where a wheel stands in its life. It follows from the entries and
// the date and is never stored on its own.
type Stage string

// The stages, in the order of life.
const (
	Pressing Stage = "pressing" // made, no green weight yet
	Drying   Stage = "drying"   // out of the press or the brine, rind still open
	Coated   Stage = "coated"   // waxed, bound, plastic-coated or foiled
	Ripening Stage = "ripening" // uncoated, the drying days of its variety over
	Ready    Stage = "ready"    // old enough for its variety
	Gone     Stage = "gone"     // sent or lost
)

// Stages lists every stage in the order of life.
var Stages = []Stage{Pressing, Drying, Coated, Ripening, Ready, Gone}

// ParseStage reads a stage's name, in any case.
func ParseStage(s string) (Stage, error) {
	w := Stage(strings.ToLower(strings.TrimSpace(s)))
	for _, st := range Stages {
		if st == w {
			return st, nil
		}
	}
	return "", fmt.Errorf("no stage %q; stages are pressing, drying, coated, ripening, ready, gone", s)
}
