package load

import (
	"crypto/sha256"
	"encoding/binary"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/store"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/wheel"
)

// heldRow is a Row that waits, in as little room as will do.
type heldRow struct {
	at      int64
	weight  float64
	own     *ownWords // nil: neither note nor identity
	line    int32
	tag     int32
	columns [4]int32
	dated   bool
}

type ownWords struct {
	note string
	id   uuid.UUID // Nil: none
}

// loadTag is a tag that rows name. Two tags that differ in case only are of the
// same wheel, and have its rank.
type loadTag struct {
	name  string
	wheel uuid.UUID
	rank  int32 // of the wheel among all of the part, by identity
	err   error // why there is no such wheel
}

// heldID is an identity that a row gave.
type heldID struct {
	id  uuid.UUID
	row int32
}

func (r *heldRow) id() uuid.UUID {
	if r.own == nil {
		return uuid.Nil
	}
	return r.own.id
}

// newEntries are the entries of a wheel's rows that the book does not hold yet,
// and the row of each. Those on trial need no identity.
func (l *Loader) newEntries(t *store.WriteTx, w uuid.UUID, rows []heldRow, trial bool) (
	[]wheel.Entry, []*heldRow, error,
) {
	s, err := t.Subject(w)
	if err != nil {
		return nil, nil, err
	}
	known := l.knownOf(s)
	entries, from := make([]wheel.Entry, 0, len(rows)), make([]*heldRow, 0, len(rows))
	for i := range rows {
		r := &rows[i]
		if known.has(r) || isTwin(from, r) {
			continue
		}
		e := wheel.Entry{
			ID: r.id(), Subject: w, Kind: wheel.Weighed, At: time.UnixMilli(r.at).UTC(), Written: l.how.Written,
			By: l.how.By, Weight: quantity.Grams(r.weight), Note: l.how.Note,
			Sure: l.how.Sure || slices.Contains(l.how.SureOf, int(r.line)),
		}
		if r.own != nil && r.own.note != "" {
			e.Note = r.own.note
		}
		if e.ID == uuid.Nil && (!trial || len(s.Struck) > 0) {
			if e.ID = weightID(l.book, w, r.at, r.weight); s.Struck[e.ID] {
				continue // written by this table before, and struck since
			}
		}
		entries, from = append(entries, e), append(from, r)
	}
	s.Grow(len(entries))
	return entries, from, nil
}

// isTwin says whether the row says the same as one just before it.
func isTwin(before []*heldRow, r *heldRow) bool {
	for i := len(before) - 1; i >= 0 && before[i].at == r.at; i-- {
		if before[i].weight == r.weight {
			return true
		}
	}
	return false
}

// weighing is what makes two weighings of one wheel the same.
type weighing struct {
	at     int64 // ms, or the day
	weight float64
}

// knownWeights are the weighings of a wheel that count.
type knownWeights struct {
	at, on map[weighing]bool // by instant, by day
	zone   *time.Location
}

// knownOf gathers the weighings of a subject.
func (l *Loader) knownOf(s *history.Subject) knownWeights {
	k := knownWeights{zone: l.zone}
	es := s.History()
	for i := range es {
		if e := &es[i]; e.Kind == wheel.Weighed && !s.Struck[e.ID] {
			if k.at == nil {
				k.at, k.on = make(map[weighing]bool, len(es)), make(map[weighing]bool, len(es))
			}
			k.at[weighing{e.At.UnixMilli(), float64(e.Weight)}] = true
			k.on[weighing{int64(day.At(e.At, k.zone)), float64(e.Weight)}] = true
		}
	}
	return k
}

// has says whether a row is in the book: the same weight at the same instant, or
// on the same day where only its date is known.
func (k knownWeights) has(r *heldRow) bool {
	return k.at != nil && (k.at[weighing{r.at, r.weight}] ||
		r.dated && k.on[weighing{int64(day.At(time.UnixMilli(r.at), k.zone)), r.weight}])
}

// weightID is the identity of a weighing that follows from what it says, so
// that the same row is known again: a UUID of version 8 (RFC 9562, 5.8). Its
// first 60 bits are those of the wheel's, which spares it a place in the index
// of entries; the rest is a digest of book, wheel, instant and weight.
func weightID(book, of uuid.UUID, at int64, weight float64) uuid.UUID {
	b := append(make([]byte, 0, 64), "weight1"...)
	b = append(append(b, book[:]...), of[:]...)
	b = binary.BigEndian.AppendUint64(b, uint64(at))
	b = binary.BigEndian.AppendUint64(b, math.Float64bits(weight))
	sum := sha256.Sum256(b)
	var id uuid.UUID
	layout.BeginID(&id, of)
	copy(id[8:], sum[:8])
	id[8] = 0x80 | id[8]&0x3f
	return id
}
