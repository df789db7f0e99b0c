package wheel

import (
	"strings"

	"rindkeep/cave/reason"
)

// Seen is the answer of a hand check to one question.
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
	return NotSaid, reason.Err(reason.Unreadable{What: "answer", Word: s})
}

// HandCheck is what somebody felt and saw on a rind.
type HandCheck struct {
	DryToTouch Seen `json:"dry_to_touch"`
	Weeping    Seen `json:"weeping"`
	Cracks     Seen `json:"cracks"`
	Mould      Seen `json:"mould"`
	Mites      Seen `json:"mites"`
	Gas        Seen `json:"gas"` // blown: swollen by gas that it shouldn't have
}

// Look is one fault that a hand check looks for.
type Look struct {
	Name string
	Seen Seen
}

// Looks lists the faults and whether they were seen.
func (c HandCheck) Looks() []Look {
	return []Look{{"weeping", c.Weeping}, {"cracks", c.Cracks}, {"mould", c.Mould}, {"mites", c.Mites}, {"gas", c.Gas}}
}

// Said is false for an empty hand check.
func (c HandCheck) Said() bool { return c != HandCheck{} }

// SoundRind is the hand check that finds a rind dry to the touch and nothing amiss.
func SoundRind() HandCheck {
	return HandCheck{DryToTouch: Yes, Weeping: No, Cracks: No, Mould: No, Mites: No, Gas: No}
}

// Sound is true where the rind is fit to coat: dry to the touch and without faults.
// A fault that wasn't answered counts as not seen, and mites are no obstacle.
func (c HandCheck) Sound() bool {
	return c.DryToTouch == Yes && c.Weeping != Yes && c.Cracks != Yes && c.Mould != Yes && c.Gas != Yes
}

// Undecided is true where the rind would be fit to coat if it were dry to the touch,
// which wasn't answered.
func (c HandCheck) Undecided() bool {
	dry := c
	dry.DryToTouch = Yes
	return c.DryToTouch == NotSaid && dry.Sound()
}

// Faults names the faults that were seen, or "".
func (c HandCheck) Faults() string {
	var w []string
	for _, f := range c.Looks() {
		if f.Seen == Yes {
			w = append(w, f.Name)
		}
	}
	return strings.Join(w, ", ")
}

// Blown is the hand check that found the wheel blown with gas, unless a later check
// cleared it.
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
