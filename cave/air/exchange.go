package air

import (
	"fmt"
	"math"

	"rindkeep/cave/quantity"
)

// Exchange is a room whose air is changed for air from outside while wheels
// give it water.
type Exchange struct {
	VolumeM3       float64 // of air, m3
	ChangesPerHour float64 // air changes by leaks and ventilation, 1/h
	Room           State   // the room now, or as it is meant to be
	Outside        State   // the air that comes in
}

// Burden is what a water load does to a room.
type Burden struct {
	// Settles is the humidity the room comes to with no humidifier or
	// dehumidifier, its temperature held; 1 where it would rain out.
	Settles quantity.Fraction
	// RemoveGH is the water, g/h, that must be taken out to hold Room's
	// humidity; negative is water to be added.
	RemoveGH float64
	// RiseGH is the water, g/h, by which Room's humidity rises a point of RH an
	// hour in a tight room: what a small load already does.
	RiseGH float64
}

// Bear works out what a load of water in g/h does to a room: the balance of
// vapour in a well-mixed room, load = changes x volume x (room - outside) in
// g/m3. Walls and wheels that take up water are left out, so a swing is slower
// than this, its end the same. It refuses what State.Check refuses, a volume not
// over 0 and a negative change of air or load.
func (x Exchange) Bear(loadGH float64) (Burden, error) {
	if err := x.Room.Check(); err != nil {
		return Burden{}, err
	}
	if err := x.Outside.Check(); err != nil {
		return Burden{}, err
	}
	if !(x.VolumeM3 > 0) || math.IsInf(x.VolumeM3, 0) {
		return Burden{}, fmt.Errorf("room of %.4g m3 is out of range; give more than 0", x.VolumeM3)
	}
	if !(x.ChangesPerHour >= 0) || !(loadGH >= 0) || math.IsInf(x.ChangesPerHour, 0) || math.IsInf(loadGH, 0) {
		return Burden{}, fmt.Errorf("air changes and water load must be 0 or more")
	}
	in := Warmed(x.Outside, x.Room.Temp)
	outside := AbsoluteHumidity(in)
	full := AbsoluteHumidity(State{Temp: x.Room.Temp, RH: 1, Pressure: x.Room.Pressure})
	b := Burden{
		RemoveGH: loadGH - x.ChangesPerHour*x.VolumeM3*(AbsoluteHumidity(x.Room)-outside),
		RiseGH:   0.01 * full * x.VolumeM3,
		Settles:  1,
	}
	if fresh := x.ChangesPerHour * x.VolumeM3; fresh > 0 {
		b.Settles = quantity.Fraction(math.Min(1, (outside+loadGH/fresh)/full))
	} else if loadGH == 0 {
		b.Settles = x.Room.RH
	}
	return b, nil
}
