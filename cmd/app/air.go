package app

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/verdict"
)

// How long after it was read a room's air may still be entered by anybody, although its days
// then end a hold by law: a week's readings from paper, a month's from a logger, with some days
// of grace. Our choice.
const (
	LateTyped = 8 * 24 * time.Hour
	LateTable = 35 * 24 * time.Hour
)

// slip is for how long people may correct readings they have just typed: our choice.
const slip = time.Hour

// AirChange is what somebody does to readings of a room.
type AirChange struct {
	Room     string
	From, To time.Time     // of the readings
	Cancels  bool          // they no longer count
	Late     time.Duration // LateTyped or LateTable
}

// KeepingAir does something to the readings of a room, and refuses it like MayLift where
// days by law count earlier for it: time that was read as too cold, or days that nobody had
// read and that are entered late. Readings as they usually come, of the last days and after
// those that are there, are never looked at twice.
func (s *Session) KeepingAir(l Lift, x AirChange, do func() error) error {
	late := !x.Cancels && s.Time.Sub(x.From) > x.Late
	last, known, err := s.Tx.LastReading(x.Room, s.Time.Add(time.Hour))
	if err != nil {
		return err
	}
	if !late && (!known || last.At.Before(x.From)) {
		return do()
	}
	ids, err := s.countedBy(x, late)
	if err != nil {
		return err
	}
	before, holds, err := s.heldIn(x.Room, ids)
	if err != nil {
		return err
	}
	if err := do(); err != nil || len(before) == 0 {
		return err
	}
	s.forget()
	over, filled, err := s.countMore(before, holds)
	switch {
	case err != nil:
		return err
	case len(over) > 0:
		return s.mayLose(l, over)
	case !late:
		return nil
	}
	l.Alone = true
	if named, err := s.Tx.Releasers(); err != nil || named.Has(s.Who) {
		return err // the readings carry their name
	}
	return s.mayLose(l, filled)
}

// countMore is the holds of wheels for which days count now that were read as too cold, or that
// nobody had read.
func (s *Session) countMore(before []verdict.Case, holds map[uuid.UUID][]safety) (over, filled []safety, err error) {
	for _, was := range before {
		id := was.Life.Wheel.ID
		now, err := s.Tx.CaseAlone(id)
		if err != nil {
			return nil, nil, err
		}
		o, f := now.CountsMore(was, s.Time)
		if o {
			over = append(over, holds[id]...)
		}
		if f {
			filled = append(filled, holds[id]...)
		}
	}
	return over, filled, nil
}

// countedBy are the wheels here for which a law counts warm days, some of which a change may
// bear on.
func (s *Session) countedBy(x AirChange, late bool) ([]uuid.UUID, error) {
	coldest, err := s.coldest(x)
	if err != nil {
		return nil, err
	}
	return s.HereOf(func(m wheel.Make) (bool, error) {
		set, err := s.lawOf(m)
		return slices.ContainsFunc(set.Rules, func(r holdrule.Rule) bool {
			return r.Warm && r.Binds(m.Milk.Treatment) && (late || coldest < r.MinTemp)
		}), err
	})
}

// coldest is the coldest of the readings around a change, which may bear on it.
func (s *Session) coldest(x AirChange) (quantity.Celsius, error) {
	low := cave.MaxTemp
	err := s.Tx.EachReading(x.Room, x.From.Add(-verdict.ReadFor), x.To.Add(verdict.ReadFor), func(rd cave.Reading) bool {
		low = min(low, rd.Temp)
		return true
	})
	return low, err
}

// heldIn are the cases of wheels that a law holds and that lay in a room, one of those that lay
// alike, and their holds by law.
func (s *Session) heldIn(room string, ids []uuid.UUID) (out []verdict.Case, holds map[uuid.UUID][]safety, err error) {
	seen, holds := map[lay]bool{}, map[uuid.UUID][]safety{}
	for _, id := range ids {
		st, err := s.Tx.State(id)
		if err != nil {
			return nil, nil, err
		}
		if key := (lay{st.Make, st.Brief.Lay}); seen[key] {
			continue
		} else {
			seen[key] = true
		}
		c, err := s.Tx.CaseAlone(id)
		if err != nil {
			return nil, nil, err
		}
		here := func(x wheel.Stay) bool { return x.Place.Room() == room }
		if !slices.ContainsFunc(c.Life.Stays, here) || len(c.LawHolds(s.Time)) == 0 {
			continue
		}
		hs, err := s.safety(id)
		if err != nil {
			return nil, nil, err
		}
		out = append(out, c)
		holds[id] = slices.DeleteFunc(hs, func(h safety) bool { return !ByLaw(h.key) })
	}
	return out, holds, nil
}

// Slip says whether somebody may correct a reading without a question: they typed it
// themselves just now, where there was none.
func (s *Session) Slip(rd cave.Reading) (bool, error) {
	if s.Time.Sub(rd.Written) > slip || rd.Source == 0 {
		return false, nil
	}
	src, err := s.Tx.SourceOf(rd)
	return !src.Table && !src.Over && src.By == s.Who, err
}

// AirFrom is the number under which the book keeps that somebody enters readings now.
func (s *Session) AirFrom(a register.AirSource) (uint64, error) {
	a.Written, a.By = s.Time, s.Who
	return s.Write.AirSource(a)
}

// AirEntered is readings of a room that one person entered on one day.
type AirEntered struct {
	Room     string `json:"room"`
	From     string `json:"from"` // the first
	To       string `json:"to"`   // the last
	Readings int    `json:"readings"`
	Table    bool   `json:"table"`
	File     string `json:"file"`
	Over     bool   `json:"over_others"` // each took the place of a reading
	By       string `json:"by"`
	Written  string `json:"written"` // ""; the book doesn't say

	first, last time.Time
	source      uint64
}

// AirEntries gathers readings by who entered them.
type AirEntries struct {
	Session *Session
	Room    string
	List    []AirEntered
}

// Add takes a reading.
func (a *AirEntries) Add(rd cave.Reading) {
	i := slices.IndexFunc(a.List, func(x AirEntered) bool { return x.source == rd.Source })
	if i < 0 {
		i = len(a.List)
		a.List = append(a.List, AirEntered{Room: a.Room, source: rd.Source, first: rd.At})
	}
	a.List[i].Readings++
	a.List[i].last = rd.At
}

// AirOf is who entered the air of the rooms that a wheel lay in meanwhile.
func (s *Session) AirOf(l wheel.Life) (out []AirEntered, err error) {
	for i, st := range l.Stays {
		to := s.Time
		if i+1 < len(l.Stays) {
			to = l.Stays[i+1].From
		}
		if st.Away || st.Place == "" {
			continue
		}
		in := AirEntries{Session: s, Room: st.Place.Room()}
		err := s.Tx.EachReading(in.Room, st.From.Add(-verdict.ReadFor), to.Add(time.Millisecond), func(rd cave.Reading) bool {
			in.Add(rd)
			return true
		})
		if IsNotFound(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
		more, err := in.Done()
		if err != nil {
			return nil, err
		}
		out = append(out, more...)
	}
	return Filled(out), nil
}

// Done is what was gathered.
func (a *AirEntries) Done() ([]AirEntered, error) {
	for i := range a.List {
		x := &a.List[i]
		src, err := a.Session.Tx.SourceOf(cave.Reading{Source: x.source})
		if err != nil {
			return nil, err
		}
		x.Table, x.File, x.Over, x.By = src.Table, src.File, src.Over, src.By
		x.From, x.To = Instant(x.first, a.Session.Zone), Instant(x.last, a.Session.Zone)
		if !src.Written.IsZero() {
			x.Written = Instant(src.Written, a.Session.Zone)
		}
	}
	return Filled(a.List), nil
}
