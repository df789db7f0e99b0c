package store

import (
	"encoding/binary"
	"fmt"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// entryVersion is the version byte of packed entries.
const entryVersion = 1

// What an entry's value holds beyond version, kind and the time of writing;
// the order here is the order in the value. The bits are never used again.
const (
	hasBy = 1 << iota
	hasJob
	hasWeight
	hasBefore
	hasRemoved
	hasCoat
	hasPlace
	hasFound
	hasPlan
	hasTag
	hasTo
	hasTarget
	isSure
	hasNote
	hasDetail
	allBits = 1<<iota - 1
)

// jobCodes are the numbers jobs are written under. They are never changed or
// used again; 0 stands for a job written out.
var jobCodes = map[wheel.Job]byte{
	wheel.Turn: 1, wheel.Brush: 2, wheel.Wash: 3, wheel.Rub: 4, wheel.Oil: 5, wheel.Pierce: 6, wheel.Salt: 7,
	wheel.Smoke: 8, wheel.Weigh: 9, wheel.Taste: 10, wheel.Coat: 11, wheel.Move: 12, wheel.Check: 13,
}

var jobsByCode = func() (out [256]wheel.Job) {
	for j, c := range jobCodes {
		out[c] = j
	}
	return out
}()

func putJob(b []byte, j wheel.Job) []byte {
	c := jobCodes[j]
	b = append(b, c)
	if c == 0 {
		b = putText(b, string(j))
	}
	return b
}

func (r *reader) job() wheel.Job {
	c := r.byte()
	if c == 0 {
		return wheel.Job(r.text())
	}
	j := jobsByCode[c]
	if j == "" {
		r.fail()
	}
	return j
}

// entryKeySize is subject, time, entry.
const entryKeySize = 16 + 8 + 16

func entryKey(e wheel.Entry) []byte {
	b := make([]byte, 0, entryKeySize)
	b = append(b, e.Subject[:]...)
	b = binary.BigEndian.AppendUint64(b, uint64(e.At.UnixMilli()))
	return append(b, e.ID[:]...)
}

// encodeEntry packs what the key does not say, and seals it.
func encodeEntry(e wheel.Entry) []byte {
	return sealed(entryKey(e), entryBody(e))
}

func entryBody(e wheel.Entry) []byte {
	bits := uint64(0)
	set := func(on bool, bit uint64) {
		if on {
			bits |= bit
		}
	}
	set(e.By != "", hasBy)
	set(e.Job != "", hasJob)
	set(e.Weight != 0, hasWeight)
	set(e.Before != 0, hasBefore)
	set(e.Removed != 0, hasRemoved)
	set(e.Coat != "", hasCoat)
	set(e.Place != "", hasPlace)
	set(e.Found.Said(), hasFound)
	set(e.Plan != "", hasPlan)
	set(e.Tag != "", hasTag)
	set(e.To != "", hasTo)
	set(e.Target != uuid.Nil, hasTarget)
	set(e.Sure, isSure)
	set(e.Note != "", hasNote)
	set(e.Detail != "", hasDetail)

	b := make([]byte, 0, 48)
	b = append(b, entryVersion, byte(e.Kind))
	b = binary.AppendUvarint(b, bits)
	b = binary.AppendVarint(b, e.Written.UnixMilli()-e.At.UnixMilli())
	for _, t := range []struct {
		bit uint64
		put func()
	}{
		{hasBy, func() { b = putText(b, e.By) }},
		{hasJob, func() { b = putJob(b, e.Job) }},
		{hasWeight, func() { b = putFigure(b, float64(e.Weight)) }},
		{hasBefore, func() { b = putFigure(b, float64(e.Before)) }},
		{hasRemoved, func() { b = putFigure(b, float64(e.Removed)) }},
		{hasCoat, func() { b = putText(b, e.Coat) }},
		{hasPlace, func() { b = putText(b, string(e.Place)) }},
		{hasFound, func() { b = putFound(b, e.Found) }},
		{hasPlan, func() { b = putText(b, e.Plan) }},
		{hasTag, func() { b = putText(b, e.Tag) }},
		{hasTo, func() { b = putText(b, e.To) }},
		{hasTarget, func() { b = append(b, e.Target[:]...) }},
		{hasNote, func() { b = putText(b, e.Note) }},
		{hasDetail, func() { b = putText(b, e.Detail) }},
	} {
		if bits&t.bit != 0 {
			t.put()
		}
	}
	return b
}

// decodeEntry puts an entry together from its key and value. What it returns
// shares nothing with them.
func decodeEntry(key, value []byte) (wheel.Entry, error) {
	body, err := unsealed(key, value)
	if err != nil {
		return wheel.Entry{}, err
	}
	return entryOf(key, body)
}

func entryOf(key, value []byte) (wheel.Entry, error) {
	var e wheel.Entry
	if len(key) != entryKeySize {
		return e, errPacked
	}
	copy(e.Subject[:], key)
	at := int64(binary.BigEndian.Uint64(key[16:]))
	copy(e.ID[:], key[24:])
	if at < 0 || at > maxMilli {
		return wheel.Entry{}, errPacked
	}
	r := newReader(value)
	if v := r.byte(); v != entryVersion {
		return wheel.Entry{}, fmt.Errorf("an entry of version %d", v)
	}
	e.Kind = wheel.Kind(r.byte())
	bits := r.uvarint()
	if bits&^uint64(allBits) != 0 {
		return wheel.Entry{}, errPacked
	}
	written := at + r.varint()
	if written < 0 || written > maxMilli {
		return wheel.Entry{}, errPacked
	}
	e.At, e.Written = time.UnixMilli(at).UTC(), time.UnixMilli(written).UTC()
	has := func(bit uint64) bool { return bits&bit != 0 }
	if has(hasBy) {
		e.By = r.text()
	}
	if has(hasJob) {
		e.Job = r.job()
	}
	if has(hasWeight) {
		e.Weight = quantity.Grams(r.figure())
	}
	if has(hasBefore) {
		e.Before = quantity.Grams(r.figure())
	}
	if has(hasRemoved) {
		e.Removed = quantity.Grams(r.figure())
	}
	if has(hasCoat) {
		e.Coat = r.text()
	}
	if has(hasPlace) {
		e.Place = cave.Place(r.text())
	}
	if has(hasFound) {
		e.Found = r.found()
	}
	if has(hasPlan) {
		e.Plan = r.text()
	}
	if has(hasTag) {
		e.Tag = r.text()
	}
	if has(hasTo) {
		e.To = r.text()
	}
	if has(hasTarget) {
		e.Target = r.uuid()
	}
	e.Sure = has(isSure)
	if has(hasNote) {
		e.Note = r.text()
	}
	if has(hasDetail) {
		e.Detail = r.text()
	}
	if err := r.done(); err != nil {
		return wheel.Entry{}, err
	}
	return e, nil
}

// maxMilli is the end of the year 9999, ms.
const maxMilli = 253402300799999

// putFound packs the six answers of a hand check, two bits each. The sixth came
// later: where it is not said the value is what it was before there was one.
func putFound(b []byte, f wheel.HandCheck) []byte {
	u := uint64(0)
	for i, s := range []wheel.Seen{f.DryToTouch, f.Weeping, f.Cracks, f.Mould, f.Mites, f.Gas} {
		u |= uint64(s&3) << (2 * i)
	}
	return binary.AppendUvarint(b, u)
}

func (r *reader) found() (f wheel.HandCheck) {
	u := r.uvarint()
	if u >= 1<<12 {
		r.fail()
		return f
	}
	for i, s := range []*wheel.Seen{&f.DryToTouch, &f.Weeping, &f.Cracks, &f.Mould, &f.Mites, &f.Gas} {
		*s = wheel.Seen(u >> (2 * i) & 3)
		if *s > wheel.Yes {
			r.fail()
		}
	}
	return f
}

// normal brings an entry to the form it is kept in: UTC, to the millisecond.
func normal(e wheel.Entry) wheel.Entry {
	e.At = time.UnixMilli(e.At.UnixMilli()).UTC()
	e.Written = time.UnixMilli(e.Written.UnixMilli()).UTC()
	return e
}
