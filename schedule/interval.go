package schedule

import (
	"time"

	"rindkeep/cave/day"
	"rindkeep/wheel"
)

// Interval is how far apart the rounds of a job are by the plan, for a wheel on a
// date: the shortest where several steps ask for it, a day where none does or it comes
// once.
func (s Subject) Interval(p Plan, j wheel.Job, on day.Date) time.Duration {
	const whole = 24 * time.Hour
	shortest := time.Duration(0)
	for _, st := range p.Steps {
		if st.Job != j || !s.openOn(st, on) {
			continue
		}
		if d := st.apart(); d > 0 && (shortest == 0 || d < shortest) {
			shortest = d
		}
	}
	if shortest == 0 {
		return whole
	}
	return shortest
}

// LongestInterval is the longest that Interval can be for a job, whatever the wheel.
func (p Plan) LongestInterval(j wheel.Job) time.Duration {
	longest := 24 * time.Hour
	for _, st := range p.Steps {
		if st.Job == j {
			longest = max(longest, st.apart())
		}
	}
	return longest
}

// openOn says whether a step asks for its job on a date.
func (s Subject) openOn(st Step, on day.Date) bool {
	if st.Timed() {
		began := s.Life.Make.Began
		last := time.Duration(st.MinutesAfter[len(st.MinutesAfter)-1]) * time.Minute
		return !began.IsZero() && on >= day.At(began, s.Loc) && on <= day.At(began.Add(last), s.Loc)
	}
	w := s.window(st)
	return w.open && on >= w.from && (w.until == day.None || on <= w.until)
}

// apart is the time between two rounds of a step; 0 where there is but one.
func (st Step) apart() time.Duration {
	const whole = 24 * time.Hour
	switch {
	case st.PerDay > 0:
		return whole / time.Duration(st.PerDay)
	case st.Every > 0:
		return time.Duration(st.Every) * whole
	case st.Timed():
		return least(st.MinutesAfter, time.Minute)
	}
	return least(st.Days, whole)
}

// least is the least step of a rising list, in the list's unit; 0 of fewer than two.
func least(rising []int, unit time.Duration) time.Duration {
	shortest := 0
	for i := 1; i < len(rising); i++ {
		if d := rising[i] - rising[i-1]; shortest == 0 || d < shortest {
			shortest = d
		}
	}
	return time.Duration(shortest) * unit
}
