package app

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/verdict"
)

// Countries reads the ISO codes of countries in a request's field.
func Countries(field, words string) ([]string, error) {
	cs, err := holdrule.ParseCountries(words)
	if err != nil {
		return nil, Misread(field, err)
	}
	return cs, nil
}

// LeavesLaw doubts a make that the law of the book wouldn't hold, as it names other countries.
type LeavesLaw struct {
	Lot   string `json:"lot"`
	Names string `json:"names"` // separated by ", "
	Left  string `json:"left"`
}

// Code implements reason.Reason.
func (LeavesLaw) Code() string { return "make-leaves-law" }

// MayLeaveLaw refuses a make that names countries without one that the book follows and
// whose rules would hold it, unless it was so before: nil for a new one. Who may lift safety
// holds can record it; where one person uses the book, that person is asked. The book keeps
// who did it.
func (s *Session) MayLeaveLaw(now wheel.Make, was *wheel.Make, why string, sure bool) error {
	left, err := s.leavesLaw(now)
	if err != nil || len(left) == 0 {
		return err
	}
	if was != nil {
		if before, err := s.leavesLaw(*was); err != nil || slices.Equal(before, left) {
			return err
		}
	}
	l := Lift{
		Of: now.Lot, Holds: reason.List{LawLeftOut{strings.Join(left, ", ")}}, Why: why, Field: "why", Alone: true,
		Deed: "lot " + now.Lot,
	}
	named, err := s.Tx.Releasers()
	switch {
	case err != nil:
		return err
	case len(named.Names) > 0:
		err = s.IsReleaser(l.Of, l.Holds)
	case len(s.others(nil)) > 0:
		err = s.MayLift(l)
	case !sure:
		names := strings.Join(strings.Fields(now.Countries), ", ")
		err = Unsure(LeavesLaw{now.Lot, names, strings.Join(left, ", ")}).Of(now.Lot)
	}
	if err != nil {
		return err
	}
	return s.keepWord(l)
}

// leavesLaw is the countries that the book follows, that a make leaves out, and whose rules
// would bind it.
func (s *Session) leavesLaw(m wheel.Make) (left []string, err error) {
	countries := strings.Fields(m.Countries)
	if len(countries) == 0 {
		return nil, nil
	}
	m.Countries = ""
	set, err := s.Tx.MakeLaw(m)
	for i, r := range set.Rules {
		for _, c := range set.By[i] {
			if r.Binds(m.Milk.Treatment) && !slices.Contains(countries, c) && !slices.Contains(left, c) {
				left = append(left, c)
			}
		}
	}
	return left, err
}

// LeftOut is the law that the book follows and these countries' isn't.
func (s *Session) LeftOut(countries []string) (reason.List, error) {
	book, err := s.Tx.Countries(s.Time.Add(time.Millisecond))
	left := slices.DeleteFunc(book, func(c string) bool { return slices.Contains(countries, c) })
	if err != nil || len(left) == 0 {
		return nil, err
	}
	return reason.List{LawLeftOut{strings.Join(left, ", ")}}, nil
}

// RawMilk is what stands beside raw milk: the rules that its make follows.
type RawMilk struct {
	Rules []holdrule.Rule
	By    [][]string // the countries that each rule is the law of
	Free  bool       // the make follows no country: the rules are what some ask, for information
}

// RawMilk is nil where the milk isn't raw.
func (s *Session) RawMilk(m wheel.Make, milk wheel.Treatment) (*RawMilk, error) {
	if milk != wheel.Raw {
		return nil, nil
	}
	set, err := s.Tx.MakeLaw(m)
	if err != nil {
		return nil, err
	}
	r := &RawMilk{Free: len(set.Countries)+len(set.Rules) == 0}
	if r.Free {
		v, err := s.Tx.VarietyOf(m)
		if err != nil {
			return nil, err
		}
		all, err := s.Tx.Laws()
		if err != nil {
			return nil, err
		}
		set = holdrule.Everywhere(all, v, m.SoldAs)
	}
	for i, rule := range set.Rules {
		if rule.Takes(wheel.Raw) {
			r.Rules, r.By = append(r.Rules, rule), append(r.By, set.By[i])
		}
	}
	return r, nil
}

// lay is what wheels share that a law treats alike: their make, and where they lay and when.
type lay struct {
	mk    uuid.UUID
	where uint64
}

// HeldByLaw says whether a law keeps a wheel from leaving now. Only where a law asks for
// days that the make's date alone doesn't decide is the air read that the wheel lay in,
// once for all that lay alike.
func (s *Session) HeldByLaw(m wheel.Make, st derive.WheelState) (bool, error) {
	if !st.Here() {
		return false, nil
	}
	set, err := s.lawOf(m)
	if err != nil {
		return false, err
	}
	asks := false
	for _, r := range set.Rules {
		if r.Binds(m.Milk.Treatment) {
			if r.From != "drying" && s.Today-m.Date < day.Date(r.DaysFrom(m.Date))-1 {
				return true, nil // whatever the hour, and summer time
			}
			asks = true
		}
	}
	key := lay{m.ID, st.Brief.Lay}
	held, known := s.held[key]
	if !asks || known {
		return held, nil
	}
	c, err := s.Tx.CaseAlone(st.Wheel)
	if err != nil {
		return false, err
	}
	if s.held == nil {
		s.held = map[lay]bool{}
	}
	s.held[key] = len(c.LawHolds(s.Time)) > 0
	return s.held[key], nil
}

// lawHolds is the holds that laws put on a wheel now.
func (s *Session) lawHolds(l wheel.Life) ([]verdict.LawHold, error) {
	if l.GoneOn != day.None {
		return nil, nil
	}
	set, err := s.lawOf(l.Make)
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(set.Rules, func(r holdrule.Rule) bool { return r.Binds(l.Make.Milk.Treatment) }) {
		return nil, nil
	}
	c, err := s.Tx.CaseAlone(l.Wheel.ID)
	return c.LawHolds(s.Time), err
}

// lawOf is the law that a make follows, found once.
func (s *Session) lawOf(m wheel.Make) (holdrule.Set, error) {
	set, ok := s.laws[m.ID]
	if ok {
		return set, nil
	}
	set, err := s.Tx.MakeLaw(m)
	if s.laws == nil {
		s.laws = map[uuid.UUID]holdrule.Set{}
	}
	s.laws[m.ID] = set
	return set, err
}
