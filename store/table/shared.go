package table

import (
	"bytes"
	"encoding/binary"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
)

// TakesAll says whether what is put in a shared book was taken somewhere already: it comes
// from another site, from an export, or from the facts themselves.
func (t *Tx) TakesAll() bool {
	return t.File.Site != uuid.Nil && (t.Foreign || t.Remaking || t.File.Unchained)
}

// CheckOwner refuses to change what belongs to another site.
func (t *Tx) CheckOwner(what reason.Thing, name string) error {
	if site, _ := cave.Sited(name); site != "" && !t.TakesAll() {
		return refusal.Because("", refusal.OtherSites{What: what, Name: name, Site: site})
	}
	return nil
}

// CheckOwn refuses a name that isn't this site's to give.
func (t *Tx) CheckOwn(thing reason.Thing, name string) error {
	if t.TakesAll() {
		return cave.CheckSited(thing, name)
	}
	return cave.CheckTag(thing, name)
}

// MostLinkBytes ends a link of a shared book early enough to fit into a bundle.
const MostLinkBytes = 256 << 10

// mostAhead is how far a site's clock may be ahead before others stop following it.
const mostAhead = 5 * time.Minute

// SiteClock is what the head of another site's history says of its clock.
type SiteClock struct {
	Ms int64 `json:"ms"` // when its newest link was written, by its clock
}

// linkTime is when a link is written: by the clock, but in a shared book never before what
// the book has seen of this and other sites, as a clock that's behind would lose to what it
// replaces.
func (t *Tx) linkTime() (time.Time, error) {
	at := t.Now()
	if t.File.Site == uuid.Nil {
		return at, nil
	}
	h, _, _, err := chain.HeadOf(t.Bucket(layout.Chain))
	if err != nil {
		return at, t.Damaged(err, "chain", nil)
	}
	late, seen := at.Add(mostAhead), h.Written.Add(time.Millisecond)
	for _, v := range t.In(layout.Heads, nil) { // of the own site it says nothing of a clock
		var o SiteClock
		if err := pack.ReadJSON(v, &o); err != nil {
			return at, t.Damaged(err, "head", nil)
		}
		if next := time.UnixMilli(o.Ms + 1).UTC(); next.After(seen) && next.Before(late) {
			seen = next
		}
	}
	for bucket := range layout.ByClock { // what takes another's place is later than that, however far its clock is off
		for key := range t.pending[bucket] {
			if v := t.Get(layout.Stood, StoodKey(bucket, []byte(key))); len(v) > 8 {
				if next := time.UnixMilli(int64(binary.BigEndian.Uint64(v)) + 1).UTC(); next.After(seen) {
					seen = next
				}
			}
		}
	}
	if seen.After(at) {
		at = seen
	}
	return at, nil
}

// StoodKey is the key in Stood of a record.
func StoodKey(bucket string, key []byte) []byte { return append([]byte{layout.Codes[bucket]}, key...) }

// Stood says when and by whom a record was written that may take another's place. The later
// one is the greater.
func Stood(ms int64, site uuid.UUID) []byte {
	return append(binary.BigEndian.AppendUint64(make([]byte, 0, 24), uint64(ms)), site[:]...)
}

// stands notes when the site's own record was written, if another's may take its place.
func (t *Tx) stands(bucket string, key, was, value []byte) {
	if t.File.Site != uuid.Nil && layout.ByClock[bucket] && !bytes.Equal(was, value) {
		t.Put(layout.Stood, StoodKey(bucket, key), Stood(t.chain.Ms(), t.File.Site))
	}
}
