package wheel

import (
	"encoding/binary"
	"hash/fnv"
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
}

// Brief is the life's, its loss chain not settled.
func (l *Life) Brief(loc *time.Location) Brief {
	m := l.Milestones(loc)
	b := Brief{
		Drying: m.Drying, Coated: m.Coated, Since: l.Since, Number: l.Wheel.Number, Weighings: l.Chain.Weighings(),
		Weight: l.WeightNow(), Held: len(l.Holds) > 0, Lay: l.lay(),
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
	h := fnv.New64a()
	at := func(t time.Time) { _ = binary.Write(h, binary.BigEndian, t.UnixMilli()) }
	at(l.Chain.Began)
	at(l.Last)
	for _, s := range l.Stays {
		at(s.From)
		_, _ = h.Write([]byte(s.Place.Room() + "\x00"))
		if s.Away {
			_, _ = h.Write([]byte{1})
		}
	}
	return h.Sum64()
}
