// Package schedule turns a rind plan, a wheel's entries and a date into what is
// due. A plan is the handling a rind gets over its life: steps, each with a
// job, how often, the window it is open in, and for a coat the gate it waits
// at. Plans are TOML text that a person can read and change; a library of them
// is part of the binary.
//
// Intervals and ages are whole days by the calendar, minutes are for one wheel
// and one round, ratios are fractions. The package reads no clock and no file.
package schedule

import (
	"slices"

	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// None stands for no day in FromDay and UntilDay.
const None = -1

// Plan is one rind plan. The tags say what its file may have (package tomlfile);
// their bounds are our own, there to catch slips and hostile files.
type Plan struct {
	Name  string `toml:"name" need:"true" max:"1000"` // 2 to 40 of a-z, 0-9 and dashes
	Title string `toml:"title" need:"true" max:"80"`  // as people read it
	Note  string `toml:"note" max:"500"`
	Steps []Step // in the file's order
	Gate  verdict.Gate
	Text  string // the TOML it was read from
}

// Step is one line of a plan; the bounds of its figures are our own. At most one of
// Every, PerDay, Days and MinutesAfter is set; with none of them the job is done once.
//
// MinutesAfter are the job's times on the make's own day, in minutes since the
// make began: the first milk, or what make new was given. The times of one date are
// that date's rounds. A missed one is listed as late for one more day and then
// dropped: nobody turns a cheese in the press a week later. They end when the wheel
// is weighed out of the press, or when Until is reached where it is given. A make
// whose beginning nobody recorded has none. Such a step has of the window only
// Until.
//
// A step opens when the age is FromDay or more and After is reached, and closes
// when the age is over UntilDay or Until is reached. A stage's name is reached with
// the stage; a job's name once that job was done.
type Step struct {
	Job    wheel.Job `toml:"job" max:"1000"`
	Coat   string    `toml:"coat" max:"1000"` // coat steps only: one of drying.Coats
	To     string    `toml:"to" max:"80"`     // move steps only: a hint where to
	Every  int       // days from one time to the next, 1 to 365, "7d" or "2w" in the file; 0: not this way
	PerDay int       `toml:"per_day" range:"1 6 rounds"` // rounds a day; 0: not this way
	Days   []int     `toml:"days" range:"0 3650 days"`   // ages in days since the make, rising

	MinutesAfter []int `toml:"minutes_after" range:"0 4320 minutes" items:"24" one:"true"` // rising

	FromDay  int     `toml:"from_day" range:"0 3650 days"`  // age the window opens, or None
	UntilDay int     `toml:"until_day" range:"0 3650 days"` // last age of the window, or None
	After    string  `toml:"after" max:"1000"`              // stage or job, or ""
	Until    string  `toml:"until" max:"1000"`              // stage or job, or ""
	When     string  `toml:"when"`                          // "dry": waits until the wheel is dry enough; or ""
	Slack    int     `toml:"slack" range:"0 30 days"`       // days it may slip either way for levelling
	Note     string  `toml:"note" max:"500"`
	Minutes  float64 `toml:"minutes" range:"0 120 minutes"` // per wheel and round
	Line     int     // of the step in its file, from 1
}

// defaultMinutes is the handling of one wheel of a few kilograms within reach: our
// default, no source. A plan's own `minutes` goes before it.
var defaultMinutes = map[wheel.Job]float64{
	wheel.Turn:   0.25,
	wheel.Brush:  1.5,
	wheel.Wash:   1,
	wheel.Rub:    1,
	wheel.Oil:    1.5,
	wheel.Pierce: 2,
	wheel.Salt:   1,
	wheel.Smoke:  0.5,
	wheel.Weigh:  0.5,
	wheel.Taste:  3,
	wheel.Coat:   4,
	wheel.Move:   0.5,
	wheel.Check:  0.25,

	wheel.PressOn: 0.5,
	wheel.Redress: 1,
}

// DefaultMinutes is the handling a job takes per wheel where the plan does not
// say: our default, no source. An unknown job takes 0.
func DefaultMinutes(j wheel.Job) float64 { return defaultMinutes[j] }

// Timed says whether the step has times on the make's own day.
func (s Step) Timed() bool { return len(s.MinutesAfter) > 0 }

// Gated says whether the step waits until the wheel is dry enough.
func (s Step) Gated() bool { return s.When == "dry" }

func (p Plan) clone() Plan {
	p.Steps = slices.Clone(p.Steps)
	for i := range p.Steps {
		p.Steps[i].Days = slices.Clone(p.Steps[i].Days)
		p.Steps[i].MinutesAfter = slices.Clone(p.Steps[i].MinutesAfter)
	}
	return p
}

// Coats are the coats that the plan asks for, each once.
func (p Plan) Coats() []string {
	var out []string
	for _, s := range p.Steps {
		if s.Job == wheel.Coat && !slices.Contains(out, s.Coat) {
			out = append(out, s.Coat)
		}
	}
	return out
}

// GateCoat is the coat of the plan that waits for the dry gate; ok is false where none
// does.
func (p Plan) GateCoat() (coat string, ok bool) {
	for _, s := range p.Steps {
		if s.Job == wheel.Coat && s.Gated() {
			return s.Coat, true
		}
	}
	return "", false
}
