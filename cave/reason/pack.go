package reason

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"reflect"
	"time"

	"rindkeep/cave/day"
)

// ErrPacked is a packed list that does not decode.
var ErrPacked = errors.New("reasons that do not decode")

// UnknownNumber is a reason of a number that this program does not know: the
// list is from another version of it and has to be made again.
type UnknownNumber struct{ Number uint64 }

// Error names the number.
func (e UnknownNumber) Error() string {
	return fmt.Sprintf("a reason of the unknown number %d", e.Number)
}

// Append packs a list behind b: its length, and of each reason its number and its figures in order. Integers are
// varints (zigzag where signed), a figure that is a whole number of ten-thousandths too, any other its eight bytes;
// an instant is its milliseconds since 1970 and one more, 0 where it is not known.
func Append(b []byte, l List) []byte {
	b = binary.AppendUvarint(b, uint64(len(l)))
	for _, r := range l {
		v := reflect.ValueOf(r)
		k := byType[v.Type()]
		b = binary.AppendUvarint(b, k.number)
		b = appendFields(b, v, k.fields)
	}
	return b
}

func appendFields(b []byte, v reflect.Value, fields []field) []byte {
	for i := range fields {
		f := &fields[i]
		x := v.Field(f.index)
		switch f.form {
		case number, percent:
			b = appendFigure(b, x.Float())
		case whole, date:
			b = binary.AppendVarint(b, x.Int())
		case small, named:
			b = append(b, byte(x.Uint()))
		case truth:
			b = append(b, map[bool]byte{true: 1}[x.Bool()])
		case text:
			b = binary.AppendUvarint(b, uint64(x.Len()))
			b = append(b, x.String()...)
		case instant:
			b = binary.AppendUvarint(b, uint64(max(0, x.Interface().(time.Time).UnixMilli()+1)))
		case group:
			b = appendFields(b, x, f.fields)
		}
	}
	return b
}

func appendFigure(b []byte, x float64) []byte {
	n := math.Round(x * 1e4)
	if math.Abs(n) < 1<<52 && n/1e4 == x && !(x == 0 && math.Signbit(x)) {
		return binary.AppendUvarint(b, zigzag(int64(n))<<1)
	}
	b = binary.AppendUvarint(b, 1)
	return binary.BigEndian.AppendUint64(b, math.Float64bits(x))
}

func zigzag(n int64) uint64   { return uint64(n<<1) ^ uint64(n>>63) }
func unzigzag(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

// Decode reads a list that Append packed and gives what follows it. Its texts
// are slices of s. The error is ErrPacked, or an UnknownNumber.
func Decode(s string) (l List, rest string, err error) {
	r := unpacker{s: s}
	n := r.uvarint()
	if n > uint64(len(r.s)) || r.bad {
		return nil, "", ErrPacked
	}
	if n > 0 {
		l = make(List, 0, n)
	}
	for range n {
		num := r.uvarint()
		k := byNumber[num]
		if r.bad {
			return nil, "", ErrPacked
		}
		if k == nil {
			return nil, "", UnknownNumber{num}
		}
		v := reflect.New(k.typ).Elem()
		r.fields(v, k.fields)
		l = append(l, v.Interface().(Reason))
	}
	if r.bad {
		return nil, "", ErrPacked
	}
	return l, r.s, nil
}

// unpacker takes a packed list apart; after the first fault all reads as zero.
type unpacker struct {
	s   string
	bad bool
}

func (r *unpacker) fail() { r.s, r.bad = "", true }

func (r *unpacker) fields(v reflect.Value, fields []field) {
	for i := range fields {
		f := &fields[i]
		x := v.Field(f.index)
		switch f.form {
		case number, percent:
			x.SetFloat(r.figure())
		case whole, date:
			n := unzigzag(r.uvarint())
			if x.OverflowInt(n) {
				r.fail()
				n = 0
			}
			x.SetInt(n)
		case small, named:
			x.SetUint(uint64(r.byte()))
		case truth:
			c := r.byte()
			x.SetBool(c == 1)
			if c > 1 {
				r.fail()
			}
		case text:
			x.SetString(r.take(r.uvarint()))
		case instant:
			ms := r.uvarint()
			if ms > (uint64(day.MaxDate)+1)*86400e3 {
				r.fail()
				ms = 0
			}
			if ms > 0 {
				x.Set(reflect.ValueOf(time.UnixMilli(int64(ms - 1)).UTC()))
			}
		case group:
			r.fields(x, f.fields)
		}
	}
}

func (r *unpacker) take(n uint64) string {
	if n > uint64(len(r.s)) {
		r.fail()
		return ""
	}
	t := r.s[:n]
	r.s = r.s[n:]
	return t
}

func (r *unpacker) byte() byte {
	if t := r.take(1); t != "" {
		return t[0]
	}
	return 0
}

func (r *unpacker) uvarint() uint64 {
	var x uint64
	for i := range min(len(r.s), binary.MaxVarintLen64) {
		c := r.s[i]
		if i == 9 && c > 1 {
			break
		}
		x |= uint64(c&0x7f) << (7 * i)
		if c < 0x80 {
			r.s = r.s[i+1:]
			return x
		}
	}
	r.fail()
	return 0
}

func (r *unpacker) figure() float64 {
	u := r.uvarint()
	if u&1 == 0 {
		return float64(unzigzag(u>>1)) / 1e4
	}
	t := r.take(8)
	if u != 1 || t == "" {
		r.fail()
		return 0
	}
	return math.Float64frombits(binary.BigEndian.Uint64([]byte(t)))
}
