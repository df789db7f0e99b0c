package drying

import (
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Leaks is a coat that lets too much through: the share of a bare wheel's loss
// that this wheel has, 90 %, and the share that its coat usually passes.
type Leaks struct {
	Passes quantity.Fraction `json:"passes_pct"`
	Low    quantity.Fraction `json:"low_pct"`
	High   quantity.Fraction `json:"high_pct"`
	Usual  quantity.Fraction `json:"usual_pct"`
}

// Why a rind is or isn't likely to crack or to turn slimy.
type (
	// Sealed is a rind under a coat that closes it off.
	Sealed struct {
		Coat Coat `json:"coat"`
	}
	// RindShrinks is how fast a rind loses water in air of a humidity, and over what rate
	// rinds may crack and do crack.
	RindShrinks struct {
		RH   quantity.Fraction `json:"rh_pct"`
		Flux float64           `json:"g_per_dm2_day"`
		May  float64           `json:"may_over_g_per_dm2_day"`
		Does float64           `json:"over_g_per_dm2_day"`
	}
	// AirCracks is air, and under what humidity rinds may crack and do crack.
	AirCracks struct {
		RH   quantity.Fraction `json:"rh_pct"`
		May  quantity.Fraction `json:"may_under_rh_pct"`
		Does quantity.Fraction `json:"under_rh_pct"`
	}
	// AirNotWet is air less humid than that in which rinds turn slimy.
	AirNotWet struct {
		RH  quantity.Fraction `json:"rh_pct"`
		Wet quantity.Fraction `json:"wet_from_rh_pct"`
	}
	// RindDries is how fast a rind loses water over a month in wet air, and under what
	// rate rinds may turn and do turn slimy there.
	RindDries struct {
		RH   quantity.Fraction `json:"rh_pct"`
		Flux float64           `json:"g_per_dm2_day"`
		May  float64           `json:"may_under_g_per_dm2_day"`
		Does float64           `json:"under_g_per_dm2_day"`
	}
)

// Why the weights alone do not tell a curve's figures.
type (
	// NeitherRate is weights that tell neither rate to better than a factor of
	// two and a half.
	NeitherRate struct{}
	// NoFirstDay is weights that do not tell the first-day rate.
	NoFirstDay struct{}
	// NoRootTime is weights that do not tell the root-time rate.
	NoRootTime struct{}
	// NoFall is weights that do not fall.
	NoFall struct{}
	// StraightLine is weights that fall in a straight line.
	StraightLine struct{}
	// RootFromStart is weights that fall with the square root of time from the
	// start.
	RootFromStart struct{}
	// LeansOnPhysics is weighings too few to tell the rates without the model.
	LeansOnPhysics struct{}
)

// Code is how programs know each of these.
func (Leaks) Code() string          { return "coat-leaks" }
func (NeitherRate) Code() string    { return "neither-rate" }
func (NoFirstDay) Code() string     { return "no-first-day-rate" }
func (NoRootTime) Code() string     { return "no-root-time-rate" }
func (NoFall) Code() string         { return "no-fall" }
func (StraightLine) Code() string   { return "straight-line" }
func (RootFromStart) Code() string  { return "root-from-start" }
func (LeansOnPhysics) Code() string { return "leans-on-physics" }
func (Sealed) Code() string         { return "sealed" }
func (RindShrinks) Code() string    { return "rind-shrinks" }
func (AirCracks) Code() string      { return "air-cracks" }
func (AirNotWet) Code() string      { return "air-not-wet" }
func (RindDries) Code() string      { return "rind-dries" }

func init() {
	reason.Register(map[int]reason.Reason{
		300: Leaks{}, 301: NeitherRate{}, 302: NoFirstDay{}, 303: NoRootTime{}, 304: NoFall{}, 305: StraightLine{},
		306: RootFromStart{}, 307: LeansOnPhysics{}, 308: Sealed{}, 309: RindShrinks{}, 310: RindDries{}, 311: AirNotWet{},
		312: AirCracks{},
	})
}
