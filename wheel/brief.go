package wheel

import (
	"encoding/binary"
	"hash"
	"hash/fnv"
	"math"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
)

// Milestones are the dates in a wheel's life that its stage follows from; None where
// there is none yet.
type Milestones struct {
	Made, Drying, Coated, Gone day.Date
}

// Milestones are the life's own.
func (l *Life) Milestones(loc *time.Location) Milestones {
	m := Milestones{Made: l.Make.Date, Drying: l.Make.Date + 1, Coated: day.None, Gone: l.GoneOn}
	if l.Chain.Green > 0 { // without a weighing: out of the press the next day
		m.Drying = min(m.Drying, day.At(l.Chain.Began, loc))
	}
	if on := l.TakenOn(loc); on != day.None {
		m.Drying = min(m.Drying, on)
	}
	if len(l.Coats) > 0 {
		m.Coated = l.Coats[0].On
	}
	return m
}

// Reached is the date on which the wheel reached or will reach the stage, by its
// entries and its variety's days, or None if unknown. DryingDays is how long the
// variety dries uncoated, readyDays the age at which it is ready; 0 means unknown.
func (m Milestones) Reached(s Stage, dryingDays, readyDays int) day.Date {
	switch s {
	case Pressing:
		return m.Made
	case Drying:
		return m.Drying
	case Coated:
		return m.Coated
	case Ripening:
		ripe := day.None
		if dryingDays > 0 {
			ripe = m.Drying + day.Date(dryingDays)
		}
		if m.Coated != day.None && (ripe == day.None || m.Coated < ripe) {
			ripe = m.Coated
		}
		return ripe
	case Ready:
		if readyDays > 0 {
			return m.Made + day.Date(readyDays)
		}
	case Gone:
		return m.Gone
	}
	return day.None
}

// StageOn is the wheel's stage on a date. A coated wheel stays coated until it is
// ready; an uncoated one goes from drying to ripening to ready.
func (m Milestones) StageOn(on day.Date, dryingDays, readyDays int) Stage {
	for _, s := range []Stage{Gone, Ready, Coated, Ripening, Drying} {
		if d := m.Reached(s, dryingDays, readyDays); d != day.None && d <= on {
			return s
		}
	}
	return Pressing
}

// Brief is what lists and counts say of a wheel, so that they needn't read its entries.
// It follows from these alone and not from today.
type Brief struct {
	Drying, Coated day.Date // as of Milestones
	Since          day.Date // as of Life
	Number         int
	Began          time.Time // its first weighing; zero: never weighed
	Weighings      int
	Weight         quantity.Grams    // the last, coats and all; 0: none
	Loss           quantity.Fraction // at the last weighing; 0 where it was never weighed
	Guessed        bool              // Loss follows from a weight that wasn't taken: only its curve knows it
	Held           bool              // by hand
	Net            quantity.Grams    // as of Chain.Present
	NetDay         float64
	Supplier       string // who sent it; "": nobody
	Lay            uint64 // names where it lay, and when
	Alike          uint64 // names the wheels of its make whose curve it may share
	Habits         uint64 // names the wheels of one date, make time, variety and plan whose coming jobs are the same
	Rooms          uint64 // a bit for each room it has lain in: see RoomBit
}

// Brief is the life's, its loss chain not settled.
func (l *Life) Brief(loc *time.Location) Brief {
	m := l.Milestones(loc)
	b := Brief{
		Drying: m.Drying, Coated: m.Coated, Since: l.Since, Number: l.Wheel.Number, Weighings: l.Chain.Weighings(),
		Weight: l.WeightNow(), Held: len(l.Holds) > 0, Lay: l.lay(), Alike: l.alike(), Habits: l.habits(loc),
	}
	for _, s := range l.Stays {
		b.Rooms |= RoomBit(s.Place.Room())
	}
	if l.Chain.Green > 0 {
		b.Began = l.Chain.Began
	}
	if p, ok := l.Chain.Last(); ok {
		b.Loss, b.Guessed = p.Loss(), p.Day > l.Chain.Gap // NaN: every weight was taken
	}
	b.Net, b.NetDay = l.Chain.Present()
	if e, ok := l.Received(); ok {
		b.Supplier = e.Arrival().Supplier
	}
	return b
}

// Milestones of a wheel made and gone on those dates.
func (b Brief) Milestones(made, gone day.Date) Milestones {
	return Milestones{made, b.Drying, b.Coated, gone}
}

// lay names where and when the wheel lay, to the millisecond: two wheels of a make with
// the same lay had the same air, and the same days that a law counts.
func (l *Life) lay() uint64 {
	n := newName()
	n.add(l.Chain.Began.UnixMilli(), l.Last.UnixMilli())
	for _, s := range l.Stays {
		n.add(s.From.UnixMilli())
		n.text(s.Place.Room())
		n.truth(s.Away)
	}
	return n.Sum64()
}

// measuresAlike is how many steps of a measure, of equal ratio, make e times of it: wheels that
// differ by a twentieth or less may share a curve. As drying.Estimates does; our choice.
const measuresAlike = 10

// alike names what wheels of a make have in common that may share a curve: shape, room,
// coats, weighings and plan, and its mass where it follows from a weight that wasn't taken.
func (l *Life) alike() uint64 {
	n := newName()
	sh := l.Wheel.Shape
	n.text(string(sh.Form))
	for _, x := range []float64{
		float64(sh.Diameter), float64(sh.Length), float64(sh.Width), float64(sh.Height), float64(sh.TopLength),
	} {
		step := int64(0)
		if x > 0 {
			step = int64(math.Round(math.Log(x)*measuresAlike)) + 1<<32 // over 0: our choice
		}
		n.add(step)
	}
	n.text(l.Place.Room())
	n.text(l.Plan)
	n.add(int64(len(l.Chain.Points)))
	if p, ok := l.Chain.Last(); ok {
		n.add(int64(math.Round(p.Day)))
	}
	for _, c := range l.Coats {
		n.text(c.Coat)
		n.add(int64(c.On))
	}
	if !math.IsNaN(l.Chain.Gap) { // its own curve says what it weighs
		net, day := l.Chain.Present()
		n.add(int64(math.Float64bits(float64(net))), int64(math.Float64bits(day)))
	}
	return n.Sum64()
}

// habits names all that a wheel's jobs follow from, its make, plan and gate apart.
func (l *Life) habits(loc *time.Location) uint64 {
	n := newName()
	n.add(int64(l.Since), int64(l.TakenOn(loc)), int64(day.At(l.Wheel.Since, loc)))
	n.truth(l.Wheel.Since.In(loc).Hour() >= 12)
	if n.truth(l.Chain.Green > 0); l.Chain.Green > 0 {
		n.add(int64(day.At(l.Chain.Began, loc)))
	}
	for _, c := range l.Coats {
		n.add(int64(c.On))
	}
	for _, j := range Jobs {
		if d, ok := l.Done[j]; ok {
			n.text(string(j))
			n.add(int64(d.First), int64(d.Last), int64(d.Count))
		}
		if w, ok := l.Asked[j]; ok {
			n.text("asked " + string(j))
			n.add(int64(w.On))
		}
	}
	return n.Sum64()
}

// RoomBit is the bit of Brief.Rooms that stands for a room, and by chance for others too.
func RoomBit(room string) uint64 {
	n := newName()
	n.text(room)
	return 1 << (n.Sum64() % 64)
}

// name is a number that stands for what was added to it.
type name struct{ hash.Hash64 }

func newName() name { return name{fnv.New64a()} }

func (n name) add(xs ...int64) {
	var b [8]byte
	for _, x := range xs {
		binary.BigEndian.PutUint64(b[:], uint64(x))
		_, _ = n.Write(b[:])
	}
}

func (n name) text(s string) { _, _ = n.Write([]byte(s + "\x00")) }

func (n name) truth(is bool) {
	if is {
		_, _ = n.Write([]byte{1})
	}
}
