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
	Print uint64    // of all that it follows from: where that's as it was, so is the curve
}

// curveVersion is the version byte of kept curves.
const curveVersion = 2

func packCurve(p *pack.Form, c *Curve) {
	p.ID(&c.By)
	p.Instant(&c.Until)
	packNumber(p, &c.Print)
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
	Kept  []byte        // the curve in the book; nil: it's found whatever that says
	value []byte
}

// WeekOf is the beginning of an instant's week, Monday 0:00 in UTC.
func WeekOf(at time.Time) time.Time { return at.UTC().Truncate(7 * 24 * time.Hour) }

// derive finds the curve, or takes the one that's kept where nothing changed that it follows
// from: most of the work is to fit it. It reads nothing but the update.
func (u *CurveUpdate) derive(l *Lot) {
	if u.File == nil {
		return
	}
	own := *u.Own
	from, plan, coat, on := day.At(own.Until, own.Loc), "", "", day.None
	if u.File.Gated() { // the outlook says when
		plan = u.File.Plan.Text
	} else {
		coat, on = schedule.NextCoat(u.File.tasks(l, verdict.Shut()), from)
	}
	sum := own.Print(u.File.Life.Wheel.ID, plan, coat, on)
	if old, err := DecodeCurve(u.Kept); err == nil && old.Print == sum {
		u.value = u.Kept
		return
	}
	c := verdict.New(own)
	f := c.Forecast()
	if u.File.Gated() {
		coat, on = u.File.Plan.GateCoatOn(c.Outlook(f), from)
	}
	curve := Curve{By: u.File.Life.Wheel.ID, Until: c.Until, Print: sum, Began: c.Began()}
	if !math.IsNaN(c.Life.Chain.Gap) {
		curve.Net, curve.Known = c.Life.Chain.Present()
	}
	// Of wheels that stand alike some were weighed a day before others.
	curve.Track = c.LongTrack(f, c.Until.Add(-24*time.Hour), coat, on)
	u.value = encodeCurve(curve)
}

// Record is what the bucket of curves should hold; a nil value is nothing.
func (u *CurveUpdate) Record(mk uuid.UUID) (key, value []byte) {
	return layout.CurveKey(mk, u.Alike), u.value
}
