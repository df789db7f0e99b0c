package pack

import (
	"encoding/binary"
	"fmt"
	"time"

	"github.com/google/uuid"

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
	hasClock
	isUnsure
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

// Job is a job, by its number where it has one.
func (p *Form) Job(j *wheel.Job) {
	c := jobCodes[*j]
	p.Octet(&c)
	if c == 0 {
		Text(p, j)
	} else if *j = jobsByCode[c]; *j == "" {
		p.Fail()
	}
}

// EntryKeySize is subject, time, entry.
const EntryKeySize = 16 + 8 + 16

// EntryKey is the key an entry is kept under: its wheel or make, when it happened, its
// identity.
func EntryKey(e wheel.Entry) []byte {
	b := make([]byte, 0, EntryKeySize)
	b = append(b, e.Subject[:]...)
	b = binary.BigEndian.AppendUint64(b, uint64(e.At.UnixMilli()))
	return append(b, e.ID[:]...)
}

// EntryMilli is when an entry happened, from its key: milliseconds since 1970; 0 of no such key.
func EntryMilli(key []byte) int64 {
	if len(key) != EntryKeySize {
		return 0
	}
	return int64(binary.BigEndian.Uint64(key[16:24]))
}

// Entry packs what the key does not say, and seals it.
func Entry(e wheel.Entry) []byte { return Seal(EntryKey(e), EntryBody(&e)) }

// EntryBody is Entry without its seal.
func EntryBody(e *wheel.Entry) []byte {
	var room [256]byte
	p := Form{B: room[:0]}
	p.entry(e)
	b := append(make([]byte, 0, 16+len(p.B)), entryVersion, byte(e.Kind))
	b = binary.AppendUvarint(b, p.bits)
	b = binary.AppendVarint(b, e.Written.UnixMilli()-e.At.UnixMilli())
	return append(b, p.B...)
}

// entry packs what an entry may lack.
func (p *Form) entry(e *wheel.Entry) {
	optText(p, hasBy, &e.By)
	if p.has(hasJob, e.Job != "") {
		p.Job(&e.Job)
	}
	optFigure(p, hasWeight, &e.Weight)
	optFigure(p, hasBefore, &e.Before)
	optFigure(p, hasRemoved, &e.Removed)
	optText(p, hasCoat, &e.Coat)
	optText(p, hasPlace, &e.Place)
	if p.has(hasFound, e.Found.Said()) {
		p.found(&e.Found)
	}
	optText(p, hasPlan, &e.Plan)
	optText(p, hasTag, &e.Tag)
	optText(p, hasTo, &e.To)
	if p.has(hasTarget, e.Target != uuid.Nil) {
		p.ID(&e.Target)
	}
	if p.has(isSure, e.Sure) {
		e.Sure = true
	}
	optText(p, hasNote, &e.Note)
	optText(p, hasDetail, &e.Detail)
	if p.has(hasClock, !e.Clock.IsZero()) {
		p.Instant(&e.Clock)
	}
	if p.has(isUnsure, e.Unsure) {
		e.Unsure = true
	}
}

func optText[S ~string](p *Form, bit uint64, x *S) {
	if p.has(bit, *x != "") {
		Text(p, x)
	}
}

func optFigure(p *Form, bit uint64, x *quantity.Grams) {
	if p.has(bit, *x != 0) {
		Figure(p, x)
	}
}

// Targets says whether a packed entry names another as its target.
func Targets(value []byte) bool {
	if len(value) < 2 {
		return false
	}
	r := NewReader(value[2:min(len(value), 12)])
	return r.Uvarint()&hasTarget != 0
}

// ReadEntry puts an entry together from its key and value. What it returns
// shares nothing with them. The error is ErrSeal or ErrNewer.
func ReadEntry(key, value []byte) (wheel.Entry, error) {
	body, err := Unseal(key, value)
	if err != nil {
		return wheel.Entry{}, err
	}
	return Newer(EntryOf(key, body))
}

// EntryOf is ReadEntry of a value without its seal.
func EntryOf(key, value []byte) (wheel.Entry, error) {
	var e wheel.Entry
	if len(key) != EntryKeySize {
		return e, ErrForm
	}
	copy(e.Subject[:], key)
	at := int64(binary.BigEndian.Uint64(key[16:]))
	copy(e.ID[:], key[24:])
	if at < 0 || at > MaxMilli {
		return wheel.Entry{}, ErrForm
	}
	r := NewReader(value)
	if v := r.Byte(); v != entryVersion {
		return wheel.Entry{}, fmt.Errorf("an entry of version %d", v)
	}
	if e.Kind = wheel.Kind(r.Byte()); !e.Kind.Known() {
		return wheel.Entry{}, fmt.Errorf("an entry of kind %d", e.Kind)
	}
	bits := r.Uvarint()
	if bits&^uint64(allBits) != 0 {
		return wheel.Entry{}, ErrForm
	}
	e.At, e.Written = time.UnixMilli(at).UTC(), r.instant(at)
	p := Form{r: r, bits: bits}
	p.entry(&e)
	if err := r.Done(); err != nil {
		return wheel.Entry{}, err
	}
	return e, nil
}

// Epoch is the earliest instant that a record may be of.
var Epoch = time.Unix(0, 0)

// Milli brings an instant to the form it is kept in.
func Milli(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return time.UnixMilli(t.UnixMilli()).UTC()
}

// MaxMilli is the end of the year 9999, ms.
const MaxMilli = 253402300799999

// MaxTime is that instant: what is read up to it leaves nothing out.
var MaxTime = time.UnixMilli(MaxMilli).UTC()

// found packs the six answers of a hand check, two bits each. The sixth came
// later: where it is not said the value is what it was before there was one.
func (p *Form) found(f *wheel.HandCheck) {
	answers := []*wheel.Seen{&f.DryToTouch, &f.Weeping, &f.Cracks, &f.Mould, &f.Mites, &f.Gas}
	u := 0
	for i, s := range answers {
		u |= int(*s&3) << (2 * i)
	}
	p.Whole(&u)
	if u >= 1<<12 || u&(u>>1)&0x555 != 0 { // 3 is no answer
		p.Fail()
		return
	}
	for i, s := range answers {
		*s = wheel.Seen(u >> (2 * i) & 3)
	}
}

// instant reads an instant as milliseconds from another.
func (r *Reader) instant(from int64) time.Time {
	ms := from + r.Varint()
	if ms < 0 || ms > MaxMilli {
		r.Fail()
		ms = 0
	}
	return time.UnixMilli(ms).UTC()
}

// Normal brings an entry to the form it is kept in: UTC, to the millisecond.
func Normal(e wheel.Entry) wheel.Entry {
	e.At = time.UnixMilli(e.At.UnixMilli()).UTC()
	e.Written = time.UnixMilli(e.Written.UnixMilli()).UTC()
	if !e.Clock.IsZero() {
		e.Clock = time.UnixMilli(e.Clock.UnixMilli()).UTC()
	}
	return e
}
