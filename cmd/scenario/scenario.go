// Package scenario invents a creamery for the demo: rooms, makes, wheels and everything that happened to them until
// today. Nothing in it is real, and no test of the drying model relies on it. The same day and seed give the same
// creamery.
package scenario

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// Name is the name of the invented creamery.
const Name = "Hollow Ash Dairy (invented)"

// people are the invented workers of the creamery.
var people = []string{"Orla", "Bram"}

// sound is a hand check of a wheel that is fit to coat.
var sound = wheel.HandCheck{DryToTouch: wheel.Yes, Weeping: wheel.No, Cracks: wheel.No, Mould: wheel.No}

// Book is the contents of an invented book.
type Book struct {
	Rooms   []cave.Room
	Makes   []wheel.Make
	Wheels  []wheel.Wheel
	Entries []wheel.Entry
}

// smallRooms are a drying room, a cellar and a fridge.
func smallRooms(written time.Time) []cave.Room {
	racks := func(shelves, each int, names ...string) (out []cave.Rack) {
		for _, n := range names {
			out = append(out, cave.Rack{Name: n, Shelves: shelves, PerShelf: each})
		}
		return out
	}
	return []cave.Room{
		{Name: "drying", Title: "drying room", Order: 1, Temp: 12.5, RH: 0.80, TempLow: 11, TempHigh: 14, RHLow: 0.74,
			RHHigh: 0.86, Movement: air.Gentle, Racks: racks(4, 8, "A", "B"), Written: written},
		{Name: "cellar", Title: "vaulted cellar", Order: 2, Temp: 11, RH: 0.88, TempLow: 9, TempHigh: 13, RHLow: 0.82,
			RHHigh: 0.95, Movement: air.Gentle, Racks: racks(5, 10, "A", "B", "C"), Written: written},
		{Name: "fridge", Title: "old drinks fridge", Order: 3, Temp: 6, RH: 0.84, TempLow: 4, TempHigh: 8, RHLow: 0.75,
			RHHigh: 0.93, Movement: air.Still, Racks: racks(4, 8, "F"), Written: written},
	}
}

// batch is one make of the scenario.
type batch struct {
	variety string
	age     int // days before today
	count   int
	grams   float64
	place   string
	raw     bool
	lag     int  // days since its last handling, for some late work
	keep    bool // its coats are left for the reader to put on
	odd     map[int]oddity
}

// oddity is what is unusual about one wheel.
type oddity struct {
	fast      float64 // dries this many times as fast
	leak      bool    // its coat leaks
	slip      int     // this weighing (from 1) is first mistyped, then cancelled
	unchecked bool    // has no hand checks
}

// batches are the creamery's makes, youngest first.
var batches = []batch{
	{variety: "camembert", age: 3, count: 10, grams: 290, place: "fridge/F/1"},
	{variety: "cheddar-waxed", age: 4, count: 6, grams: 2130, place: "drying/A/1", keep: true,
		odd: map[int]oddity{4: {slip: 3}}},
	{variety: "edam", age: 6, count: 4, grams: 1880, place: "drying/A/2", keep: true},
	{variety: "cheddar-waxed", age: 9, count: 5, grams: 2080, place: "drying/B/1", raw: true, keep: true,
		odd: map[int]oddity{2: {fast: 1.9}, 4: {unchecked: true}, 5: {unchecked: true}}},
	{variety: "blue", age: 16, count: 6, grams: 2450, place: "cellar/A/1"},
	{variety: "washed-soft", age: 12, count: 8, grams: 420, place: "cellar/A/2"},
	{variety: "tomme", age: 34, count: 8, grams: 1720, place: "cellar/B/1", raw: true, lag: 3},
	{variety: "cheddar-waxed", age: 76, count: 6, grams: 2110, place: "cellar/B/2", odd: map[int]oddity{3: {leak: true}}},
	{variety: "cheddar-cloth", age: 118, count: 4, grams: 6400, place: "cellar/C/1", raw: true},
	{variety: "alpine-hard", age: 152, count: 4, grams: 9200, place: "cellar/C/2", raw: true, lag: 1},
}

// Small invents the creamery on today's date. All work is done until yesterday,
// except what the scenario leaves undone.
func Small(today day.Date, loc *time.Location, seed uint64) (Book, error) {
	ids := &mint{rnd: rand.New(rand.NewPCG(seed, 0x71ee1))}
	start := (today - 400).Start(loc)
	b := Book{Rooms: smallRooms(start)}
	byName := map[string]cave.Room{}
	for i := range b.Rooms {
		b.Rooms[i].ID = ids.at(start)
		b.Rooms[i].By = people[0]
		byName[b.Rooms[i].Name] = b.Rooms[i]
	}
	lotOf := newLots()
	for i, bt := range slices.Backward(batches) {
		// Each make and each wheel has its own chances, so that what one does leaves
		// the others as they were.
		chances := func(wheel int) *rand.Rand { return rand.New(rand.NewPCG(seed, uint64(1000*i+wheel))) }
		rnd := chances(0)
		v, p, err := library(bt.variety)
		if err != nil {
			return Book{}, err
		}
		date := today - day.Date(bt.age)
		m := makeOf(ids, lotOf(date), date, v, bt, loc, rnd)
		b.Makes = append(b.Makes, m)
		lotFactor := math.Exp(0.18*rnd.NormFloat64()) * math.Exp(0.12*rnd.NormFloat64())
		for k := 1; k <= bt.count; k++ {
			rnd, w := chances(k), wheelOf(ids, m, v, bt, k, loc)
			b.Wheels = append(b.Wheels, w)
			h := hand{
				ids: ids, rnd: rnd, loc: loc, plan: p, variety: v, make: m, wheel: w, batch: bt, odd: bt.odd[k],
				rooms: byName, factor: lotFactor * math.Exp(0.06*rnd.NormFloat64()),
				green: bt.grams * math.Exp(0.02*rnd.NormFloat64()),
			}
			if h.odd.fast > 0 {
				h.factor *= h.odd.fast
			}
			b.Entries = append(b.Entries, h.live(today)...)
		}
	}
	return b, nil
}

// library finds a variety and its plan.
func library(name string) (variety.Variety, schedule.Plan, error) {
	v, ok := variety.Find(name)
	if !ok {
		return v, schedule.Plan{}, fmt.Errorf("the demo's variety %q is not in the library", name)
	}
	p, ok := schedule.Find(v.Plan)
	if !ok {
		return v, p, fmt.Errorf("the demo's plan %q is not in the library", v.Plan)
	}
	return v, p, nil
}

// newLots gives lot codes by date, each a new one.
func newLots() func(day.Date) string {
	used := map[string]bool{}
	return func(d day.Date) string {
		lot := wheel.DefaultLot(d, "", func(l string) bool { return used[l] })
		used[lot] = true
		return lot
	}
}

func makeOf(ids *mint, lot string, date day.Date, v variety.Variety, bt batch, loc *time.Location,
	rnd *rand.Rand) wheel.Make {
	written := date.Clock(17, 10, loc).UTC()
	treatment := wheel.Pasteurised
	if bt.raw {
		treatment = wheel.Raw
	}
	total := bt.grams * float64(bt.count)
	curd := quantity.Grams(math.Round(total * 1.02))
	c := v.Composition
	species := "cow"
	if len(v.Species) > 0 {
		species = v.Species[0]
	}
	rate := quantity.Fraction(0.018)
	return wheel.Make{
		ID: ids.at(written), Lot: lot, Date: date, Variety: v.Name,
		Milk: wheel.Milk{Species: species, Litres: quantity.Litres(math.Round(total * 9.6 / 1000)), Treatment: treatment,
			Fat: 0.038, Protein: 0.034},
		Curd: curd, SaltMass: quantity.Grams(math.Round(float64(wheel.SaltFor(curd, rate)))), SaltRate: rate,
		SaltWhere: "curd",
		Start:     wheel.Composition{Moisture: c.Moisture, MoistureSD: c.MoistureSD, Fat: c.Fat, Salt: c.Salt, PH: c.PH},
		Written:   written, By: people[rnd.IntN(2)],
	}
}

func wheelOf(ids *mint, m wheel.Make, v variety.Variety, bt batch, k int, loc *time.Location) wheel.Wheel {
	written := m.Date.Clock(17, 30, loc).UTC()
	return wheel.Wheel{
		ID: ids.at(written), Make: m.ID, Number: k, Tag: wheel.DefaultTag(m.Lot, k, bt.count), Place: cave.Place(bt.place),
		Plan:  v.Plan,
		Shape: v.Shape.ForWeight(quantity.Grams(bt.grams), shape.CheeseDensity), Since: written, Written: written, By: m.By,
	}
}

// hand plays one wheel's life day by day.
type hand struct {
	ids     *mint
	rnd     *rand.Rand
	loc     *time.Location
	plan    schedule.Plan
	variety variety.Variety
	make    wheel.Make
	wheel   wheel.Wheel
	batch   batch
	odd     oddity
	rooms   map[string]cave.Room
	factor  float64 // how fast it dries, compared with the expectation
	green   float64 // g

	entries  []wheel.Entry
	began    time.Time
	bare     drying.Forecast
	coatedAt time.Time
	tare     float64
	weighed  int
}

// RoomNamed finds a room of the scenario.
func (h *hand) RoomNamed(name string) (cave.Room, bool) { r, ok := h.rooms[name]; return r, ok }

// AirBetween has no readings: the scenario's rooms are at their set points.
func (h *hand) AirBetween(string, time.Time, time.Time) []cave.Reading { return nil }

func (h *hand) life() wheel.Life {
	return wheel.NewLife(h.wheel, h.make, h.entries, h.loc, nil)
}

func (h *hand) dryCase(l wheel.Life) verdict.Case {
	began := l.Chain.Began
	c := verdict.Case{Life: l, Variety: h.variety, Gate: h.plan.Gate, Loc: h.loc}
	c.Air, c.HygrometerSD = verdict.Spans(l, h.variety, began, began.AddDate(2, 0, 0), h)
	return verdict.New(c)
}

// net is the mass of the cheese without its coat at t, g.
func (h *hand) net(t time.Time) float64 {
	lossAt := func(t time.Time) float64 { return h.factor * h.bare.Loss(t.Sub(h.began).Hours()/24).Best }
	loss := lossAt(t)
	if !h.coatedAt.IsZero() && t.After(h.coatedAt) {
		at := lossAt(h.coatedAt)
		through := 0.10 // share of the drying that the coat lets through
		switch {
		case h.odd.leak:
			through = 0.85
		case h.batch.variety == "cheddar-cloth":
			through = 0.75
		}
		loss = at + through*(loss-at)
	}
	return h.green * (1 - math.Min(loss, 0.9*float64(h.make.Start.Moisture)))
}

// scale is what a scale shows: the error of handling, rounded to the scale's step.
func (h *hand) scale(t time.Time) quantity.Grams {
	step := 1.0
	if h.green > 5000 {
		step = 5
	}
	w := (h.net(t) + h.tare) * (1 + 0.0005*h.rnd.NormFloat64())
	return quantity.Grams(math.Round(w/step) * step)
}

func (h *hand) write(e wheel.Entry) wheel.Entry {
	e.ID, e.Subject, e.At = h.ids.at(e.At), h.wheel.ID, e.At.UTC().Truncate(time.Millisecond)
	e.Written = e.At
	if e.By == "" {
		e.By = people[h.rnd.IntN(2)]
	}
	h.entries = append(h.entries, e)
	return e
}

// live plays the wheel's days from the make to the evening before today.
func (h *hand) live(today day.Date) []wheel.Entry {
	h.began = h.make.Date.Clock(17, 30, h.loc).UTC()
	h.write(wheel.Entry{Kind: wheel.Weighed, At: h.began, Weight: quantity.Grams(math.Round(h.green)),
		Note: "green weight"})
	l := h.life()
	s := h.dryCase(l).Subject()
	s.Points = nil
	h.bare = drying.Estimate(s)
	for d := h.make.Date + 1; d < today-day.Date(h.batch.lag); d++ {
		h.day(d)
	}
	return h.entries
}

func (h *hand) day(d day.Date) {
	l := h.life()
	sub := schedule.Subject{
		Life: l, DryingDays: h.variety.DryingDays, ReadyDays: h.variety.ReadyDays, Gate: verdict.Shut(), Loc: h.loc,
	}
	_, gated := h.plan.GateCoat()
	if gated && h.coatedAt.IsZero() && !h.batch.keep {
		sub.Gate = h.dryCase(l).Windows()
	}
	minute := 0
	clock := func(hour int) time.Time {
		minute += 1 + h.wheel.Number%3
		return d.Clock(hour, (minute+7*h.wheel.Number)%60, h.loc)
	}
	for _, t := range schedule.Due(h.plan, sub) {
		st, ok := t.On(d)
		if !ok {
			continue
		}
		switch {
		case t.Job == wheel.Weigh:
			h.weigh(clock(9))
		case t.Job == wheel.Check && !h.odd.unchecked:
			found := sound
			if d-h.make.Date < 2 {
				found.DryToTouch = wheel.No
			}
			h.write(wheel.Entry{Kind: wheel.Checked, At: clock(9), Found: found})
		case t.Job == wheel.Coat && !h.batch.keep:
			h.coat(clock(11), t.Coat)
			return
		case !slices.Contains([]wheel.Job{wheel.Check, wheel.Coat, wheel.Move}, t.Job):
			for r := range st.Left {
				h.write(wheel.Entry{Kind: wheel.Did, Job: t.Job, At: clock([]int{8, 17, 20}[min(r, 2)])})
			}
		}
	}
}

func (h *hand) coat(at time.Time, kind string) {
	before := h.scale(at)
	h.coatedAt, h.tare = at, math.Round(0.028*h.green)
	h.write(wheel.Entry{
		Kind: wheel.CoatedOn, At: at, Coat: kind, Before: before, Weight: before + quantity.Grams(h.tare),
	})
}

func (h *hand) weigh(at time.Time) {
	h.weighed++
	w := h.scale(at)
	if h.odd.slip == h.weighed {
		// Mistyped, noticed at once and cancelled.
		wrong := h.write(wheel.Entry{Kind: wheel.Weighed, At: at, Weight: w - 180, Sure: true})
		h.write(wheel.Entry{Kind: wheel.Struck, At: at.Add(2 * time.Minute), Target: wrong.ID, Note: "mis-keyed",
			By: wrong.By})
		at = at.Add(3 * time.Minute)
	}
	h.write(wheel.Entry{Kind: wheel.Weighed, At: at, Weight: w})
}

// mint makes UUIDs of version 7 from the scenario's random numbers, so that the same seed gives the same book.
type mint struct {
	rnd *rand.Rand
	seq uint64
}

func (m *mint) at(t time.Time) uuid.UUID {
	var id uuid.UUID
	ms := uint64(t.UnixMilli())
	m.seq++
	for i := range 6 {
		id[i] = byte(ms >> (8 * (5 - i)))
	}
	a, b := m.rnd.Uint64(), m.seq
	id[6], id[7] = 0x70|byte(a>>8)&0x0f, byte(a)
	id[8] = 0x80 | byte(a>>16)&0x3f
	for i := range 7 {
		id[9+i] = byte(b>>(8*(6-i))) ^ byte(a>>(20+3*i))
	}
	return id
}
