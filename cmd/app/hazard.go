package app

import (
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// Hazard is what can hurt somebody at a job. Package words has the caution.
type Hazard string

// The hazards.
const (
	HotWax   Hazard = "hot-wax"
	Smear    Hazard = "smear" // listeria carried from wheel to wheel with brine and smear
	Smoke    Hazard = "smoke"
	PressArm Hazard = "press-arm" // the lever and its weights
	Lifting  Hazard = "lifting"   // wheels of HeavyWheel or more
	Dust     Hazard = "dust"      // of mites and mould
)

// HeavyWheel is from what weight on a wheel isn't for one person to lift: common
// practice, no source; local rules on lifting differ.
const HeavyWheel quantity.Grams = 20000

// Caution is a hazard as it is published; Words is filled by cmd/words.
type Caution struct {
	Code  Hazard `json:"code"`
	Words string `json:"words"`
}

// HazardsOf are the hazards of a job on wheels up to a weight. coat is that of a
// coating, "" elsewhere.
func HazardsOf(job wheel.Job, coat string, heaviest quantity.Grams) []Hazard {
	var out []Hazard
	switch job {
	case wheel.Coat:
		if coat == "wax" {
			out = append(out, HotWax)
		}
	case wheel.Wash, wheel.Rub, wheel.Salt:
		out = append(out, Smear)
	case wheel.Smoke:
		out = append(out, Smoke)
	case wheel.PressOn, wheel.Redress:
		out = append(out, PressArm)
	case wheel.Brush:
		out = append(out, Dust)
	}
	if heaviest >= HeavyWheel && job != wheel.Check && job != wheel.Taste {
		out = append(out, Lifting)
	}
	return out
}
