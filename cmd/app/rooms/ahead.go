package rooms

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// MaxAhead is how many days can be looked ahead: a year and a leap day. Every
// forecast carries on for longer.
const MaxAhead = 366

// AheadAsked is a question about the days ahead.
type AheadAsked struct {
	Days       int // including today
	Rest       schedule.Rest
	Named      bool // the days name their wheels, for a calendar
	app.Narrow      // work is balanced across the wheels of all rooms that fit, though only one is asked for
}

// outlook is all there is to tell of the days ahead.
type outlook struct {
	Ahead
	from, to day.Date
	ws       []*coming
	loc      *time.Location
	order    []string // rooms in walking order

	minutes, fullest, fullestDue float64 // of all days; of the fullest
}

// LookAhead tells of the days ahead: work, what becomes of the wheels, shelves.
func LookAhead(ctx context.Context, a *app.App, c app.Caller, q AheadAsked) (Ahead, error) {
	if q.Days < 1 || q.Days > MaxAhead {
		return Ahead{}, app.Misuse("days", reason.Outside[int]{What: "days", Value: q.Days, Low: 1, High: MaxAhead})
	}
	return app.AskLong(ctx, a, c, func(s *app.Session) (Ahead, error) {
		at, from, err := s.AsOf()
		if err != nil {
			return Ahead{}, err
		}
		in, err := s.PlaceOf("room", q.Room)
		if err != nil {
			return Ahead{}, err
		}
		if q.Room = in.Room(); cave.Place(q.Room) != in {
			q.Rack = cmp.Or(q.Rack, string(in))
		}
		only := q.Narrow
		only.Room = ""
		p := &outlook{from: from, to: from + day.Date(q.Days) - 1, loc: s.Zone}
		if p.to > day.MaxDate {
			return Ahead{}, app.Misuse("days",
				reason.Outside[int]{What: "days", Value: q.Days, Low: 1, High: int(day.MaxDate - from)})
		}
		p.Ahead = newAhead(s, q, p.from, p.to)
		rooms, err := s.Tx.Rooms()
		if err != nil {
			return Ahead{}, err
		}
		if p.ws, err = everyWheel(s, only, at, from, rooms, ownForecasts); err != nil {
			return Ahead{}, err
		}
		if err := project(s, p.ws, at, p.from, p.to); err != nil {
			return Ahead{}, err
		}
		walked(p.ws)
		p.Totals.OwnForecast = len(p.ws) <= ownForecasts
		p.work(rooms, s, q.Named)
		p.becomes()
		p.shelves(rooms, at)
		return p.Ahead, ctx.Err()
	})
}

func (p *outlook) shown(room string) bool { return p.Room == nil || room == *p.Room }

// work spreads the chores over the days.
func (p *outlook) work(rooms []cave.Room, s *app.Session, named bool) {
	for _, r := range rooms {
		p.order = append(p.order, r.Name)
	}
	hs := make([]schedule.Handled, len(p.ws))
	for i, w := range p.ws {
		hs[i] = schedule.Handled{Make: w.Make, Place: w.Place, Chores: w.chores}
		if named {
			hs[i].Tag = w.Tag
		}
	}
	p.Load = schedule.Spread(hs, p.order, p.from, p.to, p.RestDays, s.Zone)
	for i := range p.Load.Days {
		p.Days = append(p.Days, p.day(i))
	}
	t := &p.Totals
	t.Minutes, t.Fullest, t.FullestDue = app.Zeroed(p.minutes), app.Zeroed(p.fullest), app.Zeroed(p.fullestDue)
	for _, t := range p.Load.Timed {
		if p.shown(t.Room) {
			p.Timed = append(p.Timed, p.timed(t, s))
		}
	}
	slices.SortStableFunc(p.Timed, func(a, b AheadTimed) int {
		return cmp.Or(a.When.Compare(b.When), cmp.Compare(wheel.Job(a.Job).Order(), wheel.Job(b.Job).Order()),
			cave.NaturalCompare(a.Lot, b.Lot), strings.Compare(a.Room, b.Room))
	})
}

func (p *outlook) day(i int) AheadDay {
	on := p.from + day.Date(i)
	sum, names := p.Load.Day(i, p.order, p.shown)
	d := AheadDay{
		Date: on.String(), Rest: p.RestDays.On(on), Wheels: sum.Wheels, WheelsDue: sum.WheelsDue, Late: sum.Late,
		LateJobs: sum.Lines, Minutes: app.Zeroed(sum.Minutes),
		MinutesDue: app.Zeroed(sum.MinutesDue), Rooms: []AheadRoomDay{}, On: on,
		Sum: sum.Work,
	}
	for _, j := range sum.Jobs {
		d.Tasks += j.Wheels
		d.TasksDue += j.WheelsDue
	}
	for _, name := range names {
		r := p.Load.Days[i][name]
		x := AheadRoomDay{
			Room: name, Wheels: r.Wheels, WheelsDue: r.WheelsDue, Late: r.Late,
			Minutes: app.Zeroed(r.Minutes), MinutesDue: app.Zeroed(r.MinutesDue), Jobs: []AheadJob{}, Tags: r.Tags,
		}
		for _, j := range wheel.Jobs {
			if w := r.Jobs[j]; w != nil {
				x.Jobs = append(x.Jobs, AheadJob{string(j), w.Wheels, w.WheelsDue, app.Zeroed(w.Minutes), app.Zeroed(w.MinutesDue)})
			}
			slices.SortStableFunc(x.Tags[j], cave.NaturalCompare)
		}
		d.Rooms = append(d.Rooms, x)
	}
	p.Totals.Tasks += d.Tasks
	p.minutes += sum.Minutes
	p.fullest, p.fullestDue = max(p.fullest, sum.Minutes), max(p.fullestDue, sum.MinutesDue)
	return d
}

func (p *outlook) timed(t schedule.Timed, s *app.Session) AheadTimed {
	w := p.ws[t.Wheels[0]]
	tags := make([]string, len(t.Wheels))
	for i, k := range t.Wheels {
		tags[i] = p.ws[k].Tag
	}
	slices.SortStableFunc(tags, cave.NaturalCompare)
	at := t.At.In(s.Zone)
	return AheadTimed{
		At: app.Instant(at, s.Zone), Time: at.Format("15:04"), Job: string(t.Job), Lot: w.make.Lot,
		Variety: w.variety.Name,
		Wheels:  tags, Room: t.Room, Minutes: app.Zeroed(t.Minutes), When: at, Title: w.variety.Title, Make: w.Make,
		Took: t.Minutes,
	}
}

// event is what becomes of wheels of a lot on a day.
type event struct {
	on        day.Date
	low, high day.Date // of a coat: the interval of the day
	due       day.Date // of a tasting: before levelling
	now       bool     // the figures are met already
	limit     schedule.OldEnough
}

// group is wheels of one lot with the same event.
type group struct {
	event
	wheels []*coming
	mass   quantity.Estimate // g
}

// groups gathers wheels by lot and event.
type groups struct {
	loc  *time.Location
	list []*group
	at   map[string]map[event]*group // by lot
}

func (g *groups) add(w *coming, e event) {
	lot := w.make.Lot
	if g.at == nil {
		g.at = map[string]map[event]*group{}
	}
	if g.at[lot] == nil {
		g.at[lot] = map[event]*group{}
	}
	x := g.at[lot][e]
	if x == nil {
		x = &group{event: e}
		g.at[lot][e], g.list = x, append(g.list, x)
	}
	x.wheels = append(x.wheels, w)
	x.mass = schedule.Sum(x.mass, w.goesOn(g.loc).Mass(e.on))
}

// sorted gives the groups in the order they come, and their wheels by tag.
func (g *groups) sorted() []*group {
	nowFirst := func(x *group) int {
		if x.now {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(g.list, func(a, b *group) int {
		return cmp.Or(cmp.Compare(a.on, b.on), nowFirst(a)-nowFirst(b),
			cave.NaturalCompare(a.wheels[0].make.Lot, b.wheels[0].make.Lot), cmp.Compare(a.low, b.low))
	})
	for _, x := range g.list {
		slices.SortStableFunc(x.wheels, func(a, b *coming) int { return cave.NaturalCompare(a.Tag, b.Tag) })
	}
	return g.list
}

// becomes finds what becomes of the wheels.
func (p *outlook) becomes() {
	dry, taste, lawful, ready := groups{loc: p.loc}, groups{loc: p.loc}, groups{loc: p.loc}, groups{loc: p.loc}
	for _, t := range p.Load.Tastings {
		if w := p.ws[t.Wheel]; p.shown(w.room) {
			taste.add(w, event{on: t.On, due: t.Due})
		}
	}
	for _, w := range p.ws {
		if !p.shown(w.room) {
			continue
		}
		p.Totals.Wheels++
		if w.Brief.Weighings == 0 {
			p.Totals.Unweighed++
		}
		if e, ok := p.coat(w); ok {
			dry.add(w, e)
			on := max(p.from+1, e.on)
			if e.now {
				on = p.from
			}
			p.tally(&p.Sums.Waiting, w, on)
		}
		if l := w.limit; l != nil && l.Stalled {
			p.Totals.TooCold++
		} else if l != nil {
			p.tally(&p.Sums.Lawful, w, l.On)
			if l.On >= p.from && l.On <= p.to {
				lawful.add(w, event{on: l.On, limit: *l})
			}
		}
		if w.ready != day.None {
			p.tally(&p.Sums.Ready, w, w.ready)
			if w.ready >= p.from && w.ready <= p.to {
				ready.add(w, event{on: w.ready})
			}
		}
	}
	for _, g := range dry.sorted() {
		p.Dry = append(p.Dry, AheadDry{lotOf(g), expectedOf(g.event), g.now})
	}
	for _, g := range taste.sorted() {
		p.Taste = append(p.Taste, AheadTaste{lotOf(g), g.on.String(), g.due.String()})
	}
	for _, g := range lawful.sorted() {
		p.Lawful = append(p.Lawful, lawfulOf(g))
	}
	for _, g := range ready.sorted() {
		p.Ready = append(p.Ready, AheadReady{lotOf(g), g.on.String()})
	}
	if len(p.Lawful) > 0 {
		p.Cautions = append(p.Cautions, app.Caution{Code: app.AgesOnly, Of: p.Lawful})
	}
	if n := p.Totals.TooCold; n > 0 {
		p.Cautions = append(p.Cautions, app.Caution{Code: app.TooCold, Of: n})
	}
}

// coat is the coat a wheel waits for, where it is expected in the days looked at.
// What should have been before today is expected now.
func (p *outlook) coat(w *coming) (event, bool) {
	if !w.waits {
		return event{}, false
	}
	switch on := w.dry.On; {
	case w.dry.Stale(),
		slices.Contains([]verdict.Answer{verdict.DryEnough, verdict.CheckByHand, verdict.TooDry}, w.dry.Answer):
		return event{on: p.from, low: p.from, high: p.from, now: true}, true
	case on != nil && on.Best <= p.to:
		e := event{on: max(p.from, on.Best), low: max(p.from, on.Low), high: on.High}
		if on.High != day.None {
			e.high = max(e.on, on.High)
		}
		return e, true
	}
	return event{}, false
}

// tally counts a wheel that is something from a date on.
func (p *outlook) tally(s *AheadSum, w *coming, on day.Date) {
	if on > p.to {
		return
	}
	o := w.goesOn(p.loc)
	if on <= p.from {
		s.Wheels++
		s.MassG = schedule.Sum(s.MassG, o.Mass(p.from))
		s.Mass = kilos(s.MassG)
	}
	s.WheelsEnd++
	s.MassEndG = schedule.Sum(s.MassEndG, o.Mass(p.to))
	s.MassEnd = kilos(s.MassEndG)
}

// shelves counts places and water, room by room. Wheels that are nowhere known
// come as a room without a name.
func (p *outlook) shelves(rooms []cave.Room, at time.Time) {
	type shelf struct {
		AheadShelves
		load drying.Load
	}
	var list []*shelf
	byName := map[string]*shelf{}
	room := func(name string) *shelf {
		x := byName[name]
		if x == nil {
			x = &shelf{AheadShelves: AheadShelves{Room: name, Come: p.Load.Come[name], Leave: p.Load.Leave[name]}}
			byName[name], list = x, append(list, x)
		}
		return x
	}
	for _, r := range rooms {
		if x := room(r.Name); r.Capacity() > 0 {
			n := r.Capacity()
			x.Capacity = &n
		}
	}
	for _, w := range p.ws {
		x := room(w.room)
		x.Used++
		if w.ready != day.None && w.ready <= p.to {
			x.ReadyEnd++
		}
		if p.shown(w.room) {
			o := w.goesOn(p.loc)
			x.load.Add(&o, w.track.Green, max(0, at.Sub(o.Began).Hours()/24))
		}
	}
	for _, x := range list {
		if !p.shown(x.Room) {
			continue
		}
		x.UsedEnd = x.Used + x.Come - x.Leave
		if x.Capacity != nil {
			free, then := *x.Capacity-x.Used, *x.Capacity-x.UsedEnd
			x.Free, x.FreeEnd = &free, &then
		}
		x.Water = AheadWater{x.load.Wheels, app.EstOf(x.load.Now), app.EstOf(x.load.InAWeek)}
		p.Rooms = append(p.Rooms, x.AheadShelves)
	}
}
