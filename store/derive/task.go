package derive

import (
	"cmp"
	"errors"
	"maps"
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/schedule"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// slotsOf numbers the tasks of a wheel within the due index.
func slotsOf(ts []schedule.Task) []layout.Slot {
	out := make([]layout.Slot, len(ts))
	for i, t := range ts {
		out[i] = layout.Slot{Due: t.Due, Rank: byte(t.Job.Order())}
		for _, o := range out[:i] {
			if o.Due == out[i].Due && o.Rank == out[i].Rank {
				out[i].Seq = o.Seq + 1
			}
		}
	}
	return out
}

// Task is one task of one wheel with everything a day's list prints, so
// that a list needs no other record but the plan, which its Note is of. Number
// is the wheel's number in its lot.
type Task struct {
	schedule.Task
	Wheel   uuid.UUID
	Tag     string
	Lot     string
	Variety string
	Number  int
	Place   cave.Place
	Plan    string
	Note    string // of the plan's step; not kept, but looked up
}

// TasksOf gives what came of a wheel as tasks of the index.
func (d *Outcome) TasksOf(mk wheel.Make) []Task {
	out := make([]Task, len(d.tasks))
	for i, task := range d.tasks {
		out[i] = Task{
			Task: task, Wheel: d.Now.Wheel, Tag: d.Now.Tag, Lot: mk.Lot, Variety: mk.Variety,
			Number: d.File.Life.Wheel.Number, Place: d.Now.Place, Plan: d.Now.Plan,
		}
	}
	return out
}

// taskVersion is the version byte of packed tasks.
const taskVersion = 2

// packTask packs what the due key does not say.
func packTask(p *pack.Form, t *Task) {
	p.Job(&t.Job)
	p.Whole(&t.Number)
	p.Date(&t.Until, t.Due)
	p.Whole(&t.Rounds)
	p.Whole(&t.Round)
	p.Date(&t.RoundOn, t.Due)
	pack.Figure(p, &t.Minutes)
	p.Whole(&t.Slack)
	pack.Text(p, &t.Tag)
	// The lot is most often how the tag begins: 1 and its length, else 0 and
	// its text.
	n := 0
	if strings.HasPrefix(t.Tag, t.Lot) {
		n = len(t.Lot)
	}
	switch p.Whole(&n); {
	case n == 0:
		pack.Text(p, &t.Lot)
	case n <= len(t.Tag):
		t.Lot = t.Tag[:n]
	default:
		p.Fail()
	}
	pack.Text(p, &t.Variety)
	pack.Text(p, &t.Coat)
	pack.Text(p, &t.To)
	pack.Text(p, &t.Plan)
	p.Whole(&t.Step)
	p.Reasons(&t.Why)
	if !p.Reads() && len(t.Times) == 0 || p.Reads() && p.Left() == 0 {
		return // they came later: most tasks have none
	}
	n = len(t.Times)
	if p.Whole(&n); p.Reads() {
		if n == 0 || n > p.Left() {
			p.Fail()
			return
		}
		t.Times = make([]int, n)
	}
	for i := range t.Times {
		p.Whole(&t.Times[i])
	}
}

// EncodeTask packs a task for the due index.
func EncodeTask(t Task) []byte {
	p := pack.Form{B: append(make([]byte, 0, 96), taskVersion)}
	packTask(&p, &t)
	return p.B
}

// DecodeTask puts a task together from its key, taken apart, and its value. The
// error is pack.ErrForm.
func DecodeTask(s layout.Slot, place cave.Place, w uuid.UUID, value []byte) (Task, error) {
	r := pack.NewReader(value)
	if r.Byte() != taskVersion {
		return Task{}, pack.ErrForm
	}
	t := Task{Wheel: w, Place: place}
	t.Due = s.Due
	packTask(pack.Reading(r), &t)
	return t, r.Done()
}

// WalkOrder sorts tasks as a person walks by them, through the rooms in their order. Places
// without a room come last.
func WalkOrder(ts []Task, rooms []cave.Room) {
	rank := map[string]int{}
	for i, r := range rooms {
		rank[r.Name] = i - len(rooms)
	}
	at := map[cave.Place]int{}
	for i := range ts {
		at[ts[i].Place] = 0
	}
	places := slices.SortedFunc(maps.Keys(at), func(a, b cave.Place) int {
		return cmp.Or(rank[a.Room()]-rank[b.Room()], cave.NaturalCompare(string(a), string(b)))
	})
	for i, p := range places {
		at[p] = i
	}
	type key struct{ place, job, task int }
	keys := make([]key, len(ts))
	for i := range ts {
		keys[i] = key{at[ts[i].Place], ts[i].Job.Order(), i}
	}
	slices.SortFunc(keys, func(a, b key) int {
		if d := cmp.Or(a.place-b.place, a.job-b.job); d != 0 {
			return d
		}
		x, y := &ts[a.task], &ts[b.task]
		return cmp.Or(cave.NaturalCompare(x.Tag, y.Tag), int(x.Due-y.Due))
	})
	sorted := make([]Task, len(ts))
	for i, k := range keys {
		sorted[i] = ts[k.task]
	}
	copy(ts, sorted)
}

// Notes gives a function that puts its plan's note to a task, for lists of many
// tasks of few plans. A plan that is no longer known has no notes.
func Notes(plan func(name string) (schedule.Plan, error)) func(*Task) error {
	plans := map[string][]schedule.Step{}
	return func(d *Task) error {
		if d.Step == 0 {
			return nil
		}
		steps, known := plans[d.Plan]
		if !known {
			p, err := plan(d.Plan)
			var nf refusal.NotFound
			if err != nil && !errors.As(err, &nf) {
				return err
			}
			steps = p.Steps
			plans[d.Plan] = steps
		}
		if d.Step <= len(steps) {
			d.Note = steps[d.Step-1].Note
		}
		return nil
	}
}
