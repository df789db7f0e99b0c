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

// coatDefault is a coat's resistance to vapour with its spread.
type coatDefault struct {
	resistance float64 // Pa m2 s/kg
	spread     float64 // sd of its log
}

// The resistances are set so that a 5 kg hard wheel coated on day 5 at 12 C and
// 85 % has lost, on day 140, the share of its bare loss that is published:
// thin paraffin dip 0.2 to 0.5 measured (1918 and 1909 trials), 0.33 taken;
// barrier film 0.03 of a bare Camembert on day 23 (Picque et al., J Dairy Sci
// 2011); ripening
// foil 0.1 to 0.55 computed, weak, 0.25 taken; cloth and lard and breathable
// coats 0.6 to 0.9, oil 0.7 to 0.95: guesses, common practice. Sound wax in
// theory passes next to nothing; what is measured is its pinholes, so the
// spread is wide and the wheel's own weights decide.
var coatDefaults = map[Coat]coatDefault{
	Oil:        {3.7e8, 0.7},
	Cloth:      {6e8, 0.6},
	Breathable: {6e8, 0.6},
	Wax:        {2.1e9, 0.7},
	Foil:       {2.9e9, 0.8},
	Film:       {8e9, 0.8},
}

func (c Coat) defaults() coatDefault {
	if d, ok := coatDefaults[c]; ok {
		return d
	}
	return coatDefaults[Wax]
}

// resistance is the coat's resistance to vapour, Pa m2 s/kg. It adds in series
// to that of the air, which is some 5e7 in gentle air.
func (c Coat) resistance() float64 { return c.defaults().resistance }

// spread is the standard deviation of the log of the resistance.
func (c Coat) spread() float64 { return c.defaults().spread }
