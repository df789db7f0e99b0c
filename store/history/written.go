package history

import (
	"encoding/binary"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/table"
	"rindkeep/wheel"
	"time"
)

// Written goes through the entries that happened and were written since a time, from
// the newest link of the chain back to one that was gone through before, 0 for none. It
// gives the newest link, and costs what was written since.
func Written(t *table.Tx, since time.Time, after uint64, fn func(wheel.Entry) error) (newest uint64, err error) {
	c := t.Walk(layout.Chain)
	last := uint64(0)
	for k, v := c.Last(); k != nil; k, v = c.Prev() {
		l, err := chain.Decode(v)
		if err != nil || len(k) != 8 || last > 0 && binary.BigEndian.Uint64(k) != last-1 {
			return 0, t.Damaged(pack.ErrForm, "chain", k)
		}
		n := binary.BigEndian.Uint64(k)
		last = n
		newest = max(newest, n)
		if n <= after || l.Written().Before(since) {
			break
		}
		if err := linked(t, l, since.UnixMilli(), fn); err != nil {
			return 0, err
		}
	}
	return newest, nil
}

// linked goes through the entries of a link that happened since a time, in milliseconds.
func linked(t *table.Tx, l chain.Link, since int64, fn func(wheel.Entry) error) error {
	for _, f := range l.Facts {
		if f.Code != layout.CodeEntry || int64(binary.BigEndian.Uint64(f.Key[16:])) < since {
			continue
		}
		for k, v := range t.In(layout.Entries, f.Key) { // a wheel's entries of one instant
			if !f.Is(chain.Digest(layout.CodeEntry, k, v)) {
				continue
			}
			e, err := pack.ReadEntry(k, v)
			if err != nil {
				return t.Damaged(err, "entry", k)
			}
			if err := fn(e); err != nil {
				return err
			}
		}
	}
	return nil
}
