package cli

import (
	"time"

	"rindkeep/store"
	"rindkeep/wheel"
)

// recorded is what one command wrote: the wheels it named, when it happened,
// and how many entries were new.
type recorded struct {
	ws      []store.WheelState
	when    time.Time
	written int
}

// record writes one entry, made by of, for every wheel named.
func (s *session) record(what []string, of func(st store.WheelState) (wheel.Entry, error)) (recorded, error) {
	var r recorded
	var err error
	if r.when, _, err = s.moment(); err != nil {
		return r, err
	}
	if r.ws, err = s.pick(what); err != nil {
		return r, err
	}
	var entries []wheel.Entry
	for _, st := range r.ws {
		e, err := of(st)
		if err != nil {
			return r, err
		}
		e.Subject, e.At = st.Wheel, r.when
		entries = append(entries, s.entry(e))
	}
	res, err := s.write.Put(entries...)
	r.written = res.Written
	return r, err
}

// reweighed refuses weights round a coat, core or cut that cannot be right by
// the wheel's last weight, unless the writer is sure.
func (s *session) reweighed(st store.WheelState, e wheel.Entry, sure bool) error {
	return s.S.Reweighed(st, e, sure)
}

func (s *session) detail(e wheel.Entry) string { return s.Words.EntryDetail(e) }
