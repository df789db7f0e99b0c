package rooms

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/schedule"
	"rindkeep/store/derive"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// coming is one wheel as it stands, and what its days ahead bring.
type coming struct {
	derive.WheelState
	*lotFile
	*foreseen
	plan   *schedule.Plan      // nil: unknown
	room   string              // where it is now; "": unknown
	rank   int                 // in the walk
	waits  bool                // for a coat, at a dry gate
	limit  *schedule.OldEnough // nil: no limit that anybody knows
	chores []schedule.Chore
}

// lotFile is what the wheels of a make share.
type lotFile struct {
	make    wheel.Make
	variety variety.Variety
	law     holdrule.Set
	ready   day.Date // of the age that its variety is eaten at; None: nothing says
	limit   *schedule.OldEnough
}

// gatherer reads the wheels that are here as they stood at an instant.
type gatherer struct {
	s     *app.Session
	until time.Time
	past  bool
	today day.Date
	lots  map[uuid.UUID]*lotFile
	plans map[string]*schedule.Plan
	texts map[string]string
}

// shared is a text that many wheels have, kept once and not with all of a wheel's record.
func (g *gatherer) shared(text string) string {
	if s, ok := g.texts[text]; ok {
		return s
	}
	s := strings.Clone(text)
	g.texts[s] = s
	return s
}

// together is how many wheels are foreseen at once. Our choice.
const together = 4096

// gather reads the wheels that were here at an instant and that are asked for, foresees them
// and passes them on, some at a time; each by itself where they are no more than most.
func gather(s *app.Session, only app.Narrow, until time.Time, today day.Date, judge bool, most int,
	fn func([]*coming) error) error {
	fits, err := s.Narrowed(only)
	if err != nil {
		return err
	}
	g := gatherer{
		s, until, until.Before(s.Time), today, map[uuid.UUID]*lotFile{}, map[string]*schedule.Plan{}, map[string]string{},
	}
	f := foresight{s, until, today, judge, false, map[standing]*foreseen{}}
	pass := func(ws []*coming) error {
		ws, err := f.foresee(ws)
		if err != nil {
			return err
		}
		return fn(ws)
	}
	var ws []*coming
	n := 0
	for st, err := range s.Tx.States() {
		if err != nil {
			return err
		}
		if n++; n%256 == 0 && s.Ctx.Err() != nil {
			return s.Ctx.Err()
		}
		if len(ws) == max(together, most+1) {
			if err := pass(ws); err != nil {
				return err
			}
			ws = nil
		}
		w, err := g.wheel(st)
		if err == nil && w != nil && fits != nil {
			var ok bool
			if ok, err = fits(w.WheelState); !ok {
				w = nil
			}
		}
		if s.Tx.LeaveOut(err) {
			continue
		}
		if err != nil {
			return err
		}
		if w != nil {
			ws = append(ws, w)
		}
	}
	f.own = len(f.known) == 0 && len(ws) <= most
	return pass(ws)
}

// everyWheel are all wheels that gather finds, with the rank of their rooms.
func everyWheel(s *app.Session, only app.Narrow, until time.Time, today day.Date, rooms []cave.Room,
	most int) (out []*coming, err error) {
	rank := map[string]int{"": len(rooms) + 1}
	for i, r := range rooms {
		rank[r.Name] = i
	}
	err = gather(s, only, until, today, true, most, func(ws []*coming) error {
		for _, w := range ws {
			w.room = w.Place.Room()
			if _, known := rank[w.room]; !known {
				rank[w.room] = len(rooms)
			}
			w.rank = rank[w.room]
		}
		out = append(out, ws...)
		return nil
	})
	return out, err
}

// wheel is nil where the wheel wasn't here.
func (g *gatherer) wheel(st derive.WheelState) (*coming, error) {
	if !g.past && !st.Here() {
		return nil, nil
	}
	lot, err := g.lot(st.Make)
	if err != nil || lot.make.Date > g.today {
		return nil, err
	}
	if !g.past {
		st = derive.WheelState{
			Wheel: st.Wheel, Make: st.Make, Tag: strings.Clone(st.Tag), Place: cave.Place(g.shared(string(st.Place))),
			Plan: g.shared(st.Plan), Gone: st.Gone, Last: st.Last, Brief: st.Brief,
		}
		st.Brief.Supplier = g.shared(st.Brief.Supplier)
	} else {
		l, err := lifeAt(g.s, st, g.until)
		if err != nil || l.GoneOn != day.None || l.Since > g.today {
			return nil, err
		}
		st = derive.WheelState{
			Wheel: st.Wheel, Make: st.Make, Tag: l.Tag, Place: l.Place, Plan: l.Plan, Gone: l.GoneOn, Last: l.Last,
			Brief: l.Brief(g.s.Zone),
		}
	}
	w := &coming{WheelState: st, lotFile: lot, limit: lot.limit}
	var known bool
	if w.plan, known = g.plans[st.Plan]; !known {
		found, err := g.s.Tx.Plan(st.Plan)
		var nf refusal.NotFound
		switch {
		case err == nil:
			w.plan = &found
		case !errors.As(err, &nf):
			return nil, err
		}
		g.plans[st.Plan] = w.plan
	}
	if w.plan != nil && st.Brief.Coated == day.None {
		_, w.waits = w.plan.GateCoat()
	}
	return w, nil
}

func (g *gatherer) lot(id uuid.UUID) (*lotFile, error) {
	if l := g.lots[id]; l != nil {
		return l, nil
	}
	m, err := g.s.Tx.MakeFromLog(id)
	if err != nil {
		return nil, err
	}
	l := &lotFile{make: m, ready: day.None}
	var nf refusal.NotFound
	if l.variety, err = g.s.Tx.Variety(m.Variety); errors.As(err, &nf) {
		l.variety = variety.Variety{Name: m.Variety, Title: m.Variety}
	} else if err != nil {
		return nil, err
	}
	if l.variety.ReadyDays > 0 {
		l.ready = m.Date + day.Date(l.variety.ReadyDays)
	}
	if l.law, err = g.s.Tx.LawOf(m, l.variety, g.until.Add(time.Millisecond)); err != nil {
		return nil, err
	}
	if limit, ok := schedule.AgeLimit(m, l.variety, l.law); ok {
		l.limit = &limit
	}
	g.lots[id] = l
	return l, nil
}

// lifeAt is a wheel's life as it stood at an instant.
func lifeAt(s *app.Session, st derive.WheelState, until time.Time) (wheel.Life, error) {
	if !until.Before(s.Time) {
		return s.Tx.LifeAlone(st.Wheel)
	}
	m, err := s.Tx.MakeFromLog(st.Make)
	if err != nil {
		return wheel.Life{}, err
	}
	w, err := s.Tx.Wheel(st.Wheel)
	if err != nil {
		return wheel.Life{}, err
	}
	es, err := s.Tx.History(st.Wheel)
	if err != nil {
		return wheel.Life{}, err
	}
	es = slices.DeleteFunc(es, func(e wheel.Entry) bool { return e.At.After(until) && e.Kind != wheel.Struck })
	return wheel.AddUp(w, m, es, s.Zone, nil), nil
}

func (w *coming) subject(c verdict.Case, gate verdict.Windows) schedule.Subject {
	return schedule.Subject{
		Life: c.Life, DryingDays: w.variety.DryingDays, ReadyDays: w.variety.ReadyDays, Gate: gate, Loc: c.Loc,
	}
}

// habits names all that a wheel's chores follow from: wheels of a day that are handled
// together share them.
type habits struct {
	made          day.Date
	began         int64 // of the make, ms
	drying, ready int   // days of the variety
	plan          string
	name          uint64
	gate          gateAt
}

func (w *coming) habits() habits {
	return habits{
		made: w.make.Date, began: w.make.Began.UnixMilli(), drying: w.variety.DryingDays, ready: w.variety.ReadyDays,
		plan: w.Plan, name: w.Brief.Habits,
	}
}

// gateAt are a gate's windows; their reasons in words that only compare.
type gateAt struct {
	coat, last, check, weigh day.Date
	why                      string
}

func gateOf(w verdict.Windows) gateAt {
	g := gateAt{coat: w.CoatFrom, last: w.CoatUntil, check: w.CheckFrom, weigh: w.WeighFrom}
	if len(w.CoatWhy) > 0 {
		g.why = fmt.Sprint(w.CoatWhy)
	}
	return g
}

// project gives each wheel its chores from a date to another, as it stood at an instant, and
// what laws have it wait for.
func project(s *app.Session, ws []*coming, at time.Time, from, to day.Date) error {
	known := map[habits][]schedule.Chore{}
	laws := heldBy{s: s, at: at}
	for i, w := range ws {
		if i%256 == 0 && s.Ctx.Err() != nil {
			return s.Ctx.Err()
		}
		if err := w.lawful(&laws); err != nil {
			return err
		}
		gate, k := verdict.Shut(), w.habits()
		if w.waits {
			gate = schedule.Awaited(w.dry, w.gate, from)
			k.gate = gateOf(gate)
		}
		cs, ok := known[k]
		if !ok && w.plan != nil {
			l, err := lifeAt(s, w.WheelState, at)
			if err != nil && !s.Tx.LeaveOut(err) {
				return err
			}
			if err == nil {
				cs = schedule.Project(*w.plan, w.subject(verdict.Case{Life: l, Loc: s.Zone}, gate), from, to)
				known[k] = cs
			}
		}
		w.chores = cs
	}
	return nil
}

// goesOn is how the wheel's mass goes on with its chores. It's found when it's asked for: of a
// hundred thousand wheels it would take the most of the memory.
func (w *coming) goesOn(loc *time.Location) schedule.Outlook {
	began := w.Brief.Began
	if w.Brief.Weighings == 0 {
		began = w.began
	}
	b := w.Brief
	if w.net > 0 {
		b.Net, b.NetDay = w.net, w.known
	}
	return schedule.NewOutlook(b, w.track, w.long, began, w.chores, loc)
}

// lawful counts the days that laws have the wheel wait.
func (w *coming) lawful(laws *heldBy) error {
	if w.limit == nil {
		return nil
	}
	l, err := laws.of(w)
	if err != nil {
		return err
	}
	limit, ok := w.limit.Under(l.holds, l.air, len(w.law.Countries) > 0, laws.at, laws.s.Zone)
	switch {
	case !ok:
		w.limit = nil
	case limit != *w.limit:
		w.limit = &limit
	}
	return nil
}

// walked sorts wheels as a person walks by them.
func walked(ws []*coming) {
	slices.SortStableFunc(ws, func(a, b *coming) int {
		if a.rank != b.rank {
			return a.rank - b.rank
		}
		if a.Place != b.Place {
			return cave.NaturalCompare(string(a.Place), string(b.Place))
		}
		return cave.NaturalCompare(a.Tag, b.Tag)
	})
}
