// Package pack writes the book's records as bytes and reads them back: packed ones,
// and the texts in JSON or TOML, each with its version and its seal.
package pack

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"

	"github.com/google/uuid"
)

// ErrForm is a record that does not decode.
var ErrForm = errors.New("a record that does not decode")

// Facts cannot be made again, and the pages they lie on have no checksum, so
// each carries its own: a packed fact two bytes at its end, over its key and
// its value; a record in JSON or TOML four, after its version byte.

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// ErrSeal is a fact that is not as it was written.
var ErrSeal = errors.New("a record that is not as it was written")

// ErrNewer is a record that is as it was written and that this program doesn't know how
// to read: one of a newer program.
var ErrNewer = errors.New("a record of a newer program")

// newer marks an error about a record whose seal is right.
func newer(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%w: %w", ErrNewer, err)
}

// Newer reads the body of a sealed record, and marks the error where it can't.
func Newer[T any](x T, err error) (T, error) { return x, newer(err) }

func seal(key, body []byte) uint16 {
	c := crc32.Update(crc32.Checksum(key, castagnoli), castagnoli, body)
	return uint16(c ^ c>>16)
}

// Seal ends a packed fact with its checksum.
func Seal(key, body []byte) []byte {
	return binary.BigEndian.AppendUint16(body, seal(key, body))
}

// Unseal gives a packed fact without its checksum, which must be right: else ErrSeal.
func Unseal(key, value []byte) ([]byte, error) {
	n := len(value) - 2
	if n < 0 || binary.BigEndian.Uint16(value[n:]) != seal(key, value[:n]) {
		return nil, ErrSeal
	}
	return value[:n], nil
}

// The packed forms share these few ways of writing a value. Numbers are
// unsigned or zigzag varints; text is its length and its bytes.

// AppendFigure writes a figure: a whole number of thousandths up to 2^52 as a
// varint, anything else as its eight bytes.
func AppendFigure(b []byte, x float64) []byte {
	k := math.Round(x * 1000)
	if k >= 0 && k < 1<<52 && k/1000 == x && !math.Signbit(x) {
		return binary.AppendUvarint(b, uint64(k)<<1)
	}
	b = binary.AppendUvarint(b, 1)
	return binary.BigEndian.AppendUint64(b, math.Float64bits(x))
}

// Reader takes a packed record apart. The first fault is kept and everything
// after it reads as zero. The bytes are copied to a string once, so that texts
// are slices of it and outlive the transaction.
type Reader struct {
	s     string
	bad   bool
	cause error // of the fault, where it is not ErrForm
}

// NewReader reads a packed record.
func NewReader(b []byte) *Reader { return &Reader{s: string(b)} }

// Left is how many bytes are left to read.
func (r *Reader) Left() int { return len(r.s) }

// Bad says whether the record can't be read.
func (r *Reader) Bad() bool { return r.bad }

// Fail notes that the record can't be read.
func (r *Reader) Fail() {
	r.s, r.bad = "", true
}

// Done says whether the record was read whole, with nothing left over.
func (r *Reader) Done() error {
	if r.cause != nil {
		return r.cause
	}
	if r.bad || len(r.s) > 0 {
		return ErrForm
	}
	return nil
}

// Byte reads one byte.
func (r *Reader) Byte() byte {
	if len(r.s) == 0 {
		r.Fail()
		return 0
	}
	c := r.s[0]
	r.s = r.s[1:]
	return c
}

// Uvarint reads an unsigned number.
func (r *Reader) Uvarint() uint64 {
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
	r.Fail()
	return 0
}

// Varint reads a signed number.
func (r *Reader) Varint() int64 {
	u := r.Uvarint()
	x := int64(u >> 1)
	if u&1 != 0 {
		x = ^x
	}
	return x
}

// Text reads a text.
func (r *Reader) Text() string { return r.Take(r.Uvarint()) }

// Take reads so many bytes.
func (r *Reader) Take(n uint64) string {
	if n > uint64(len(r.s)) {
		r.Fail()
		return ""
	}
	t := r.s[:n]
	r.s = r.s[n:]
	return t
}

// Count reads a small whole number.
func (r *Reader) Count() int {
	u := r.Uvarint()
	if u > math.MaxInt32 {
		r.Fail()
		return 0
	}
	return int(u)
}

// Figure reads what AppendFigure wrote.
func (r *Reader) Figure() float64 {
	u := r.Uvarint()
	if u&1 == 0 {
		return float64(u>>1) / 1000
	}
	if u != 1 {
		r.Fail()
		return 0
	}
	t := r.Take(8)
	if len(t) < 8 {
		return 0
	}
	return math.Float64frombits(binary.BigEndian.Uint64([]byte(t)))
}

// Form writes a record or reads one, so that the form of each is set down once: it
// goes through the record's fields in order, each written or read. The zero Form
// writes.
type Form struct {
	B    []byte  // written so far
	r    *Reader // nil: it writes
	bits uint64  // of the fields that a record may lack
}

// Reading is a Form that reads from r.
func Reading(r *Reader) *Form { return &Form{r: r} }

// Reads says whether it reads.
func (p *Form) Reads() bool { return p.r != nil }

// Left is how many bytes are left to read.
func (p *Form) Left() int { return len(p.r.s) }

// Fail notes that what is read can't be.
func (p *Form) Fail() { p.r.Fail() }

// has says whether an optional field is there: as told, or as read.
func (p *Form) has(bit uint64, there bool) bool {
	if p.r != nil {
		return p.bits&bit != 0
	}
	if there {
		p.bits |= bit
	}
	return there
}

// Octet is one byte.
func (p *Form) Octet(x *byte) {
	if p.r != nil {
		*x = p.r.Byte()
	} else {
		p.B = append(p.B, *x)
	}
}

// Bytes are as many bytes as b has.
func (p *Form) Bytes(b []byte) {
	if p.r != nil {
		copy(b, p.r.Take(uint64(len(b))))
	} else {
		p.B = append(p.B, b...)
	}
}

// Truth is true or false.
func (p *Form) Truth(x *bool) {
	b := byte(0)
	if *x {
		b = 1
	}
	if p.Octet(&b); b > 1 {
		p.Fail()
	}
	*x = b == 1
}

// Whole is a whole number from 0 to 2^31-1.
func (p *Form) Whole(x *int) {
	if p.r != nil {
		*x = p.r.Count()
	} else {
		p.B = binary.AppendUvarint(p.B, uint64(*x))
	}
}

// ID is a UUID.
func (p *Form) ID(x *uuid.UUID) {
	p.Bytes(x[:])
}

// Instant is an instant to the millisecond, one outside of 1970 to 9999 the nearest in it.
func (p *Form) Instant(x *time.Time) {
	if p.r != nil {
		*x = p.r.instant(0)
	} else {
		p.B = binary.AppendVarint(p.B, min(max(x.UnixMilli(), 0), MaxMilli))
	}
}

// Reasons is a list of reasons. One of an unknown kind, as another version of the
// program may write, leaves its error for Done.
func (p *Form) Reasons(l *reason.List) {
	if p.r == nil {
		p.B = reason.Append(p.B, *l)
		return
	}
	var err error
	if *l, p.r.s, err = reason.Decode(p.r.s); err != nil {
		p.Fail()
		p.r.cause = err
	}
}

// Date is a date as its distance from another, day.None as 0.
func (p *Form) Date(d *day.Date, from day.Date) {
	if p.r == nil {
		z := uint64(0)
		if u := int64(*d) - int64(from); *d != day.None {
			z = uint64(u<<1) ^ uint64(u>>63) + 1
		}
		p.B = binary.AppendUvarint(p.B, z)
		return
	}
	*d = day.None
	if z := p.r.Uvarint(); z != 0 {
		z--
		x := int64(from) + (int64(z>>1) ^ -int64(z&1))
		if x <= int64(day.None) || x > math.MaxInt32 {
			p.Fail()
			return
		}
		*d = day.Date(x)
	}
}

// Text is a text: its length and its bytes.
func Text[S ~string](p *Form, x *S) {
	if p.r != nil {
		*x = S(p.r.Text())
	} else {
		p.B = append(binary.AppendUvarint(p.B, uint64(len(*x))), *x...)
	}
}

// Figure is a figure, as AppendFigure writes it.
func Figure[F ~float64](p *Form, x *F) {
	if p.r != nil {
		*x = F(p.r.Figure())
	} else {
		p.B = AppendFigure(p.B, float64(*x))
	}
}

// Version is the version byte of records in JSON or TOML.
const Version = 1

// JSON writes a legible record.
func JSON(v any) ([]byte, error) {
	j, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return Sealed(j), nil
}

// Sealed seals a body of text: version, checksum, text.
func Sealed(body []byte) []byte {
	b := make([]byte, 5, 5+len(body))
	b[0] = Version
	binary.BigEndian.PutUint32(b[1:], crc32.Checksum(body, castagnoli))
	return append(b, body...)
}

// ReadJSON reads what JSON wrote. The error may be ErrForm, ErrSeal or ErrNewer.
func ReadJSON(b []byte, v any) error {
	t, err := Body(b)
	if err != nil {
		return err
	}
	return newer(json.Unmarshal(t, v))
}

// Body is the text of a record that Sealed sealed.
func Body(b []byte) ([]byte, error) {
	if len(b) < 5 || b[0] != Version {
		return nil, ErrForm
	}
	if binary.BigEndian.Uint32(b[1:]) != crc32.Checksum(b[5:], castagnoli) {
		return nil, ErrSeal
	}
	return b[5:], nil
}

// Compare orders two records of one key, in every book alike: the checksum that a text begins with
// is over names that differ from site to site.
func Compare(a, b []byte) int {
	if body, err := Body(a); err == nil {
		a = body
	}
	if body, err := Body(b); err == nil {
		b = body
	}
	return bytes.Compare(a, b)
}
