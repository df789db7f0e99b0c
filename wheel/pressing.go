package wheel

import (
	"cmp"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// standardGravity is the standard acceleration of free fall, m/s2, by definition (from
// memory).
const standardGravity = 9.80665

// Press is a load on a cheese in its mould.
type Press struct {
	Load  quantity.Grams // on the lever, or on the cheese if there is none
	Lever float64        // ratio of the lever; 0 means 1
	Face  float64        // area of the cheese under the follower, m2
}

func (p Press) lever() float64 { return cmp.Or(p.Lever, 1) }

// Force is the force on the cheese in newtons.
func (p Press) Force() float64 { return p.Load.Kilograms() * p.lever() * standardGravity }

// FaceCm2 is the area in square centimetres.
func (p Press) FaceCm2() float64 { return p.Face * 1e4 }

// Pressure is the pressure on the cheese, 0 if the area is unknown.
func (p Press) Pressure() quantity.Pascals {
	if !(p.Face > 0) {
		return 0
	}
	return quantity.Pascals(p.Force() / p.Face)
}

// Check refuses a pressure over 10 MPa (our choice) as an error in the units.
func (p Press) Check() error {
	return reason.Within("pressure-on-cheese", p.Pressure(), 0, 1e7)
}

// LoadFor is the load that gives a pressure, the inverse of Pressure.
func (p Press) LoadFor(want quantity.Pascals) quantity.Grams {
	return quantity.Grams(1000 * float64(want) * p.Face / standardGravity / p.lever())
}

// RoundFace is the area of a round mould, m2. It refuses a diameter that no mould
// has.
func RoundFace(diameter quantity.Metres) (float64, error) {
	if err := checkMould("diameter", diameter); err != nil {
		return 0, err
	}
	return math.Pi * float64(diameter) * float64(diameter) / 4, nil
}

// SquareFace is the area of a rectangular mould, m2. It refuses sides that no mould
// has.
func SquareFace(length, width quantity.Metres) (float64, error) {
	if err := cmp.Or(checkMould("length", length), checkMould("width", width)); err != nil {
		return 0, err
	}
	return float64(length) * float64(width), nil
}

// checkMould has our own bounds, wide ones.
func checkMould(what reason.Thing, m quantity.Metres) error {
	return reason.Within("mould-"+what, m, 0.005, 2)
}
