package app

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/wheel"
)

// HoldsOfLot are the safety holds that other lots are on which came from the same supplier
// under the same lot code as a wheel: by open tests, and set by hand on all that is left of
// such a lot. A maker's lot may be in the book under several codes; what is in one of them
// is in all. Those that the wheel is on as well, or was released from, are left out.
func (s *Session) HoldsOfLot(l wheel.Life) (out []wheel.Hold, err error) {
	came, ok := l.Received()
	a := came.Arrival()
	if !ok || a.Lot == "" {
		return nil, nil
	}
	alike, err := s.alike(a)
	if err != nil {
		return nil, err
	}
	for _, lot := range alike {
		if lot.make == l.Make.ID {
			continue
		}
		for _, h := range lot.holds {
			on := func(o wheel.Hold) bool {
				return o.ID == h.ID || o.Sample == h.Sample && o.Kind == h.Kind && o.Why == h.Why
			}
			if slices.ContainsFunc(l.Holds, on) {
				continue
			}
			if h.Why += ", lot " + lot.code; !releasedFrom(l, h) && !slices.ContainsFunc(out, on) {
				out = append(out, h)
			}
		}
	}
	return out, nil
}

// Held says whether somebody holds a wheel that is here: by hand, or by what holds another
// lot of the same code from the same supplier.
func (s *Session) Held(st derive.WheelState) (bool, error) {
	if st.Brief.Held || st.Brief.Supplier == "" || !st.Here() {
		return st.Brief.Held, nil
	}
	l, err := s.Tx.LifeAlone(st.Wheel)
	if err != nil {
		return false, err
	}
	others, err := s.HoldsOfLot(l)
	return len(others) > 0, err
}

// releasedFrom says whether a wheel was released from a hold of another lot. Each wheel
// there has its own entry of a hold by hand: any of them stands for it.
func releasedFrom(l wheel.Life, h wheel.Hold) bool {
	return slices.ContainsFunc(l.Entries, func(e wheel.Entry) bool {
		r, ok := e.Release()
		return ok && (slices.Contains(r.Holds, h.ID) || slices.Contains(r.Ended, h.Reason()))
	})
}

// boughtLot is a make whose wheels were bought in, and the safety holds that all of it is on.
type boughtLot struct {
	make  uuid.UUID
	code  string // the book's
	holds []wheel.Hold
}

func lotKey(a wheel.Arrival) string { return strings.ToLower(a.Supplier + "\x00" + a.Lot) }

// alike are the makes whose wheels came from a supplier under one lot code, found once.
func (s *Session) alike(a wheel.Arrival) (out []boughtLot, err error) {
	key := lotKey(a)
	if out, known := s.bought[key]; known {
		return out, nil
	}
	if s.received == nil {
		s.received = map[string][]uuid.UUID{} // all in one reading: it goes through all entries
		match := func(e history.Logged) bool { return !e.Struck && e.Arrival().Lot != "" }
		if err := s.Tx.EachLogged(s.Ctx, history.Query{Kind: wheel.Received, Match: match}, func(e history.Logged) error {
			st, err := s.Tx.State(e.Subject)
			if IsNotFound(err) { // of a make that was removed
				return nil
			}
			if k := lotKey(e.Arrival()); !slices.Contains(s.received[k], st.Make) {
				s.received[k] = append(s.received[k], st.Make)
			}
			return err
		}); err != nil {
			return nil, err
		}
	}
	for _, id := range s.received[key] {
		mk, err := s.Tx.MakeFromLog(id)
		if err != nil {
			return nil, err
		}
		lot := boughtLot{make: mk.ID, code: mk.Lot}
		if lot.holds, _, err = s.HandHolds(mk.ID); err != nil {
			return nil, err
		}
		for _, t := range mk.Tests() {
			if t.Open() {
				lot.holds = append(lot.holds, t.Hold(s.Zone))
			}
		}
		out = append(out, lot)
	}
	if s.bought == nil {
		s.bought = map[string][]boughtLot{}
	}
	s.bought[key] = out
	return out, nil
}

// HandHolds are the safety holds set by hand that all wheels of a make are on, each once: the
// wheels here, or all of them where none is here.
func (s *Session) HandHolds(mk uuid.UUID) (out []wheel.Hold, here bool, err error) {
	ws, err := s.Tx.WheelsOf(mk)
	if err != nil {
		return nil, false, err
	}
	var of, gone []wheel.Life
	for _, w := range ws {
		l, err := s.Tx.LifeAlone(w.ID)
		if err != nil {
			return nil, false, err
		}
		switch {
		case wheel.IsVoid(l.Entries):
		case l.GoneOn == day.None:
			of = append(of, l)
		default:
			gone = append(gone, l)
		}
	}
	if here = len(of) > 0; !here {
		of = gone
	}
	if len(of) == 0 {
		return nil, false, nil
	}
	for _, h := range of[0].Holds {
		same := func(o wheel.Hold) bool { return o.Sample == "" && o.Kind == h.Kind && o.Why == h.Why }
		if same(h) && h.Kind.Safety() && !slices.ContainsFunc(out, same) && !slices.ContainsFunc(of, func(l wheel.Life) bool {
			return !slices.ContainsFunc(l.Holds, same)
		}) {
			out = append(out, h)
		}
	}
	return out, here, nil
}
