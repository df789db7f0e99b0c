package app

import (
	"slices"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
)

// Countries reads the ISO codes of countries in a request's field.
func Countries(field, words string) ([]string, error) {
	cs, err := holdrule.ParseCountries(words)
	if err != nil {
		return nil, Misread(field, err)
	}
	return cs, nil
}

// RawMilk is what stands beside raw milk: the rules that its make follows.
type RawMilk struct {
	Rules  []holdrule.Rule
	By     [][]string // the countries that each rule is the law of
	Silent []string   // countries followed that no rule on file speaks for
	Free   bool       // the make follows no country: the rules are what some ask, for information
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
	r := &RawMilk{Silent: set.Silent(wheel.Raw), Free: len(set.Countries)+len(set.Rules) == 0}
	if r.Free {
		v, err := s.Tx.Variety(m.Variety)
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

// HeldByLaw says whether a law keeps a wheel from leaving now. Only where a law asks
// for days does it read the air the wheel lay in.
func (s *Session) HeldByLaw(l wheel.Life) (bool, error) {
	if l.GoneOn != day.None {
		return false, nil
	}
	set, err := s.lawOf(l.Make)
	if err != nil {
		return false, err
	}
	if !slices.ContainsFunc(set.Rules, func(r holdrule.Rule) bool {
		return r.Holds() && (l.Make.Milk.Treatment == "" || r.Takes(l.Make.Milk.Treatment))
	}) {
		return false, nil
	}
	c, err := s.Tx.CaseAlone(l.Wheel.ID)
	if err != nil {
		return false, err
	}
	return len(c.LawHolds(s.Time)) > 0, nil
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
