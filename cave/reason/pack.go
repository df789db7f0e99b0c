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
	p := packer{b: binary.AppendUvarint(b, uint64(len(l)))}
	for _, r := range l {
		v := reflect.ValueOf(r)
		k := byType[v.Type()]
		p.uvarint(k.number)
		p.fields(v, k.fields)
	}
	return p.b
}

// Decode reads a list that Append packed and gives what follows it. Its texts are slices of s. The error is ErrPacked,
// or an UnknownNumber.
func Decode(s string) (l List, rest string, err error) {
	p := packer{s: s, reads: true}
	n := p.uvarint(0)
	if n > uint64(len(p.s)) {
		return nil, "", ErrPacked
	}
	if n > 0 {
		l = make(List, 0, n)
	}
	for range n {
		num := p.uvarint(0)
		k := byNumber[num]
		if p.bad {
			return nil, "", ErrPacked
		}
		if k == nil {
			return nil, "", UnknownNumber{num}
		}
		v := reflect.New(k.typ).Elem()
		p.fields(v, k.fields)
		l = append(l, v.Interface().(Reason))
	}
	if p.bad {
		return nil, "", ErrPacked
	}
	return l, p.s, nil
}

// packer writes figures behind b, or reads them from s. Each of its methods takes a figure to write and gives it back,
// or gives the one it read; after the first fault all reads as zero.
type packer struct {
	b     []byte
	s     string
	reads bool
	bad   bool
}

// fields packs or reads the figures of a reason. An instant is at most the end of
// day.MaxDate, of days of 86400e3 ms by definition.
func (p *packer) fields(v reflect.Value, fields []field) {
	for i := range fields {
		f := &fields[i]
		x := v.Field(f.index)
		switch f.form {
		case number, percent:
			if y := p.figure(x.Float()); p.reads {
				x.SetFloat(y)
			}
		case whole, date:
			if y := p.varint(x.Int()); p.reads && !p.check(!x.OverflowInt(y)) {
				x.SetInt(y)
			}
		case small, named:
			if y := p.byte(byte(x.Uint())); p.reads {
				x.SetUint(uint64(y))
			}
		case truth:
			if y := p.byte(map[bool]byte{true: 1}[x.Bool()]); p.reads && !p.check(y <= 1) {
				x.SetBool(y == 1)
			}
		case text:
			if y := p.text(x.String()); p.reads {
				x.SetString(y)
			}
		case instant:
			y := p.uvarint(uint64(max(0, x.Interface().(time.Time).UnixMilli()+1)))
			if p.reads && !p.check(y <= (uint64(day.MaxDate)+1)*86400e3) && y > 0 {
				x.Set(reflect.ValueOf(time.UnixMilli(int64(y - 1)).UTC()))
			}
		case group:
			p.fields(x, f.fields)
		}
	}
}

// check notes a fault unless ok; it is true after any fault.
func (p *packer) check(ok bool) bool {
	if !ok {
		p.s, p.bad = "", true
	}
	return p.bad
}

func (p *packer) take(n uint64) string {
	if p.check(n <= uint64(len(p.s))) {
		return ""
	}
	t := p.s[:n]
	p.s = p.s[n:]
	return t
}

func (p *packer) text(t string) string {
	n := p.uvarint(uint64(len(t)))
	if p.reads {
		return p.take(n)
	}
	p.b = append(p.b, t...)
	return t
}

func (p *packer) byte(c byte) byte {
	if !p.reads {
		p.b = append(p.b, c)
	} else if t := p.take(1); t != "" {
		return t[0]
	}
	return c
}

func (p *packer) uvarint(u uint64) uint64 {
	if !p.reads {
		p.b = binary.AppendUvarint(p.b, u)
		return u
	}
	u, n := binary.Uvarint([]byte(p.s[:min(len(p.s), binary.MaxVarintLen64)]))
	if p.check(n > 0) {
		return 0
	}
	p.s = p.s[n:]
	return u
}

// varint is zigzag: 63 bits by definition.
func (p *packer) varint(x int64) int64 {
	u := p.uvarint(uint64(x<<1) ^ uint64(x>>63))
	return int64(u>>1) ^ -int64(u&1)
}

// figure is a multiple of 1e-4 as a zigzag number, or the eight bytes of any other: our
// choice. A float64 holds whole numbers up to 52 bits by definition.
func (p *packer) figure(x float64) float64 {
	if !p.reads {
		if n := math.Round(x * 1e4); math.Abs(n) < 1<<52 && n/1e4 == x && !(x == 0 && math.Signbit(x)) {
			p.uvarint((uint64(int64(n)<<1) ^ uint64(int64(n)>>63)) << 1)
			return x
		}
		p.uvarint(1)
		p.b = binary.BigEndian.AppendUint64(p.b, math.Float64bits(x))
		return x
	}
	u := p.uvarint(0)
	if u&1 == 0 {
		return float64(int64(u>>2)^-int64(u>>1&1)) / 1e4
	}
	if t := p.take(8); !p.check(u == 1 && t != "") {
		return math.Float64frombits(binary.BigEndian.Uint64([]byte(t)))
	}
	return 0
}
