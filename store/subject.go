package store

import (
	"errors"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// subject is what entries are about, a wheel or a make, with its own entries as
// the transaction knows them now.
type subject struct {
	make    wheel.Make
	made    time.Time // the beginning of the day of the make
	came    time.Time // when it came from a supplier; zero of one made here
	isWheel bool
	entries []wheel.Entry      // as wheel.Sort has them
	fresh   []wheel.Entry      // put since, in time order
	struck  map[uuid.UUID]bool // entries that were withdrawn
	gone    []wheel.Entry      // by which it left, and that count
	ids     map[uuid.UUID]bool // of all entries; nil until asked for
}

// subject gives what an entry is about. The error may be a NotFound.
func (t *ReadTx) subject(id uuid.UUID) (*subject, error) {
	if s := t.subjects[id]; s != nil {
		return s, nil
	}
	mk, isWheel, err := t.about(id)
	if err != nil {
		return nil, err
	}
	s := &subject{make: mk, made: mk.Date.Start(t.book.zone), isWheel: isWheel}
	if s.entries, err = t.history(id); err != nil {
		return nil, err
	}
	s.settle()
	t.subjects[id] = s
	return s, nil
}

// about finds the make an entry is about, itself or through its wheel.
func (t *ReadTx) about(id uuid.UUID) (mk wheel.Make, isWheel bool, err error) {
	w, err := t.Wheel(id)
	var nf NotFound
	switch {
	case err == nil:
		mk, err = t.Make(w.Make)
		return mk, true, err
	case !errors.As(err, &nf):
		return mk, false, err
	}
	mk, merr := t.Make(id)
	if errors.As(merr, &nf) {
		return mk, false, err // most entries are about wheels
	}
	return mk, false, merr
}

// settle works out which entries count.
func (s *subject) settle() {
	s.struck, s.gone, s.came = struck(s.history()), nil, time.Time{}
	for _, e := range s.entries {
		if e.Kind == wheel.Received && !s.struck[e.ID] && s.came.IsZero() {
			s.came = e.At
		}
		if leaves(e.Kind) && !s.struck[e.ID] {
			s.gone = append(s.gone, e)
		}
	}
}

// history gives all entries, as wheel.Sort has them.
func (s *subject) history() []wheel.Entry {
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

// add takes an entry.
func (s *subject) add(e *wheel.Entry) {
	if n := len(s.fresh); n > 0 && e.At.Before(s.fresh[n-1].At) {
		s.history()
	}
	s.fresh = append(s.fresh, *e)
	if s.ids != nil {
		s.ids[e.ID] = true
	}
	if e.Kind == wheel.Struck || e.Kind == wheel.Received || leaves(e.Kind) {
		s.settle()
	}
}

// grow makes room for n entries.
func (s *subject) grow(n int) { s.fresh = slices.Grow(s.fresh, n) }

// has says whether an entry of that identity is among them.
func (s *subject) has(id uuid.UUID) bool {
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

// repeats says whether an entry says what another says that counts.
func (s *subject) repeats(e *wheel.Entry) bool {
	if e.Kind == wheel.Struck {
		return false
	}
	for _, es := range [][]wheel.Entry{s.entries, s.fresh} {
		i, _ := slices.BinarySearchFunc(es, e.At, func(o wheel.Entry, at time.Time) int { return o.At.Compare(at) })
		for ; i < len(es) && es[i].At.Equal(e.At); i++ {
			if !s.struck[es[i].ID] && es[i].Same(*e) {
				return true
			}
		}
	}
	return false
}

// weighedSince says whether a weight from after an instant is among them.
func (s *subject) weighedSince(at time.Time) bool {
	return slices.ContainsFunc(s.history(), func(e wheel.Entry) bool { return e.Kind == wheel.Weighed && e.At.After(at) })
}

// check looks at an entry beside the others.
func (s *subject) check(e *wheel.Entry, zone *time.Location) error {
	switch e.Kind {
	case wheel.Struck:
		return s.checkStrike(e)
	case wheel.Did, wheel.Skipped:
		if err := s.checkRound(e); err != nil {
			return err
		}
	case wheel.Noted, wheel.Released:
		return nil
	}
	for _, o := range s.gone {
		if leaves(e.Kind) || !s.isWheel || !e.At.Before(o.At) {
			return reason.Err(refusal.Gone{How: o.Kind, On: day.At(o.At, zone)})
		}
	}
	return nil
}

// checkRound sees that an entry of a round recorded before names one that counts.
func (s *subject) checkRound(e *wheel.Entry) error {
	if !e.SameRound() {
		return nil
	}
	for _, o := range s.history() {
		if o.ID == e.Target && o.Kind == e.Kind && o.Job == e.Job && !s.struck[o.ID] {
			return nil
		}
	}
	return reason.Err(refusal.NoSuchRound)
}

func (s *subject) checkStrike(e *wheel.Entry) error {
	es := s.history()
	i := slices.IndexFunc(es, func(o wheel.Entry) bool { return o.ID == e.Target })
	switch {
	case i < 0:
		return reason.Err(refusal.NoSuchEntry)
	case s.struck[e.Target]:
		return reason.Err(refusal.StruckAlready{What: es[i].Word()})
	case es[i].Kind == wheel.Struck && !e.Written.After(es[i].Written):
		return reason.Err(refusal.StruckTooEarly)
	case s.isWheel && s.make.Removed && es[i].Kind == wheel.Voided:
		return reason.Err(refusal.LotRemoved{Lot: s.make.Lot})
	}
	return nil
}

// struck lists the entries that were withdrawn, as wheel.Live has it.
func struck(es []wheel.Entry) map[uuid.UUID]bool {
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
