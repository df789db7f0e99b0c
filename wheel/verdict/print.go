package verdict

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"

	"rindkeep/wheel"
)

// Print is a digest of all that a forecast of the case follows from, its sisters apart, and of
// what else is named. Cases of one print dry alike, so neither is fitted to learn that.
func (c Case) Print(more ...any) uint64 {
	s := c.alone()
	b := fmt.Appendf(nil, "%#v\x00%s", s.Cheese, c.Loc) // %#v has every digit
	put := func(xs ...float64) {
		for _, x := range xs {
			b = binary.BigEndian.AppendUint64(b, math.Float64bits(x))
		}
	}
	put(float64(c.Began().UnixMilli()), float64(c.DryingBegan().UnixMilli()), float64(c.Until.UnixMilli()))
	put(float64(s.HygrometerSD))
	for _, a := range s.Air {
		put(a.FromDay, float64(a.Air.Temp), float64(a.Air.RH), float64(a.Air.Pressure), a.Movement.Convection())
	}
	for _, k := range s.Coats {
		put(k.Day, float64(k.Loss), float64(k.SD))
		b = append(b, k.Coat...)
	}
	for _, p := range s.Points {
		put(p.Day, float64(p.Loss), float64(p.SD), float64(p.Shift))
	}
	for i := range c.Life.Entries { // a weight that was guessed is found again from all that was weighed
		if e := &c.Life.Entries[i]; e.Kind == wheel.Weighed || e.Kind.Reweighs() {
			put(float64(e.Kind), float64(e.At.UnixMilli()), float64(e.Before), float64(e.Weight), float64(e.Removed))
		}
	}
	sum := sha256.Sum256(fmt.Appendf(b, "%v%v%#v", c.Gate, c.target(), more))
	return binary.BigEndian.Uint64(sum[:])
}
