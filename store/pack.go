package store

import (
	"encoding/binary"
	"errors"
	"hash/crc32"
	"math"

	"github.com/google/uuid"
)

// errPacked is a record that does not decode.
var errPacked = errors.New("a record that does not decode")

// Facts cannot be made again, and the pages they lie on have no checksum, so
// each carries its own: a packed fact two bytes at its end, over its key and
// its value; a record in JSON or TOML four, after its version byte.

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// errSeal is a fact that is not as it was written.
var errSeal = errors.New("a record that is not as it was written")

func seal(key, body []byte) uint16 {
	c := crc32.Update(crc32.Checksum(key, castagnoli), castagnoli, body)
	return uint16(c ^ c>>16)
}

func sealed(key, body []byte) []byte {
	return binary.BigEndian.AppendUint16(body, seal(key, body))
}

func unsealed(key, value []byte) ([]byte, error) {
	n := len(value) - 2
	if n < 0 || binary.BigEndian.Uint16(value[n:]) != seal(key, value[:n]) {
		return nil, errSeal
	}
	return value[:n], nil
}

// The packed forms share these few ways of writing a value. Numbers are
// unsigned or zigzag varints; text is its length and its bytes.

func putText(b []byte, s string) []byte {
	b = binary.AppendUvarint(b, uint64(len(s)))
	return append(b, s...)
}

// putFigure writes a figure: a whole number of thousandths up to 2^52 as a
// varint, anything else as its eight bytes.
func putFigure(b []byte, x float64) []byte {
	k := math.Round(x * 1000)
	if k >= 0 && k < 1<<52 && k/1000 == x && !math.Signbit(x) {
		return binary.AppendUvarint(b, uint64(k)<<1)
	}
	b = binary.AppendUvarint(b, 1)
	return binary.BigEndian.AppendUint64(b, math.Float64bits(x))
}

// reader takes a packed record apart. The first fault is kept and everything
// after it reads as zero. The bytes are copied to a string once, so that texts
// are slices of it and outlive the transaction.
type reader struct {
	s     string
	bad   bool
	cause error // of the fault, where it is not errPacked
}

func newReader(b []byte) *reader { return &reader{s: string(b)} }

func (r *reader) fail() {
	r.s, r.bad = "", true
}

// done says whether the record was read whole, with nothing left over.
func (r *reader) done() error {
	if r.cause != nil {
		return r.cause
	}
	if r.bad || len(r.s) > 0 {
		return errPacked
	}
	return nil
}

func (r *reader) byte() byte {
	if len(r.s) == 0 {
		r.fail()
		return 0
	}
	c := r.s[0]
	r.s = r.s[1:]
	return c
}

func (r *reader) uvarint() uint64 {
	var x uint64
	for i, shift := 0, uint(0); i < len(r.s) && i < 10; i, shift = i+1, shift+7 {
		c := r.s[i]
		if i == 9 && c > 1 {
			break
		}
		x |= uint64(c&0x7f) << shift
		if c < 0x80 {
			r.s = r.s[i+1:]
			return x
		}
	}
	r.fail()
	return 0
}

func (r *reader) varint() int64 {
	u := r.uvarint()
	x := int64(u >> 1)
	if u&1 != 0 {
		x = ^x
	}
	return x
}

func (r *reader) text() string { return r.take(r.uvarint()) }

func (r *reader) take(n uint64) string {
	if n > uint64(len(r.s)) {
		r.fail()
		return ""
	}
	t := r.s[:n]
	r.s = r.s[n:]
	return t
}

// count reads a small whole number.
func (r *reader) count() int {
	u := r.uvarint()
	if u > math.MaxInt32 {
		r.fail()
		return 0
	}
	return int(u)
}

func (r *reader) uuid() (id [16]byte) {
	copy(id[:], r.take(uint64(len(id))))
	return id
}

func (r *reader) figure() float64 {
	u := r.uvarint()
	if u&1 == 0 {
		return float64(u>>1) / 1000
	}
	if u != 1 {
		r.fail()
		return 0
	}
	t := r.take(8)
	if len(t) < 8 {
		return 0
	}
	return math.Float64frombits(binary.BigEndian.Uint64([]byte(t)))
}

// packer writes a record or reads one, so that the form of each is set down once:
// it goes through the record's fields in order, each written to b or read from the
// reader.
type packer struct {
	*reader        // nil: it writes
	b       []byte // written so far
	bits    uint64 // of the fields that a record may lack
}

// has says whether an optional field is there: as told, or as read.
func (p *packer) has(bit uint64, there bool) bool {
	if p.reader != nil {
		return p.bits&bit != 0
	}
	if there {
		p.bits |= bit
	}
	return there
}

func (p *packer) octet(x *byte) {
	if p.reader != nil {
		*x = p.byte()
	} else {
		p.b = append(p.b, *x)
	}
}

func (p *packer) whole(x *int) {
	if p.reader != nil {
		*x = p.count()
	} else {
		p.b = binary.AppendUvarint(p.b, uint64(*x))
	}
}

func (p *packer) id(x *uuid.UUID) {
	if p.reader != nil {
		*x = p.uuid()
	} else {
		p.b = append(p.b, x[:]...)
	}
}

func packText[S ~string](p *packer, x *S) {
	if p.reader != nil {
		*x = S(p.text())
	} else {
		p.b = putText(p.b, string(*x))
	}
}

func packFigure[F ~float64](p *packer, x *F) {
	if p.reader != nil {
		*x = F(p.figure())
	} else {
		p.b = putFigure(p.b, float64(*x))
	}
}
