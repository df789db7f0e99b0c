// Package rooms has the use cases of rooms: what they are set to, their air as it
// was read, the water their wheels give off.
package rooms

import (
	"context"
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
)

// Change asks for a new room, or for other figures of one that is there. What is
// nil or empty stays, or takes the usual figure in a new room.
type Change struct {
	Name              string
	Title             string
	Temp              *quantity.Celsius
	RH                *quantity.Fraction
	TempLow, TempHigh *quantity.Celsius
	RHLow, RHHigh     *quantity.Fraction
	Movement          air.Movement
	Racks             []cave.Rack
	Order             *int // rank in the walk
}

// Room is a room as it is published.
type Room struct {
	Name     string   `json:"name"`
	Title    string   `json:"title"`
	Order    int      `json:"order"`
	Temp     *float64 `json:"temp_c"`
	RH       *float64 `json:"rh_pct"`
	TempLow  *float64 `json:"temp_low_c"`
	TempHigh *float64 `json:"temp_high_c"`
	RHLow    *float64 `json:"rh_low_pct"`
	RHHigh   *float64 `json:"rh_high_pct"`
	DewPoint *float64 `json:"dew_point_c"`
	Movement string   `json:"movement"`
	Racks    []Rack   `json:"racks"`
	Capacity int      `json:"capacity"`
	Wheels   int      `json:"wheels"`

	Room cave.Room `json:"-"`
}

// Rack is a rack of a room as it is published.
type Rack struct {
	Rack     string `json:"rack"`
	Shelves  int    `json:"shelves"`
	PerShelf int    `json:"per_shelf"`
}

// Changed is a room that was written.
type Changed struct {
	Schema string `json:"schema"`
	Room   Room   `json:"room"`
	app.Cautioned

	New bool `json:"-"`
}

// List is all rooms in walking order.
type List struct {
	Schema string `json:"schema"`
	Rooms  []Room `json:"rooms"`

	Closed bool `json:"-"` // somebody may stand in one and breathe its air
}

// Shelf is a place with how many wheels are there.
type Shelf struct {
	Place  string `json:"place"`
	Wheels int    `json:"wheels"`
}

// Shown is one room with its wheels and their water.
type Shown struct {
	Schema  string  `json:"schema"`
	Room    Room    `json:"room"`
	Shelves []Shelf `json:"shelves"`
	Water   *Water  `json:"water_load"` // null where it wasn't asked for
	app.Cautioned

	Last  *cave.Reading `json:"-"` // corrected, in the book's zone; nil: never read
	Alarm reason.List   `json:"-"`
}

// Usual figures of a new room, and of a fridge that is set for cheese. Common practice,
// no source.
const (
	usualTemp  quantity.Celsius  = 12
	usualRH    quantity.Fraction = 0.85
	fridgeTemp quantity.Celsius  = 10
	fridgeRH   quantity.Fraction = 0.80
)

// Usual is the usual air of a new room of that name: a fridge's, or a cellar's.
func Usual(name string) (temp quantity.Celsius, rh quantity.Fraction, m air.Movement, fridge bool) {
	for _, w := range []string{"fridge", "cooler", "refrigerator"} {
		if strings.Contains(strings.ToLower(name), w) {
			return fridgeTemp, fridgeRH, air.Still, true
		}
	}
	return usualTemp, usualRH, air.Gentle, false
}

// walkedInto says whether somebody may stand in a room, and breathe its air: in all but a
// fridge, as its name or title says.
func walkedInto(r cave.Room) bool {
	_, _, _, named := Usual(r.Name)
	_, _, _, titled := Usual(r.Title)
	return !named && !titled || strings.Contains(strings.ToLower(r.Name+r.Title), "walk")
}

// Put writes a new room or changes one.
func Put(ctx context.Context, a *app.App, c app.Caller, q Change) (app.Did[Changed], error) {
	if err := cave.CheckTag("room", q.Name); err != nil {
		return app.Did[Changed]{}, app.At("name", err)
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Changed, error) { return PutIn(s, q) })
}

// PutIn is Put in a transaction that is open.
func PutIn(s *app.Session, q Change) (Changed, error) {
	r, err := s.Tx.Room(q.Name)
	fresh := app.IsNotFound(err)
	if fresh {
		r, err = newRoom(s, q.Name)
	}
	if err != nil {
		return Changed{}, err
	}
	q.apply(&r, fresh)
	if err := r.Check(); err != nil {
		return Changed{}, app.At(fieldOf(reason.Of(err)), err)
	}
	if err := s.Write.PutRoom(r); err != nil {
		return Changed{}, err
	}
	d, err := roomOf(s, r)
	c := Changed{Schema: app.Schema("room-new"), Room: d, New: fresh}
	if walkedInto(r) {
		c.Warn(app.ClosedRoom)
	}
	return c, err
}

// fieldOf is the field of a Change that a room's fault is in.
func fieldOf(why reason.Reason) string {
	switch r := why.(type) {
	case reason.Outside[quantity.Celsius]:
		return "temp"
	case reason.Outside[quantity.Fraction]:
		return "rh"
	case cave.TempLimits:
		if r.Temp > r.High {
			return "temp_high"
		}
		return "temp_low"
	case cave.RHLimits:
		if r.RH > r.High {
			return "rh_high"
		}
		return "rh_low"
	}
	return "racks"
}

func newRoom(s *app.Session, name string) (cave.Room, error) {
	id, err := uuid.NewV7()
	if err != nil {
		return cave.Room{}, err
	}
	all, err := s.Tx.Rooms()
	if err != nil {
		return cave.Room{}, err
	}
	last := 0
	for _, r := range all {
		last = max(last, r.Order)
	}
	return cave.Room{
		ID: id, Name: name, Order: last + 1, Temp: usualTemp, RH: usualRH, Movement: air.Gentle, Written: s.Time, By: s.Who,
	}, nil
}

// apply puts the figures given into a room. New set points bring the usual limits
// round them.
func (q Change) apply(r *cave.Room, fresh bool) {
	temp, rh := r.Temp, r.RH
	put(&temp, q.Temp)
	put(&rh, q.RH)
	if fresh || q.Temp != nil || q.RH != nil {
		r.Around(temp, rh)
	}
	put(&r.TempLow, q.TempLow)
	put(&r.TempHigh, q.TempHigh)
	put(&r.RHLow, q.RHLow)
	put(&r.RHHigh, q.RHHigh)
	put(&r.Order, q.Order)
	if q.Movement != "" {
		r.Movement = q.Movement
	}
	if q.Racks != nil {
		r.Racks = q.Racks
	}
	if q.Title != "" {
		r.Title = q.Title
	}
}

func put[T any](to, given *T) {
	if given != nil {
		*to = *given
	}
}

func roomOf(s *app.Session, r cave.Room) (Room, error) {
	counts, err := s.Tx.ShelfCounts(cave.Place(r.Name))
	if err != nil {
		return Room{}, err
	}
	d := Room{
		Name: r.Name, Title: r.Title, Order: r.Order, Movement: string(r.Movement), Racks: []Rack{}, Capacity: r.Capacity(),
		Temp: app.Num(float64(r.Temp)), TempLow: app.Num(float64(r.TempLow)), TempHigh: app.Num(float64(r.TempHigh)),
		RH: app.PctNum(r.RH), RHLow: app.PctNum(r.RHLow), RHHigh: app.PctNum(r.RHHigh),
		DewPoint: app.Num(float64(air.DewPoint(r.SetPoint()))), Room: r,
	}
	for _, c := range counts {
		d.Wheels += c.Wheels
	}
	for _, k := range r.Racks {
		d.Racks = append(d.Racks, Rack{k.Name, k.Shelves, k.PerShelf})
	}
	return d, nil
}

// All lists the rooms in walking order.
func All(ctx context.Context, a *app.App, c app.Caller) (List, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (List, error) {
		rs, err := Every(s)
		closed := slices.ContainsFunc(rs, func(r Room) bool { return walkedInto(r.Room) })
		return List{Schema: app.Schema("room-list"), Rooms: rs, Closed: closed}, err
	})
}

// Every is every room in walking order, in a transaction that is open.
func Every(s *app.Session) ([]Room, error) {
	out := []Room{}
	all, err := s.Tx.Rooms()
	for _, r := range all {
		d, err := roomOf(s, r)
		if err != nil {
			return out, err
		}
		out = append(out, d)
	}
	return out, err
}

// Show tells of one room as it is now.
func Show(ctx context.Context, a *app.App, c app.Caller, name string, w WaterAsked) (Shown, error) {
	return app.AskLong(ctx, a, c, func(s *app.Session) (Shown, error) {
		out := Shown{Schema: app.Schema("room"), Shelves: []Shelf{}}
		r, err := room(s, name)
		if err != nil {
			return out, err
		}
		r.Tests = slices.Clone(r.Tests)
		for i := range r.Tests {
			r.Tests[i].At = r.Tests[i].At.In(s.Zone)
		}
		if out.Room, err = roomOf(s, r); err != nil {
			return out, err
		}
		if walkedInto(r) {
			out.Warn(app.ClosedRoom)
		}
		counts, err := s.Tx.ShelfCounts(cave.Place(r.Name))
		if err != nil {
			return out, err
		}
		for _, c := range counts {
			out.Shelves = append(out.Shelves, Shelf{string(c.Place), c.Wheels})
		}
		last, ok, err := lastReading(s, r, s.Time)
		if err != nil {
			return out, err
		}
		if ok {
			out.Last, out.Alarm = &last, r.Alarm(last, s.Time)
		}
		out.Water, err = waterLoad(s, r, s.Time, w)
		return out, err
	})
}

// room finds a room by its name.
func room(s *app.Session, name string) (cave.Room, error) {
	r, err := s.Tx.Room(name)
	return r, app.About(name, err)
}

// One is a room by its name, in a transaction that is open.
func One(s *app.Session, name string) (Room, error) {
	r, err := room(s, name)
	if err != nil {
		return Room{}, err
	}
	return roomOf(s, r)
}
