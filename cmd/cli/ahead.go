package cli

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// mostAhead is how many days may be looked ahead: a year and a leap day. Every
// forecast carries on for longer.
const mostAhead = 366

func (a *app) aheadCmd() *cobra.Command {
	var days int
	var room, rest, file string
	c := a.cmd("ahead", "The days ahead: work, what becomes ready, room on the shelves", `
rindkeep ahead                        the next two weeks
rindkeep ahead --days 60 --rest sat,sun
rindkeep ahead --room cellar
rindkeep ahead --days 90 --ics cave.ics    for the calendar on a phone or desk`, none, func(cmd *cobra.Command, _ []string) error {
		if days < 1 || days > mostAhead {
			return usagef("--days runs from 1 to %d and was given %d", mostAhead, days)
		}
		off, err := schedule.ParseRest(rest)
		if err != nil {
			return at("--rest", usageError{Msg: err.Error()})
		}
		if file == "-" && a.json {
			return usagef("--json and a calendar both want standard output; name a file for the calendar")
		}
		return a.look(func(s *session) error { return s.ahead(days, room, off, file) })
	})
	f := c.Flags()
	f.IntVar(&days, "days", 14, "how many `DAYS`, today with them")
	f.StringVar(&room, "room", "", "only this `ROOM`; the work is levelled over all rooms all the same")
	f.StringVar(&rest, "rest", "", "`DAYS` of the week to keep free of what can wait: sat,sun")
	f.StringVar(&file, "ics", "", "write the work and the coats expected to a calendar `FILE`; - for standard output")
	f.SortFlags = false
	a.completes(c, "room", (*session).roomNames)
	return c
}

// batch is wheels of one lot at one place that are handled alike: their chores
// are done in one go.
type batch struct {
	wheels []*coming
	rooms  []string // of each chore: a move takes the later ones along
	on     []day.Date
}

// handful is how many wheels of a batch are at most moved as one.
const handful = 40

// jobDay is one job of a room on a day, before and after levelling.
type jobDay struct {
	wheels, wheelsDue   int
	minutes, minutesDue float64
}

// roomDay is a room's work on a day.
type roomDay struct {
	jobDay
	late int // wheel-jobs past due
	jobs map[wheel.Job]*jobDay
	tags map[wheel.Job][]string // levelled
}

// happening is wheels of a lot that become something on a day.
type happening struct {
	on        day.Date
	low, high day.Date // dry: the interval of the day
	due       day.Date // taste: before levelling
	wheels    []*coming
	mass      quantity.Estimate
	now       bool // the figures are met already
	limit     schedule.OldEnough
}

// appointment is a job of a make's day that has its time.
type appointment struct {
	at      time.Time
	job     wheel.Job
	room    string
	wheels  []*coming // of one lot
	minutes float64
}

// roomAhead is a room's shelves and water.
type roomAhead struct {
	name             string
	capacity         int
	used, come, left int
	ready            int
	lodgers          []drying.Lodger
	water            drying.Load
}

// standing is how many wheels are something at the start and at the end.
type standing struct {
	wheels, wheelsEnd int
	mass, massEnd     quantity.Estimate
}

// prospect is all there is to say of the days ahead.
type prospect struct {
	from, to                   day.Date
	rest                       schedule.Rest
	room                       string
	days                       []map[string]*roomDay // by room
	rooms                      []*roomAhead
	dry, taste, lawful, ready  []*happening
	timed                      []*appointment
	waiting, isLawful, isReady standing
	wheels, unweighed, tooCold int
	own                        bool // every wheel has a forecast of its own
}

func (s *session) ahead(days int, room string, rest schedule.Rest, file string) error {
	at, from, err := s.asOf()
	if err != nil {
		return err
	}
	if room != "" {
		r, err := s.tx.Room(room)
		if err != nil {
			return err
		}
		room = r.Name
	}
	p := &prospect{from: from, to: from + day.Date(days) - 1, rest: rest, room: room}
	if p.to > day.MaxDate {
		return usagef("%d days from %s run past the year 9999", days, from)
	}
	rooms, err := s.tx.Rooms()
	if err != nil {
		return err
	}
	ws, err := s.gather(at, from, rooms)
	if err != nil {
		return err
	}
	if err := s.foresee(ws, at, p.from, p.to, ownForecasts); err != nil {
		return err
	}
	walked(ws)
	p.own = len(ws) <= ownForecasts
	p.work(ws, rooms, s.loc)
	p.lists(ws)
	p.shelves(ws, rooms, at)
	if err := s.ctx.Err(); err != nil {
		return err
	}
	if file != "" {
		if err := s.calendar(p, file); err != nil {
			return err
		}
	}
	if file == "-" {
		return nil
	}
	if s.json {
		return s.document(p.doc(s.loc))
	}
	s.aheadText(p, days, file)
	return nil
}

// shown says whether a wheel of that room is asked for.
func (p *prospect) shown(room string) bool { return p.room == "" || room == p.room }

// work spreads the chores over the days.
func (p *prospect) work(ws []*coming, rooms []cave.Room, loc *time.Location) {
	known := map[string]bool{}
	for _, r := range rooms {
		known[r.Name] = true
	}
	type alike struct {
		place  cave.Place
		mk     uuid.UUID
		chores *schedule.Chore
	}
	open := map[alike]*batch{}
	var batches []*batch
	for _, w := range ws {
		if len(w.chores) == 0 {
			continue
		}
		k := alike{w.life.Place, w.life.Make.ID, &w.chores[0]}
		b := open[k]
		if b == nil || len(b.wheels) == handful {
			b = &batch{}
			open[k], batches = b, append(batches, b)
		}
		b.wheels = append(b.wheels, w)
	}
	var loads []schedule.Load
	for _, b := range batches {
		room := b.wheels[0].room
		for _, c := range b.wheels[0].chores {
			b.rooms = append(b.rooms, room)
			if to := cave.Place(c.To).Room(); c.Job == wheel.Move && known[to] {
				room = to
			}
			loads = append(loads, schedule.Load{On: c.On, Low: c.Low, High: c.High, Minutes: c.Minutes * float64(len(b.wheels))})
		}
	}
	on := schedule.Level(loads, p.from, p.to, p.rest)
	p.days = make([]map[string]*roomDay, p.to-p.from+1)
	for i := range p.days {
		p.days[i] = map[string]*roomDay{}
	}
	p.rooms = nil
	ahead := map[string]*roomAhead{}
	for _, r := range rooms {
		x := &roomAhead{name: r.Name, capacity: r.Capacity()}
		ahead[r.Name] = x
		p.rooms = append(p.rooms, x)
	}
	for _, b := range batches {
		cs := b.wheels[0].chores
		b.on, on = on[:len(cs)], on[len(cs):]
		n := len(b.wheels)
		type visit struct {
			room string
			on   day.Date
		}
		before, after := map[visit]bool{}, map[visit]bool{}
		for i, c := range cs {
			r := b.rooms[i]
			if i > 0 && b.rooms[i-1] != r && ahead[r] != nil {
				ahead[r].come += n
				if x := ahead[b.rooms[i-1]]; x != nil {
					x.left += n
				}
			}
			minutes := c.Minutes * float64(n)
			d := p.at(c.On, r)
			d.late += n * min(1, c.Late)
			d.minutesDue += minutes
			d.job(c.Job).minutesDue += minutes
			d.job(c.Job).wheelsDue += n
			if v := (visit{r, c.On}); !before[v] {
				before[v] = true
				d.wheelsDue += n
			}
			d = p.at(b.on[i], r)
			d.minutes += minutes
			d.job(c.Job).minutes += minutes
			d.job(c.Job).wheels += n
			if v := (visit{r, b.on[i]}); !after[v] {
				after[v] = true
				d.wheels += n
			}
			if p.shown(r) {
				for _, w := range b.wheels {
					d.tags[c.Job] = append(d.tags[c.Job], w.life.Tag)
				}
			}
			if p.shown(r) {
				p.appoint(c, b.wheels, r, loc)
			}
			if c.Job == wheel.Taste && p.shown(b.wheels[0].room) {
				for _, w := range b.wheels {
					p.taste = join(p.taste, w, happening{on: b.on[i], due: c.On})
				}
			}
		}
		// A move that is a batch's last chore has nothing after it to show it.
		last := len(cs) - 1
		if to := cave.Place(cs[last].To).Room(); cs[last].Job == wheel.Move && known[to] && to != b.rooms[last] {
			ahead[to].come += n
			if x := ahead[b.rooms[last]]; x != nil {
				x.left += n
			}
		}
	}
}

// appoint notes the times of a chore; one that is a day late has lost its time.
func (p *prospect) appoint(c schedule.Chore, ws []*coming, room string, loc *time.Location) {
	for _, t := range c.Times {
		if day.At(t, loc) != c.On {
			continue
		}
		minutes := c.Minutes / float64(c.Rounds) * float64(len(ws))
		i := slices.IndexFunc(p.timed, func(a *appointment) bool {
			return a.at.Equal(t) && a.job == c.Job && a.room == room && a.wheels[0].life.Make.ID == ws[0].life.Make.ID
		})
		if i < 0 {
			p.timed = append(p.timed, &appointment{at: t, job: c.Job, room: room})
			i = len(p.timed) - 1
		}
		a := p.timed[i]
		a.wheels, a.minutes = append(a.wheels, ws...), a.minutes+minutes
	}
}

func (a *appointment) lot() string { return a.wheels[0].life.Make.Lot }

func (a *appointment) tags() []string { return (&happening{wheels: a.wheels}).tags() }

func (p *prospect) at(on day.Date, room string) *roomDay {
	m := p.days[on-p.from]
	d := m[room]
	if d == nil {
		d = &roomDay{jobs: map[wheel.Job]*jobDay{}, tags: map[wheel.Job][]string{}}
		m[room] = d
	}
	return d
}

func (d *roomDay) job(j wheel.Job) *jobDay {
	x := d.jobs[j]
	if x == nil {
		x = &jobDay{}
		d.jobs[j] = x
	}
	return x
}

// join puts a wheel to those of its lot to which the same happens.
func join(list []*happening, w *coming, h happening) []*happening {
	for i := len(list) - 1; i >= 0 && i >= len(list)-400; i-- {
		o := list[i]
		if o.wheels[0].life.Make.ID == w.life.Make.ID && o.on == h.on && o.low == h.low && o.high == h.high && o.due == h.due && o.now == h.now && o.limit == h.limit {
			o.wheels = append(o.wheels, w)
			o.mass = schedule.Sum(o.mass, w.mass(h.on))
			return list
		}
	}
	h.wheels, h.mass = []*coming{w}, w.mass(h.on)
	return append(list, &h)
}

// awaited is a coat expected on a day; what should have been before today is
// expected now.
func (p *prospect) awaited(e verdict.Expected) happening {
	h := happening{on: max(p.from, e.Best), low: max(p.from, e.Low), high: e.High}
	if e.High != day.None {
		h.high = max(h.on, e.High)
	}
	return h
}

// lists finds what becomes of the wheels.
func (p *prospect) lists(ws []*coming) {
	slices.SortStableFunc(p.timed, func(a, b *appointment) int {
		return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.job.Order(), b.job.Order()), naturally(a.lot(), b.lot()), strings.Compare(a.room, b.room))
	})
	for _, a := range p.timed {
		slices.SortStableFunc(a.wheels, func(x, y *coming) int { return naturally(x.life.Tag, y.life.Tag) })
	}
	tally := func(s *standing, w *coming, on day.Date) {
		if on <= p.from {
			s.wheels++
			s.mass = schedule.Sum(s.mass, w.mass(p.from))
		}
		if on <= p.to {
			s.wheelsEnd++
			s.massEnd = schedule.Sum(s.massEnd, w.mass(p.to))
		}
	}
	for _, w := range ws {
		if !p.shown(w.room) {
			continue
		}
		p.wheels++
		if w.life.Chain.Green == 0 {
			p.unweighed++
		}
		if w.waits {
			switch on := w.verdict.On; {
			case w.verdict.Answer == verdict.DryEnough || w.verdict.Answer == verdict.CheckByHand || w.verdict.Answer == verdict.TooDry:
				p.dry = join(p.dry, w, happening{on: p.from, low: p.from, high: p.from, now: true})
				tally(&p.waiting, w, p.from)
			case on != nil && on.Best <= p.to:
				p.dry = join(p.dry, w, p.awaited(*on))
				tally(&p.waiting, w, max(p.from+1, on.Best))
			}
		}
		if w.limited && w.limit.Stalled {
			p.tooCold++
		}
		if w.limited && !w.limit.Stalled {
			tally(&p.isLawful, w, w.limit.On)
			if w.limit.On >= p.from && w.limit.On <= p.to {
				p.lawful = join(p.lawful, w, happening{on: w.limit.On, limit: w.limit})
			}
		}
		if w.ready != day.None {
			tally(&p.isReady, w, w.ready)
			if w.ready >= p.from && w.ready <= p.to {
				p.ready = join(p.ready, w, happening{on: w.ready})
			}
		}
	}
	for _, l := range [][]*happening{p.dry, p.taste, p.lawful, p.ready} {
		slices.SortStableFunc(l, func(a, b *happening) int {
			return cmp.Or(cmp.Compare(a.on, b.on), nowFirst(a, b), naturally(a.lot(), b.lot()), cmp.Compare(a.low, b.low))
		})
		for _, h := range l {
			slices.SortStableFunc(h.wheels, func(a, b *coming) int { return naturally(a.life.Tag, b.life.Tag) })
		}
	}
}

// shelves counts places and water, room by room. Wheels that lie nowhere known
// come as a room without a name.
func (p *prospect) shelves(ws []*coming, rooms []cave.Room, at time.Time) {
	byName := map[string]*roomAhead{}
	for _, r := range p.rooms {
		byName[r.name] = r
	}
	for _, w := range ws {
		r := byName[w.room]
		if r == nil {
			r = &roomAhead{name: w.room}
			byName[w.room] = r
			p.rooms = append(p.rooms, r)
		}
		r.used++
		if w.ready != day.None && w.ready <= p.to {
			r.ready++
		}
		if !p.shown(w.room) {
			continue
		}
		o := w.outlooks[int(w.life.Wheel.Number)%len(w.outlooks)]
		r.lodgers = append(r.lodgers, drying.Lodger{Forecast: o.Forecast, Day: max(0, at.Sub(w.began).Hours()/24)})
	}
	p.rooms = slices.DeleteFunc(p.rooms, func(r *roomAhead) bool { return !p.shown(r.name) })
	for _, r := range p.rooms {
		r.water = drying.WaterLoad(r.lodgers)
	}
}

func nowFirst(a, b *happening) int {
	switch {
	case a.now == b.now:
		return 0
	case a.now:
		return -1
	}
	return 1
}

func (h *happening) lot() string { return h.wheels[0].life.Make.Lot }

func (h *happening) tags() []string {
	out := make([]string, len(h.wheels))
	for i, w := range h.wheels {
		out[i] = w.life.Tag
	}
	return out
}

// held counts the wheels that are on hold and those never weighed.
func (h *happening) held() (held, unweighed int) {
	for _, w := range h.wheels {
		if len(w.life.Holds) > 0 {
			held++
		}
		if w.life.Chain.Green == 0 {
			unweighed++
		}
	}
	return held, unweighed
}

// day sums a day over the rooms asked for, in the order of the walk.
func (p *prospect) day(i int) (sum jobDay, late int, jobs map[wheel.Job]*jobDay, rooms []string) {
	jobs = map[wheel.Job]*jobDay{}
	for name, d := range p.days[i] {
		if !p.shown(name) {
			continue
		}
		rooms = append(rooms, name)
		late += d.late
		sum.wheels, sum.wheelsDue = sum.wheels+d.wheels, sum.wheelsDue+d.wheelsDue
	}
	order := map[string]int{"": len(p.rooms) + 1}
	for k, r := range p.rooms {
		if r.name != "" {
			order[r.name] = k
		}
	}
	slices.SortFunc(rooms, func(a, b string) int { return cmp.Or(order[a]-order[b], strings.Compare(a, b)) })
	for _, name := range rooms { // in order, so that sums come out the same to the last digit
		d := p.days[i][name]
		sum.minutes, sum.minutesDue = sum.minutes+d.minutes, sum.minutesDue+d.minutesDue
		for _, j := range wheel.Jobs {
			if x := d.jobs[j]; x != nil {
				if jobs[j] == nil {
					jobs[j] = &jobDay{}
				}
				y := jobs[j]
				*y = jobDay{y.wheels + x.wheels, y.wheelsDue + x.wheelsDue, y.minutes + x.minutes, y.minutesDue + x.minutesDue}
			}
		}
	}
	return sum, late, jobs, rooms
}

// barWide is how many marks the fullest day has.
const barWide = 24
