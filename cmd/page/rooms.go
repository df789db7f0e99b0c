package page

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/ical"
	"rindkeep/cmd/page/form"
	"rindkeep/cmd/page/format"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/words"
	"rindkeep/schedule"
)

// The rooms: their air, their shelves, their water; the stock in them; the days
// ahead.

func listRooms(c *call) (any, error) { return rooms.All(c.ctx, c.app, c.caller) }

func showRoom(c *call) (any, error) {
	w, err := waterAsked(c)
	if err != nil {
		return nil, err
	}
	return rooms.Show(c.ctx, c.app, c.caller, c.name(), w)
}

func showAir(c *call) (any, error) {
	w, err := waterAsked(c)
	if err != nil {
		return nil, err
	}
	days, err := c.number("days", usualDays)
	if err != nil {
		return nil, err
	}
	a, err := rooms.ShowAir(c.ctx, c.app, c.caller, c.name(), days, w)
	return filled(a, err, c.words().FillAir)
}

// usualDays is how many days back and ahead are shown.
const usualDays = 14

// Outside air where a query gives none.
const (
	usualChange   = 0.2 // times an hour
	usualOutsideT = quantity.Celsius(10)
	usualOutsideH = quantity.Fraction(0.75)
)

// waterAsked is what a query wants to know of a room's water.
func waterAsked(c *call) (w rooms.WaterAsked, err error) {
	x := &w.Exchange
	x.ChangesPerHour, x.Outside.Temp, x.Outside.RH = usualChange, usualOutsideT, usualOutsideH
	in := c.figures(c.text)
	x.VolumeM3 = given(in, "volume", decimal)
	if v := optional(in, "air-change", decimal); v != nil {
		x.ChangesPerHour = *v
	}
	if v := optional(in, "outside-temp", in.units.ParseTemp); v != nil {
		x.Outside.Temp = *v
	}
	if v := optional(in, "outside-rh", quantity.ParsePercent); v != nil {
		x.Outside.RH = *v
	}
	if in.err != nil {
		return w, in.err
	}
	return w, w.Check()
}

func allRooms(c *call) (View, error) {
	d, err := rooms.All(c.ctx, c.app, c.caller)
	if err != nil {
		return View{}, err
	}
	alarms, err := app.Ask(c.ctx, c.app, c.caller, func(s *app.Session) ([]rooms.Alarm, error) {
		return rooms.Alarms(s, s.Time)
	})
	c.words().FillAlarms(alarms)
	return View{Template: "rooms.html", Title: "Rooms", Here: "rooms", Body: struct {
		Rooms  []rooms.Room
		Alarms []rooms.Alarm
		Closed bool
	}{d.Rooms, alarms, d.Closed}}, err
}

// roomBody is the page of one room.
type roomBody struct {
	rooms.Shown
	Air     rooms.AirShown
	Places  []shelf
	Picture string
	Days    int
	Volume  string
	Changes string
	Edit    form.Form
}

// mostWater is up to how many wheels a room's page works out their water.
const mostWater = 1000

func oneRoom(c *call) (View, error) {
	w, err := waterAsked(c)
	if err != nil {
		return View{}, err
	}
	// The water takes a forecast of each wheel: of a full warehouse's it comes only
	// when it is asked for.
	all, err := rooms.All(c.ctx, c.app, c.caller)
	if err != nil {
		return View{}, err
	}
	w.Without = w.Exchange.VolumeM3 == 0 && !c.q.Has("water") && slices.ContainsFunc(all.Rooms, func(r rooms.Room) bool {
		return r.Name == c.name() && r.Wheels > mostWater
	})
	d := roomBody{Volume: c.text("volume"), Changes: c.text("air-change")}
	if d.Days, err = c.number("days", usualDays); err != nil {
		return View{}, err
	}
	if d.Shown, err = rooms.Show(c.ctx, c.app, c.caller, c.name(), w); err != nil {
		return View{}, err
	}
	name := d.Room.Name
	d.Air, err = rooms.ShowAir(c.ctx, c.app, c.caller, name, d.Days, rooms.WaterAsked{Without: true})
	if err != nil {
		return View{}, err
	}
	c.words().FillAir(&d.Air)
	d.Edit = editRoom(c, d.Room.Room)
	d.Places, d.Picture = shelves(d.Shown), addressOf("room", name, "air.svg")
	return View{Template: "room.html", Title: "Room " + name, Here: "rooms", Body: d}, nil
}

func airPicture(c *call) ([]byte, error) {
	days, err := c.number("days", usualDays)
	if err != nil {
		return nil, err
	}
	a, err := rooms.ShowAir(c.ctx, c.app, c.caller, c.name(), days, rooms.WaterAsked{Without: true})
	if err != nil {
		return nil, err
	}
	return c.picture(plot.Air(a.Set, a.Points, a.Zone), size{760, 440}, size{340, 420}), nil
}

// shelf is a place with how many wheels are there and how many could be.
type shelf struct {
	Place  string
	Wheels int
	Each   int // 0: not known
}

func shelves(d rooms.Shown) []shelf {
	out := []shelf{}
	for _, x := range d.Shelves {
		sh := shelf{Place: x.Place, Wheels: x.Wheels}
		if parts := strings.Split(x.Place, "/"); len(parts) == 3 {
			for _, k := range d.Room.Racks {
				if k.Rack == parts[1] {
					sh.Each = k.PerShelf
				}
			}
		}
		out = append(out, sh)
	}
	return out
}

// roomNames are what a field offers: the page goes on without them.
func roomNames(c *call) (out []string) {
	d, _ := rooms.All(c.ctx, c.app, c.caller)
	for _, m := range d.Rooms {
		out = append(out, m.Name)
	}
	return out
}

// mostPlaces is how many places a field offers.
const mostPlaces = 400

// places are the shelves of the rooms of this site, for a field to offer.
func places(c *call) (out []string) {
	d, _ := rooms.All(c.ctx, c.app, c.caller)
	for _, m := range d.Rooms {
		if cave.Place(m.Name).Site() != "" {
			continue
		}
		out = append(out, m.Name)
		for _, k := range m.Racks {
			for n := 1; n <= k.Shelves && len(out) < mostPlaces; n++ {
				out = append(out, fmt.Sprintf("%s/%s/%d", m.Name, k.Rack, n))
			}
		}
	}
	return out
}

func noteAir(c *call, v values) (any, error) {
	q := rooms.Read{Room: v.text("room"), Sure: v.truth("sure"), Why: v.text("why")}
	word, celsius := v.text("temp"), v.text("temp_c")
	switch {
	case word == "" && celsius == "":
		return nil, badRequestf("temp_c", "temp_c is missing (degrees Celsius)")
	case word != "" && celsius != "":
		return nil, badRequestf("temp", "give temp or temp_c, not both")
	}
	in := c.figures(v.text)
	if q.Temp, q.RH = given(in, "temp", in.units.ParseTemp), in.percent("rh_pct"); celsius != "" {
		q.Temp = given(in, "temp_c", quantity.ParseTemp)
	}
	return record(c, in, rooms.LogAir, q, c.words().FillNoted)
}

func stock(c *call) (rooms.Stock, error) {
	c.caller.On = c.text("on")
	var q rooms.InStock
	if err := c.listed(&q.Narrow, &q.Most); err != nil {
		return rooms.Stock{}, err
	}
	return kept(c, fmt.Sprintf("stock %+v %q", q, c.caller.On), func() (rooms.Stock, error) {
		return rooms.Count(c.ctx, c.app, c.caller, q)
	})
}

func showStock(c *call) (any, error) { return stock(c) }

func stockPage(c *call) (View, error) {
	d, err := stock(c)
	if err != nil {
		return View{}, err
	}
	return View{Template: "stock.html", Title: "Stock", Here: "stock", Body: struct {
		rooms.Stock
		Rooms     []string
		InRoom    string
		AskedDate string
	}{d, roomNames(c), c.text("room"), c.text("on")}}, nil
}

func ahead(c *call, named bool) (a rooms.Ahead, err error) {
	q := rooms.AheadAsked{Named: named}
	if q.Narrow, err = c.narrow(); err != nil {
		return a, err
	}
	if q.Days, err = c.number("days", usualDays); err != nil {
		return a, err
	}
	if q.Rest, err = schedule.ParseRest(c.text("rest")); err != nil {
		return a, app.Misread("rest", err)
	}
	return kept(c, fmt.Sprintf("ahead %+v", q), func() (rooms.Ahead, error) {
		return rooms.LookAhead(c.ctx, c.app, c.caller, q)
	})
}

func showAhead(c *call) (any, error) { return ahead(c, false) }

func calendar(c *call) ([]byte, error) {
	a, err := ahead(c, true)
	if err != nil {
		return nil, err
	}
	b, _, err := ical.Ahead(a, c.words())
	return b, err
}

// aheadBody is the page of the days ahead.
type aheadBody struct {
	rooms.Ahead
	Names    []string
	Cells    [][]*rooms.AheadRoomDay // a row a day, a column a room; nil: nothing to do
	Most     *float64                // minutes in the fullest room and day
	Events   []aheadEvents
	Ask      string
	RestWord string
	Only     string
	AllRooms []string
	Calendar string
}

// aheadEvents is what becomes of lots, under a heading.
type aheadEvents struct {
	Title string
	Lots  []aheadEvent
}

// aheadEvent is wheels of one lot of which something becomes.
type aheadEvent struct {
	rooms.AheadLot
	What, When string
}

func aheadPage(c *call) (View, error) {
	a, err := ahead(c, false)
	if err != nil {
		return View{}, err
	}
	d := aheadBody{Ahead: a, Events: eventsOf(a, c.words()), AllRooms: roomNames(c)}
	for _, day := range a.Days {
		for _, x := range day.Rooms {
			if !slices.Contains(d.Names, x.Room) {
				d.Names = append(d.Names, x.Room)
			}
			if x.Minutes != nil && (d.Most == nil || *x.Minutes > *d.Most) {
				d.Most = x.Minutes
			}
		}
	}
	for _, day := range a.Days {
		row := make([]*rooms.AheadRoomDay, len(d.Names))
		for i := range day.Rooms {
			row[slices.Index(d.Names, day.Rooms[i].Room)] = &day.Rooms[i]
		}
		d.Cells = append(d.Cells, row)
	}
	d.Ask, d.RestWord, d.Only = cmp.Or(c.text("days"), strconv.Itoa(usualDays)), c.text("rest"), c.text("room")
	d.Calendar = "/ahead/cave.ics?" + url.Values{"days": {d.Ask}, "rest": {d.RestWord}, "room": {d.Only}}.Encode()
	return View{Template: "ahead.html", Title: "The days ahead", Here: "ahead", Body: d}, nil
}

// eventsOf are the tables of what becomes of the wheels; empty ones are left out.
func eventsOf(a rooms.Ahead, p words.Printer) (out []aheadEvents) {
	add := func(title string, lots []aheadEvent) {
		if len(lots) > 0 {
			out = append(out, aheadEvents{title, lots})
		}
	}
	var dry, taste, lawful, ready []aheadEvent
	for _, x := range a.Dry {
		dry = append(dry, aheadEvent{x.AheadLot, p.Lot(x.AheadLot), p.CoatExpected(x)})
	}
	for _, x := range a.Taste {
		taste = append(taste, aheadEvent{x.AheadLot, p.Lot(x.AheadLot), format.Date(x.Day)})
	}
	for _, x := range a.Lawful {
		when := fmt.Sprintf("%s, counted by %s", format.Date(x.Day), x.Counted)
		lawful = append(lawful, aheadEvent{x.AheadLot, p.Lawful(x), when})
	}
	for _, x := range a.Ready {
		ready = append(ready, aheadEvent{x.AheadLot, p.Lot(x.AheadLot), format.Date(x.Day)})
	}
	add("Dry enough to coat, as expected", dry)
	add("To taste", taste)
	add("Past its minimum age", lawful)
	add("Usually ready", ready)
	return out
}
