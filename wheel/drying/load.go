package drying

import "rindkeep/cave/quantity"

// Standing wheels give the room water; RoomWheel is one of them, with the day its
// drying has come to.
type RoomWheel struct {
	Forecast interface {
		RatePerDay(day float64) quantity.Estimate
	}
	Green quantity.Grams // the weight that the rate is a share of
	Day   float64        // days since its drying started, now
}

// Load is the water a room's wheels give to its air, grams an hour, 90 %. The
// wheels of a room err together (the same air, the same hygrometer), so the
// ends are the sums of the wheels' ends.
type Load struct {
	Now, InAWeek quantity.Estimate
	Wheels       int
}

// WaterLoad sums the water load of wheels, now and a week on.
func WaterLoad(wheels []RoomWheel) Load {
	l := Load{Wheels: len(wheels)}
	add := func(to *quantity.Estimate, w RoomWheel, day float64) {
		e := w.Forecast.RatePerDay(day).Times(float64(w.Green) / 24)
		to.Best, to.Low, to.High = to.Best+e.Best, to.Low+e.Low, to.High+e.High
	}
	for _, w := range wheels {
		add(&l.Now, w, w.Day)
		add(&l.InAWeek, w, w.Day+7)
	}
	return l
}
