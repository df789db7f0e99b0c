package cave

import (
	"time"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Reading is a room's air at one instant.
type Reading struct {
	At   time.Time
	Temp quantity.Celsius
	RH   quantity.Fraction

	Source  uint64    // number of where the book has it from; 0: the book doesn't say
	Written time.Time // when it was entered, where the book says so
}

// State is the reading without its time.
func (r Reading) State() air.State { return air.State{Temp: r.Temp, RH: r.RH} }

// Odd says why a reading looks like a slip; nil where it doesn't. No ripening
// room is drier than 20 % or warmer than 40 C (our own bounds).
func (r Reading) Odd() reason.Reason {
	switch {
	case r.RH <= 0.01:
		return OddFraction{r.RH}
	case r.RH < MinRH:
		return OddDry{r.RH}
	case r.Temp > MaxTemp:
		return OddHot{r.Temp}
	}
	return nil
}
