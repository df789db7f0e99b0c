package schedule

import (
	"rindkeep/cave/reason"
)

// Asks is how often a step's job comes, and from when, of any wheel.
func (s Step) Asks() reason.List {
	switch {
	case s.Timed():
		return reason.List{MakeDay{}, Rounds{len(s.MinutesAfter)}}
	case len(s.Days) > 0:
		var out reason.List
		for _, d := range s.Days {
			out = append(out, AtAge{d})
		}
		return out
	case s.PerDay > 0:
		return append(reason.List{PerDay{s.PerDay}}, opening(s)...)
	case s.Every > 0:
		return append(reason.List{Every{s.Every}}, opening(s)...)
	}
	return append(reason.List{Once{}}, opening(s)...)
}
