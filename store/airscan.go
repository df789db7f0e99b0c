package store

import (
	"bytes"
	"time"

	"rindkeep/cave"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
)

// EachReading goes through a room's readings in [from, to) in time order, as
// they were read, those taken back left out. It stops when fn says false.
func (t *ReadTx) EachReading(room string, from, to time.Time, fn func(cave.Reading) bool) error {
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
	prefix := append([]byte(room), 0)
	ofRoom := func(k []byte) bool { return len(k) == len(prefix)+8 && bytes.HasPrefix(k, prefix) }
	c := t.tab.Bucket(layout.Air).Cursor()
	for k, v := c.Seek(layout.AirKey(room, from)); ofRoom(k); k, v = c.Next() {
		rd, err := pack.ReadAir(k, v)
		if err != nil {
			if err := t.unread("reading", k, err); err != nil {
				return err
			}
			continue
		}
		if !rd.At.Before(to) || r.Counts(rd) && !fn(rd) {
			return nil
		}
	}
	return nil
}

// LastReading is a room's latest reading before an instant, as it was read; ok
// is false where there is none.
func (t *ReadTx) LastReading(room string, before time.Time) (rd cave.Reading, ok bool, err error) {
	for {
		at, ok, err := t.newestAir(room, before)
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
