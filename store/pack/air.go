package pack

import (
	"encoding/binary"
	"math"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
)

// airVersion is the version byte of packed readings of the air.
const airVersion = 1

// Air packs a reading of a room's air, kept under a key that ends with its instant: its
// temperature to a thousandth of a degree, its humidity to a millionth.
func Air(key []byte, r cave.Reading) []byte {
	v := binary.AppendVarint([]byte{airVersion}, int64(math.Round(float64(r.Temp)*1000)))
	v = AppendFigure(v, math.Round(float64(r.RH)*1e6)/1000)
	if r.Source > 0 {
		v = binary.AppendUvarint(v, r.Source)
		v = binary.AppendVarint(v, r.Written.UnixMilli()-r.At.UnixMilli())
	}
	return Seal(key, v)
}

// ReadAir reads what Air packed. The error is ErrForm, ErrSeal or ErrNewer.
func ReadAir(key, value []byte) (cave.Reading, error) {
	n := len(key) - 8
	if n < 1 || key[n-1] != 0 || binary.BigEndian.Uint64(key[n:]) > MaxMilli {
		return cave.Reading{}, ErrForm
	}
	body, err := Unseal(key, value)
	if err != nil {
		return cave.Reading{}, err
	}
	r := NewReader(body)
	if r.Byte() != airVersion {
		return Newer(cave.Reading{}, ErrForm)
	}
	temp := r.Varint()
	rh := r.Figure()
	rd := cave.Reading{
		At:   time.UnixMilli(int64(binary.BigEndian.Uint64(key[n:]))).UTC(),
		Temp: quantity.Celsius(float64(temp) / 1000), RH: quantity.Fraction(rh / 1000),
	}
	if r.Left() > 0 { // not in older books
		source, written := r.Uvarint(), rd.At.UnixMilli()+r.Varint()
		if source == 0 || written < 0 || written > MaxMilli {
			r.Fail()
		}
		rd.Source, rd.Written = source, time.UnixMilli(written).UTC()
	}
	return Newer(rd, r.Done())
}
