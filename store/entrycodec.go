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
func encodeEntry(e wheel.Entry) []byte { return sealed(entryKey(e), entryBody(&e)) }

func entryBody(e *wheel.Entry) []byte {
	var room [256]byte
	bits, body := uint64(0), room[:0]
	set := func(bit uint64, on bool) bool {
		if on {
			bits |= bit
		}
		return on
	}
	text := func(bit uint64, s string) {
		if set(bit, s != "") {
			body = putText(body, s)
		}
	}
	figure := func(bit uint64, x quantity.Grams) {
		if set(bit, x != 0) {
			body = putFigure(body, float64(x))
		}
	}
	text(hasBy, e.By)
	if set(hasJob, e.Job != "") {
		body = putJob(body, e.Job)
	}
	figure(hasWeight, e.Weight)
	figure(hasBefore, e.Before)
	figure(hasRemoved, e.Removed)
	text(hasCoat, e.Coat)
	text(hasPlace, string(e.Place))
	if set(hasFound, e.Found.Said()) {
		body = putFound(body, e.Found)
	}
	text(hasPlan, e.Plan)
	text(hasTag, e.Tag)
	text(hasTo, e.To)
	if set(hasTarget, e.Target != uuid.Nil) {
		body = append(body, e.Target[:]...)
	}
	set(isSure, e.Sure)
	text(hasNote, e.Note)
	text(hasDetail, e.Detail)

	b := append(make([]byte, 0, 16+len(body)), entryVersion, byte(e.Kind))
	b = binary.AppendUvarint(b, bits)
	b = binary.AppendVarint(b, e.Written.UnixMilli()-e.At.UnixMilli())
	return append(b, body...)
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
	text := func(bit uint64) (s string) {
		if has(bit) {
			s = r.text()
		}
		return s
	}
	figure := func(bit uint64) (x quantity.Grams) {
		if has(bit) {
			x = quantity.Grams(r.figure())
		}
		return x
	}
	e.By = text(hasBy)
	if has(hasJob) {
		e.Job = r.job()
	}
	e.Weight, e.Before, e.Removed = figure(hasWeight), figure(hasBefore), figure(hasRemoved)
	e.Coat, e.Place = text(hasCoat), cave.Place(text(hasPlace))
	if has(hasFound) {
		e.Found = r.found()
	}
	e.Plan, e.Tag, e.To = text(hasPlan), text(hasTag), text(hasTo)
	if has(hasTarget) {
		e.Target = r.uuid()
	}
	e.Sure = has(isSure)
	e.Note, e.Detail = text(hasNote), text(hasDetail)
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
