package store

import (
	"encoding/binary"
	"errors"
	"math"
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

// reasons packs a list of reasons. One of an unknown kind, as another version of
// the program may write, leaves its error for done.
func (p *packer) reasons(l *reason.List) {
	if p.reader == nil {
		p.b = reason.Append(p.b, *l)
		return
	}
	var err error
	if *l, p.s, err = reason.Decode(p.s); err != nil {
		p.fail()
		p.cause = err
	}
}

// date packs a date as its distance from another, None as 0.
func (p *packer) date(d *day.Date, from day.Date) {
	if p.reader == nil {
		z := uint64(0)
		if u := int64(*d) - int64(from); *d != day.None {
			z = uint64(u<<1) ^ uint64(u>>63) + 1
		}
		p.b = binary.AppendUvarint(p.b, z)
		return
	}
	*d = day.None
	if z := p.uvarint(); z != 0 {
		z--
		x := int64(from) + (int64(z>>1) ^ -int64(z&1))
		if x <= int64(day.None) || x > math.MaxInt32 {
			p.fail()
			return
		}
		*d = day.Date(x)
	}
}

// task packs what the due key does not say.
func (p *packer) task(t *Task) {
	p.job(&t.Job)
	p.whole(&t.Number)
	p.date(&t.Until, t.Due)
	p.whole(&t.Rounds)
	p.whole(&t.Round)
	p.date(&t.RoundOn, t.Due)
	packFigure(p, &t.Minutes)
	p.whole(&t.Slack)
	packText(p, &t.Tag)
	// The lot is most often how the tag begins: 1 and its length, else 0 and
	// its text.
	n := 0
	if strings.HasPrefix(t.Tag, t.Lot) {
		n = len(t.Lot)
	}
	switch p.whole(&n); {
	case n == 0:
		packText(p, &t.Lot)
	case n <= len(t.Tag):
		t.Lot = t.Tag[:n]
	default:
		p.fail()
	}
	packText(p, &t.Variety)
	packText(p, &t.Coat)
	packText(p, &t.To)
	packText(p, &t.Plan)
	p.whole(&t.Step)
	p.reasons(&t.Why)
	if p.reader == nil && len(t.Times) == 0 || p.reader != nil && len(p.s) == 0 {
		return // they came later: most tasks have none
	}
	n = len(t.Times)
	if p.whole(&n); p.reader != nil {
		if n == 0 || n > len(p.s) {
			p.fail()
			return
		}
		t.Times = make([]int, n)
	}
	for i := range t.Times {
		p.whole(&t.Times[i])
	}
}

func encodeTask(t Task) []byte {
	p := packer{b: append(make([]byte, 0, 96), reasonsVersion)}
	p.task(&t)
	return p.b
}

// decodeTask puts a task together from its key, taken apart, and its value.
func decodeTask(s slot, place cave.Place, w uuid.UUID, value []byte) (Task, error) {
	r := newReader(value)
	if r.byte() != reasonsVersion {
		return Task{}, errPacked
	}
	t := Task{Wheel: w, Place: place}
	t.Due = s.due
	p := packer{reader: r}
	p.task(&t)
	return t, r.done()
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

// state packs where a wheel stands.
func (p *packer) state(s *WheelState) {
	p.id(&s.Make)
	packText(p, &s.Tag)
	packText(p, &s.Place)
	packText(p, &s.Plan)
	p.date(&s.Gone, 0)
	if p.reader == nil {
		p.b = binary.AppendVarint(p.b, s.Last.UnixMilli())
	} else {
		s.Last = p.instant(0)
	}
	p.date(&s.closed, 0)
	gated := map[bool]byte{true: 1}[s.gated]
	p.octet(&gated)
	if s.gated = gated == 1; s.gated {
		w := &s.windows
		for _, d := range []*day.Date{&w.CoatFrom, &w.CoatUntil, &w.CheckFrom, &w.WeighFrom} {
			p.date(d, 0)
		}
		p.reasons(&w.CoatWhy)
		p.reasons(&w.CheckWhy)
		p.reasons(&w.WeighWhy)
	}
	n := len(s.slots)
	if p.whole(&n); p.reader != nil {
		if gated > 1 || n > len(p.s) {
			p.fail()
			return
		}
		s.slots = make([]slot, n)
	}
	for i := range s.slots {
		k := &s.slots[i]
		p.date(&k.due, 0)
		p.octet(&k.rank)
		p.octet(&k.seq)
	}
}

func encodeStanding(s WheelState) []byte {
	p := packer{b: append(make([]byte, 0, 96), reasonsVersion)}
	p.state(&s)
	return p.b
}

func decodeStanding(w uuid.UUID, value []byte) (WheelState, error) {
	r := newReader(value)
	if r.byte() != reasonsVersion {
		return WheelState{}, errPacked
	}
	s := WheelState{Wheel: w, windows: verdict.Shut()}
	p := packer{reader: r}
	p.state(&s)
	return s, r.done()
}
