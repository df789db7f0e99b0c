package verdict

import (
	"slices"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// GreenLeft is the green weight of what is left of the wheel: its green weight, less
// the share of it that cores, cuts and pieces took since. It is the forecast's for a
// wheel never weighed. What the wheel weighs on a day is GreenLeft times one less its
// loss then.
func (c Case) GreenLeft(f drying.Forecast) quantity.Grams {
	taken := func(e wheel.Entry) bool { return e.Kind.Reweighs() && e.Kind != wheel.CoatedOn }
	if now, day := c.Life.Chain.Present(); now > 0 && slices.ContainsFunc(c.Life.Entries, taken) {
		return now / quantity.Grams(1-f.Loss(day).Best)
	}
	return f.Start().Green
}
