package store

import (
	"encoding/binary"
	"errors"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/schedule"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
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
	briefVersion   = 3 // of standings
	countVersion   = 4 // standings say how many entries the wheel has
	stateVersion   = 5 // and who sent it, and with what others it stands alike
)

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

func encodeTask(t Task) []byte {
	p := pack.Form{B: append(make([]byte, 0, 96), reasonsVersion)}
	packTask(&p, &t)
	return p.B
}

// decodeTask puts a task together from its key, taken apart, and its value.
func decodeTask(s layout.Slot, place cave.Place, w uuid.UUID, value []byte) (Task, error) {
	r := pack.NewReader(value)
	if r.Byte() != reasonsVersion {
		return Task{}, pack.ErrForm
	}
	t := Task{Wheel: w, Place: place}
	t.Due = s.Due
	packTask(pack.Reading(r), &t)
	return t, r.Done()
}

// WheelState is where a wheel stands by its entries. It is derived and never
// written by hand.
type WheelState struct {
	Wheel uuid.UUID
	Make  uuid.UUID
	Tag   string
	Place cave.Place // "" if its place is unknown; the last place of a gone wheel
	Plan  string
	Gone  day.Date  // None while it is here
	Last  time.Time // its latest entry, or from when the book keeps it
	Brief wheel.Brief

	gated   bool            // it waits at a dry gate, and windows says how
	windows verdict.Windows // what the gate asks for
	entries int             // how many it has; under 0: an older index, which doesn't say
	closed  day.Date        // tasks whose last day is this or earlier are not kept
	slots   []layout.Slot   // its tasks in the due index
}

// Here says whether the wheel is still in the cave.
func (s WheelState) Here() bool { return s.Gone == day.None }

// packState packs where a wheel stands.
func packState(p *pack.Form, s *WheelState, version byte) {
	p.ID(&s.Make)
	pack.Text(p, &s.Tag)
	pack.Text(p, &s.Place)
	pack.Text(p, &s.Plan)
	p.Date(&s.Gone, 0)
	p.Instant(&s.Last)
	p.Date(&s.closed, 0)
	gated := map[bool]byte{true: 1}[s.gated]
	p.Octet(&gated)
	if s.gated = gated == 1; s.gated {
		w := &s.windows
		for _, d := range []*day.Date{&w.CoatFrom, &w.CoatUntil, &w.CheckFrom, &w.WeighFrom} {
			p.Date(d, 0)
		}
		p.Reasons(&w.CoatWhy)
		p.Reasons(&w.CheckWhy)
		p.Reasons(&w.WeighWhy)
	}
	packBrief(p, &s.Brief, version)
	if version >= stateVersion {
		for _, n := range []*uint64{&s.Brief.Alike, &s.Brief.Habits, &s.Brief.Rooms} {
			packNumber(p, n)
		}
	}
	n := len(s.slots)
	if p.Whole(&n); p.Reads() {
		if gated > 1 || n > p.Left() {
			p.Fail()
			return
		}
		s.slots = make([]layout.Slot, n)
	}
	for i := range s.slots {
		k := &s.slots[i]
		p.Date(&k.Due, 0)
		p.Octet(&k.Rank)
		p.Octet(&k.Seq)
	}
}

func packBrief(p *pack.Form, b *wheel.Brief, version byte) {
	for _, d := range []*day.Date{&b.Drying, &b.Coated, &b.Since} {
		p.Date(d, 0)
	}
	p.Whole(&b.Number)
	if p.Whole(&b.Weighings); b.Weighings > 0 {
		p.Instant(&b.Began)
	}
	pack.Figure(p, &b.Weight)
	pack.Figure(p, &b.Loss)
	pack.Figure(p, &b.Net)
	pack.Figure(p, &b.NetDay)
	p.Truth(&b.Guessed)
	p.Truth(&b.Held)
	if version >= stateVersion {
		pack.Text(p, &b.Supplier)
	}
	packNumber(p, &b.Lay)
}

// packNumber packs a number of which every bit may be set.
func packNumber(p *pack.Form, x *uint64) {
	var b [8]byte
	binary.BigEndian.PutUint64(b[:], *x)
	for i := range b {
		p.Octet(&b[i])
	}
	*x = binary.BigEndian.Uint64(b[:])
}

func encodeState(s WheelState) []byte {
	p := pack.Form{B: append(make([]byte, 0, 96), stateVersion)}
	p.Whole(&s.entries)
	packState(&p, &s, stateVersion)
	return p.B
}

func decodeState(w uuid.UUID, value []byte) (WheelState, error) {
	r := pack.NewReader(value)
	s, p := WheelState{Wheel: w, windows: verdict.Shut()}, pack.Reading(r)
	version := r.Byte()
	switch version {
	case countVersion, stateVersion:
		p.Whole(&s.entries)
	case briefVersion:
		s.entries = -1
	default:
		return WheelState{}, pack.ErrForm
	}
	packState(p, &s, version)
	return s, r.Done()
}
