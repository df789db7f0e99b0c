package app

import (
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/wheel"
)

// Lift is what somebody wants to do about the safety holds of one wheel: end them,
// cancel them, or send the wheel despite them.
type Lift struct {
	Of    string      // the wheel's tag, or the lot
	Holds reason.List // those for safety; none: nothing is asked
	Why   string      // as it was typed
	Field string      // the request's field that Why was in
	Sure  bool        // asked again, they still want it
	Knows []string    // everybody else the wheel's history names
}

// NotReleaser refuses somebody whom the book doesn't name.
type NotReleaser struct {
	Who string `json:"who"` // "": nobody knows
	May string `json:"may"` // those who may, separated by ", "
}

// NobodyReleases refuses where several people use the book and it names nobody.
type NobodyReleases struct {
	Who    string `json:"who"`
	Others string `json:"others"` // separated by ", "
}

// NoRealReason refuses a reason that says nothing.
type NoRealReason struct {
	Words string `json:"words"`
}

// LiftsSafety asks somebody who answers to nobody else whether they mean it.
type LiftsSafety struct {
	Of    string      `json:"of"`
	Holds reason.List `json:"holds"`
}

// NameReleasers is a remedy: let the book say who may lift safety holds.
const NameReleasers reason.Flat = "name-releasers"

// SayWhy is a remedy: what a real reason looks like.
const SayWhy reason.Flat = "say-why-it-is-safe"

// AskReleaser is a remedy: ask somebody who may.
const AskReleaser reason.Flat = "ask-a-releaser"

// The codes.

func (NotReleaser) Code() string    { return "may-not-lift-safety-holds" }
func (NobodyReleases) Code() string { return "nobody-may-lift-safety-holds" }
func (NoRealReason) Code() string   { return "reason-says-nothing" }
func (LiftsSafety) Code() string    { return "lifts-safety-hold" }

// MayLift refuses what may not be done about safety holds. They need a real reason
// from somebody the book authorises. A book of one person authorises nobody else, so
// that person is asked again.
func (s *Session) MayLift(l Lift) error {
	if len(l.Holds) == 0 {
		return nil
	}
	named, err := s.Tx.Releasers()
	if err != nil {
		return err
	}
	others := s.others(l.Knows)
	switch {
	case len(named.Names) > 0 && !named.Has(s.Who):
		return Refuse(NotReleaser{s.Who, strings.Join(named.Names, ", ")}, AskReleaser).Of(l.Of)
	case len(named.Names) == 0 && len(others) > 0:
		return Refuse(NobodyReleases{s.Who, strings.Join(others, ", ")}, NameReleasers).Of(l.Of)
	case !wheel.SaysWhy(l.Why):
		r := Refuse(NoRealReason{l.Why}, SayWhy).Of(l.Of)
		return r.In(l.Field)
	case len(named.Names) == 0 && !l.Sure:
		return Unsure(LiftsSafety{l.Of, l.Holds}).Of(l.Of)
	}
	return nil
}

// others are the people besides the one who acts: those named, and the book's own.
func (s *Session) others(names []string) []string {
	var out []string
	for _, n := range append(names, s.Tx.Settings().By) {
		known := func(o string) bool { return strings.EqualFold(o, n) }
		if n != "" && !known(s.Who) && !slices.ContainsFunc(out, known) {
			out = append(out, n)
		}
	}
	return out
}

// PeopleOf are those whom a wheel's history and its make name.
func PeopleOf(l wheel.Life) []string {
	out := []string{l.Make.By}
	for _, e := range l.Entries {
		out = append(out, e.By)
	}
	return out
}

// SafetyHolds are the holds set by hand that are for safety.
func SafetyHolds(hs []wheel.Hold) (out reason.List) {
	for _, h := range hs {
		if h.Kind.Safety() {
			out = append(out, h.Reason())
		}
	}
	return out
}
