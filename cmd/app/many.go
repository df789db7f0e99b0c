package app

import (
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"slices"

	"github.com/google/uuid"

	"rindkeep/store/derive"
)

// AtOnce is how many wheels an act records in one transaction, of those that wait for their
// coat a quarter: it holds the book for some 0.2 s then. One on more of them is recorded in
// several, whole lots at a time, so that nobody waits long for the book; it is put on trial
// for all of them before the first is recorded. Only tests change it.
var AtOnce = 400

// share is how many of AtOnce a wheel takes: one that waits for its coat is fitted again.
func share(w derive.WheelState) int {
	if w.Gated {
		return 4
	}
	return 1
}

// shares is how many of AtOnce some wheels take.
func shares(ws []derive.WheelState) (n int) {
	for _, w := range ws {
		n += share(w)
	}
	return n
}

// RowsAtOnce is how many rows of a table each of several transactions records: what follows
// from so many takes a tenth of a second. Only tests change it.
var RowsAtOnce = 100

// Stopped is why an act wasn't recorded for all its wheels. What was recorded stays; the
// same act under the same ID goes on, and cancelling it cancels what there is.
type Stopped struct {
	Done, Of int // wheels
	ID       string
	Command  string
	Err      error
}

// Error is for logs and tests.
func (x Stopped) Error() string { return x.Err.Error() }

// Unwrap gives the reason.
func (x Stopped) Unwrap() error { return x.Err }

// AskMany is Ask on wheels that fn has from Pick, and AskLong if there are more than few.
func AskMany[R any](ctx context.Context, a *App, c Caller, few int, fn func(*Session) (R, error)) (R, error) {
	r, err := Ask(ctx, a, c, func(s *Session) (R, error) {
		s.most = few
		return fn(s)
	})
	if errors.As(err, &tooMany{}) {
		return AskLong(ctx, a, c, fn)
	}
	return r, err
}

// tooMany ends a transaction that would be about too many wheels; nil: all there are.
type tooMany struct{ ws []derive.WheelState }

func (tooMany) Error() string { return "too many wheels for one transaction" }

// ActOn is Act on wheels that fn has from Pick, and of which there may be many: fn is
// called for some of them at a time then, and join adds what came of a part.
func ActOn[R any](ctx context.Context, a *App, c Caller, fn func(*Session) (R, error),
	join func(all *R, part R)) (Did[R], error) {
	m := manyWheels{tell: a.Pace}
	d, err := Act(ctx, a, c, func(s *Session) (R, error) {
		m.at, s.most = *s, AtOnce
		return fn(s)
	})
	var many tooMany
	if !errors.As(err, &many) {
		return d, err
	}
	if m.all = many.ws; m.tell == nil {
		m.tell = func(bool, int, int) {}
	}
	c.ID, c.Part = cmp.Or(c.ID, m.at.batch.String()), true
	if m.all == nil {
		if m.all, err = Ask(ctx, a, c, (*Session).here); err != nil {
			return d, err
		}
		SortByTag(m.all)
	}
	if _, err := Ask(ctx, a, c, m.leave); err != nil {
		return d, err
	}
	parts := m.parts()
	for _, p := range parts {
		if _, err := Ask(ctx, a, c, func(s *Session) (r R, err error) {
			if s, err = m.begin(s.Trial(), p); err != nil {
				return r, err
			}
			return fn(s)
		}); err != nil {
			return d, err
		}
		m.tell(false, m.count(p), len(m.all))
	}
	m.done = m.before
	for i, p := range parts {
		x, err := Act(ctx, a, c, func(s *Session) (r R, err error) {
			if s, err = m.begin(s, p); err != nil {
				return r, err
			}
			if r, err = fn(s); err != nil {
				return r, err
			}
			m.at.seq = s.seq
			return r, s.Write.SetLeft(s.last(), len(m.all)-m.done-len(p))
		})
		if err != nil && m.done > 0 {
			err = Stopped{m.done, len(m.all), c.ID, c.Command, err}
		}
		if err != nil {
			return d, err
		}
		if i == 0 {
			d.Result = x.Result
		} else {
			join(&d.Result, x.Result)
		}
		m.tell(true, m.count(p), len(m.all))
	}
	return d, nil
}

// manyWheels is an act on many wheels on its way.
type manyWheels struct {
	at     Session // where it is: what goes on from one transaction to the next
	all    []derive.WheelState
	gone   map[uuid.UUID]bool // it was recorded for before it stopped
	before int                // how many those are
	done   int
	tell   func(recording bool, done, of int)
}

func (m *manyWheels) count(part []derive.WheelState) int {
	m.done += len(part)
	return m.done
}

// leave finds the wheels that the act was recorded for before it stopped, and counts its
// entries on from there.
func (m *manyWheels) leave(s *Session) (int, error) {
	es, err := s.Tx.EntriesByCommand(s.batch)
	m.gone = map[uuid.UUID]bool{}
	for _, e := range es {
		m.gone[e.Subject] = true
		m.at.seq = max(m.at.seq, binary.BigEndian.Uint32(e.ID[12:]))
	}
	for _, w := range m.all {
		if m.gone[w.Wheel] {
			m.before++
		}
	}
	m.done = m.before
	return 0, err
}

// begin has a transaction go on with the act for a part of the wheels. One that can't be
// read doesn't stop the others.
func (m *manyWheels) begin(s *Session, part []derive.WheelState) (*Session, error) {
	s.Continue(&m.at)
	s.all, s.picked = m.all, []derive.WheelState{}
	for _, w := range part {
		if ok, err := s.Tx.Usable(w.Wheel); err != nil {
			return nil, err
		} else if ok {
			s.picked = append(s.picked, w)
		}
	}
	return s, nil
}

// parts cuts the wheels into transactions, between makes where it can: what follows from
// a make's entries is found again with each.
func (m *manyWheels) parts() (parts [][]derive.WheelState) {
	nth := map[uuid.UUID]int{}
	var ws []derive.WheelState
	for _, w := range m.all {
		if _, ok := nth[w.Make]; !ok {
			nth[w.Make] = len(nth)
		}
		if !m.gone[w.Wheel] {
			ws = append(ws, w)
		}
	}
	slices.SortStableFunc(ws, func(a, b derive.WheelState) int { return nth[a.Make] - nth[b.Make] })
	for len(ws) > 0 {
		n := 1
		for left := AtOnce - share(ws[0]); n < len(ws) && left >= share(ws[n]); n++ {
			left -= share(ws[n])
		}
		cut := n
		for cut > 0 && cut < len(ws) && ws[cut-1].Make == ws[cut].Make {
			cut--
		}
		if cut > 0 {
			n = cut
		}
		parts, ws = append(parts, ws[:n]), ws[n:]
	}
	return parts
}

// Named are all wheels that an act's words name, where Pick gives only those of a part.
func (s *Session) Named(what []string) ([]derive.WheelState, error) {
	if s.all != nil {
		return s.all, nil
	}
	return s.Pick(what)
}
