package register

import (
	"bytes"
	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"slices"
	"time"
)

// repeats says whether a room has the reading already. Who entered it doesn't matter.
func (t *Reader) repeats(r cave.Room, rd cave.Reading) bool {
	k := layout.AirKey(r.Name, rd.At)
	old, err := pack.ReadAir(k, t.tab.Get(layout.Air, k))
	if err != nil || !r.Counts(old) {
		return false
	}
	old.Source, old.Written, rd.Source, rd.Written = 0, time.Time{}, 0, time.Time{}
	return bytes.Equal(pack.Air(k, old), pack.Air(k, rd))
}

// NewAir is those of readings that the room doesn't have already, in time order.
func (t *Reader) NewAir(room string, rs []cave.Reading) ([]cave.Reading, error) {
	r, err := t.Room(room)
	rs = slices.DeleteFunc(slices.Clone(rs), func(rd cave.Reading) bool { return t.repeats(r, rd) })
	slices.SortStableFunc(rs, func(a, b cave.Reading) int { return a.At.Compare(b.At) })
	return rs, err
}

// PutAir writes readings of a room's air. A reading at an instant that has one already
// takes its place, so the same readings sent twice change nothing. It gives how many were
// new.
func (t *Writer) PutAir(room string, rs []cave.Reading) (int, error) {
	r, err := t.read.Room(room)
	if err != nil {
		return 0, err
	}
	if err := t.tab.CheckOwner("room", room); err != nil {
		return 0, err
	}
	n, from := 0, time.Time{}
	late := t.tab.Latest()
	for i, rd := range rs {
		err := rd.State().Check()
		switch {
		case err != nil:
		case rd.At.Before(pack.Epoch):
			err = reason.Err(refusal.Before1970)
		case rd.At.After(late):
			err = reason.Err(refusal.FutureTime{At: rd.At.In(t.tab.Zone())})
		}
		if err != nil {
			return 0, refusal.Refused{Subject: r.Name, Index: i, Cause: err}
		}
		k := layout.AirKey(r.Name, rd.At)
		if t.read.repeats(r, rd) {
			continue
		}
		if rd.Source > 0 && rd.Written.IsZero() {
			rd.Written = t.tab.Now()
		}
		t.tab.Put(layout.Air, k, pack.Air(k, rd))
		if n++; n == 1 || rd.At.Before(from) {
			from = rd.At
		}
	}
	if n == 0 {
		return 0, nil
	}
	return n, t.changed(Change{Thing: "air", Name: r.Name, From: from})
}

// EachReading goes through a room's readings in [from, to) in time order, as
// they were read, those taken back left out. It stops when fn says false.
func (t *Reader) EachReading(room string, from, to time.Time, fn func(cave.Reading) bool) error {
	if err := t.tab.Flush(layout.Air); err != nil {
		return err
	}
	if from.Before(pack.Epoch) {
		from = pack.Epoch
	}
	r, err := t.Room(room)
	if err != nil {
		return err
	}
	if !from.Before(to) {
		return nil
	}
	low, high := layout.AirKey(room, from), layout.AirKey(room, to)
	if err := t.tab.Strayed(layout.Air, low, high); err != nil {
		if err := t.tab.Unread("reading", []byte(room), err); err != nil {
			return err
		}
	}
	c := t.tab.Walk(layout.Air)
	for k, v := c.Seek(low); k != nil && bytes.Compare(k, high) < 0; k, v = c.Next() {
		rd, err := pack.ReadAir(k, v)
		if err != nil {
			if err := t.tab.Unread("reading", k, err); err != nil {
				return err
			}
			continue
		}
		if r.Counts(rd) && !fn(rd) {
			return nil
		}
	}
	return nil
}

// LastReading is a room's latest reading before an instant, as it was read; ok
// is false where there is none.
func (t *Reader) LastReading(room string, before time.Time) (rd cave.Reading, ok bool, err error) {
	for {
		at, ok, err := t.NewestAir(room, before)
		if err != nil || !ok {
			return rd, false, err
		}
		found := false
		err = t.EachReading(room, at, at.Add(time.Millisecond), func(r cave.Reading) bool {
			rd, found = r, true
			return false
		})
		if err != nil || found {
			return rd, found, err
		}
		before = at
	}
}

// Rooms lets the verdict ask about rooms as they were before an instant. Err is what went
// wrong meanwhile.
type Rooms struct {
	t      *Reader
	before time.Time
	Err    error
}

// RoomsBefore are the rooms as they were before an instant.
func (t *Reader) RoomsBefore(before time.Time) *Rooms { return &Rooms{t: t, before: before} }

// RoomNamed finds a room.
func (r *Rooms) RoomNamed(name string) (cave.Room, bool) {
	room, err := r.t.Room(name)
	if err != nil && !refusal.IsNotFound(err) {
		r.Err = err
	}
	return room, err == nil
}

// AirBetween gives a room's air in [from, to), in time order, as its tested
// hygrometer would have it: the mean of each hour's readings, at the first of
// them. It is what the drying model is told.
func (r *Rooms) AirBetween(room string, from, to time.Time) []cave.Reading {
	if to.After(r.before) {
		to = r.before
	}
	out, err := r.t.hourly(room, from, to)
	if err != nil {
		r.Err = err
	}
	return out
}

func (t *Reader) hourly(room string, from, to time.Time) ([]cave.Reading, error) {
	r, err := t.Room(room)
	if err != nil {
		return nil, err
	}
	var out []cave.Reading
	var temp, rh, n float64
	hour := int64(-1)
	err = t.EachReading(r.Name, from, to, func(rd cave.Reading) bool {
		rd = r.Corrected(rd)
		if h := rd.At.Unix() / 3600; h != hour {
			hour, temp, rh, n = h, 0, 0, 0
			out = append(out, rd)
		}
		temp, rh, n = temp+float64(rd.Temp), rh+float64(rd.RH), n+1
		last := &out[len(out)-1]
		last.Temp, last.RH = quantity.Celsius(temp/n), quantity.Fraction(rh/n)
		return true
	})
	return out, err
}

// NewestAir is when a room was last read before an instant; ok is false where it never was.
func (t *Reader) NewestAir(room string, before time.Time) (at time.Time, ok bool, err error) {
	if err := t.tab.Flush(layout.Air); err != nil {
		return at, false, err
	}
	c := t.tab.Walk(layout.Air)
	var v []byte
	k, _ := c.Seek(layout.AirKey(room, before))
	if k == nil {
		k, v = c.Last()
	} else {
		k, v = c.Prev()
	}
	for ; ofRoom(k, room); k, v = c.Prev() {
		rd, err := pack.ReadAir(k, v)
		if err == nil {
			return rd.At, true, nil
		}
		if err := t.tab.Unread("reading", k, err); err != nil {
			return at, false, err
		}
	}
	return at, false, nil
}

// ofRoom says whether a key in Air is one of a room's.
func ofRoom(k []byte, room string) bool {
	n := len(room)
	return len(k) == n+1+8 && k[n] == 0 && string(k[:n]) == room
}
