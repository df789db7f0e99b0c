package air

import (
	"cmp"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Exchange is a room in which wheels release water while its air is replaced by
// air from outside.
type Exchange struct {
	VolumeM3       float64 // of air, m3
	ChangesPerHour float64 // air changes by leaks and ventilation, 1/h
	Room           State   // the room now, or its set point
	Outside        State   // the air that comes in
}

// Burden is what a water load does to a room.
type Burden struct {
	// Settles is the humidity that the room reaches without a humidifier or
	// dehumidifier at its present temperature; 1 if water would condense.
	Settles quantity.Fraction
	// RemoveGH is the water, g/h, to remove to keep Room's humidity; if
	// negative, the water to add.
	RemoveGH float64
	// RiseGH is the load, g/h, that raises the humidity of a sealed room by one
	// point of RH an hour: it shows how little water that takes.
	RiseGH float64
}

// Burden gives the effect of a water load in g/h on a well-mixed room, from the
// vapour balance load = changes x volume x (room - outside) in g/m3. Walls and
// wheels that buffer water are left out: they delay the change but don't alter
// where it ends. It refuses what State.Check refuses, a volume that isn't over
// 0, and negative air changes or loads.
func (x Exchange) Burden(loadGH float64) (Burden, error) {
	err := cmp.Or(
		x.Room.Check(), x.Outside.Check(),
		reason.Within("room-m3", x.VolumeM3, math.SmallestNonzeroFloat64, math.MaxFloat64),
		reason.Within("air-changes", x.ChangesPerHour, 0, math.MaxFloat64),
		reason.Within("water-load", loadGH, 0, math.MaxFloat64),
	)
	if err != nil {
		return Burden{}, err
	}
	outside := AbsoluteHumidity(Warmed(x.Outside, x.Room.Temp))
	full := AbsoluteHumidity(State{Temp: x.Room.Temp, RH: 1, Pressure: x.Room.Pressure})
	fresh := x.ChangesPerHour * x.VolumeM3
	b := Burden{
		RemoveGH: loadGH - fresh*(AbsoluteHumidity(x.Room)-outside),
		RiseGH:   0.01 * full * x.VolumeM3,
		Settles:  1,
	}
	if fresh > 0 {
		b.Settles = quantity.Fraction(math.Min(1, (outside+loadGH/fresh)/full))
	} else if loadGH == 0 {
		b.Settles = x.Room.RH
	}
	return b, nil
}
