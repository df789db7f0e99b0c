package store

import (
	"slices"

	"github.com/google/uuid"

	"rindkeep/store/derive"
	"rindkeep/store/pack"
)

// sisters are the wheels of a lot, by their order in it. Only those that changed, that the
// others are judged by, or that must be judged are read: a lot may be large.
type sisters struct {
	t       *ReadTx
	j       *derive.Update
	ids     []uuid.UUID
	files   []*derive.Wheel // nil: not read
	changed []*derive.Outcome
	waiting []*derive.WheelState // those among the others that wait at a dry gate
	was, is []int                // how often each was weighed, before and now
}

// sisters reads what the wheels of an update are judged by. Where that has changed, all of the
// lot that wait at a dry gate are to be judged again.
func (t *ReadTx) sisters(j *derive.Update, stale func(uuid.UUID) touch) error {
	ids, err := t.wheelIDs(j.Lot.Make.ID)
	if err != nil {
		return err
	}
	n := len(ids)
	s := &sisters{
		t: t, j: j, ids: ids, files: make([]*derive.Wheel, n), changed: make([]*derive.Outcome, n),
		waiting: make([]*derive.WheelState, n), was: make([]int, n), is: make([]int, n),
	}
	if waits, err := s.stand(); err != nil || !waits {
		return err
	}
	all, err := s.tell(func(i int) bool { return stale(ids[i]).sisters })
	if err != nil {
		return err
	}
	if all {
		if err := s.again(); err != nil {
			return err
		}
	}
	asks := map[*derive.Wheel]bool{}
	for _, d := range j.Out {
		asks[d.File] = d.Gate
	}
	for _, f := range s.files {
		if f != nil {
			j.Lot.Wheels = append(j.Lot.Wheels, f)
		}
	}
	return t.fill(j.Lot, pack.MaxTime, func(f *derive.Wheel) bool { return asks[f] })
}

// stand finds where all wheels of the lot stand, and whether any waits at a dry gate.
func (s *sisters) stand() (waits bool, err error) {
	mine := map[uuid.UUID]*derive.Outcome{}
	for i := range s.j.Out {
		mine[s.j.Out[i].File.Life.Wheel.ID] = &s.j.Out[i]
	}
	for i, id := range s.ids {
		if d := mine[id]; d != nil {
			s.files[i], s.changed[i], s.is[i] = d.File, d, d.Brief.Weighings
			if waits = waits || d.File.Gated(); d.Old != nil {
				s.was[i] = d.Old.Brief.Weighings
			}
			continue
		}
		st, ok, err := s.t.state(id)
		if err != nil {
			return waits, err
		}
		if ok {
			s.was[i], s.is[i] = st.Brief.Weighings, st.Brief.Weighings
		}
		if ok && st.Gated {
			s.waiting[i], waits = &st, true
		}
	}
	return waits, nil
}

// tell reads the wheels that the others are judged by, and says whether these have changed.
// One that can't be read is left out, and the next tells.
func (s *sisters) tell(changed func(i int) bool) (all bool, err error) {
	l, before := s.j.Lot, derive.Telling(s.was)
	n := 0
	for _, i := range derive.Telling(s.is) {
		if n == derive.Tell {
			break
		}
		all = all || changed(i)
		if s.files[i] == nil {
			s.files[i], err = s.t.fileOf(s.ids[i], l.Make, pack.MaxTime)
		}
		if err == nil {
			err = s.t.harm(s.ids[i], s.t.makeCase(s.files[i], l.Variety, pack.MaxTime))
		}
		if err == nil {
			n++
		} else if !s.t.leftOut(err) {
			return all, err
		}
	}
	return all || slices.ContainsFunc(before[:min(len(before), derive.Tell)], changed), nil
}

// again has every wheel that waits judged again.
func (s *sisters) again() (err error) {
	var more []derive.Outcome
	for i, st := range s.waiting {
		if d := s.changed[i]; d != nil {
			d.Gate = d.Gate || d.File.Gated()
		}
		if st == nil {
			continue
		}
		if s.files[i] == nil {
			s.files[i], err = s.t.fileOf(s.ids[i], s.j.Lot.Make, pack.MaxTime)
		}
		if s.t.leftOut(err) {
			err = nil
			continue
		}
		if err != nil {
			return err
		}
		if f := s.files[i]; f.Gated() {
			more = append(more, derive.Outcome{File: f, Brief: f.Life.Brief(f.Zone), Old: st, Gate: true})
		}
	}
	s.j.Out = append(s.j.Out, more...)
	return nil
}
