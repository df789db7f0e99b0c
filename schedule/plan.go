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

// Plan is one rind plan.
type Plan struct {
	Name  string // 2 to 40 of a-z, 0-9 and dashes
	Title string // as people read it
	Steps []Step // in the file's order, 1 to MaxSteps
	Gate  verdict.Gate
	Note  string
	Text  string // the TOML it was read from
}

// Step is one line of a plan. At most one of Every, PerDay, Days and
// MinutesAfter is set; with none of them the job is done once.
//
// In the file a step is [[step]] and below it job; one of every ("7d", "2w"),
// per_day, days (a list of ages) and minutes_after (a number, or a rising list
// of them); the window, from_day, until_day, after, until; for some jobs coat,
// when, to; slack, minutes, note. A step of minutes_after has of the window only
// until.
//
// MinutesAfter are the job's times on the make's own day, in minutes since the
// make began: the first milk, or what make new was told. The times of one date
// are that date's rounds. What is missed is listed as late one day more and then
// no longer: nobody turns a cheese in the press a week later. They are over when
// the wheel is weighed out of the press, or when Until is reached where it is
// given. A make of which nobody said when it began has none.
//
// A step opens when the age is FromDay or more and After is reached, and closes
// when the age is over UntilDay or Until is reached. A stage's name is reached
// with the stage; a job's name once that job was done.
type Step struct {
	Job    wheel.Job
	Coat   string // coat steps only: one of drying.Coats
	To     string // move steps only: a hint where to
	Every  int    // days from one time to the next, 1 to 365; 0: not this way
	PerDay int    // rounds a day, 1 to 6; 0: not this way
	Days   []int  // ages in days since the make, rising

	MinutesAfter []int // minutes since the make began, rising

	FromDay  int    // age the window opens, or None
	UntilDay int    // last age of the window, or None
	After    string // stage or job, or ""
	Until    string // stage or job, or ""
	When     string // "dry": waits until the wheel is dry enough; or ""
	Slack    int    // days it may slip either way for levelling
	Note     string
	Minutes  float64 // per wheel and round
	Line     int     // of the step in its file, from 1
}

// Bounds of a plan. They are there to catch slips and hostile files: our own.
const (
	MaxSteps = 100
	maxAge   = 3650 // days; ten years
	maxDays  = 100  // ages in one step
	maxSlack = 30

	maxMinutesAfter = 3 * 24 * 60 // of a make's days
	maxTimes        = 24          // in one step
)

// defaultMinutes is the handling of one wheel of a few kilograms, within
// reach. Our default, common practice, no source; a plan's own `minutes` goes
// before it.
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
// say: our default, common practice, no source. An unknown job takes 0.
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
