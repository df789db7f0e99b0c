package wheel

import (
	"fmt"
	"math"

	"rindkeep/cave/quantity"
)

// StandardGravity is the acceleration that makes weight of mass, m/s2. Source:
// the third CGPM, 1901.
const StandardGravity = 9.80665

// Press is a load on a cheese in its mould.
type Press struct {
	Load  quantity.Grams // hung on the lever, or laid on where there is none
	Lever float64        // how many times the lever makes of the load; 0 is 1
	Face  float64        // surface of the cheese under the follower, m2
}

// lever is the ratio with the zero value replaced.
func (p Press) lever() float64 {
	if p.Lever == 0 {
		return 1
	}
	return p.Lever
}

// Force on the cheese, newtons: load times lever ratio times standard gravity.
func (p Press) Force() float64 { return p.Load.Kilograms() * p.lever() * StandardGravity }

// FaceCm2 is the surface in square centimetres.
func (p Press) FaceCm2() float64 { return p.Face * 1e4 }

// Pressure on the cheese: force over surface. It is 0 where there is no
// surface.
func (p Press) Pressure() quantity.Pascals {
	if !(p.Face > 0) {
		return 0
	}
	return quantity.Pascals(p.Force() / p.Face)
}

// MaxPressure is more than any cheese is pressed with: 10 MPa.
const MaxPressure quantity.Pascals = 1e7

// Check refuses a pressure no cheese was ever under, as a slip of units.
func (p Press) Check() error {
	if on := p.Pressure(); !(on <= MaxPressure) {
		return fmt.Errorf("that makes %.3g kPa, and over 10000 kPa nothing is pressed; mind the units of load, lever and mould", on.In(quantity.KilopascalPa))
	}
	return nil
}

// LoadFor is the load that presses at a given pressure: Pressure turned round.
func (p Press) LoadFor(want quantity.Pascals) quantity.Grams {
	return quantity.Grams(1000 * float64(want) * p.Face / StandardGravity / p.lever())
}

// RoundFace is the surface of a round mould, m2: pi d2/4.
func RoundFace(across quantity.Metres) (float64, error) {
	if err := checkMould("diameter", across); err != nil {
		return 0, err
	}
	return math.Pi * float64(across) * float64(across) / 4, nil
}

// SquareFace is the surface of a mould with four sides, m2.
func SquareFace(length, width quantity.Metres) (float64, error) {
	if err := checkMould("length", length); err != nil {
		return 0, err
	}
	if err := checkMould("width", width); err != nil {
		return 0, err
	}
	return float64(length) * float64(width), nil
}

func checkMould(what string, m quantity.Metres) error {
	if !(m > 0.005 && m < 2) {
		return fmt.Errorf("a mould's %s of %.4g cm is out of range; give 0.5 to 200 cm", what, m.Centimetres())
	}
	return nil
}
