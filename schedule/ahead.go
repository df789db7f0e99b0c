package schedule

import (
	"cmp"
	"errors"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Chore is one time that one job comes to one wheel in the days ahead.
type Chore struct {
	*Doing
	On      day.Date // the day it falls, all before it done as it fell due
	Low     day.Date // the days levelling may move it to, On among them
	High    day.Date
	Late    int     // days past due on On
	Rounds  int     // rounds to do that day
	Minutes float64 // for the wheel, all rounds together

	Times []time.Time // of a timed job: when each of its rounds left falls
}

// Doing is what a chore does. Those of a course share it.
type Doing struct {
	Job  wheel.Job
	Coat string // coat: what goes on
	To   string // move: where to
}

// Awaited turns a verdict into the windows of a gate that is taken to open when
// it is expected to: the coat goes on that day, a last weighing and a hand
// check before it where they are still wanted. Now is what the gate asks for as things
// stand: on the first day only that is asked, as that day's list has nothing else, and
// what follows from it comes a day later. Shut where nothing says when.
func Awaited(v verdict.Dry, now verdict.Windows, from day.Date) verdict.Windows {
	w := verdict.Shut()
	switch v.Answer {
	case verdict.DryEnough:
		w.CoatFrom = from
	case verdict.CheckByHand, verdict.TooDry:
		w.CoatFrom, w.CheckFrom = from, from
	case verdict.WeighAgain:
		if w.WeighFrom = from; v.Stale() {
			w.CoatFrom, w.CheckFrom = from, from
		}
	case verdict.NotYet, verdict.NoWeights:
		if v.On != nil {
			on := max(from, v.On.Best)
			w.CoatFrom, w.CheckFrom, w.WeighFrom = on, on, on
		}
	}
	for _, x := range []struct {
		on         *day.Date
		from, last day.Date
	}{
		{&w.CoatFrom, now.CoatFrom, now.CoatUntil}, {&w.CheckFrom, now.CheckFrom, day.None},
		{&w.WeighFrom, now.WeighFrom, day.None},
	} {
		listed := x.from != day.None && x.from <= from && (x.last == day.None || x.last >= from)
		switch {
		case listed: // as long as it is on the list, so that it is as late as there
			*x.on = x.from
		case *x.on == from:
			*x.on = from + 1
		}
	}
	if w.CoatFrom != day.None && w.CoatFrom == now.CoatFrom {
		w.CoatUntil, w.CoatWhy = now.CoatUntil, now.CoatWhy
	}
	return w
}

// Project follows a wheel's plan from its entries through the days from from
// to to, both with them: each job is taken as done on the day it falls due, or
// on the first day where it is late, and the next follows from that. The
// subject's gate says when a coat that waits for it goes on (see Awaited).
//
// A chore may be moved by its step's slack, but not out of its step's window
// nor past the middle between it and its neighbours of the same job. A coat
// never moves, nor does a job that other steps of the plan hang on. It is a
// pure function; chores come in the order of their days, and of a round within
// a day.
func Project(p Plan, s Subject, from, to day.Date) []Chore {
	if s.Life.GoneOn != day.None || from > to {
		return nil
	}
	s.Life.Done = maps.Clone(s.Life.Done)
	if s.Life.Done == nil {
		s.Life.Done = map[wheel.Job]wheel.DoneOn{}
	}
	s.Life.Coats = slices.Clone(s.Life.Coats)
	s.Life.Asked = maps.Clone(s.Life.Asked)

	// Steps of different jobs meet only in what they hang on, so that a job
	// done asks again only about its own steps. A gate's are one with those of
	// what it asks for.
	var parts []Plan
	var numbers [][]int // of the parts' steps in the plan, from 1
	partOf := map[wheel.Job]int{}
	gated := slices.ContainsFunc(p.Steps, Step.Gated)
	anchors := map[string]bool{string(wheel.Coat): true}
	for i, st := range p.Steps {
		anchors[st.After], anchors[st.Until] = true, true
		j := st.Job
		if gated && (j == wheel.Check || j == wheel.Weigh) {
			j = wheel.Coat
		}
		n, ok := partOf[j]
		if !ok {
			n = len(parts)
			partOf[j] = n
			parts, numbers = append(parts, Plan{}), append(numbers, nil)
		}
		partOf[st.Job] = n
		parts[n].Steps, numbers[n] = append(parts[n].Steps, st), append(numbers[n], i+1)
	}
	if gated {
		partOf[wheel.Check], partOf[wheel.Weigh] = partOf[wheel.Coat], partOf[wheel.Coat]
	}
	due := make([][]Task, len(parts))
	ask := func(part int) {
		due[part] = dueAfter(due[part][:0], parts[part], s)
		for i := range due[part] {
			if t := &due[part][i]; t.Step > 0 {
				t.Step = numbers[part][t.Step-1]
			}
		}
	}
	all := func() {
		for i := range parts {
			ask(i)
		}
	}
	all()

	const usual = 16 // chores in a month or so: our guess, it only saves memory
	out := make([]Chore, 0, usual)
	tasks := make([]slip, 0, usual) // of out
	seen, doing := map[wheel.Job]day.Date{}, map[Doing]*Doing{}
	for {
		var next Task
		on := day.None
		for _, ts := range due {
			for _, t := range ts {
				d := max(t.Due, from)
				if last, ok := seen[t.Job]; ok {
					d = max(d, last+1) // no job twice a day
				}
				if t.Due == day.None || d > to || t.Until != day.None && d > t.Until {
					continue
				}
				if on == day.None || d < on || d == on && t.Job.Order() < next.Job.Order() {
					next, on = t, d
				}
			}
		}
		if on == day.None {
			break
		}
		st, _ := next.On(on)
		what := Doing{next.Job, next.Coat, next.To}
		if doing[what] == nil {
			doing[what] = &what
		}
		c := Chore{
			Doing: doing[what], On: on, Low: on, High: on, Late: st.LateDays, Rounds: st.Left,
			Minutes: next.Minutes * float64(st.Left),
		}
		for r := st.Round; r <= len(next.Times); r++ {
			at, _ := next.Time(r, s.Loc)
			c.Times = append(c.Times, at)
		}
		out, tasks = append(out, c), append(tasks, slip{next.Due, next.Slack, next.Step})
		seen[c.Job] = on
		d, ever := s.Life.Done[c.Job]
		if !ever {
			d.First = on
		}
		s.Life.Done[c.Job] = wheel.DoneOn{First: d.First, Last: on, Count: max(1, next.Rounds)}
		if c.Job == wheel.Coat {
			s.Life.Coats = append(s.Life.Coats, wheel.CoatOn{At: on.Noon(s.Loc), On: on, Coat: c.Coat})
		}
		_, asked := s.Life.Asked[c.Job]
		delete(s.Life.Asked, c.Job) // it is answered, and asked for no more
		if !ever || asked || c.Job == wheel.Coat {
			all()
		} else {
			ask(partOf[c.Job])
		}
	}
	s.leeway(p, out, tasks, from, anchors)
	return slices.Clone(out) // of thousands of courses the room left over would be a third
}

// slip is what a task says of moving its chore.
type slip struct {
	due         day.Date
	slack, step int
}

// leeway finds between which days each chore may be moved.
func (s Subject) leeway(p Plan, cs []Chore, ts []slip, from day.Date, anchors map[string]bool) {
	for i := range cs {
		c, t := &cs[i], ts[i]
		if t.slack == 0 || t.step == 0 || anchors[string(c.Job)] {
			continue
		}
		w := s.window(p.Steps[t.step-1]) // as the days ahead make it
		if !w.open || c.On < w.from || w.until != day.None && c.On > w.until {
			continue
		}
		slack := day.Date(t.slack)
		c.Low = min(c.On, max(from, w.from, t.due-slack))
		c.High = max(c.On, t.due+slack)
		if w.until != day.None {
			c.High = min(c.High, w.until)
		}
	}
	last := map[wheel.Job]*Chore{}
	for i := range cs {
		c := &cs[i]
		if b := last[c.Job]; b != nil {
			half := (c.On - b.On - 1) / 2
			b.High = min(b.High, b.On+half)
			c.Low = max(c.Low, c.On-half)
		}
		last[c.Job] = c
	}
}

// Rest are the days of the week on which nobody handles what can wait, Sunday
// first as in time.Weekday: 7 by definition.
type Rest [7]bool

// On says whether a date is a day of rest.
func (r Rest) On(d day.Date) bool { return r[d.Weekday()] }

// Load is work that is done in one go on one day.
type Load struct {
	On, Low, High day.Date // the day it falls, and those it may be moved to
	Minutes       float64  // 0 or more
}

// worthMoving is how many minutes lighter the fuller of two days must become
// before work is moved between them: nobody shifts a job for seconds. Our choice.
const worthMoving = 1

// Level spreads loads over the days from from to to: off the days of rest where
// their leeway has another day, then from full days to emptier ones. It gives
// each load's day, in the loads' order; no load leaves its leeway, nor the days
// looked at. Without days of rest no day becomes fuller than the fullest was.
// The same loads in the same order give the same days.
func Level(loads []Load, from, to day.Date, rest Rest) []day.Date {
	on := make([]day.Date, len(loads))
	full := make([]float64, max(0, int(to-from)+1))
	order := make([]int, len(loads))
	for i, l := range loads {
		on[i], order[i] = l.On, i
		if l.On >= from && l.On <= to {
			full[l.On-from] += l.Minutes
		}
	}
	// The least free first, and of those the largest: small change fills what
	// is left.
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := loads[a], loads[b]
		return cmp.Or(cmp.Compare(x.High-x.Low, y.High-y.Low), cmp.Compare(y.Minutes, x.Minutes), cmp.Compare(x.On, y.On))
	})
	// emptiest is the day of work in a load's leeway, other than its own, that
	// would be least full with it; the nearest to its day, then the earliest,
	// among equals.
	emptiest := func(i int) (day.Date, float64) {
		l := loads[i]
		best, least := day.None, math.Inf(1)
		for d := max(l.Low, from); d <= min(l.High, to); d++ {
			if d == on[i] || rest.On(d) {
				continue
			}
			with := full[d-from] + l.Minutes
			if with < least || with == least && abs(d-l.On) < abs(best-l.On) {
				best, least = d, with
			}
		}
		return best, least
	}
	move := func(i int, d day.Date) {
		full[on[i]-from] -= loads[i].Minutes
		full[d-from] += loads[i].Minutes
		on[i] = d
	}
	var free []int
	for _, i := range order {
		l := loads[i]
		if l.Low == l.High || l.On < from || l.On > to {
			continue
		}
		free = append(free, i)
		if rest.On(l.On) {
			if d, _ := emptiest(i); d != day.None {
				move(i, d)
			}
		}
	}
	const passes = 50 // each move makes the days more even, so it ends by itself; this bounds the time: our choice
	for range passes {
		moved := false
		for _, i := range free {
			if rest.On(on[i]) {
				continue // its whole leeway is rest
			}
			if d, with := emptiest(i); d != day.None && with < full[on[i]-from]-worthMoving {
				move(i, d)
				moved = true
			}
		}
		if !moved {
			break
		}
	}
	return on
}

func abs(d day.Date) day.Date { return max(d, -d) }

// ParseRest reads days of the week separated by commas: "sat,sun". A week needs a
// day of work.
func ParseRest(s string) (Rest, error) {
	var r Rest
	for _, w := range strings.Split(s, ",") {
		w = strings.ToLower(strings.TrimSpace(w))
		if w == "" {
			continue
		}
		found := false
		for d := time.Sunday; d <= time.Saturday; d++ {
			if w == shortDay(d) || w == strings.ToLower(d.String()) {
				r[d], found = true, true
			}
		}
		if !found {
			return Rest{}, errors.New("a day of rest is one of mon, tue, wed, thu, fri, sat, sun; separate several with commas")
		}
	}
	if r == (Rest{true, true, true, true, true, true, true}) {
		return Rest{}, errors.New("a week with seven days of rest leaves no day for the work")
	}
	return r, nil
}

func shortDay(d time.Weekday) string { return strings.ToLower(d.String()[:3]) }

// Days lists the days of rest by their short names, Monday first.
func (r Rest) Days() []string {
	out := []string{}
	for i := range 7 {
		d := time.Weekday((i + 1) % 7)
		if r[d] {
			out = append(out, shortDay(d))
		}
	}
	return out
}
