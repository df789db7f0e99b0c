package app

import (
	"cmp"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety"
)

// Narrow leaves of the wheels named those that fit every field that is set.
type Narrow struct {
	Room      string // a room, or a rack or shelf of it
	Rack      string // room/rack, or a deeper place
	Variety   string
	Stage     string
	Plan      string
	Supplier  string // who sent the wheel
	Person    string // who recorded the make
	ReadyBy   string // a date, by which it's of the age that its variety is eaten at
	OlderThan int    // days; 0: any age
	YoungerBy int    // under so many days; 0: any age
	Held      bool   // by hand or by law
	Doubtful  bool   // it waits for its coat, and its weights look wrong
}

// narrowed is a Narrow with its words read.
type narrowed struct {
	Narrow
	s     *Session
	in    cave.Place // the room
	rack  cave.Place
	stage wheel.Stage
	ready day.Date
}

// Narrowed gives what says whether a wheel fits, as the book is now; nil where every wheel does.
func (s *Session) Narrowed(q Narrow) (func(derive.WheelState) (bool, error), error) {
	if q == (Narrow{}) {
		return nil, nil
	}
	n := narrowed{Narrow: q, s: s}
	var err error
	if n.in, err = s.PlaceOf("room", q.Room); err != nil {
		return nil, err
	}
	if n.rack, err = s.PlaceOf("rack", q.Rack); err != nil {
		return nil, err
	}
	if q.Variety != "" {
		v, err := s.Tx.Variety(q.Variety)
		if err != nil {
			return nil, At("variety", err)
		}
		n.Variety = v.Name
	}
	if q.Plan != "" {
		p, err := s.Tx.Plan(q.Plan)
		if err != nil {
			return nil, At("plan", err)
		}
		n.Plan = p.Name
	}
	if q.Stage != "" {
		if n.stage, err = wheel.ParseStage(q.Stage); err != nil {
			return nil, Misread("stage", err)
		}
	}
	if q.ReadyBy != "" {
		if n.ready, err = s.Dates().Parse(q.ReadyBy); err != nil {
			return nil, Misread("ready-by", err)
		}
	}
	return n.fits, nil
}

func (n narrowed) fits(st derive.WheelState) (bool, error) {
	if n.in != "" && !st.Place.Within(n.in) || n.rack != "" && !st.Place.Within(n.rack) ||
		n.Plan != "" && st.Plan != n.Plan || n.Supplier != "" && !strings.EqualFold(st.Brief.Supplier, n.Supplier) {
		return false, nil
	}
	m, err := n.s.Tx.MakeFromLog(st.Make)
	if err != nil {
		return false, err
	}
	age := int(n.s.Today - m.Date)
	if n.Variety != "" && m.Variety != n.Variety || n.Person != "" && !strings.EqualFold(m.By, n.Person) ||
		n.OlderThan > 0 && age <= n.OlderThan || n.YoungerBy > 0 && age >= n.YoungerBy {
		return false, nil
	}
	v, err := n.s.Tx.VarietyOf(m)
	if err != nil {
		return false, err
	}
	if n.ReadyBy != "" && (v.ReadyDays == 0 || m.Date+day.Date(v.ReadyDays) > n.ready) {
		return false, nil
	}
	return n.stands(st, m, v)
}

// stands looks at what takes more than a glance.
func (n narrowed) stands(st derive.WheelState, m wheel.Make, v variety.Variety) (bool, error) {
	if n.Stage != "" {
		is, err := n.s.StageOf(st, m, v)
		if err != nil || is != n.stage {
			return false, err
		}
	}
	held, err := st.Brief.Held, error(nil)
	if n.Held {
		held, err = n.s.Held(st)
	}
	if n.Held && !held && err == nil {
		if law, err := n.s.HeldByLaw(m, st); err != nil || !law {
			return false, err
		}
	}
	if !n.Doubtful || err != nil {
		return true, err
	}
	k, ok, err := n.s.Tx.Kept(st)
	if err != nil || !ok {
		return false, err
	}
	o := k.Outlook
	return len(o.Figures.Doubtful) > 0 || cmp.Or(o.Last, drying.OnCurve) != drying.OnCurve, nil
}

// StageOf is the stage a wheel is at today.
func (s *Session) StageOf(st derive.WheelState, m wheel.Make, v variety.Variety) (wheel.Stage, error) {
	gated, err := s.Gated(st.Plan)
	if err != nil {
		return "", err
	}
	if gated {
		v.DryingDays = 0 // it dries until it is coated
	}
	return st.Brief.Milestones(m.Date, st.Gone).StageOn(s.Today, v.DryingDays, v.ReadyDays), nil
}

// PlaceOf reads the place that a field of a request names, a room that the book has or a place
// in it; "" stays "".
func (s *Session) PlaceOf(field, word string) (cave.Place, error) {
	if word == "" {
		return "", nil
	}
	room := cave.Place(word).Room()
	r, err := s.Tx.Room(room)
	if err != nil {
		return "", At(field, err)
	}
	p, err := cave.ParsePlace(r.Name + strings.TrimPrefix(word, room))
	if err != nil {
		return "", Misread(field, err)
	}
	return p, nil
}

// First gives the first rows of a list, so many at most, and how many there are after them;
// most 0: all of them.
func First[T any](list []T, most int) ([]T, int) {
	if n := len(list); most > 0 && n > most {
		return list[:most], n - most
	}
	return list, 0
}

// Narrowing leaves of wheels those that fit, in their order and memory.
func (s *Session) Narrowing(ws []derive.WheelState, q Narrow) ([]derive.WheelState, error) {
	fits, err := s.Narrowed(q)
	if fits == nil || err != nil {
		return ws, err
	}
	out := ws[:0]
	for i, w := range ws {
		if i%256 == 0 && s.Ctx.Err() != nil {
			return nil, s.Ctx.Err()
		}
		ok, err := fits(w)
		if s.Tx.LeaveOut(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if ok {
			out = append(out, w)
		}
	}
	return out, nil
}
