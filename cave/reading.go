package cave

import (
	"time"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
)

// Reading is a room's air at an instant.
type Reading struct {
	At   time.Time
	Temp quantity.Celsius
	RH   quantity.Fraction
}

// State is the reading as a state of the air.
func (r Reading) State() air.State { return air.State{Temp: r.Temp, RH: r.RH} }
