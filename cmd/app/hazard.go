package app

import (
	"encoding/json"

	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// Hazard is what can hurt somebody. Package words has the caution.
type Hazard string

// The hazards.
const (
	HotWax      Hazard = "hot-wax"
	Smear       Hazard = "smear" // listeria carried from wheel to wheel with brine and smear
	Brine       Hazard = "brine" // handled in a tank
	Salting     Hazard = "salting"
	Smoke       Hazard = "smoke"
	PressArm    Hazard = "press-arm" // the lever and its weights
	Lifting     Hazard = "lifting"   // wheels of HeavyWheel or more
	Dust        Hazard = "dust"      // of mites and mould
	ClosedRoom  Hazard = "closed-room"
	RawMilkUsed Hazard = "raw-milk"
	CoolMilk    Hazard = "cool-milk" // heated to less than is usual for pasteurising
	SellingFood Hazard = "selling-food"
	Recalling   Hazard = "recall"
	AgesOnly    Hazard = "minimum-ages"  // they are no permission to sell
	TooCold     Hazard = "raw-milk-cold" // raw milk in air too cold for its days to count
)

// HeavyWheel is from what weight on a wheel isn't for one person to lift: common
// practice, no source; local rules on lifting differ.
const HeavyWheel quantity.Grams = 20000

// Caution is a hazard as it is published; Words is filled by cmd/words.
type Caution struct {
	Code  Hazard `json:"code"`
	Words string `json:"words"`

	Of any `json:"-"` // figures that the words have, of some hazards
}

// Cautions are what a result cautions about.
type Cautions []Caution

// MarshalJSON writes none as an empty list.
func (cs Cautions) MarshalJSON() ([]byte, error) {
	if cs == nil {
		return []byte("[]"), nil
	}
	return json.Marshal([]Caution(cs))
}

// Cautioned is part of every result that cautions. People see cautions with --quiet too.
type Cautioned struct {
	Cautions Cautions `json:"cautions"`
}

// Warnings are the cautions of any result that has some.
func (c Cautioned) Warnings() Cautions { return c.Cautions }

// Hazards are what is cautioned about.
func (c Cautioned) Hazards() (out []Hazard) {
	return Each(c.Cautions, func(x Caution) Hazard { return x.Code })
}

// Warn adds hazards that aren't there yet.
func (c *Cautioned) Warn(hs ...Hazard) {
	for _, h := range hs {
		known := false
		for _, x := range c.Cautions {
			known = known || x.Code == h
		}
		if !known {
			c.Cautions = append(c.Cautions, Caution{Code: h})
		}
	}
}

// WarnRaw adds the caution of raw milk, with the rules of its make; nil: it isn't raw.
func (c *Cautioned) WarnRaw(r *RawMilk) {
	if r != nil {
		c.Cautions = append(c.Cautions, Caution{Code: RawMilkUsed, Of: r})
	}
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
	case wheel.Wash, wheel.Rub:
		out = append(out, Smear)
	case wheel.Salt:
		out = append(out, Salting)
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

// Hazards are those of a job on wheels, each taken at its variety's usual weight.
func (s *Session) Hazards(job wheel.Job, coat string, ws []derive.WheelState) ([]Hazard, error) {
	var heaviest quantity.Grams
	seen := map[uuid.UUID]bool{}
	for _, w := range ws {
		if seen[w.Make] {
			continue
		}
		seen[w.Make] = true
		m, err := s.Tx.Make(w.Make)
		if err != nil {
			return nil, err
		}
		v, err := s.Tx.VarietyOf(m)
		if err != nil {
			return nil, err
		}
		heaviest = max(heaviest, v.Weight)
	}
	if len(ws) == 0 {
		return nil, nil
	}
	return HazardsOf(job, coat, heaviest), nil
}
