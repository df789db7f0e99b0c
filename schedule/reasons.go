package schedule

import (
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
)

// Why a task is due: how often its step asks for it, from when, and when it was
// done last.
type (
	// Every is a job that comes again after so many days.
	Every struct {
		Days int `json:"days"`
	}
	// PerDay is a job that comes so many times a day.
	PerDay struct {
		Times int `json:"times"`
	}
	// Once is a job that comes once.
	Once struct{}
	// AtAge is a job for a certain age.
	AtAge struct {
		Days int `json:"days"`
	}
	// FromDay is the age from which the step is open.
	FromDay struct {
		Day int `json:"day"`
	}
	// After is the stage or job after which the step is open.
	After struct {
		Event string `json:"event"`
	}
	// AtStart is a step open from the beginning.
	AtStart struct{}
	// LastDone is when the job was last done.
	LastDone struct {
		On day.Date `json:"on"`
	}
	// LastSkipped is when the job was last due, and skipped.
	LastSkipped struct {
		On day.Date `json:"on"`
	}
	// TakenOver is the day a wheel came, or was taken over: nobody knows when the
	// job was last done.
	TakenOver struct {
		On day.Date `json:"on"`
	}
	// DoneOf is how many of a day's rounds are done; On is None on the day of
	// the make.
	DoneOf struct {
		Done int      `json:"done"`
		Of   int      `json:"of"`
		On   day.Date `json:"on"`
	}
	// MakeDay is a job of the make's own day, or of so many days after it.
	MakeDay struct {
		DaysAfter int `json:"days_after"`
	}
	// Rounds are the times a job of the make's day comes on its date.
	Rounds struct {
		Times int `json:"times"`
	}
)

// Code is how programs know each of these.
func (Every) Code() string       { return "every" }
func (PerDay) Code() string      { return "per-day" }
func (Once) Code() string        { return "once" }
func (AtAge) Code() string       { return "at-age" }
func (FromDay) Code() string     { return "from-day" }
func (After) Code() string       { return "after" }
func (AtStart) Code() string     { return "at-start" }
func (LastDone) Code() string    { return "last-done" }
func (LastSkipped) Code() string { return "last-skipped" }
func (TakenOver) Code() string   { return "taken-over" }
func (DoneOf) Code() string      { return "done-of" }
func (MakeDay) Code() string     { return "make-day" }
func (Rounds) Code() string      { return "rounds" }

func init() {
	reason.Register(map[int]reason.Reason{
		1: Every{}, 2: PerDay{}, 3: Once{}, 4: AtAge{}, 5: FromDay{}, 6: After{}, 7: AtStart{}, 8: LastDone{},
		9:  LastSkipped{},
		10: DoneOf{}, 11: MakeDay{}, 12: Rounds{},
		440: TakenOver{},
	})
}
