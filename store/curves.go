package store

import (
	"maps"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/schedule"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// The wheels of a make that stand alike (Brief.Alike) share a curve: that of the first of
// them by identity, from its own weights alone. It knows its room's air up to a Monday, or up
// to its latest weight or move if that's later, so that readings make a room's curves again
// once a week at most. What else is asked about a wheel that waits for its coat is in its
// outlook.

// Curve is how wheels that stand alike lose weight.
type Curve struct {
	Began time.Time // when the drying of the wheel it was found by did
	Track drying.LongTrack
	// Net is what the cheese weighed when last known, on the day Known, by the curve itself;
	// 0 where its weights say so.
	Net   quantity.Grams
	Known float64

	by    uuid.UUID
	until time.Time // of the air that it knows
}

const curveVersion = 1

func packCurve(p *pack.Form, c *Curve) {
	p.ID(&c.by)
	p.Instant(&c.until)
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

func decodeCurve(value []byte) (c Curve, err error) {
	r := pack.NewReader(value)
	if r.Byte() != curveVersion {
		return c, pack.ErrForm
	}
	packCurve(pack.Reading(r), &c)
	return c, r.Done()
}

// CurveOf is the curve of a wheel that is here; ok is false where none is kept.
func (t *ReadTx) CurveOf(s WheelState) (c Curve, ok bool, err error) {
	if err := t.ready(); err != nil {
		return c, false, err
	}
	if v := t.get(layout.Curves, layout.CurveKey(s.Make, s.Brief.Alike)); v != nil {
		if c, err = decodeCurve(v); err != nil {
			return c, false, t.damaged(err, "index", layout.Curves)
		}
		return c, true, nil
	}
	return c, false, nil
}

// curveUpdate is a curve that is to be found again, or that nobody needs any more.
type curveUpdate struct {
	alike uint64
	file  *wheelFile    // whose weights give it; nil: nobody stands alike now
	own   *verdict.Case // its case, without sisters
	curve Curve
}

// curves finds the curves of a lot that change with its wheels.
func (t *ReadTx) curves(j *lotUpdate, stale func(uuid.UUID) touch) error {
	now := map[uuid.UUID]*derived{}
	hit, fresh := map[uint64]bool{}, map[uuid.UUID]bool{}
	for i := range j.out {
		d := &j.out[i]
		id := d.file.life.Wheel.ID
		now[id] = d
		fresh[id] = d.old == nil || stale(id).gate
		was, had := uint64(0), false
		if d.old != nil {
			was, had = d.old.Brief.Alike, d.old.Here()
		}
		is, has := d.brief.Alike, d.file.life.GoneOn == day.None
		if fresh[id] || had != has || was != is {
			if had {
				hit[was] = true
			}
			if has {
				hit[is] = true
			}
		}
	}
	if len(hit) == 0 {
		return nil
	}
	ids, err := t.wheelIDs(j.lot.mk.ID)
	if err != nil {
		return err
	}
	first := map[uint64]uuid.UUID{}
	for _, id := range ids {
		alike, ok := uint64(0), false
		if d := now[id]; d != nil {
			alike, ok = d.brief.Alike, d.file.life.GoneOn == day.None
		} else if s, is, err := t.state(id); err != nil {
			return err
		} else if is {
			alike, ok = s.Brief.Alike, s.Here()
		}
		if by, found := first[alike]; ok && hit[alike] && (!found || byID(id, by) < 0) {
			first[alike] = id
		}
	}
	for _, alike := range slices.Sorted(maps.Keys(hit)) {
		u := curveUpdate{alike: alike}
		id, ok := first[alike]
		if ok && !fresh[id] {
			if v := t.get(layout.Curves, layout.CurveKey(j.lot.mk.ID, alike)); v != nil {
				if old, err := decodeCurve(v); err == nil && old.by == id {
					continue
				}
			}
		}
		if ok {
			if d := now[id]; d != nil {
				u.file = d.file
			} else if u.file, err = t.fileOf(id, j.lot.mk, maxTime); t.leftOut(err) {
				continue
			} else if err != nil {
				return err
			}
			if u.own, err = t.curveCase(u.file, j); t.leftOut(t.harm(id, err)) {
				continue
			} else if err != nil {
				return err
			}
		}
		j.curves = append(j.curves, u)
	}
	return nil
}

// curveCase is the case that a curve follows from.
func (t *ReadTx) curveCase(f *wheelFile, j *lotUpdate) (*verdict.Case, error) {
	c := verdict.Case{Life: f.life, Variety: j.lot.variety, Loc: t.book.zone, Until: f.weighty()}
	if c.Gate = verdict.DefaultGate(); f.plan != nil {
		c.Gate = f.plan.Gate
	}
	if n := len(f.life.Stays); n > 0 {
		at, ok, err := t.newestAir(f.life.Stays[n-1].Place.Room(), maxTime)
		if err != nil {
			return nil, err
		}
		if monday := weekOf(at); ok && monday.After(c.Until) {
			c.Until = monday
		}
	}
	rooms := &roomsOf{t: t, before: maxTime}
	c.Air, c.HygrometerSD = c.Spans(c.Until, rooms)
	c = c.Alone()
	return &c, rooms.err
}

// weekOf is the beginning of an instant's week, Monday 0:00 in UTC.
func weekOf(at time.Time) time.Time { return at.UTC().Truncate(7 * 24 * time.Hour) }

// derive finds the curve. It reads nothing but the update.
func (u *curveUpdate) derive(l *lotFile) {
	if u.file == nil {
		return
	}
	c := verdict.New(*u.own)
	f := c.Forecast()
	coat, on := schedule.NextCoat(u.file.tasks(l, verdict.Shut()), day.At(c.Until, c.Loc))
	if u.file.gated() {
		coat, on = u.file.plan.GateCoatOn(c.Outlook(f), day.At(c.Until, c.Loc))
	}
	u.curve = Curve{by: u.file.life.Wheel.ID, until: c.Until, Began: c.Began()}
	if !math.IsNaN(c.Life.Chain.Gap) {
		u.curve.Net, u.curve.Known = c.Life.Chain.Present()
	}
	// Of wheels that stand alike some were weighed a day before others.
	u.curve.Track = c.LongTrack(f, c.Until.Add(-24*time.Hour), coat, on)
}

// record is what the bucket of curves should hold; a nil value is nothing.
func (u *curveUpdate) record(mk uuid.UUID) (key, value []byte) {
	if u.file != nil {
		value = encodeCurve(u.curve)
	}
	return layout.CurveKey(mk, u.alike), value
}

// touchCurves marks the wheels whose curves new readings change: readings of a time that the
// curve knows, or of another week in the wheel's own room.
func (t *WriteTx) touchCurves() error {
	begun := map[string]time.Time{}
	for room := range t.airIn {
		at, ok, err := t.newestAir(room, maxTime)
		if err != nil {
			return err
		}
		if ok {
			begun[room] = weekOf(at)
		}
	}
	for _, v := range t.in(layout.Curves, nil) {
		c, err := decodeCurve(v)
		if err != nil {
			return t.damaged(err, "index", layout.Curves)
		}
		s, ok, err := t.state(c.by)
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		for room, from := range t.airIn {
			lay := s.Brief.Rooms&wheel.RoomBit(room) != 0
			if lay && from.Before(c.until) || s.Place.Room() == room && begun[room].After(c.until) {
				t.regate(c.by)
			}
		}
	}
	return nil
}
