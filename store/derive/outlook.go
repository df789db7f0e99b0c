package derive

import (
	"encoding/binary"
	"math"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/store/pack"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// outlookVersion is the version byte of kept outlooks.
const outlookVersion = 3

// packOutlook packs the outlook of a wheel that waits for its coat: a bare one.
func packOutlook(p *pack.Form, o *verdict.Outlook) {
	p.Instant(&o.Until)
	p.Instant(&o.Began)
	p.Instant(&o.DryingBegan)
	p.Truth(&o.Aged)
	p.Whole(&o.Weighings)
	pack.Text(p, &o.Basis)
	pack.Text(p, &o.Last)
	p.Truth(&o.Used)
	pack.Figure(p, &o.RH)
	packExpected(p, &o.On)
	p.Date(&o.CheckedOn, 0)
	for _, s := range []*wheel.Seen{
		&o.Found.DryToTouch, &o.Found.Weeping, &o.Found.Cracks, &o.Found.Mould, &o.Found.Mites, &o.Found.Gas,
	} {
		p.Octet((*byte)(s))
	}
	p.Date(&o.BlownOn, 0)
	p.Truth(&o.BlownBefore)
	p.Reasons(&o.Jump)
	packFigures(p, &o.Figures)
	packTrack(p, &o.Track, drying.TrackMarks)
}

func packExpected(p *pack.Form, on **verdict.Expected) {
	some := *on != nil
	if p.Truth(&some); !some {
		return
	}
	x := verdict.Expected{}
	if !p.Reads() {
		x = **on
	}
	for _, d := range []*day.Date{&x.Best, &x.Low, &x.High} {
		p.Date(d, 0)
	}
	*on = &x
}

func packFigures(p *pack.Form, g *verdict.Figures) {
	p.Date(&g.WeighedOn, 0)
	p.Date(&g.DaysMet, 0)
	p.Date(&g.DoubtfulOn, 0)
	p.Reasons(&g.Doubtful)
	p.Reasons(&g.Before)
	pack.Figure(p, &g.MinLoss)
	pack.Figure(p, &g.Surface)
	if g.WeighedOn == day.None {
		return
	}
	p.Instant(&g.At)
	for _, x := range []*quantity.Fraction{&g.Loss, &g.Target} {
		pack.Figure(p, x)
	}
	for _, x := range []*float64{&g.Moisture.Best, &g.Moisture.Low, &g.Moisture.High} {
		pack.Figure(p, x)
	}
	for _, x := range []*bool{&g.LossOK, &g.SurfaceOK, &g.MoistureOK, &g.Dry} {
		p.Truth(x)
	}
}

func packTrack(p *pack.Form, t *drying.Track, marks int) {
	pack.Figure(p, &t.From)
	unweighed := len(t.Wet) > 0
	p.Truth(&unweighed)
	packMarks(p, &t.Losses, marks)
	packMarks(p, &t.Rates, marks)
	if unweighed {
		packMarks(p, &t.Wet, marks)
	}
	pack.Figure(p, &t.Green)
	pack.Figure(p, &t.Left)
}

// packMarks packs a track's figures to seven digits.
func packMarks(p *pack.Form, marks *[]quantity.Estimate, n int) {
	if p.Reads() {
		*marks = make([]quantity.Estimate, n)
	}
	for i := range *marks {
		e := &(*marks)[i]
		for _, x := range []*float64{&e.Best, &e.Low, &e.High} {
			packShort(p, x)
		}
	}
}

func packShort(p *pack.Form, x *float64) {
	var b [4]byte
	binary.BigEndian.PutUint32(b[:], math.Float32bits(float32(*x)))
	p.Bytes(b[:])
	*x = float64(math.Float32frombits(binary.BigEndian.Uint32(b[:])))
}

// mostTold is how many bytes of an outlook say what its wheel says of its lot, the version with
// them: a flag, a digest and ten figures.
const mostTold = 2 + 8 + 10*4

// packTold packs what a wheel says of its lot; nil where it isn't asked.
func packTold(p *pack.Form, told **Word) {
	some := *told != nil
	if p.Truth(&some); !some {
		return
	}
	t := &Word{}
	if !p.Reads() {
		t = *told
	}
	packNumber(p, &t.Print)
	put := func(x *float32) {
		y := float64(*x)
		packShort(p, &y)
		*x = float32(y)
	}
	for i := range t.Says.Info {
		put(&t.Says.Info[i])
	}
	for i := range t.Says.Vec {
		put(&t.Says.Vec[i])
	}
	put(&t.Says.Damp)
	*told = t
}

// EncodeOutlook packs the outlook of a wheel that waits for its coat, and what it says of its
// lot where the others are judged by it.
func (d *Outcome) EncodeOutlook() []byte {
	p := pack.Form{B: append(make([]byte, 0, 896), outlookVersion)}
	packTold(&p, &d.Told)
	packOutlook(&p, d.Outlook)
	return p.B
}

// DecodeOutlook reads it. The error is pack.ErrForm.
func DecodeOutlook(value []byte) (verdict.Outlook, error) {
	r := pack.NewReader(value)
	if r.Byte() != outlookVersion {
		return verdict.Outlook{}, pack.ErrForm
	}
	o, told := verdict.Outlook{CoatedOn: day.None}, (*Word)(nil)
	packTold(pack.Reading(r), &told)
	packOutlook(pack.Reading(r), &o)
	return o, r.Done()
}

// DecodeTold reads what a wheel says of its lot beside its outlook; nil where it isn't there.
func DecodeTold(value []byte) (told *Word) {
	r := pack.NewReader(value[:min(len(value), mostTold)])
	if r.Byte() != outlookVersion {
		return nil
	}
	if packTold(pack.Reading(r), &told); r.Bad() {
		return nil
	}
	return told
}
