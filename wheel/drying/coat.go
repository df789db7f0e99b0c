package drying

import "fmt"

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
	return "", fmt.Errorf("no coat %q; coats are wax, cloth, oil, breathable, foil, film", s)
}

// CoatOn says that a coat was put on, on a day after drying started. Later
// coats add: all that were put on stay, in series.
type CoatOn struct {
	Day  float64
	Coat Coat
}

// coatDefault is the loss through a coat over the loss of the bare wheel, with
// its spread.
type coatDefault struct {
	factor float64 // median of coated/bare
	spread float64 // sd of the log of the coat's resistance
}

// Source: thin paraffin dip 0.2 to 0.5 measured (1918 and 1909 trials); barrier
// film 0.03 (Picque et al., J Dairy Sci 2011, film trial); ripening foil 0.1 to
// 0.55 computed, weak; cloth and lard and breathable coats 0.6 to 0.9, oil 0.7
// to 0.95: guesses, common practice. Sound wax in theory passes next to
// nothing; what is measured is its pinholes, so the spread is wide and the
// wheel's own weights decide.
var coatDefaults = map[Coat]coatDefault{
	Wax:        {0.30, 0.8},
	Cloth:      {0.75, 0.5},
	Oil:        {0.85, 0.6},
	Breathable: {0.75, 0.5},
	Foil:       {0.25, 0.8},
	Film:       {0.03, 0.9},
}

// resistanceOver is the coat's vapour resistance as a multiple of the
// resistance that the air alone offers, so that a wet wheel under it loses
// factor times what it loses bare: 1/factor - 1.
func (c Coat) resistanceOver() float64 {
	d, ok := coatDefaults[c]
	if !ok {
		d = coatDefaults[Wax]
	}
	return 1/d.factor - 1
}

func (c Coat) spread() float64 {
	if d, ok := coatDefaults[c]; ok {
		return d.spread
	}
	return coatDefaults[Wax].spread
}
