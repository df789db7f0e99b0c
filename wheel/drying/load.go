package drying

import "rindkeep/cave/quantity"

// Load is the water that a room's wheels give to its air, grams an hour, 90 %, now and a week
// on. The wheels of a room err together (the same air, the same hygrometer), so the
// ends are the sums of the wheels' ends.
type Load struct {
	Now, InAWeek quantity.Estimate
	Wheels       int
}

// Add adds a wheel by how it dries, as shares of its green weight, on the day that its drying
// has come to.
func (l *Load) Add(f interface {
	RatePerDay(day float64) quantity.Estimate
}, green quantity.Grams, day float64) {
	l.Wheels++
	add := func(to *quantity.Estimate, on float64) {
		e := f.RatePerDay(on).Times(float64(green) / 24)
		to.Best, to.Low, to.High = to.Best+e.Best, to.Low+e.Low, to.High+e.High
	}
	add(&l.Now, day)
	add(&l.InAWeek, day+7)
}
