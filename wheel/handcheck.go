package wheel

import (
	"fmt"
	"strings"
)

// Seen is what a hand check says of one thing: not looked at, no, or yes.
type Seen uint8

// The answers of a hand check.
const (
	NotSaid Seen = 0
	No      Seen = 1
	Yes     Seen = 2
)

// String is yes, no or "".
func (s Seen) String() string { return [...]string{"", "no", "yes"}[min(s, 2)] }

// ParseSeen reads yes or no; "some" and "few" count as yes, "none" as no.
func ParseSeen(s string) (Seen, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "yes", "y", "true", "some", "few", "many":
		return Yes, nil
	case "no", "n", "false", "none":
		return No, nil
	}
	return NotSaid, fmt.Errorf("%q is no answer; give yes or no", s)
}

// HandCheck is what a hand and an eye found on a rind.
type HandCheck struct {
	DryToTouch Seen `json:"dry_to_touch"`
	Weeping    Seen `json:"weeping"`
	Cracks     Seen `json:"cracks"`
	Mould      Seen `json:"mould"`
	Mites      Seen `json:"mites"`
	Gas        Seen `json:"gas"` // blown: swollen or bloated by gas it should not have
}

// Look is one thing of a hand check that should not be there, by its name, and
// what was seen of it.
type Look struct {
	Name string
	Seen Seen
}

// Looks lists what should not be there.
func (c HandCheck) Looks() []Look {
	return []Look{{"weeping", c.Weeping}, {"cracks", c.Cracks}, {"mould", c.Mould}, {"mites", c.Mites}, {"gas", c.Gas}}
}

// Said says whether anything was answered.
func (c HandCheck) Said() bool { return c != HandCheck{} }

// Sound says whether the rind is fit to coat: dry to the touch, and none of
// the faults seen. A fault nobody spoke of counts as not seen.
func (c HandCheck) Sound() bool {
	return c.DryToTouch == Yes && c.Weeping != Yes && c.Cracks != Yes && c.Mould != Yes && c.Gas != Yes
}

// Undecided says whether the rind may be fit to coat, but nobody said that it is
// dry to the touch.
func (c HandCheck) Undecided() bool {
	dry := c
	dry.DryToTouch = Yes
	return c.DryToTouch == NotSaid && dry.Sound()
}

// Faults names what was seen that should not be there, or "".
func (c HandCheck) Faults() string {
	var w []string
	for _, f := range c.Looks() {
		if f.Seen == Yes {
			w = append(w, f.Name)
		}
	}
	return strings.Join(w, ", ")
}

// Blown is the hand check that found the wheel blown with gas, unless a later
// one said that it has none: a fault stays until a later check clears it.
func (l Life) Blown() (Entry, bool) {
	for i := len(l.Checks) - 1; i >= 0; i-- {
		switch e := l.Checks[i]; e.Found.Gas {
		case Yes:
			return e, true
		case No:
			return Entry{}, false
		}
	}
	return Entry{}, false
}
