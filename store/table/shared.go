package table

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"slices"
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

// MostAhead is how far a site's clock may be ahead before others stop following it.
const MostAhead = 5 * time.Minute

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
	late, seen := at.Add(MostAhead), h.Written.Add(time.Millisecond)
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
		stood := Stood(t.chain.Ms(), t.File.Site)
		t.Put(layout.Stood, StoodKey(bucket, key), stood)
		t.Version(bucket, key, DigestOf(bucket, key, was), value, stood)
	}
}

// DigestOf is the digest of a record in the chain; none of nil.
func DigestOf(bucket string, key, value []byte) []byte {
	if value == nil {
		return nil
	}
	d := chain.Digest(layout.Codes[bucket], key, value)
	return d[:]
}

// Version notes that a record of AnySite was written in the place of the one with a digest, none
// if there was no such record.
func (t *Tx) Version(bucket string, key, was, value, stood []byte) {
	if !layout.AnySite[bucket] {
		return
	}
	k := append(append(StoodKey(bucket, key), 0), DigestOf(bucket, key, value)...)
	k = append(k, make([]byte, sha256.Size)...)
	copy(k[len(k)-sha256.Size:], was)
	if bytes.Compare(t.Get(layout.Versions, k), stood) < 0 { // several sites may have written the same
		t.Put(layout.Versions, k, stood)
	}
}

// Version is one record of AnySite that some site wrote.
type Version struct {
	Bucket   string
	Key      []byte
	Is, Was  [sha256.Size]byte // digests; Was is zero of the first
	Ms       int64             // when it was written, by its site's clock
	Site     uuid.UUID
	Standing bool // it's the one that stands
}

// Versions goes through those records of AnySite of which the book has heard of several that no
// later one took the place of: those of one key follow each other, the one that stands first.
func (t *Tx) Versions() (out []Version, err error) {
	var of []Version
	end := func() {
		if len(of) > 0 {
			out = append(out, t.open(of)...)
		}
		of = of[:0]
	}
	if err := t.Flush(layout.Versions); err != nil {
		return nil, err
	}
	for k, v := range t.In(layout.Versions, nil) {
		n := len(k) - 2*sha256.Size - 1
		if n < 1 || int(k[0]) >= len(layout.OfCode) || len(v) != 8+16 {
			return nil, t.Damaged(pack.ErrForm, "version", k)
		}
		x := Version{
			Bucket: layout.OfCode[k[0]], Key: bytes.Clone(k[1:n]), Is: [sha256.Size]byte(k[n+1:]),
			Was: [sha256.Size]byte(k[n+1+sha256.Size:]), Ms: int64(binary.BigEndian.Uint64(v)), Site: uuid.UUID(v[8:]),
		}
		if len(of) > 0 && (of[0].Bucket != x.Bucket || !bytes.Equal(of[0].Key, x.Key)) {
			end()
		}
		of = append(of, x)
	}
	end()
	return out, nil
}

// open leaves the one that stands and those that nothing took the place of; nothing if there's
// just one.
func (t *Tx) open(of []Version) []Version {
	stands := [sha256.Size]byte(DigestOf(of[0].Bucket, of[0].Key, t.Get(of[0].Bucket, of[0].Key)))
	followed, seen := map[[sha256.Size]byte]bool{}, map[[sha256.Size]byte]bool{}
	for _, v := range of {
		followed[v.Was] = true
	}
	var out []Version
	for _, v := range of {
		v.Standing = v.Is == stands
		if seen[v.Is] || followed[v.Is] && !v.Standing {
			continue
		}
		if seen[v.Is] = true; v.Standing {
			out = slices.Insert(out, 0, v)
		} else {
			out = append(out, v)
		}
	}
	if len(out) < 2 || !out[0].Standing {
		return nil
	}
	return out
}

// AsideKey is the key in Aside of a record that gave way: code, key, 0
// and digest, so that all of one key are found. Of an entry it begins as its link has it.
func AsideKey(code byte, key, value []byte) []byte {
	d := chain.Digest(code, key, value)
	return append(append(append([]byte{code}, key...), 0), d[:]...)
}

// AsidePrefix is how the AsideKeys of one key begin.
func AsidePrefix(code byte, key []byte) []byte { return append([]byte{code}, key...) }

// AsideOf is the key of the record that an AsideKey is of.
func AsideOf(k []byte) (key []byte, ok bool) {
	n := len(k) - 32 - 1
	if n < 1 {
		return nil, false
	}
	return bytes.Clone(k[1:n]), true
}
