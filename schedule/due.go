package schedule

import (
	"cmp"
	"slices"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Task is one job that one wheel is due, from one step of its plan. It does
// not depend on today: On says how it stands on a given date.
type Task struct {
	Job     wheel.Job
	Due     day.Date // first date it is listed
	Until   day.Date // last date it is listed; None: for ever
	Rounds  int      // rounds a day, 1 or more
	Round   int      // the round to do on RoundOn; on any other date it is the first
	RoundOn day.Date // None where Round is 1
	Minutes float64  // of handling, per wheel and round
	Slack   int      // days it may slip either way
	Coat    string   // coat: what goes on
	To      string   // move: where to
	Why     reason.List
	Step    int   // of the plan, counted from 1; 0: of none
	Times   []int // of a timed job, one a round: minutes since Due began
}

// Time is when a round of a timed job falls; ok is false for one that has no
// time of day.
func (t Task) Time(round int, loc *time.Location) (at time.Time, ok bool) {
	if round < 1 || round > len(t.Times) {
		return time.Time{}, false
	}
	return t.Due.Start(loc).Add(time.Duration(t.Times[round-1]) * time.Minute), true
}

// Listing is how a task is listed on a date.
type Listing struct {
	Round    int // the next round to do, from 1
	Left     int // rounds left to do that date, this one included
	LateDays int // days past due
}

// On says how the task is listed on a date; listed is false before it is due and
// after its window closed.
func (t Task) On(date day.Date) (s Listing, listed bool) {
	if date < t.Due || t.Until != day.None && date > t.Until {
		return Listing{}, false
	}
	s = Listing{Round: 1}
	if date >= t.lateFrom() {
		s.LateDays = int(date - t.Due)
	}
	if t.RoundOn == date || len(t.Times) > 0 {
		s.Round = t.Round
	}
	s.Left = max(1, t.Rounds) - s.Round + 1
	return s, true
}

// lateFrom is the first date on which the task is late: the day after it is due, or, of a
// coat that may go on while the hand check holds, none.
func (t Task) lateFrom() day.Date {
	if t.Job == wheel.Coat && t.Until != day.None && !slices.Contains(t.Why, reason.Reason(verdict.CoatAtOnce{})) {
		return t.Until + 1
	}
	return t.Due + 1
}

// Subject is one wheel as the schedule sees it.
type Subject struct {
	Life       wheel.Life
	DryingDays int             // days of drying usual for the variety, uncoated
	ReadyDays  int             // age at which the variety is usually ready
	Gate       verdict.Windows // when the gate "dry" opens, from what is known now
	Loc        *time.Location
}

// Due lists what a wheel is due under a plan, as far as its entries tell. It
// is a pure function of its arguments. A recurring job is due its interval
// after it was last done, so a missed one is one late task; nothing is due
// from before the book kept the wheel; a wheel that is gone is due nothing.
// Each job appears at most once for any one date.
func Due(p Plan, s Subject) []Task { return dueAfter(nil, p, s) }

// dueAfter is Due in the memory of an empty list.
func dueAfter(out []Task, p Plan, s Subject) []Task {
	if s.Life.GoneOn != day.None {
		return out
	}
	for i, st := range p.Steps {
		if st.Timed() {
			out = append(out, s.timed(st, i+1)...)
			continue
		}
		w := s.window(st)
		if !w.open {
			continue
		}
		if st.Job == wheel.Coat && st.When == "dry" {
			out = append(out, s.gated(st, w, i+1)...)
			continue
		}
		t := Task{
			Job: st.Job, Until: w.until, Rounds: 1, Round: 1, RoundOn: day.None, Minutes: st.Minutes, Slack: st.Slack,
			Coat: st.Coat, To: st.To, Step: i + 1,
		}
		done, ever := s.Life.Done[st.Job]
		switch {
		case st.PerDay > 0:
			s.perDay(&t, st, w, done, ever)
		case st.Every > 0:
			s.every(&t, st, w, done, ever)
		case len(st.Days) > 0:
			if !s.onDays(&t, st, w, done, ever) {
				continue
			}
		default:
			if ever && done.Last >= w.from-day.Date(st.Slack) || !ever && w.from < s.taken() {
				continue // done, or not known of a wheel that came later
			}
			t.Due = max(w.from, s.Life.Since)
			t.Why = append(reason.List{Once{}}, opening(st)...)
		}
		if t.Until != day.None && t.Due > t.Until {
			continue
		}
		if !ever && s.softStart(t.Due) {
			// Taken in late in the day: it is listed that day, and not late
			// the next morning.
			first := t
			first.Until = t.Due
			out = append(out, first)
			t.Due++
			if t.Until != day.None && t.Due > t.Until {
				continue
			}
		}
		out = append(out, t)
	}
	for _, j := range wheel.Jobs { // in one order, whatever that of the map
		w, asked := s.Life.Asked[j]
		if !asked {
			continue
		}
		out = append(out, Task{
			Job: j, Due: w.On, Until: day.None, Rounds: 1, Round: 1, RoundOn: day.None, Minutes: DefaultMinutes(j),
			Why: reason.ListOf(w.Why),
		})
	}
	out = once(out)
	for j, w := range s.Life.Asked { // why it was asked for is read, whatever else it is due for
		for i := range out {
			t := &out[i]
			said := w.Why == nil || len(t.Why) > 0 && t.Why[0] == w.Why
			if t.Job == j && !said && (t.Until == day.None || t.Until >= w.On) {
				t.Why = append(reason.List{w.Why}, t.Why...)
			}
		}
	}
	return out
}

// taken is the day the wheel came or was taken over, None for one that the book has
// kept from its make. The plan starts from it: what was done before isn't known.
func (s Subject) taken() day.Date { return s.Life.TakenOn(s.Loc) }

// softStart says whether a date is the day the book took the wheel in, past
// noon.
func (s Subject) softStart(on day.Date) bool {
	return on == day.At(s.Life.Wheel.Since, s.Loc) && s.Life.Wheel.Since.In(s.Loc).Hour() >= 12
}

// window is the span of dates a step is open, as far as the entries tell.
type window struct {
	open  bool
	from  day.Date
	until day.Date // last date open; None: no end known
}

func (s Subject) window(st Step) window {
	w := window{open: true, from: s.Life.Make.Date, until: day.None}
	if st.FromDay > 0 {
		w.from += day.Date(st.FromDay)
	}
	if st.After != "" {
		d := s.event(st.After)
		if d == day.None {
			return window{}
		}
		w.from = max(w.from, d)
	}
	if st.UntilDay >= 0 {
		w.until = s.Life.Make.Date + day.Date(st.UntilDay)
	}
	if st.Until != "" {
		if d := s.event(st.Until); d != day.None && (w.until == day.None || d-1 < w.until) {
			w.until = d - 1
		}
	}
	if w.until != day.None && w.until < w.from {
		return window{}
	}
	return w
}

// event is the date a stage was or will be reached, or a job first done.
func (s Subject) event(name string) day.Date {
	if st, err := wheel.ParseStage(name); err == nil {
		return s.Life.Reached(st, s.DryingDays, s.ReadyDays, s.Loc)
	}
	if j, err := wheel.ParseJob(name); err == nil {
		if d, ok := s.Life.Done[j]; ok {
			return d.First
		}
	}
	return day.None
}

// opening is from when a step is open.
func opening(st Step) reason.List {
	var out reason.List
	if st.FromDay > 0 {
		out = append(out, FromDay{st.FromDay})
	}
	if st.After != "" {
		out = append(out, After{st.After})
	}
	if len(out) == 0 {
		out = append(out, AtStart{})
	}
	return out
}

func last(d wheel.DoneOn) reason.Reason {
	if d.Skipped {
		return LastSkipped{d.Last}
	}
	return LastDone{d.Last}
}

func (s Subject) perDay(t *Task, st Step, w window, done wheel.DoneOn, ever bool) {
	t.Rounds = st.PerDay
	start := max(w.from, s.Life.Since)
	if on := s.taken(); !ever && on != day.None {
		start = max(w.from, on+1)
	}
	switch {
	case !ever || done.Last+1 < start:
		t.Due = start
		t.Why = reason.List{PerDay{st.PerDay}}
		if ever {
			t.Why = append(t.Why, last(done))
		}
	case done.Count < st.PerDay:
		t.Due, t.Round, t.RoundOn = max(done.Last, start), done.Count+1, done.Last
		t.Why = reason.List{PerDay{st.PerDay}, DoneOf{done.Count, st.PerDay, done.Last}}
	default:
		t.Due = max(done.Last+1, start)
		t.Why = reason.List{PerDay{st.PerDay}, last(done)}
	}
}

// every counts a job's interval from when it was last done. In a step that opens with
// the coat, an interval that would have run out by then begins with the coat, as the
// wheel was just handled.
func (s Subject) every(t *Task, st Step, w window, done wheel.DoneOn, ever bool) {
	coat := day.None
	if st.After == string(wheel.Coated) {
		coat = s.event(st.After)
	}
	switch on := s.taken(); {
	case (!ever || st.Job == wheel.Weigh && done.Last < on) && on >= w.from: // a delivery's weights aren't the plan's
		t.Due = on + day.Date(st.Every)
		t.Why = reason.List{Every{st.Every}, TakenOver{on}}
		return
	case coat != day.None && (!ever || done.Last+day.Date(st.Every) <= coat):
		t.Due = max(w.from, coat+day.Date(st.Every), s.Life.Since)
		t.Why = append(reason.List{Every{st.Every}}, opening(st)...)
		return
	case !ever:
		t.Due = max(w.from, s.Life.Since)
		t.Why = append(reason.List{Every{st.Every}}, opening(st)...)
		return
	}
	t.Due = max(w.from, done.Last+day.Date(st.Every), s.Life.Since)
	t.Why = reason.List{Every{st.Every}, last(done)}
}

// onDays finds the first listed age not yet answered. A job done within slack
// before its day answers it; so does any later one, which is why a missed
// tasting is one late task.
func (s Subject) onDays(t *Task, st Step, w window, done wheel.DoneOn, ever bool) bool {
	for _, age := range st.Days {
		on := s.Life.Make.Date + day.Date(age)
		if on < w.from || w.until != day.None && on > w.until {
			continue
		}
		if on < s.Life.Since || ever && done.Last >= on-day.Date(st.Slack) {
			continue
		}
		t.Due = on
		t.Why = reason.List{AtAge{age}}
		return true
	}
	return false
}

// timed gives the times of a make's day as one task a date, a round for each
// time. A round done or passed over answers the first that is open; one on a
// later date answers all of the dates before.
func (s Subject) timed(st Step, step int) []Task {
	began := s.Life.Make.Began
	end := day.None // the first date that has none
	if st.Until != "" {
		end = s.event(st.Until)
	} else if s.Life.Chain.Green > 0 {
		return nil // out of the press
	}
	if began.IsZero() {
		return nil
	}
	var out []Task
	for _, m := range st.MinutesAfter {
		at := began.Add(time.Duration(m) * time.Minute)
		on := day.At(at, s.Loc)
		minutes := int(at.Sub(on.Start(s.Loc)) / time.Minute)
		if n := len(out); n > 0 && out[n-1].Due == on {
			out[n-1].Times = append(out[n-1].Times, minutes)
			continue
		}
		if n := len(out); n > 0 {
			out[n-1].Until = min(out[n-1].Until, on-1)
		}
		out = append(out, Task{
			Job: st.Job, Due: on, Until: on + 1, Round: 1, RoundOn: day.None, Minutes: st.Minutes, To: st.To, Step: step,
			Times: []int{minutes},
		})
	}
	done, ever := s.Life.Done[st.Job]
	kept := out[:0]
	for _, t := range out {
		t.Rounds = len(t.Times)
		which := MakeDay{int(t.Due - day.At(began, s.Loc))}
		t.Why = reason.List{which, Rounds{t.Rounds}}
		if end != day.None {
			t.Until = min(t.Until, end-1)
		}
		switch {
		case t.Due < s.Life.Since, t.Until < t.Due, ever && done.Last > t.Due:
			continue
		case ever && done.Last == t.Due && done.Count >= t.Rounds:
			continue
		case ever && done.Last == t.Due:
			t.Round, t.RoundOn = done.Count+1, t.Due
			t.Why = reason.List{which, DoneOf{done.Count, t.Rounds, day.None}}
		}
		kept = append(kept, t)
	}
	return kept
}

// gated turns the gate's windows into tasks: the coat itself once the wheel is
// dry enough, and until then whatever the gate waits for.
func (s Subject) gated(st Step, w window, step int) []Task {
	if len(s.Life.Coats) > 0 {
		return nil
	}
	var out []Task
	add := func(j wheel.Job, from, until day.Date, minutes float64, why reason.List) {
		if from == day.None {
			return
		}
		t := Task{
			Job: j, Due: max(from, w.from, s.Life.Since), Until: until, Rounds: 1, Round: 1, RoundOn: day.None,
			Minutes: minutes, Why: why,
		}
		if d, ever := s.Life.Done[j]; ever { // done or passed over: asked again next day
			t.Due = max(t.Due, d.Last+1)
		}
		if j == wheel.Coat {
			t.Coat, t.Step, t.Slack = st.Coat, step, st.Slack
		}
		if w.until != day.None && (t.Until == day.None || t.Until > w.until) {
			t.Until = w.until
		}
		if t.Until == day.None || t.Due <= t.Until {
			out = append(out, t)
		}
	}
	g := s.Gate
	add(wheel.Coat, g.CoatFrom, g.CoatUntil, st.Minutes, g.CoatWhy)
	add(wheel.Check, g.CheckFrom, day.None, DefaultMinutes(wheel.Check), g.CheckWhy)
	add(wheel.Weigh, g.WeighFrom, day.None, DefaultMinutes(wheel.Weigh), g.WeighWhy)
	return out
}

// lasts says whether there is a date the task is listed on.
func (t Task) lasts() bool { return t.Until == day.None || t.Due <= t.Until }

func byDue(a, b Task) int { return cmp.Compare(a.Due, b.Due) }

// once sees to it that no date lists one job twice: where the spans of two
// tasks overlap, the one due first has the dates they share. Timed tasks have
// their own day before any other; being late they make way.
func once(ts []Task) []Task {
	if len(ts) == 0 || len(ts) == 1 && ts[0].lasts() {
		return ts
	}
	slices.SortStableFunc(ts, func(a, b Task) int {
		if x, y := len(a.Times) > 0, len(b.Times) > 0; x != y {
			if x {
				return -1
			}
			return 1
		}
		return byDue(a, b)
	})
	out := ts[:0:0]
	for len(ts) > 0 {
		t := ts[0]
		ts = ts[1:]
		for i := range out {
			o := &out[i]
			if o.Job != t.Job {
				continue
			}
			if len(o.Times) > 0 {
				if t.Due <= o.Due && (t.Until == day.None || t.Until >= o.Due) {
					after := t // what comes after o's day stands by itself
					after.Due = o.Due + 1
					if t.Until = o.Due - 1; after.lasts() {
						o.Until = o.Due
						ts = append(ts, after)
						slices.SortStableFunc(ts, byDue)
					}
					if !t.lasts() {
						break
					}
				} else if t.Due > o.Due {
					o.Until = min(o.Until, t.Due-1)
				}
				continue
			}
			if o.Until == day.None {
				t.Until = t.Due - 1
				break
			}
			t.Due = max(t.Due, o.Until+1)
		}
		if t.lasts() {
			out = append(out, t)
		}
	}
	slices.SortStableFunc(out, byDue)
	return out
}
