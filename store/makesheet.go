package store

import (
	"errors"

	"github.com/google/uuid"

	"rindkeep/wheel"
)

// MakeSheet is a make with its log. A setting aside of curd for another lot has
// a half in each lot's log: where one half was struck, neither counts.
func (t *Tx) MakeSheet(id uuid.UUID) (wheel.MakeSheet, error) {
	m, err := t.Make(id)
	if err != nil {
		return wheel.MakeSheet{}, err
	}
	return t.makeSheet(m)
}

func (t *Tx) makeSheet(m wheel.Make) (wheel.MakeSheet, error) {
	es, err := t.history(m.ID)
	if err != nil {
		return wheel.MakeSheet{}, err
	}
	s := wheel.NewMakeSheet(m, es)
	others := map[string]wheel.MakeSheet{}
	for _, l := range s.Lines {
		lot := l.Log.ToLot + l.Log.FromLot
		if lot == "" {
			continue
		}
		if _, ok := others[lot]; ok {
			continue
		}
		var nf NotFound
		o, err := t.MakeByLot(lot)
		if errors.As(err, &nf) {
			others[lot] = wheel.MakeSheet{}
			continue
		}
		if err != nil {
			return s, err
		}
		es, err := t.history(o.ID)
		if err != nil {
			return s, err
		}
		others[lot] = wheel.NewMakeSheet(o, es)
	}
	return s.Keep(func(l wheel.MakeLine) bool {
		if l.Log.ToLot+l.Log.FromLot == "" {
			return true
		}
		for _, o := range others[l.Log.ToLot+l.Log.FromLot].Lines {
			if wheel.Halves(l, m.Lot, o, l.Log.ToLot) || wheel.Halves(o, l.Log.FromLot, l, m.Lot) {
				return true
			}
		}
		return false
	}), nil
}

// asLogged is a make with its milk as its log tells of it: raw where any of it
// was raw, also that of a lot whose curd came in. Raw milk is held by law, and
// a maker may say that it was raw when the milk comes, not when the make is
// written down.
func (t *Tx) asLogged(m wheel.Make, seen map[string]bool) (wheel.Make, error) {
	s, err := t.makeSheet(m)
	if err != nil || len(s.Lines) == 0 {
		return m, err
	}
	m.Milk = s.Milk()
	seen[m.Lot] = true
	said := map[wheel.Treatment]bool{}
	if m.Milk.Litres > 0 || m.Milk.Treatment != "" {
		said[m.Milk.Treatment] = true
	}
	for _, l := range s.Lines {
		if l.Log.What != wheel.LogFrom || seen[l.Log.FromLot] {
			continue
		}
		o, err := t.MakeByLot(l.Log.FromLot)
		if err != nil {
			return m, err
		}
		if o, err = t.asLogged(o, seen); err != nil {
			return m, err
		}
		said[o.Milk.Treatment] = true
		if m.Milk.Species == "" {
			m.Milk.Species = o.Milk.Species
		}
	}
	m.Milk.Treatment = wheel.Gentlest(said)
	return m, nil
}

// MilkOf is the milk a make came from, as its log and the logs of the lots
// whose curd went into it tell.
func (t *Tx) MilkOf(id uuid.UUID) (wheel.Milk, error) {
	m, err := t.Make(id)
	if err != nil {
		return wheel.Milk{}, err
	}
	m, err = t.asLogged(m, map[string]bool{})
	return m.Milk, err
}
