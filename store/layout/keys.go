package layout

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/store/pack"
)

// Plain is the value of an index whose key says it all.
var Plain = []byte{pack.Version}

// Versioned is the value of an index that holds a text.
func Versioned(b []byte) []byte { return append([]byte{pack.Version}, b...) }

// IDValue is the value of an index that leads to an identity; DecodeID reads it.
func IDValue(id uuid.UUID) []byte { return Versioned(id[:]) }

// DecodeID reads an IDValue. The error is pack.ErrForm.
func DecodeID(b []byte) (id uuid.UUID, err error) {
	if len(b) != 17 || b[0] != pack.Version {
		return id, pack.ErrForm
	}
	copy(id[:], b[1:])
	return id, nil
}

// Fold is the form under which a lot, tag or name is looked up.
func Fold(name string) []byte { return []byte(strings.ToLower(name)) }

// MakeWheelKey is the key in MakeWheels of a make's wheel.
func MakeWheelKey(mk uuid.UUID, number int, w uuid.UUID) []byte {
	b := append(make([]byte, 0, 36), mk[:]...)
	b = binary.BigEndian.AppendUint32(b, uint32(number))
	return append(b, w[:]...)
}

// PlaceKey is the key in Places of a wheel that lies there.
func PlaceKey(p cave.Place, w uuid.UUID) []byte {
	b := append(make([]byte, 0, len(p)+17), p...)
	b = append(b, 0)
	return append(b, w[:]...)
}

// HadTagKey is the key in HadTags of a wheel that has or had the tag.
func HadTagKey(tag string, w uuid.UUID) []byte { return append(append(Fold(tag), 0), w[:]...) }

// AirKey is the key in Air of a room's reading.
func AirKey(room string, at time.Time) []byte {
	return binary.BigEndian.AppendUint64(append([]byte(room), 0), uint64(at.UnixMilli()))
}

// CurveKey is the key in Curves of the wheels of a make that stand alike.
func CurveKey(mk uuid.UUID, alike uint64) []byte { return binary.BigEndian.AppendUint64(mk[:], alike) }

// LinkKey is the key in Chain of a link.
func LinkKey(number uint64) []byte { return binary.BigEndian.AppendUint64(nil, number) }

// WaitingKey is the key in Waiting of a fact about a make or wheel.
func WaitingKey(of uuid.UUID, bucket string, key []byte) []byte {
	return append(append(bytes.Clone(of[:]), Codes[bucket]), key...)
}

// WrittenKeySize is the size of a WrittenKey.
const WrittenKeySize = 8 + len(uuid.Nil)

// WrittenKey is the key of a record that counts from when it was written, in the buckets
// of ByWritten.
func WrittenKey(written time.Time, id uuid.UUID) []byte {
	b := binary.BigEndian.AppendUint64(make([]byte, 0, WrittenKeySize), uint64(written.UnixMilli()))
	return append(b, id[:]...)
}

// DateBytes appends a date, so that the order of the bytes is that of the dates.
func DateBytes(b []byte, d day.Date) []byte {
	return binary.BigEndian.AppendUint32(b, uint32(d)^1<<31)
}

// DateOf is the date that a key begins with.
func DateOf(b []byte) day.Date { return day.Date(binary.BigEndian.Uint32(b) ^ 1<<31) }

// MakeDateKey is the key in Dates of a make.
func MakeDateKey(d day.Date, mk uuid.UUID) []byte {
	return append(DateBytes(make([]byte, 0, 20), d), mk[:]...)
}

// Slot is where one task of a wheel stands in the due index, beside the
// wheel's place.
type Slot struct {
	Due  day.Date
	Rank byte // of its job
	Seq  byte // among the wheel's tasks of that day and rank
}

// DueKey is the key in Due of a wheel's task.
func DueKey(s Slot, p cave.Place, w uuid.UUID) []byte {
	b := DateBytes(make([]byte, 0, 4+len(p)+1+1+16+1), s.Due)
	b = append(b, p...)
	b = append(b, 0, s.Rank)
	b = append(b, w[:]...)
	return append(b, s.Seq)
}

// SplitDueKey takes a DueKey apart; place is given as its bytes in the key.
func SplitDueKey(k []byte) (s Slot, place []byte, w uuid.UUID, ok bool) {
	n := len(k) - (4 + 1 + 1 + 16 + 1)
	if n < 0 || k[4+n] != 0 {
		return s, nil, w, false
	}
	s = Slot{Due: DateOf(k), Rank: k[4+n+1], Seq: k[len(k)-1]}
	copy(w[:], k[4+n+2:])
	return s, k[4 : 4+n], w, true
}

// The index of entries leads from an identity to where its entry is kept. An
// identity that begins as its wheel's, as those of loaded weights do, needs no
// record of its own: one record a wheel says that there are such, and the entry
// is looked for among the wheel's. A load of ten million weights would else
// write as many records of index as of entries.
//
//	entry                          -> subject | at
//	beginning of entry | wheel     -> (nothing)

// IDBegins is how much of such an identity is the wheel's, in bytes.
const IDBegins = 8

// SharedIDKeySize is the size of the key of a wheel with such entries.
const SharedIDKeySize = IDBegins + 16

// BeginID makes an identity begin as its wheel's does, as one of version 8.
func BeginID(id *uuid.UUID, of uuid.UUID) {
	copy(id[:IDBegins], of[:IDBegins])
	id[6] = 0x80 | id[6]&0x0f
}

// BeginsAs says whether an entry's identity begins as its subject's.
func BeginsAs(id, subject uuid.UUID) bool {
	var want uuid.UUID
	BeginID(&want, subject)
	return bytes.Equal(id[:IDBegins], want[:IDBegins])
}

// EntryIndex is the record of an entry in the index of entries, from the entry's
// key. Entries of one wheel may share it.
func EntryIndex(k []byte) (key, value []byte) {
	if BeginsAs(uuid.UUID(k[24:]), uuid.UUID(k[:16])) {
		return append(append(make([]byte, 0, SharedIDKeySize), k[24:24+IDBegins]...), k[:16]...), Plain
	}
	return bytes.Clone(k[24:]), Versioned(k[:24])
}

// TwinsOf is how the keys in Twins begin of those that have a name besides the one in the index.
func TwinsOf(bucket string, name []byte) []byte {
	return append(append([]byte(bucket), 0), name...)
}

// twinMark stands between a name that two have and what tells one from the other.
const twinMark = "~"

// TwinName is a name that two have, with what tells one from the other.
func TwinName(name string, id uuid.UUID) string { return name + twinMark + twinDigits(id) }

// CutTwin takes a TwinName apart; of tells whether an identity may be meant.
func CutTwin(name string) (bare string, of func(uuid.UUID) bool) {
	bare, mark, _ := strings.Cut(name, twinMark)
	return bare, func(id uuid.UUID) bool { return strings.HasPrefix(twinDigits(id), mark) }
}

func twinDigits(id uuid.UUID) string { return fmt.Sprintf("%x", id[8:11]) }
