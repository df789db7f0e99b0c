package wheel

import (
	"slices"
	"strings"
	"unicode"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
)

// HoldKind says what a hold is about, and so who may end it. "" is a hold of which
// nobody said it.
type HoldKind string

// The kinds of hold.
const (
	TestHold          HoldKind = "test"          // a result is awaited, or wasn't good
	RecallHold        HoldKind = "recall"        // called back, here or by a supplier
	ContaminationHold HoldKind = "contamination" // something is in it that mustn't be, or may be
	ReservedHold      HoldKind = "reserved"      // for a customer or a purpose
	QualityHold       HoldKind = "quality"       // to look at again: taste, looks
)

// HoldKinds lists them, those for safety first.
var HoldKinds = []HoldKind{TestHold, RecallHold, ContaminationHold, ReservedHold, QualityHold}

// ParseHoldKind reads a kind; "" is one.
func ParseHoldKind(word string) (HoldKind, error) {
	k := HoldKind(strings.ToLower(strings.TrimSpace(word)))
	if k == "" || slices.Contains(HoldKinds, k) {
		return k, nil
	}
	return "", reason.Err(reason.Unknown{
		What: "kind-of-hold", Word: word, Known: "test, recall, contamination, reserved, quality",
	})
}

// Safety is true where lifting the hold could hurt somebody. A hold without a kind
// is one: nobody said that it's harmless, and older books hold "test pending" so.
func (k HoldKind) Safety() bool { return k != ReservedHold && k != QualityHold }

// Hold is a reason why a wheel may not leave, since a day.
type Hold struct {
	ID   uuid.UUID // of the entry that set it
	On   day.Date
	Why  string
	By   string
	Kind HoldKind

	Sample string // its number, of a hold that a laboratory's test puts on the lot; "": set by hand
	Found  string // by the laboratory; "": the result is awaited
}

// Reason is the hold as a reason.
func (h Hold) Reason() reason.Reason {
	return HeldSince{Words: h.Why, Since: h.On, Kind: h.Kind, By: h.By}
}

// HeldSince is a person's hold on a wheel.
type HeldSince struct {
	Words string   `json:"words"`
	Since day.Date `json:"since"`
	Kind  HoldKind `json:"kind"` // "" where nobody said, and in entries from before there were kinds
	By    string   `json:"by"`
}

// Code is held.
func (HeldSince) Code() string { return "held" }

// Holding is the Detail of a Held entry.
type Holding struct {
	Kind HoldKind `json:"kind,omitempty"`
}

// Detail is the holding as an entry's Detail holds it, "" if it says nothing.
func (h Holding) Detail() string {
	if h.Kind == "" {
		return ""
	}
	return encodeDetail(h)
}

// Release is the Detail of a Released entry: which holds it ends. Older entries have
// none and end every hold that was set by hand.
type Release struct {
	Holds []uuid.UUID `json:"holds"` // entries that set them
	Ended reason.List `json:"ended"` // the same, for people
}

// ReleaseOf is the release from holds.
func ReleaseOf(hs []Hold) (r Release) {
	for _, h := range hs {
		r.Holds, r.Ended = append(r.Holds, h.ID), append(r.Ended, h.Reason())
	}
	return r
}

// Detail is the release as an entry's Detail holds it.
func (r Release) Detail() string { return encodeDetail(r) }

// Release is what a Released entry ends; ok is false for an older one, which ends all.
func (e Entry) Release() (r Release, ok bool) {
	ok = e.Kind == Released && e.Detail != "" && decodeDetail(e.Detail, &r, "release") == nil
	return r, ok
}

// Holding is what a Held entry says of its hold.
func (e Entry) Holding() (h Holding) {
	if e.Kind == Held && e.Detail != "" && decodeDetail(e.Detail, &h, "hold") != nil {
		return Holding{}
	}
	return h
}

func checkHolding(detail string) error {
	var h Holding
	if err := decodeDetail(detail, &h, "hold"); err != nil {
		return err
	}
	_, err := ParseHoldKind(string(h.Kind))
	return err
}

// endHolds takes the holds that a Released entry ends off a list.
func (e Entry) endHolds(hs []Hold) []Hold {
	r, ok := e.Release()
	if !ok {
		return nil
	}
	return slices.DeleteFunc(hs, func(h Hold) bool { return slices.Contains(r.Holds, h.ID) })
}

// What a reason for lifting a safety hold must have at least: enough to say what
// was found or decided. The bounds are our own.
const (
	leastLetters  = 10
	leastDistinct = 5
	leastWords    = 2
)

// SaysWhy is true where words can be a reason for lifting a safety hold: not "x",
// "ok" or "-". It can't judge whether they are a good one.
func SaysWhy(words string) bool {
	letters, distinct := 0, map[rune]bool{}
	for _, r := range words {
		if unicode.IsLetter(r) {
			letters++
			distinct[unicode.ToLower(r)] = true
		}
	}
	said := map[string]bool{}
	for _, w := range strings.FieldsFunc(words, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) }) {
		said[strings.ToLower(w)] = true
		for _, r := range w {
			if unicode.In(r, unicode.Han, unicode.Hiragana, unicode.Katakana, unicode.Thai) { // written without spaces
				said[string(r)] = true
			}
		}
	}
	return letters >= leastLetters && len(distinct) >= leastDistinct && len(said) >= leastWords
}
