package store

import (
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// The wheels of a make that stand alike (Brief.Alike) share a curve: that of the first of
// them by identity, from its own weights alone. It knows its room's air up to a Monday, or up
// to its latest weight or move if that's later, so that readings make a room's curves again
// once a week at most. What else is asked about a wheel that waits for its coat is in its
// outlook.

// CurveOf is the curve of a wheel that is here; ok is false where none is kept.
func (t *ReadTx) CurveOf(s derive.WheelState) (c derive.Curve, ok bool, err error) {
	if err := t.ready(); err != nil {
		return c, false, err
	}
	if v := t.tab.Get(layout.Curves, layout.CurveKey(s.Make, s.Brief.Alike)); v != nil {
		if c, err = derive.DecodeCurve(v); err != nil {
			return c, false, t.tab.Damaged(err, "index", layout.Curves)
		}
		return c, true, nil
	}
	return c, false, nil
}

// curves finds the curves of a lot that change with its wheels; again: even where nothing changed
// that they follow from.
func (t *ReadTx) curves(j *derive.Update, stale func(uuid.UUID) touch, again bool) error {
	now, fresh, hit := changedCurves(j, stale)
	if len(hit) == 0 {
		return nil
	}
	first, err := t.firstAlike(j.Lot.Make.ID, now, hit)
	if err != nil {
		return err
	}
	for _, alike := range slices.Sorted(maps.Keys(hit)) {
		u := derive.CurveUpdate{Alike: alike}
		kept := t.tab.Get(layout.Curves, layout.CurveKey(j.Lot.Make.ID, alike))
		if id, ok := first[alike]; ok {
			if old, err := derive.DecodeCurve(kept); err == nil && old.By == id && !fresh[id] {
				continue
			}
			if !again {
				u.Kept = slices.Clone(kept)
			}
			err := t.curveFrom(&u, id, now[id], j)
			if t.leftOut(err) {
				continue
			} else if err != nil {
				return err
			}
		}
		j.Curves = append(j.Curves, u)
	}
	return nil
}

// changedCurves are the wheels of an update, those of them whose drying changed, and the
// curves that they leave, come to or change.
func changedCurves(j *derive.Update, stale func(uuid.UUID) touch) (now map[uuid.UUID]*derive.Outcome,
	fresh map[uuid.UUID]bool, hit map[uint64]bool) {
	now, fresh, hit = map[uuid.UUID]*derive.Outcome{}, map[uuid.UUID]bool{}, map[uint64]bool{}
	for i := range j.Out {
		d := &j.Out[i]
		id := d.File.Life.Wheel.ID
		now[id] = d
		fresh[id] = d.Old == nil || stale(id).gate
		was, had := uint64(0), false
		if d.Old != nil {
			was, had = d.Old.Brief.Alike, d.Old.Here()
		}
		is, has := d.Brief.Alike, d.File.Life.GoneOn == day.None
		if fresh[id] || had != has || was != is {
			if had {
				hit[was] = true
			}
			if has {
				hit[is] = true
			}
		}
	}
	return now, fresh, hit
}

// firstAlike is the wheel that each of these curves follows from; none where no wheel is left.
func (t *ReadTx) firstAlike(mk uuid.UUID, now map[uuid.UUID]*derive.Outcome,
	hit map[uint64]bool) (map[uint64]uuid.UUID, error) {
	ids, err := t.wheelIDs(mk)
	if err != nil {
		return nil, err
	}
	first := map[uint64]uuid.UUID{}
	for _, id := range ids {
		alike, ok := uint64(0), false
		if d := now[id]; d != nil {
			alike, ok = d.Brief.Alike, d.File.Life.GoneOn == day.None
		} else if s, is, err := t.state(id); err != nil {
			return nil, err
		} else if is {
			alike, ok = s.Brief.Alike, s.Here()
		}
		if by, found := first[alike]; ok && hit[alike] && (!found || byID(id, by) < 0) {
			first[alike] = id
		}
	}
	return first, nil
}

// curveFrom fills in the wheel that a curve is to follow from, d where it's one of the update's.
func (t *ReadTx) curveFrom(u *derive.CurveUpdate, id uuid.UUID, d *derive.Outcome, j *derive.Update) (err error) {
	if d != nil {
		u.File = d.File
	} else if u.File, err = t.fileOf(id, j.Lot.Make, pack.MaxTime); err != nil {
		return err
	}
	u.Own, err = t.curveCase(u.File, j)
	return t.harm(id, err)
}

// curveCase is the case that a curve follows from.
func (t *ReadTx) curveCase(f *derive.Wheel, j *derive.Update) (*verdict.Case, error) {
	c := verdict.Case{Life: f.Life, Variety: j.Lot.Variety, Loc: t.Zone(), Until: f.Weighty()}
	if c.Gate = verdict.DefaultGate(); f.Plan != nil {
		c.Gate = f.Plan.Gate
	}
	if n := len(f.Life.Stays); n > 0 {
		at, ok, err := t.NewestAir(f.Life.Stays[n-1].Place.Room(), pack.MaxTime)
		if err != nil {
			return nil, err
		}
		if monday := derive.WeekOf(at); ok && monday.After(c.Until) {
			c.Until = monday
		}
	}
	rooms := t.RoomsBefore(pack.MaxTime)
	c.Air, c.HygrometerSD = c.Spans(c.Until, rooms)
	c = c.Alone()
	return &c, rooms.Err
}

// touchCurves marks the wheels whose curves new readings change: readings of a time that the
// curve knows, or of another week in the wheel's own room.
func (t *WriteTx) touchCurves() error {
	begun := map[string]time.Time{}
	for room := range t.airIn {
		at, ok, err := t.NewestAir(room, pack.MaxTime)
		if err != nil {
			return err
		}
		if ok {
			begun[room] = derive.WeekOf(at)
		}
	}
	for _, v := range t.tab.In(layout.Curves, nil) {
		c, err := derive.DecodeCurve(v)
		if err != nil {
			return t.tab.Damaged(err, "index", layout.Curves)
		}
		s, ok, err := t.state(c.By)
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		for room, from := range t.airIn {
			lay := s.Brief.Rooms&wheel.RoomBit(room) != 0
			if lay && from.Before(c.Until) || s.Place.Room() == room && begun[room].After(c.Until) {
				t.regate(c.By)
			}
		}
	}
	return nil
}
