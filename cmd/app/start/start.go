// Package start has the use case of the first hour: a room, a make and its wheels, in one
// act, in a book that may not be there yet.
package start

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/round"
	"rindkeep/schedule"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// Request asks to put a first, or another, make and its wheels in the book, with the room
// they're in.
type Request struct {
	Settings store.Settings // of a new book
	Room     *rooms.Change  // nil: the room is in the book
	Rind     Rind

	Variety, Made  string      // Made as typed; "": not known
	Older          bool        // they're taken over: made more than FreshDays ago, or who knows when
	Coat, CoatedOn string      // of older wheels: what's on them; CoatedOn "": since when isn't known
	Milk           wheel.Milk  //
	Wheels         int         //
	Batch          makes.Batch // Plan "": as Rind says
}

// Begun is what was put in the book, and the day's list that comes of it.
type Begun struct {
	Schema    string      `json:"schema"`
	Book      string      `json:"book"`
	NewBook   bool        `json:"new_book"`
	Room      rooms.Room  `json:"room"`
	NewRoom   bool        `json:"new_room"`
	Make      makes.Make  `json:"make"`
	Wheels    []string    `json:"wheels"`
	TakenOver bool        `json:"taken_over"`
	Plan      string      `json:"plan"`
	Today     round.Today `json:"today"`
	app.Cautioned

	Title     string      `json:"-"` // of the variety
	Unweighed []string    `json:"-"` // tags
	Next      round.Today `json:"-"` // where nothing is due today: the first day with work in the next LookAhead
}

// FreshDays is up to which age in days wheels count as just made, so that their first weight
// is the green weight: our choice.
const FreshDays = 2

// Rind is what becomes of a rind, as people say it.
type Rind string

// What becomes of a rind. The zero value is what is usual for the variety.
const (
	Waxed   Rind = "wax"
	Clothed Rind = "cloth"
	Bare    Rind = "bare"
)

// Rinds are all that can be asked for.
var Rinds = []Rind{Waxed, Clothed, Bare}

// Ground is what there is to start from.
type Ground struct {
	Kinds  []variety.Variety
	Plans  map[string]schedule.Plan
	Rooms  []rooms.Room // in walking order
	Wheels int          // in the book
	New    bool         // there is no book yet
	Today  day.Date
	Dates  day.Reader
	Zone   *time.Location
}

// Survey says what there is to start from; zone is that of a new book (IANA).
func Survey(ctx context.Context, a *app.App, c app.Caller, zone string) (Ground, error) {
	g, err := app.Ask(ctx, a, c, func(s *app.Session) (g Ground, err error) {
		g.Today, g.Dates, g.Zone = s.Today, s.Dates(), s.Zone
		if g.Kinds, err = s.Tx.Varieties(); err != nil {
			return g, err
		}
		plans, err := s.Tx.Plans()
		if err != nil {
			return g, err
		}
		g.plans(plans)
		if g.Rooms, err = rooms.Every(s); err != nil {
			return g, err
		}
		n, err := s.Tx.Counts()
		g.Wheels = n.Wheels
		return g, err
	})
	if !errors.Is(err, bookfile.ErrNoBook) {
		return g, err
	}
	if g.Zone, err = time.LoadLocation(zone); err != nil {
		return g, app.Misuse("zone", app.NoSuchZone{Zone: zone})
	}
	g.New, g.Kinds, g.Today = true, variety.Builtin(), day.At(a.Now(), g.Zone)
	g.Dates.Today = g.Today
	g.plans(schedule.Builtin())
	return g, nil
}

func (g *Ground) plans(all []schedule.Plan) {
	g.Plans = make(map[string]schedule.Plan, len(all))
	for _, p := range all {
		g.Plans[p.Name] = p
	}
}

// Room is the room of that name, whatever its capitals.
func (g Ground) Room(name string) (rooms.Room, bool) {
	i := slices.IndexFunc(g.Rooms, func(r rooms.Room) bool { return strings.EqualFold(r.Name, name) })
	if i < 0 {
		return rooms.Room{}, false
	}
	return g.Rooms[i], true
}

// PlanFor is the plan that a variety's wheels follow with a rind, and the coat it ends in, ""
// with none: the variety's own plan, or where that ends in another coat, the built-in plan for
// cheese as firm. Our choice.
func PlanFor(v variety.Variety, own schedule.Plan, r Rind) (plan string, coat drying.Coat) {
	usual := CoatOf(own)
	hard := v.Group == "hard" || v.Group == "very-hard"
	switch {
	case r == Waxed && usual != drying.Wax && hard:
		return "waxed-hard", drying.Wax
	case r == Waxed && usual != drying.Wax:
		return "waxed-semi-hard", drying.Wax
	case r == Clothed && usual != drying.Cloth:
		return "cloth-bound", drying.Cloth
	case r == Bare && usual != "" && v.Rind != "bloomy" && v.Rind != "blue" && v.Rind != "washed":
		return "tomme", ""
	}
	return own.Name, usual
}

// CoatOf is the coat that a plan ends in, "" with none.
func CoatOf(p schedule.Plan) drying.Coat {
	for _, step := range p.Steps {
		if step.Job == wheel.Coat {
			return drying.Coat(step.Coat)
		}
	}
	return ""
}

// Odd says why one of the weights of a make's wheels looks like a slip, or nil.
func Odd(v variety.Variety, weights []quantity.Grams) reason.Reason {
	ws := make([]wheel.Wheel, len(weights))
	for i, g := range weights {
		ws[i].Shape = v.Shape.ForWeight(g, shape.CheeseDensity)
	}
	return verdict.OddMake(wheel.Make{}, v, ws, weights)
}

// Begin records all of it, in a new book where there is none, or nothing.
func Begin(ctx context.Context, a *app.App, c app.Caller, q Request) (app.Did[Begun], error) {
	var did app.Did[Begun]
	created, err := a.Begin(q.Settings, func(a *app.App) (err error) {
		did, err = app.Act(ctx, a, c, func(s *app.Session) (Begun, error) { return begun(s, q) })
		return err
	})
	if err != nil || did.Known != nil {
		return did, err
	}
	did.Result.Book, did.Result.NewBook = a.Book, created
	did.Result.Room.Wheels += len(did.Result.Wheels)
	d := &did.Result
	d.Today, err = round.ListDay(ctx, a, app.Caller{}, round.Asked{Together: true})
	for i := range LookAhead {
		if err != nil || len(d.Today.List.Lines)+len(d.Next.List.Lines) > 0 {
			break
		}
		on := d.Today.List.Date + 1 + day.Date(i)
		d.Next, err = round.ListDay(ctx, a, app.Caller{On: on.String()}, round.Asked{Together: true})
	}
	return did, err
}

// LookAhead is how many days are looked through for the first work: our choice.
const LookAhead = 14

func begun(s *app.Session, q Request) (Begun, error) {
	d := Begun{Schema: app.Schema("start"), TakenOver: q.Older}
	place, err := cave.ParsePlace(q.Batch.Place)
	if err != nil {
		return d, app.Misread("place", err)
	}
	if q.Room != nil {
		r, err := rooms.PutIn(s, *q.Room)
		if err != nil {
			return d, app.At("place", err)
		}
		d.Room, d.NewRoom = r.Room, r.New
		d.Cautions = append(d.Cautions, r.Cautions...)
	} else if d.Room, err = rooms.One(s, place.Room()); err != nil {
		return d, app.At("place", err)
	}
	v, err := s.Tx.Variety(q.Variety)
	if err != nil {
		return d, app.At("variety", err)
	}
	own, err := s.Tx.Plan(v.Plan)
	if err != nil {
		return d, app.At("variety", err)
	}
	if q.Batch.Plan == "" {
		q.Batch.Plan, _ = PlanFor(v, own, q.Rind)
	}
	if q.Wheels == 0 {
		return d, app.Misuse("wheels", reason.Missing{What: "wheels"})
	}
	if q.Older {
		m, err := makes.TakeIn(s, makes.Receive{
			Variety: q.Variety, Made: q.Made, Milk: q.Milk, Coat: q.Coat, CoatedOn: q.CoatedOn, Wheels: &q.Wheels,
			Batch: q.Batch,
		})
		d.Make, d.Wheels, d.Title, d.Plan = m.Make, m.Wheels, m.Title, m.Plan
		d.Unweighed = q.unweighed(d.Wheels)
		return d, err
	}
	m, err := makes.CreateIn(s, makes.New{
		Variety: q.Variety, Date: q.Made, Milk: q.Milk, Wheels: &q.Wheels, Batch: q.Batch,
	})
	d.Make, d.Wheels, d.Title, d.Plan = m.Make, m.Wheels, m.Title, m.Plan
	d.Unweighed, d.Cautions = q.unweighed(d.Wheels), append(d.Cautions, m.Cautions...)
	return d, err
}

// unweighed are the wheels that have no weight.
func (q Request) unweighed(tags []string) (out []string) {
	ws := q.Batch.Weights
	for i, tag := range tags {
		if len(ws) == 0 || len(ws) > 1 && ws[i] == 0 {
			out = append(out, tag)
		}
	}
	return out
}
