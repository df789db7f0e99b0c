package store

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
)

// Rooms lists the rooms in walking order.
func (t *ReadTx) Rooms() ([]cave.Room, error) {
	if err := t.tab.Flush(layout.Rooms); err != nil {
		return nil, err
	}
	var out []cave.Room
	for k, v := range t.tab.In(layout.Rooms, nil) {
		var r cave.Room
		if err := pack.ReadJSON(v, &r); err == nil {
			out = append(out, r)
		} else if err := t.unread("room", k, err); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(out, func(a, b cave.Room) int {
		return cmp.Or(a.Order-b.Order, cave.NaturalCompare(a.Name, b.Name))
	})
	return out, nil
}

// Room gives a room by its name, spelt as it is. The error may be a NotFound
// with rooms that may have been meant.
func (t *ReadTx) Room(name string) (cave.Room, error) {
	if r, ok := t.rooms[name]; ok {
		return r, nil
	}
	r, ok, err := table.Record[cave.Room](t.tab, layout.Rooms, []byte(name), "room")
	switch {
	case err != nil:
		return r, err
	case ok:
		t.rooms[name] = r
		return r, nil
	}
	names := t.tab.Keys(layout.Rooms)
	if i := slices.IndexFunc(names, func(n string) bool { return strings.EqualFold(n, name) }); i >= 0 {
		return r, refusal.NotFound{Thing: "room", Name: name, Near: names[i : i+1]}
	}
	return r, refusal.NotFound{Thing: "room", Name: name, Near: refusal.Nearest(name, names)}
}

// PutRoom adds a room, or changes the one of that name. A name that differs
// from another room's in nothing but case is refused. Where the air it is set
// to changes, the wheels that are drying in it are judged again.
func (t *WriteTx) PutRoom(r cave.Room) error {
	r.Written = pack.Milli(r.Written)
	if err := r.Check(); err != nil {
		return refusal.Refused{Cause: err}
	}
	if r.ID == uuid.Nil {
		return refusal.Because(r.Name, reason.Missing{What: "id"})
	}
	for _, n := range []struct{ thing, name string }{{"title", r.Title}, {"person", r.By}} {
		if n.name != "" {
			if err := checkName(n.thing, n.name); err != nil {
				return refusal.Refused{Subject: r.Name, Cause: err}
			}
		}
	}
	old, err := t.Room(r.Name)
	var nf refusal.NotFound
	switch {
	case errors.As(err, &nf):
		for _, n := range nf.Near {
			if strings.EqualFold(n, r.Name) {
				return refusal.Because("", refusal.Taken{What: "room", Name: n})
			}
		}
	case err != nil:
		return err
	case old.SetPoint() != r.SetPoint() || old.Movement != r.Movement || !slices.Equal(old.Tests, r.Tests):
		t.airIn[r.Name] = time.Time{}
	}
	if changed, err := table.PutRecord(t.tab, layout.Rooms, []byte(r.Name), r); err != nil || !changed {
		delete(t.airIn, r.Name)
		return err
	}
	t.rooms[r.Name] = r
	clear(t.lots)
	return nil
}

// repeats says whether a room has the reading already, whoever entered it.
func (t *ReadTx) repeats(r cave.Room, rd cave.Reading) bool {
	k := layout.AirKey(r.Name, rd.At)
	old, err := pack.ReadAir(k, t.tab.Get(layout.Air, k))
	if err != nil || !r.Counts(old) {
		return false
	}
	old.Source, old.Written, rd.Source, rd.Written = 0, time.Time{}, 0, time.Time{}
	return bytes.Equal(pack.Air(k, old), pack.Air(k, rd))
}

// NewAir is those of readings that the room doesn't have already, in time order.
func (t *ReadTx) NewAir(room string, rs []cave.Reading) ([]cave.Reading, error) {
	r, err := t.Room(room)
	rs = slices.DeleteFunc(slices.Clone(rs), func(rd cave.Reading) bool { return t.repeats(r, rd) })
	slices.SortStableFunc(rs, func(a, b cave.Reading) int { return a.At.Compare(b.At) })
	return rs, err
}

// PutAir writes readings of a room's air. A reading at an instant that has one already
// takes its place, so the same readings sent twice change nothing. It gives how many were
// new.
func (t *WriteTx) PutAir(room string, rs []cave.Reading) (int, error) {
	r, err := t.Room(room)
	if err != nil {
		return 0, err
	}
	n := 0
	late := t.tab.Latest()
	for i, rd := range rs {
		err := rd.State().Check()
		switch {
		case err != nil:
		case rd.At.Before(pack.Epoch):
			err = reason.Err(refusal.Before1970)
		case rd.At.After(late):
			err = reason.Err(refusal.FutureTime{At: rd.At.In(t.Zone())})
		}
		if err != nil {
			return 0, refusal.Refused{Subject: r.Name, Index: i, Cause: err}
		}
		k := layout.AirKey(r.Name, rd.At)
		if t.repeats(r, rd) {
			continue
		}
		if rd.Source > 0 && rd.Written.IsZero() {
			rd.Written = t.Now()
		}
		n++
		t.tab.Put(layout.Air, k, pack.Air(k, rd))
		if from, known := t.airIn[r.Name]; !known || rd.At.Before(from) {
			t.airIn[r.Name] = rd.At
		}
	}
	clear(t.lots)
	return n, nil
}

// airBetween gives a room's air in [from, to), in time order, as its tested
// hygrometer would have it: the mean of each hour's readings, at the first of
// them. It is what the drying model is told.
func (t *ReadTx) airBetween(room string, from, to time.Time) ([]cave.Reading, error) {
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

// newestAir is when a room was last read; ok is false where it never was.
func (t *ReadTx) newestAir(room string, before time.Time) (at time.Time, ok bool, err error) {
	if err := t.tab.Flush(layout.Air); err != nil {
		return at, false, err
	}
	prefix := append([]byte(room), 0)
	c := t.tab.Bucket(layout.Air).Cursor()
	k, _ := c.Seek(layout.AirKey(room, before))
	if k == nil {
		k, _ = c.Last()
	} else {
		k, _ = c.Prev()
	}
	if len(k) != len(prefix)+8 || string(k[:len(prefix)]) != string(prefix) {
		return at, false, nil
	}
	return time.UnixMilli(int64(binary.BigEndian.Uint64(k[len(prefix):]))).UTC(), true, nil
}
