package cave

import (
	"fmt"
	"time"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
)

// Reading is a room's air at one instant.
type Reading struct {
	At   time.Time
	Temp quantity.Celsius
	RH   quantity.Fraction
}

// State is the reading without its time.
func (r Reading) State() air.State { return air.State{Temp: r.Temp, RH: r.RH} }

// Odd says why a reading looks like a typing error, or "". Our own bounds: no
// ripening room is drier than 20 % or warmer than 40 C.
func (r Reading) Odd() string {
	switch {
	case r.RH <= 0.01:
		return fmt.Sprintf("a humidity of %.2g %% looks like a fraction; write percent, like 83%%", r.RH.Percent())
	case r.RH < 0.2:
		return fmt.Sprintf("a humidity of %.0f %% is drier than any ripening room", r.RH.Percent())
	case r.Temp > 40:
		return fmt.Sprintf("%.1f C is hotter than any ripening room; in F, write it like %.0fF",
			float64(r.Temp), float64(r.Temp))
	}
	return ""
}
