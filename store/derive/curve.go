package derive

import (
	"math"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/schedule"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// Curve is how wheels that stand alike lose weight.
type Curve struct {
	Began time.Time // when the drying of the wheel it was found by did
	Track drying.LongTrack
	// Net is what the cheese weighed when last known, on the day Known, by the curve itself;
	// 0 where its weights say so.
	Net   quantity.Grams
	Known float64

	By    uuid.UUID // the wheel
	Until time.Time // of the air that it knows
}

// curveVersion is the version byte of kept curves.
const curveVersion = 1

func packCurve(p *pack.Form, c *Curve) {
	p.ID(&c.By)
	p.Instant(&c.Until)
	p.Instant(&c.Began)
	pack.Figure(p, &c.Net)
	pack.Figure(p, &c.Known)
	packTrack(p, &c.Track.Track, drying.LongMarks)
	sealed := len(c.Track.Sealed) > 0
	if p.Truth(&sealed); sealed {
		packMarks(p, &c.Track.Sealed, drying.LongMarks)
	}
}

func encodeCurve(c Curve) []byte {
	p := pack.Form{B: append(make([]byte, 0, 1536), curveVersion)}
	packCurve(&p, &c)
	return p.B
}

// DecodeCurve reads a kept curve. The error is pack.ErrForm.
func DecodeCurve(value []byte) (c Curve, err error) {
	r := pack.NewReader(value)
	if r.Byte() != curveVersion {
		return c, pack.ErrForm
	}
	packCurve(pack.Reading(r), &c)
	return c, r.Done()
}

// CurveUpdate is a curve that is to be found again, or that nobody needs any more.
type CurveUpdate struct {
	Alike uint64
	File  *Wheel        // whose weights give it; nil: nobody stands alike now
	Own   *verdict.Case // its case, without sisters
	curve Curve
}

// WeekOf is the beginning of an instant's week, Monday 0:00 in UTC.
func WeekOf(at time.Time) time.Time { return at.UTC().Truncate(7 * 24 * time.Hour) }

// derive finds the curve. It reads nothing but the update.
func (u *CurveUpdate) derive(l *Lot) {
	if u.File == nil {
		return
	}
	c := verdict.New(*u.Own)
	f := c.Forecast()
	coat, on := schedule.NextCoat(u.File.tasks(l, verdict.Shut()), day.At(c.Until, c.Loc))
	if u.File.Gated() {
		coat, on = u.File.Plan.GateCoatOn(c.Outlook(f), day.At(c.Until, c.Loc))
	}
	u.curve = Curve{By: u.File.Life.Wheel.ID, Until: c.Until, Began: c.Began()}
	if !math.IsNaN(c.Life.Chain.Gap) {
		u.curve.Net, u.curve.Known = c.Life.Chain.Present()
	}
	// Of wheels that stand alike some were weighed a day before others.
	u.curve.Track = c.LongTrack(f, c.Until.Add(-24*time.Hour), coat, on)
}

// Record is what the bucket of curves should hold; a nil value is nothing.
func (u *CurveUpdate) Record(mk uuid.UUID) (key, value []byte) {
	if u.File != nil {
		value = encodeCurve(u.curve)
	}
	return layout.CurveKey(mk, u.Alike), value
}
