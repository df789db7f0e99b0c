package drying

import (
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Coat is what closes or covers a rind.
type Coat string

// The coats known.
const (
	Wax        Coat = "wax"
	Cloth      Coat = "cloth" // cloth and lard
	Oil        Coat = "oil"
	Breathable Coat = "breathable" // breathable plastic coat, painted on
	Foil       Coat = "foil"       // ripening foil
	Film       Coat = "film"       // barrier film
)

// Coats lists every coat, tightest last.
func Coats() []Coat { return []Coat{Oil, Cloth, Breathable, Wax, Foil, Film} }

// ParseCoat reads a coat's name as Coats writes it.
func ParseCoat(s string) (Coat, error) {
	for _, c := range Coats() {
		if s == string(c) {
			return c, nil
		}
	}
	return "", reason.Err(reason.Unknown{What: "coat", Word: s, Known: "wax, cloth, oil, breathable, foil, film"})
}

// CoatOn says that a coat was put on, on a day after drying started. Later
// coats add: all that were put on stay, in series. Loss and SD are of the weight
// just after it, with the coat's mass taken off as the book has it: the loss it
// gives and its standard deviation, fractions of green weight. An SD of 0 says
// that no later weight leans on it, +Inf that it was not weighed and its mass is
// a guess. Only the first coat's count.
type CoatOn struct {
	Day  float64
	Coat Coat
	Loss quantity.Fraction
	SD   quantity.Fraction
}

// coatDefault is a coat's usual resistance to vapour, and the spread of the
// share of the bare loss that it passes. The share's prior is normal round the
// share of that resistance on this wheel, cut off at 0 and 1.
type coatDefault struct {
	resistance float64 // Pa m2 s/kg
	spread     float64 // sd of the share before it is cut off
}

// Shares passed, of the bare loss over some two months after the coat.
//
// Wax: sound wax in theory passes next to nothing, and many a waxed wheel loses
// next to nothing; thin paraffin dips passed 0.2 to 0.5. Source: trials of 1918 and 1909.
// A normal of 0.08 +- 0.3 cut off at 0 is nearly flat from nothing to 0.2 and
// has 90 % within 0.02 to 0.65, mean 0.27, near the middle of what the dips passed.
// A share and not a log: near 0 the loss cannot tell 0.01 from 0.001 and need
// not.
//
// Film: 0.03 of a bare Camembert on day 23. Source: Picque et al., J Dairy Sci 2011
// (abstract). Ripening foil: 0.1 to 0.55, computed, weak.
//
// Cloth and lard, breathable coats: 0.6 to 0.9, a guess, common practice, no source;
// the resistance gives 0.6 by day 140 on wheels of 2 to 30 kg. Oil: our guess, a
// little more than cloth. The resistances and spreads are our calibration:
// go test -run 'Published|IntervalsHold' ./wheel/drying
var coatDefaults = map[Coat]coatDefault{
	Oil:        {3.7e8, 0.17},
	Cloth:      {6e8, 0.15},
	Breathable: {6e8, 0.15},
	Wax:        {4.8e9, 0.3},
	Foil:       {4.8e9, 0.22},
	Film:       {1.7e10, 0.08},
}

func (c Coat) defaults() coatDefault {
	if d, ok := coatDefaults[c]; ok {
		return d
	}
	return coatDefaults[Wax]
}

// seals says whether a rind under the coat is closed off: it neither cracks nor turns
// slimy, but what water is left in it stays.
func (c Coat) seals() bool { return c == Breathable || c.Tight() }

// Tight says whether water under the coat hardly gets out.
func (c Coat) Tight() bool { return c == Wax || c == Foil || c == Film }

// resistance is the coat's resistance to vapour, Pa m2 s/kg. It adds in series
// to that of the air, which is some 5e7 in gentle air.
func (c Coat) resistance() float64 { return c.defaults().resistance }

// spread is the standard deviation of the share passed, before it is cut off.
func (c Coat) spread() float64 { return c.defaults().spread }
