package derive

import (
	"encoding/binary"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// The versions of packed standings.
const (
	briefVersion = 3
	countVersion = 4 // they say how many entries the wheel has
	stateVersion = 5 // and who sent it, and with what others it stands alike
)

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

	Gated   bool            // it waits at a dry gate, and Windows says how
	Windows verdict.Windows // what the gate asks for
	Entries int             // how many it has; under 0: an older index, which doesn't say
	Closed  day.Date        // tasks whose last day is this or earlier are not kept
	Slots   []layout.Slot   // its tasks in the due index
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
	p.Date(&s.Closed, 0)
	gated := map[bool]byte{true: 1}[s.Gated]
	p.Octet(&gated)
	if s.Gated = gated == 1; s.Gated {
		w := &s.Windows
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
	n := len(s.Slots)
	if p.Whole(&n); p.Reads() {
		if gated > 1 || n > p.Left() {
			p.Fail()
			return
		}
		s.Slots = make([]layout.Slot, n)
	}
	for i := range s.Slots {
		k := &s.Slots[i]
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
	p.Bytes(b[:])
	*x = binary.BigEndian.Uint64(b[:])
}

// EncodeState packs where a wheel stands; DecodeState reads it.
func EncodeState(s WheelState) []byte {
	p := pack.Form{B: append(make([]byte, 0, 96), stateVersion)}
	p.Whole(&s.Entries)
	packState(&p, &s, stateVersion)
	return p.B
}

// DecodeState reads where a wheel stands, of older versions too. The error is pack.ErrForm.
func DecodeState(w uuid.UUID, value []byte) (WheelState, error) {
	r := pack.NewReader(value)
	s, p := WheelState{Wheel: w, Windows: verdict.Shut()}, pack.Reading(r)
	version := r.Byte()
	switch version {
	case countVersion, stateVersion:
		p.Whole(&s.Entries)
	case briefVersion:
		s.Entries = -1
	default:
		return WheelState{}, pack.ErrForm
	}
	packState(p, &s, version)
	return s, r.Done()
}
