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
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/schedule"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// ownForecasts is up to how many wheels each gets a forecast of its own. In
// larger books wheels of one make that stand alike (same shape, room, coats and
// weighings) share the mean of perKind of them; those that wait for a coat have
// their own always.
const (
	ownForecasts = 1500
	perKind      = 2
)

// coming is one wheel and what its days ahead bring.
type coming struct {
	life     wheel.Life
	variety  variety.Variety
	plan     *schedule.Plan // nil: unknown
	room     string         // where it is now; "": unknown
	rank     int            // in the walk
	waits    bool           // for a coat, at a dry gate
	began    time.Time
	ready    day.Date // None: nothing says
	limit    schedule.OldEnough
	limited  bool
	verdict  verdict.Dry // of those that wait
	cases    int         // the case its forecast is from
	chores   []schedule.Chore
	outlooks []schedule.Outlook
}

// mass is what the wheel will weigh on a date, in grams.
func (w *coming) mass(on day.Date) quantity.Estimate {
	var sum quantity.Estimate
	for _, o := range w.outlooks {
		sum = schedule.Sum(sum, o.Mass(on))
	}
	return sum.Times(1 / float64(len(w.outlooks)))
}

// gather reads every wheel that is here as it stood, in walking order.
func gather(s *app.Session, until time.Time, today day.Date, rooms []cave.Room) ([]*coming, error) {
	rank := map[string]int{"": len(rooms) + 1}
	for i, r := range rooms {
		rank[r.Name] = i
	}
	makes := map[uuid.UUID]wheel.Make{}
	varieties := map[string]variety.Variety{}
	plans := map[string]*schedule.Plan{}
	laws := map[uuid.UUID]holdrule.Set{}
	var nf store.NotFound
	var out []*coming
	n := 0
	for st, err := range s.Tx.States() {
		if err != nil {
			return nil, err
		}
		if n++; n%64 == 0 && s.Ctx.Err() != nil {
			return nil, s.Ctx.Err()
		}
		past := until.Before(s.Time)
		if !past && !st.Here() {
			continue
		}
		m, ok := makes[st.Make]
		if !ok {
			if m, err = s.Tx.MakeFromLog(st.Make); err != nil {
				return nil, err
			}
			makes[st.Make] = m
		}
		w, err := s.Tx.Wheel(st.Wheel)
		if err != nil {
			return nil, err
		}
		es, err := s.Tx.History(st.Wheel)
		if s.Tx.LeaveOut(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if past {
			es = slices.DeleteFunc(es, func(e wheel.Entry) bool { return e.At.After(until) && e.Kind != wheel.Struck })
		}
		c := &coming{life: wheel.NewLife(w, m, es, s.Zone, nil), ready: day.None}
		if c.life.GoneOn != day.None || m.Date > today || past && c.life.Since > today {
			continue
		}
		v, ok := varieties[m.Variety]
		if !ok {
			if v, err = s.Tx.Variety(m.Variety); errors.As(err, &nf) {
				v = variety.Variety{Name: m.Variety, Title: m.Variety}
			} else if err != nil {
				return nil, err
			}
			varieties[m.Variety] = v
		}
		p, ok := plans[c.life.Plan]
		if !ok {
			if found, err := s.Tx.Plan(c.life.Plan); err == nil {
				p = &found
			} else if !errors.As(err, &nf) {
				return nil, err
			}
			plans[c.life.Plan] = p
		}
		c.variety, c.plan, c.room = v, p, c.life.Place.Room()
		if _, known := rank[c.room]; !known {
			rank[c.room] = len(rooms)
		}
		c.rank = rank[c.room]
		if p != nil && len(c.life.Coats) == 0 {
			_, c.waits = p.GateCoat()
		}
		c.began = verdict.Case{Life: c.life, Loc: s.Zone}.Began()
		if v.ReadyDays > 0 {
			c.ready = m.Date + day.Date(v.ReadyDays)
		}
		set, ok := laws[m.ID]
		if !ok {
			if set, err = s.Tx.LawOf(m, v, until.Add(time.Millisecond)); err != nil {
				return nil, err
			}
			laws[m.ID] = set
		}
		c.limit, c.limited = schedule.AgeLimit(m, v, set)
		out = append(out, c)
	}
	return out, nil
}

// foresee gives each wheel its forecast and its chores; with more wheels than
// most, those that stand alike share forecasts.
func foresee(s *app.Session, ws []*coming, at time.Time, from, to day.Date, most int) error {
	sparing := len(ws) > most
	kinds := map[string][]int{}
	var cases []verdict.Case
	for i, w := range ws {
		if i%64 == 0 && s.Ctx.Err() != nil {
			return s.Ctx.Err()
		}
		w.cases = len(cases)
		if sparing && !w.waits {
			k := schedule.AlikeKey(w.life, w.room)
			if like := kinds[k]; len(like) == perKind {
				w.cases = -1
				continue
			}
			kinds[k] = append(kinds[k], i)
		}
		var c verdict.Case
		var err error
		if sparing && !w.waits && !at.Before(s.Time) {
			c, err = s.Tx.CaseAlone(w.life.Wheel.ID)
			c = verdict.New(c)
		} else {
			c, err = s.CaseAt(store.WheelState{Wheel: w.life.Wheel.ID}, at)
		}
		if err != nil {
			return err
		}
		w.life.Chain, w.began = c.Life.Chain, c.Began()
		for _, h := range c.LawHolds(at) {
			if h.MilkUnknown() || h.Rule.Missing { // it may never be: somebody has to say it
				w.limited = false
			}
			if !h.Rule.Warm || !w.limit.RawMilk && len(c.Law.Countries) == 0 {
				continue
			}
			w.limit = w.limit.Counted(h, at, s.Zone)
			w.limit.Stalled = w.limit.Stalled || len(c.Air) > 0 && c.Air[len(c.Air)-1].Air.Temp < h.AtOver
		}
		cases = append(cases, c)
	}
	forecasts := schedule.Forecasts(cases)
	if s.Ctx.Err() != nil {
		return s.Ctx.Err()
	}
	known := map[string][]schedule.Chore{}
	for i, w := range ws {
		if i%64 == 0 && s.Ctx.Err() != nil {
			return s.Ctx.Err()
		}
		gate := verdict.Shut()
		if w.waits {
			c, f := cases[w.cases], forecasts[w.cases]
			o := c.Outlook(f)
			w.verdict = o.By(c.Terms(), f, at)
			gate = schedule.Awaited(w.verdict, o.Windows(c.Terms()), from)
		}
		if w.plan != nil {
			k := w.habits(gate, s.Zone)
			cs, ok := known[k]
			if !ok {
				cs = schedule.Project(*w.plan, schedule.Subject{Life: w.life, DryingDays: w.variety.DryingDays,
					ReadyDays: w.variety.ReadyDays, Gate: gate, Loc: s.Zone}, from, to)
				known[k] = cs
			}
			w.chores = cs
		}
		fs := []drying.Forecast{}
		if w.cases >= 0 {
			fs = append(fs, forecasts[w.cases])
		} else {
			for _, like := range kinds[schedule.AlikeKey(w.life, w.room)] {
				fs = append(fs, forecasts[ws[like].cases])
			}
		}
		for _, f := range fs {
			w.outlooks = append(w.outlooks, schedule.NewOutlook(w.life, f, w.began, w.chores, s.Zone))
		}
	}
	return nil
}

// habits names all that a wheel's chores follow from: wheels of a lot that are
// handled together share them.
func (w *coming) habits(g verdict.Windows, loc *time.Location) string {
	var b strings.Builder
	l := w.life
	fmt.Fprintf(&b, "%s|%s|%d|%d|%t|%d|%d|%v|%d|%d", l.Plan, l.Make.ID, l.Since, day.At(w.began, loc), l.Chain.Green > 0,
		g.CoatFrom, g.CoatUntil, g.CoatWhy, g.CheckFrom, g.WeighFrom)
	for _, c := range l.Coats {
		fmt.Fprintf(&b, "|%d", c.On)
	}
	for _, j := range wheel.Jobs {
		if d, ok := l.Done[j]; ok {
			fmt.Fprintf(&b, "|%s %d %d %d", j, d.First, d.Last, d.Count)
		}
	}
	return b.String()
}

// walked sorts wheels as a person walks by them.
func walked(ws []*coming) {
	slices.SortStableFunc(ws, func(a, b *coming) int {
		if a.rank != b.rank {
			return a.rank - b.rank
		}
		if a.life.Place != b.life.Place {
			return cave.NaturalCompare(string(a.life.Place), string(b.life.Place))
		}
		return cave.NaturalCompare(a.life.Tag, b.life.Tag)
	})
}
