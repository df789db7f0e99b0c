// Package verdict brings a wheel's life, its variety, its rooms' air and the
// drying model together and answers "dry enough to coat?" with figures,
// reasons and the date expected. Ratios are fractions, days are calendar
// dates or days of 24 h since drying began, as the field says. It reads no
// clock and no file.
package verdict

import (
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Gate holds the figures a wheel must meet before it is coated. They come from
// the rind plan; where the plan is silent they are our defaults, common
// practice without a source, and the maker's to change.
type Gate struct {
	MinDays     int               // days since drying began
	MinLoss     quantity.Fraction // loss since green weight
	MaxLoss     quantity.Fraction // over it cracks are common: too dry
	MaxSurface  quantity.Fraction // present flux as a share of the wheel's own wet-surface flux
	MaxMoisture quantity.Fraction // 0: the variety's own target, if it has one
	CheckDays   int               // a hand check older than this is stale
	WeighDays   int               // a weight older than this is too old to coat by; 0: never
	UntilDay    int               // age by which the plan wants it coated; 0 or less: it does not say
}

// DefaultGate is the gate of a plan that sets no figures. Days out of the hoop:
// 4 to 6 (Thom and Fisk 1918), 3 to 7 (Van Slyke and Publow). The other
// figures are our defaults, common practice, no source.
func DefaultGate() Gate {
	return Gate{MinDays: 3, MinLoss: 0.025, MaxLoss: 0.12, MaxSurface: 0.75, CheckDays: 2, WeighDays: 14}
}

// Windows are the dates on which the gate lets a wheel be coated, or asks for
// something first; None where it does not. They follow from entries alone and
// not from today, so that they can be kept in an index.
type Windows struct {
	CoatFrom  day.Date // dry enough from
	CoatUntil day.Date // the hand check goes stale after
	CheckFrom day.Date // figures met, a hand check is wanted
	WeighFrom day.Date // weigh: the figures should be met, or the last weight is doubtful or too old
	CoatWhy   reason.List
	CheckWhy  reason.List
	WeighWhy  reason.List
}

// Shut is the windows of a gate that asks for nothing.
func Shut() Windows {
	return Windows{CoatFrom: day.None, CoatUntil: day.None, CheckFrom: day.None, WeighFrom: day.None}
}
