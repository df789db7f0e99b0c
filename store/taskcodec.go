package store

import (
	"encoding/binary"
	"errors"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

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

// tasksOf gives what came of a wheel as tasks of the index.
func (d *derived) tasksOf(mk wheel.Make) []Task {
	out := make([]Task, len(d.tasks))
	for i, task := range d.tasks {
		out[i] = Task{
			Task: task, Wheel: d.now.Wheel, Tag: d.now.Tag, Lot: mk.Lot, Variety: mk.Variety,
			Number: d.file.life.Wheel.Number, Place: d.now.Place, Plan: d.now.Plan,
		}
	}
	return out
}

// notes gives a function that puts its plan's note to a task, for lists of many
// tasks of few plans. A plan that is no longer known has no notes.
func (t *ReadTx) notes() func(*Task) error {
	plans := map[string][]schedule.Step{}
	return func(d *Task) error {
		if d.Step == 0 {
			return nil
		}
		steps, known := plans[d.Plan]
		if !known {
			p, err := t.Plan(d.Plan)
			var nf NotFound
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

// packedVersion is the version byte of packed counts; tasks and standings have
// come to hold reasons since.
const (
	packedVersion  = 1
	reasonsVersion = 2
)

// reasons reads a list of reasons. One of an unknown kind, as another version of
// the program may write, leaves its error for done.
func (r *reader) reasons() reason.List {
	l, rest, err := reason.Decode(r.s)
	if r.s = rest; err != nil {
		r.fail()
		r.cause = err
	}
	return l
}

// putAhead writes a date as its distance from another, None as 0.
func putAhead(b []byte, d, from day.Date) []byte {
	if d == day.None {
		return append(b, 0)
	}
	u := int64(d) - int64(from)
	z := uint64(u<<1) ^ uint64(u>>63)
	return binary.AppendUvarint(b, z+1)
}

func (r *reader) ahead(from day.Date) day.Date {
	z := r.uvarint()
	if z == 0 {
		return day.None
	}
	z--
	u := int64(z>>1) ^ -int64(z&1)
	d := int64(from) + u
	if d <= int64(day.None) || d > 1<<31-1 {
		r.fail()
		return day.None
	}
	return day.Date(d)
}

// encodeTask packs what the due key does not say.
func encodeTask(t Task) []byte {
	b := make([]byte, 0, 96)
	b = append(b, reasonsVersion)
	b = putJob(b, t.Job)
	b = binary.AppendUvarint(b, uint64(t.Number))
	b = putAhead(b, t.Until, t.Due)
	b = binary.AppendUvarint(b, uint64(t.Rounds))
	b = binary.AppendUvarint(b, uint64(t.Round))
	b = putAhead(b, t.RoundOn, t.Due)
	b = putFigure(b, t.Minutes)
	b = binary.AppendUvarint(b, uint64(t.Slack))
	b = putText(b, t.Tag)
	// The lot is most often how the tag begins: 1 and its length, else 0 and
	// its text.
	if t.Lot != "" && strings.HasPrefix(t.Tag, t.Lot) {
		b = binary.AppendUvarint(b, uint64(len(t.Lot)))
	} else {
		b = append(b, 0)
		b = putText(b, t.Lot)
	}
	b = putText(b, t.Variety)
	b = putText(b, t.Coat)
	b = putText(b, t.To)
	b = putText(b, t.Plan)
	b = binary.AppendUvarint(b, uint64(t.Step))
	b = reason.Append(b, t.Why)
	if len(t.Times) > 0 { // came later: most tasks have none
		b = binary.AppendUvarint(b, uint64(len(t.Times)))
		for _, m := range t.Times {
			b = binary.AppendUvarint(b, uint64(m))
		}
	}
	return b
}

// decodeTask puts a task together from its key, taken apart, and its value.
func decodeTask(s slot, place cave.Place, w uuid.UUID, value []byte) (Task, error) {
	r := newReader(value)
	if r.byte() != reasonsVersion {
		return Task{}, errPacked
	}
	t := Task{Wheel: w, Place: place}
	t.Due = s.due
	t.Job = r.job()
	t.Number = r.count()
	t.Until = r.ahead(t.Due)
	t.Rounds, t.Round = r.count(), r.count()
	t.RoundOn = r.ahead(t.Due)
	t.Minutes = r.figure()
	t.Slack = r.count()
	t.Tag = r.text()
	if n := r.count(); n == 0 {
		t.Lot = r.text()
	} else if n <= len(t.Tag) {
		t.Lot = t.Tag[:n]
	} else {
		r.fail()
	}
	t.Variety, t.Coat, t.To, t.Plan, t.Step, t.Why = r.text(), r.text(), r.text(), r.text(), r.count(), r.reasons()
	if len(r.s) > 0 {
		n := r.count()
		if n == 0 || n > len(r.s) {
			r.fail()
			return t, r.done()
		}
		t.Times = make([]int, n)
		for i := range t.Times {
			t.Times[i] = r.count()
		}
	}
	return t, r.done()
}

// count reads a small whole number.
func (r *reader) count() int {
	u := r.uvarint()
	if u > 1<<31-1 {
		r.fail()
		return 0
	}
	return int(u)
}

// WheelState is where a wheel stands by its entries. It is derived and never
// written by hand.
type WheelState struct {
	Wheel uuid.UUID
	Make  uuid.UUID
	Tag   string
	Place cave.Place // "" where it lies nowhere known; the last place of a gone wheel
	Plan  string
	Gone  day.Date  // None while it is here
	Last  time.Time // its latest entry, or from when the book keeps it

	gated   bool            // it waits at a dry gate, and windows says how
	windows verdict.Windows // what the gate asks for
	closed  day.Date        // tasks whose last day is this or earlier are not kept
	slots   []slot          // its tasks in the due index
}

// Here says whether the wheel is still in the cave.
func (s WheelState) Here() bool { return s.Gone == day.None }

func encodeStanding(s WheelState) []byte {
	b := make([]byte, 0, 96)
	b = append(b, reasonsVersion)
	b = append(b, s.Make[:]...)
	b = putText(b, s.Tag)
	b = putText(b, string(s.Place))
	b = putText(b, s.Plan)
	b = putAhead(b, s.Gone, 0)
	b = binary.AppendVarint(b, s.Last.UnixMilli())
	b = putAhead(b, s.closed, 0)
	if s.gated {
		b = append(b, 1)
		w := s.windows
		for _, d := range []day.Date{w.CoatFrom, w.CoatUntil, w.CheckFrom, w.WeighFrom} {
			b = putAhead(b, d, 0)
		}
		b = reason.Append(reason.Append(reason.Append(b, w.CoatWhy), w.CheckWhy), w.WeighWhy)
	} else {
		b = append(b, 0)
	}
	b = binary.AppendUvarint(b, uint64(len(s.slots)))
	for _, k := range s.slots {
		b = putAhead(b, k.due, 0)
		b = append(b, k.rank, k.seq)
	}
	return b
}

func decodeStanding(w uuid.UUID, value []byte) (WheelState, error) {
	r := newReader(value)
	if r.byte() != reasonsVersion {
		return WheelState{}, errPacked
	}
	s := WheelState{Wheel: w, windows: verdict.Shut()}
	s.Make = r.uuid()
	s.Tag, s.Place, s.Plan = r.text(), cave.Place(r.text()), r.text()
	s.Gone = r.ahead(0)
	ms := r.varint()
	if ms < 0 || ms > maxMilli {
		r.fail()
		ms = 0
	}
	s.Last = time.UnixMilli(ms).UTC()
	s.closed = r.ahead(0)
	switch r.byte() {
	case 0:
	case 1:
		s.gated = true
		w := &s.windows
		for _, d := range []*day.Date{&w.CoatFrom, &w.CoatUntil, &w.CheckFrom, &w.WeighFrom} {
			*d = r.ahead(0)
		}
		w.CoatWhy, w.CheckWhy, w.WeighWhy = r.reasons(), r.reasons(), r.reasons()
	default:
		r.fail()
	}
	n := r.count()
	if n > len(r.s) {
		r.fail()
		n = 0
	}
	s.slots = make([]slot, 0, n)
	for range n {
		s.slots = append(s.slots, slot{r.ahead(0), r.byte(), r.byte()})
	}
	return s, r.done()
}
