package app

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/derive"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Lift is what somebody wants to do about safety holds: end them, cancel them, send the
// wheel despite them, or change what the book says so that they end.
type Lift struct {
	Of    string      // the wheel's tag, the lot, or the tags of several wheels
	Holds reason.List // those for safety; none: nothing is asked
	Why   string      // as it was typed
	Field string      // the request's field that Why was in
	Sure  bool        // asked again, they still want it
	Knows []string    // everybody else the wheel's history names
	Alone bool        // where one person uses the book, that person isn't asked
	Deed  string      // what is changed, where no entry keeps the reason: the book keeps it as a register.Lift
}

// NotReleaser refuses somebody whom the book doesn't name.
type NotReleaser struct {
	Who   string      `json:"who"`   // "": nobody knows
	May   string      `json:"may"`   // those who may, separated by ", "
	Holds reason.List `json:"holds"` // that would end
}

// NobodyReleases refuses where several people use the book and it names nobody.
type NobodyReleases struct {
	Who    string `json:"who"`
	Others string `json:"others"` // separated by ", "

	Holds reason.List `json:"holds"` // that would end
}

// NoRealReason refuses a reason that says nothing.
type NoRealReason struct {
	Words string      `json:"words"`
	Field string      `json:"field"` // of the request, where a reason is to be
	Holds reason.List `json:"holds"` // that would end
}

// LiftsSafety asks somebody who answers to nobody else whether they mean it.
type LiftsSafety struct {
	Of    string      `json:"of"`
	Holds reason.List `json:"holds"`
}

// LawLeftOut is the law that the book follows and a make wouldn't.
type LawLeftOut struct {
	Countries string `json:"countries"` // separated by ", "
}

// HoldsToCome is holds that a limit of a test, or a rule of a law, would end or never begin.
type HoldsToCome struct {
	What reason.Thing `json:"what"` // test or rule
	Of   string       `json:"of"`
}

// NameReleasers is a remedy: let the book say who may lift safety holds.
const NameReleasers reason.Flat = "name-releasers"

// SayWhy is a remedy: what a real reason looks like.
const SayWhy reason.Flat = "say-why-it-is-safe"

// AskReleaser is a remedy: ask somebody who may.
const AskReleaser reason.Flat = "ask-a-releaser"

// The codes.

func (LawLeftOut) Code() string     { return "law-left-out" }
func (HoldsToCome) Code() string    { return "holds-to-come" }
func (NotReleaser) Code() string    { return "may-not-lift-safety-holds" }
func (NobodyReleases) Code() string { return "nobody-may-lift-safety-holds" }
func (NoRealReason) Code() string   { return "reason-says-nothing" }
func (LiftsSafety) Code() string    { return "lifts-safety-hold" }

func init() { reason.Register(map[int]reason.Reason{800: LawLeftOut{}, 801: HoldsToCome{}}) }

// MayLift refuses what may not be done about safety holds. They need a real reason
// from somebody the book authorises. A book of one person authorises nobody else, so
// that person is asked again.
func (s *Session) MayLift(l Lift) error {
	if len(l.Holds) == 0 {
		return nil
	}
	named, err := s.Tx.Releasers()
	if err == nil {
		err = s.IsReleaser(l.Of, l.Holds)
	}
	if err != nil {
		return err
	}
	others := s.others(l.Knows)
	switch {
	case l.Alone && len(named.Names)+len(others) == 0:
		return nil
	case len(named.Names) == 0 && len(others) > 0:
		return Refuse(NobodyReleases{s.Who, strings.Join(others, ", "), l.Holds}, NameReleasers).Of(l.Of)
	case !wheel.SaysWhy(l.Why):
		r := Refuse(NoRealReason{l.Why, l.Field, l.Holds}, SayWhy).Of(l.Of)
		return r.In(l.Field)
	case len(named.Names) == 0 && !l.Sure:
		return Unsure(LiftsSafety{l.Of, l.Holds}).Of(l.Of)
	}
	return s.keepWord(l)
}

// keepWord has the book keep somebody's word where no entry does.
func (s *Session) keepWord(l Lift) error {
	if l.Deed == "" || s.Write == nil {
		return nil
	}
	return s.Write.PutLift(register.Lift{
		ID: s.NextID(), Of: l.Deed, Ended: l.Holds, Why: l.Why, Written: s.Time, By: s.Who,
	})
}

// IsReleaser refuses somebody else where the book names who may lift safety holds.
func (s *Session) IsReleaser(of string, holds reason.List) error {
	named, err := s.Tx.Releasers()
	if err != nil || len(named.Names) == 0 || named.Has(s.Who) {
		return err
	}
	return Refuse(NotReleaser{s.Who, strings.Join(named.Names, ", "), holds}, AskReleaser).Of(of)
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

// safety is one safety hold of a wheel. Holds with one key are the same hold.
type safety struct {
	tag, key string
	why      reason.Reason
	people   []string
	law      verdict.LawHold // of a hold by law
}

// asksAsMuch says whether a hold by law keeps the wheel as long as another of the same
// countries did: the rule for another variety, say.
func (h safety) asksAsMuch(was safety) bool {
	settled := func(l verdict.LawHold) bool { return l.Days > 0 && !l.MilkUnknown() }
	return settled(h.law) && settled(was.law) && slices.Equal(h.law.By, was.law.By) && h.law.Left >= was.law.Left
}

// Safety is the safety holds of a wheel that is here, set by hand or by a law, or those of
// HoldsOfLot, under their keys.
func (s *Session) Safety(id uuid.UUID) (map[string]reason.Reason, error) {
	hs, err := s.safety(id)
	out := map[string]reason.Reason{}
	for _, h := range hs {
		out[h.key] = h.why
	}
	return out, err
}

// HoldKey and LawKey are the keys of Safety.
func HoldKey(h wheel.Hold) string { return h.ID.String() }

// LawKey is HoldKey of a hold by law.
func LawKey(h verdict.LawHold) string { return lawKey + h.Rule.Name }

const lawKey = "law "

// ByLaw says whether a key is a LawKey.
func ByLaw(key string) bool { return strings.HasPrefix(key, lawKey) }

func (s *Session) safety(id uuid.UUID) (out []safety, err error) {
	l, err := s.Tx.LifeAlone(id)
	if err != nil || l.GoneOn != day.None {
		return nil, err
	}
	people := PeopleOf(l)
	others, err := s.HoldsOfLot(l)
	if err != nil {
		return nil, err
	}
	for _, h := range slices.Concat(l.Holds, others) {
		if h.Kind.Safety() {
			out = append(out, safety{tag: l.Tag, key: HoldKey(h), why: h.Reason(), people: people})
		}
	}
	law, err := s.lawHolds(l)
	for _, h := range law {
		out = append(out, safety{l.Tag, LawKey(h), h.Reason(), people, h})
	}
	return out, err
}

// MayDrop is MayLift for wheels that won't be here any more.
func (s *Session) MayDrop(l Lift, ws ...derive.WheelState) error {
	return s.MayLoosen(l, IDs(ws), func(string) bool { return true })
}

// MayLoosen is MayLift for safety holds of these wheels, those whose key is one, that end
// more easily after what somebody wants to do, though not at once.
func (s *Session) MayLoosen(l Lift, ids []uuid.UUID, one func(key string) bool) error {
	var lost []safety
	for _, id := range ids {
		hs, err := s.safety(id)
		if err != nil {
			return err
		}
		for _, h := range hs {
			if one(h.key) {
				lost = append(lost, h)
			}
		}
	}
	return s.mayLose(l, lost)
}

// KeepingLaid is Keeping for what says where the wheels lay since an instant. If that was on
// an earlier day, it also refuses to leave wheels on holds by law in a room where nobody read
// the air: readings entered later for that room would end the holds.
func (s *Session) KeepingLaid(l Lift, ids []uuid.UUID, since time.Time, do func() error) error {
	before, err := s.keeping(l, ids, do)
	if err != nil || day.At(since, s.Zone) >= s.Today {
		return err
	}
	var unread []uuid.UUID
	for _, id := range ids {
		if !slices.ContainsFunc(before[id], func(h safety) bool { return ByLaw(h.key) }) {
			continue
		}
		c, err := s.Tx.CaseAlone(id)
		if err != nil {
			return err
		}
		if c.UnreadBetween(since, s.Time) {
			unread = append(unread, id)
		}
	}
	l.Alone = true
	return s.MayLoosen(l, unread, ByLaw)
}

// Keeping does something that may take some of these wheels out of safety holds, and is
// refused like MayLift where it does. The caller's transaction is undone then.
func (s *Session) Keeping(l Lift, ids []uuid.UUID, do func() error) error {
	_, err := s.keeping(l, ids, do)
	return err
}

// keeping is Keeping, and gives the safety holds that the wheels were on.
func (s *Session) keeping(l Lift, ids []uuid.UUID, do func() error) (before map[uuid.UUID][]safety, err error) {
	before = map[uuid.UUID][]safety{}
	for _, id := range ids {
		if before[id], err = s.safety(id); err != nil {
			return nil, err
		}
	}
	if err := do(); err != nil {
		return nil, err
	}
	s.forget()
	var lost []safety
	for _, id := range ids {
		if len(before[id]) == 0 {
			continue
		}
		now, err := s.safety(id)
		if err != nil {
			return nil, err
		}
		for _, h := range before[id] {
			_, missing := h.why.(verdict.RuleMissing)
			still := func(n safety) bool { return n.key == h.key || n.asksAsMuch(h) }
			if !slices.ContainsFunc(now, still) && !(missing && newLaw(before[id], now)) { // the missing rule now holds it
				lost = append(lost, h)
			}
		}
	}
	return before, s.mayLose(l, lost)
}

// forget drops what an act may have changed.
func (s *Session) forget() { s.laws, s.held, s.bought, s.received = nil, nil, nil, nil }

// newLaw says whether a law holds a wheel now that didn't before.
func newLaw(before, now []safety) bool {
	return slices.ContainsFunc(now, func(n safety) bool {
		return ByLaw(n.key) && !slices.ContainsFunc(before, func(h safety) bool { return h.key == n.key })
	})
}

// mostNamed is how many wheels a question about safety holds names: our choice.
const mostNamed = 4

func (s *Session) mayLose(l Lift, lost []safety) error {
	var tags []string
	for _, h := range lost {
		if !slices.Contains(l.Holds, h.why) {
			l.Holds = append(l.Holds, h.why)
		}
		if !slices.Contains(tags, h.tag) {
			tags = append(tags, h.tag)
		}
		l.Knows = append(l.Knows, h.people...)
	}
	if n := len(tags); l.Of == "" && n > mostNamed {
		tags = append(tags[:mostNamed:mostNamed], "…")
	}
	if l.Of == "" {
		l.Of = strings.Join(tags, ", ")
	}
	return s.MayLift(l)
}
