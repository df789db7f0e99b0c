package drying

import (
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Level is how likely it is that a rind goes wrong.
type Level int

// The levels.
const (
	LowRisk Level = iota
	SomeRisk
	HighRisk
)

// String is the level in a word.
func (l Level) String() string { return [...]string{"unlikely", "possible", "likely"}[l] }

// MarshalText writes the level in a word.
func (l Level) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// Risk is how likely it is that a rind goes wrong in one way, and why.
type Risk struct {
	Level Level
	Why   reason.Reason
}

// Worse is the higher of two risks.
func (r Risk) Worse(o Risk) Risk {
	if o.Level > r.Level {
		return o
	}
	return r
}

// A bare, clothed or oiled rind cracks in air drier than crackAir, or where it loses
// more than crackRate grams per square decimetre and day: it shrinks faster than the
// inside follows. A rind that still loses wetShare or more of what a wet surface would is
// moist and doesn't crack. In air at slimeAir or damper one that loses less than
// slimeRate stays damp and turns slimy. Between the figures of a pair it may. That dry
// air cracks and damp air makes slimy is common practice, no source; the figures are our
// choice.
const (
	crackRate, crackMaybe   = 1.2, 1.0
	crackAir, crackAirMaybe = 0.65, 0.75
	slimeRate, slimeMaybe   = 0.15, 0.2
	slimeAir                = 0.93
	wetShare                = 0.75
)

// slimeDays is over how many days the loss of a rind in wet air is looked at: our choice.
const slimeDays = 30

// Rind is the risk that the rind cracks and that it turns slimy from a day on. A cheese
// that is used to damper air than slimeAir, as a smeared one is, gets slimy only in air
// over that; usual is the highest humidity it is used to, 0 where that isn't known.
func (f Forecast) Rind(day float64, usual quantity.Fraction) (crack, slime Risk) {
	for _, k := range f.subject.Coats {
		if k.Day <= day+1e-6 && k.Coat.seals() {
			sealed := Risk{LowRisk, Sealed{k.Coat}}
			return sealed, sealed
		}
	}
	i := f.course.window(day + 1)
	air := f.course.plant.states[i]
	rate := f.RatePerDay(day + 1).Best
	crack = Risk{LowRisk, RindShrinks{RH: air.RH, Flux: f.flux(rate), May: crackMaybe, Does: crackRate}}
	if rate < wetShare*f.WetRatePerDay(day+1) {
		crack.Level = above(f.flux(rate), crackMaybe, crackRate)
	}
	dry := above(-float64(air.RH), -crackAirMaybe, -crackAir)
	crack = crack.Worse(Risk{dry, AirCracks{RH: air.RH, May: crackAirMaybe, Does: crackAir}})
	if wet := max(slimeAir, usual); air.RH+quantity.Fraction(f.theta[kDamp]) < wet {
		return crack, Risk{LowRisk, AirNotWet{RH: air.RH, Wet: wet}}
	}
	to := day + slimeDays
	if c := f.course.coatAt; c > day+1 && c < to {
		to = c
	}
	slow := f.flux((f.Loss(to).Best - f.Loss(day).Best) / (to - day))
	return crack, Risk{above(-slow, -slimeMaybe, -slimeRate), RindDries{air.RH, slow, slimeMaybe, slimeRate}}
}

// above is the level of a risk that rises with x.
func above(x, maybe, likely float64) Level {
	switch {
	case x > likely:
		return HighRisk
	case x > maybe:
		return SomeRisk
	}
	return LowRisk
}

// flux is a rate, a fraction of green weight per day, in grams per square decimetre of
// the wheel's surface and day.
func (f Forecast) flux(rate float64) float64 { return rate / f.course.plant.area * 10 }
