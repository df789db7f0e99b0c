// Package history is what was entered about one wheel or one make, put just now or before:
// which of it was withdrawn, and whether one more entry fits.
package history

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// leaves says whether a wheel is gone after an entry of that kind.
func leaves(k wheel.Kind) bool { return k == wheel.Sent || k == wheel.Lost || k == wheel.Voided }

// Subject is what entries are about, a wheel or a make, with its own entries as
// a transaction knows them now.
type Subject struct {
	Make    wheel.Make // itself, or the wheel's
	IsWheel bool
	Struck  map[uuid.UUID]bool // entries that were withdrawn
	zone    *time.Location     // of the book
	made    time.Time          // the beginning of the day of the make
	came    time.Time          // when it came from a supplier; zero of one made here
	entries []wheel.Entry      // as wheel.Sort has them
	fresh   []wheel.Entry      // put since, in time order
	gone    []wheel.Entry      // by which it left, and that count
	ids     map[uuid.UUID]bool // of all entries; nil until asked for
}

// Of is a subject with its entries, as wheel.Sort has them.
func Of(mk wheel.Make, isWheel bool, zone *time.Location, entries []wheel.Entry) *Subject {
	s := &Subject{IsWheel: isWheel, zone: zone, entries: entries}
	s.Correct(mk)
	s.settle()
	return s
}

// Correct puts a corrected make in the place of the subject's.
func (s *Subject) Correct(mk wheel.Make) { s.Make, s.made = mk, mk.Date.Start(s.zone) }

// settle works out which entries count.
func (s *Subject) settle() {
	s.Struck, s.gone, s.came = Struck(s.History()), nil, time.Time{}
	for _, e := range s.entries {
		if e.Kind == wheel.Received && !s.Struck[e.ID] && s.came.IsZero() {
			s.came = e.At
		}
		if leaves(e.Kind) && !s.Struck[e.ID] {
			s.gone = append(s.gone, e)
		}
	}
}

// History gives all entries, as wheel.Sort has them.
func (s *Subject) History() []wheel.Entry {
	switch {
	case len(s.fresh) == 0:
		return s.entries
	case len(s.entries) == 0:
		s.entries, s.fresh = s.fresh, nil
	default: // what was given out before stays as it is
		s.entries, s.fresh = slices.Concat(s.entries, s.fresh), s.fresh[:0]
	}
	wheel.Sort(s.entries)
	return s.entries
}

// Add takes an entry.
func (s *Subject) Add(e *wheel.Entry) {
	if n := len(s.fresh); n > 0 && e.At.Before(s.fresh[n-1].At) {
		s.History()
	}
	s.fresh = append(s.fresh, *e)
	if s.ids != nil {
		s.ids[e.ID] = true
	}
	if e.Kind == wheel.Struck || e.Kind == wheel.Received || leaves(e.Kind) {
		s.settle()
	}
}

// Grow makes room for n entries.
func (s *Subject) Grow(n int) { s.fresh = slices.Grow(s.fresh, n) }

// Has says whether an entry of that identity is among them.
func (s *Subject) Has(id uuid.UUID) bool {
	if s.ids == nil {
		s.ids = make(map[uuid.UUID]bool, len(s.entries)+len(s.fresh))
		for _, es := range [][]wheel.Entry{s.entries, s.fresh} {
			for i := range es {
				s.ids[es[i].ID] = true
			}
		}
	}
	return s.ids[id]
}

// Repeats says whether an entry says what another says that counts.
func (s *Subject) Repeats(e *wheel.Entry) bool {
	if e.Kind == wheel.Struck {
		return false
	}
	for _, es := range [][]wheel.Entry{s.entries, s.fresh} {
		i, _ := slices.BinarySearchFunc(es, e.At, func(o wheel.Entry, at time.Time) int { return o.At.Compare(at) })
		for ; i < len(es) && es[i].At.Equal(e.At); i++ {
			if !s.Struck[es[i].ID] && es[i].Same(*e) {
				return true
			}
		}
	}
	return false
}

// WeighedSince says whether a weight of an instant or from after it is among them, one beside a
// core, a cut or a coat too.
func (s *Subject) WeighedSince(at time.Time) bool {
	return slices.ContainsFunc(s.History(), func(e wheel.Entry) bool {
		return (e.Kind == wheel.Weighed || e.Kind.Reweighs()) && !e.At.Before(at)
	})
}

// Check looks at an entry beside the others.
func (s *Subject) Check(e *wheel.Entry) error {
	switch e.Kind {
	case wheel.Struck:
		return s.checkStrike(e)
	case wheel.Did, wheel.Skipped:
		if err := s.checkRound(e); err != nil {
			return err
		}
	case wheel.Noted:
		return nil
	case wheel.Released:
		return s.checkCame(e)
	}
	for _, o := range s.gone {
		if leaves(e.Kind) || !s.IsWheel || !e.At.Before(o.At) {
			return reason.Err(refusal.Gone{How: o.Kind, On: day.At(o.At, s.zone)})
		}
	}
	return s.checkCame(e)
}

// checkRound sees that an entry of a round recorded before names one that counts.
func (s *Subject) checkRound(e *wheel.Entry) error {
	if !e.SameRound() {
		return nil
	}
	for _, o := range s.History() {
		if o.ID == e.Target && o.Kind == e.Kind && o.Job == e.Job && !s.Struck[o.ID] {
			return nil
		}
	}
	return reason.Err(refusal.NoSuchRound)
}

func (s *Subject) checkStrike(e *wheel.Entry) error {
	es := s.History()
	i := slices.IndexFunc(es, func(o wheel.Entry) bool { return o.ID == e.Target })
	switch {
	case i < 0:
		return reason.Err(refusal.NoSuchEntry)
	case s.Struck[e.Target]:
		return reason.Err(refusal.StruckAlready{What: es[i].Word()})
	case es[i].Kind == wheel.Struck && !e.Written.After(es[i].Written):
		return reason.Err(refusal.StruckTooEarly)
	case s.IsWheel && s.Make.Removed && es[i].Kind == wheel.Voided:
		return reason.Err(refusal.LotRemoved{Lot: s.Make.Lot})
	}
	return nil
}

// Struck lists the entries that were withdrawn, as wheel.Live has it.
func Struck(es []wheel.Entry) map[uuid.UUID]bool {
	var any bool
	for _, e := range es {
		any = any || e.Kind == wheel.Struck
	}
	if !any {
		return nil
	}
	out := map[uuid.UUID]bool{}
	live := map[uuid.UUID]bool{}
	for _, e := range wheel.Live(es) {
		live[e.ID] = true
	}
	byWritten := slices.Clone(es)
	slices.SortFunc(byWritten, func(a, b wheel.Entry) int {
		if c := b.Written.Compare(a.Written); c != 0 {
			return c
		}
		return slices.Compare(b.ID[:], a.ID[:])
	})
	for _, e := range byWritten {
		switch {
		case e.Kind == wheel.Struck && !out[e.ID]:
			out[e.Target] = true
		case e.Kind != wheel.Struck && !live[e.ID]:
			out[e.ID] = true
		}
	}
	return out
}

// TooEarly says whether an entry is from before the day of the make.
func (s *Subject) TooEarly(e *wheel.Entry) bool { return e.At.Before(s.made) }

// CheckTime refuses an entry from before the make, and one from after the latest instant
// that may be now.
func (s *Subject) CheckTime(e *wheel.Entry, late time.Time) error {
	if s.TooEarly(e) {
		return reason.Err(refusal.BeforeMake{On: day.At(e.At, s.zone), Made: s.Make.Date})
	}
	if e.At.After(late) || e.Written.After(late) {
		at := e.At
		if e.Written.After(at) {
			at = e.Written
		}
		return reason.Err(refusal.FutureTime{At: at.In(s.zone)})
	}
	return nil
}

// checkCame refuses what would have been done here before the wheel came from its
// supplier. What it's said to have had done before is put with its arrival.
func (s *Subject) checkCame(e *wheel.Entry) error {
	if s.came.IsZero() {
		return nil
	}
	if on, came := day.At(e.At, s.zone), day.At(s.came, s.zone); on < came {
		return reason.Err(refusal.BeforeArrival{On: on, Came: came})
	}
	return nil
}
