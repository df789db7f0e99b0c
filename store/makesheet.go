package store

import (
	"errors"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// MakeSheet is a make with its log. A setting aside of curd for another lot has
// a half in each lot's log: where one half was struck, neither counts.
func (t *ReadTx) MakeSheet(id uuid.UUID) (wheel.MakeSheet, error) {
	m, err := t.Make(id)
	if err != nil {
		return wheel.MakeSheet{}, err
	}
	return t.makeSheet(m)
}

func (t *ReadTx) makeSheet(m wheel.Make) (wheel.MakeSheet, error) {
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
		var nf refusal.NotFound
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
			if wheel.SameTransfer(l, m.Lot, o, l.Log.ToLot) || wheel.SameTransfer(o, l.Log.FromLot, l, m.Lot) {
				return true
			}
		}
		return false
	}), nil
}

// told is a make as its log tells of it up to an instant: its milk, what it was
// made of as drying starts, and when it began.
func (t *ReadTx) told(m wheel.Make, before time.Time) (wheel.Make, error) {
	if !before.Equal(pack.MaxTime) {
		return t.asLogged(m, before, map[string]bool{})
	}
	if told, ok := t.makesTold[m.ID]; ok {
		return told, nil
	}
	told, err := t.asLogged(m, before, map[string]bool{})
	if err != nil {
		return m, err
	}
	if len(t.makesTold) > cacheLimit {
		clear(t.makesTold)
	}
	t.makesTold[m.ID] = told
	return told, nil
}

// MakeFromLog is a make as its log, and the logs of the lots whose curd went into
// it, tell of it by now.
func (t *ReadTx) MakeFromLog(id uuid.UUID) (wheel.Make, error) {
	m, err := t.Make(id)
	if err != nil {
		return m, err
	}
	return t.told(m, pack.MaxTime)
}

// tell marks what follows from a make's log as stale: an entry of it, or the
// striking of one, may say when the make began or what it was made of.
func (t *WriteTx) tell(mk uuid.UUID) error {
	clear(t.makesTold)
	clear(t.lots)
	ids, err := t.wheelIDs(mk)
	for _, id := range ids {
		t.regate(id)
	}
	return err
}

// tells says whether wheels' derived records may follow from an entry of a make.
func tells(e wheel.Entry) bool {
	if corrects(&e) || e.Kind == wheel.Sampled || e.Kind == wheel.Resulted {
		return true
	}
	if e.Kind != wheel.Logged {
		return false
	}
	m, err := wheel.ParseMakeLog(e.Detail)
	return err == nil && (m.What == wheel.LogMilk || m.What == wheel.LogComposition)
}

// asLogged is a make as its log tells of it. Its milk is raw where any of it
// was raw, also that of a lot whose curd came in: raw milk is held by law, and
// a maker may say that it was raw when the milk comes, not when the make is
// written down. What the milk was is taken whenever it was said; the composition
// and the beginning only where they were known before an instant.
func (t *ReadTx) asLogged(m wheel.Make, before time.Time, seen map[string]bool) (wheel.Make, error) {
	s, err := t.makeSheet(m)
	if err != nil {
		return m, err
	}
	if m.Lab = wheel.LabOf(s.TestsBefore(before)); len(s.Lines) == 0 {
		return m, nil
	}
	m.Milk = s.Milk()
	known := s.Keep(func(l wheel.MakeLine) bool { return before.Equal(pack.MaxTime) || l.Entry.At.Before(before) })
	m.Start, m.Began = known.Start(), known.Began()
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
		if o, err = t.asLogged(o, before, seen); err != nil {
			return m, err
		}
		said[o.Milk.Treatment] = true
		m.Lab = wheel.LabOf(slices.Concat(m.Tests(), o.Tests()))
		if m.Milk.Species == "" {
			m.Milk.Species = o.Milk.Species
		}
	}
	m.Milk.Treatment = wheel.Mildest(said)
	return m, nil
}

// MilkOf is the milk a make came from, as its log and the logs of the lots
// whose curd went into it tell.
func (t *ReadTx) MilkOf(id uuid.UUID) (wheel.Milk, error) {
	m, err := t.MakeFromLog(id)
	return m.Milk, err
}
