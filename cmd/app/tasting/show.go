package tasting

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// Shown is the tastings of some wheels.
type Shown struct {
	Schema   string             `json:"schema"`
	Asked    []string           `json:"asked"`
	At       string             `json:"at"`
	Wheels   int                `json:"wheels"` // asked about
	ByAge    []wheel.AgeScores  `json:"by_age"`
	Faults   []wheel.FaultCount `json:"faults"`
	Tastings []Tasting          `json:"tastings"`

	Tasted, Tasters int         `json:"-"` // how many wheels, by how many people
	Make            *wheel.Make `json:"-"` // of all the wheels; nil: there are several
	Title           string      `json:"-"` // of its variety
	On              day.Date    `json:"-"`
}

// Tasting is one tasting of one wheel.
type Tasting struct {
	Wheel      string   `json:"wheel"`
	Lot        string   `json:"lot"`
	At         string   `json:"at"`
	Age        int      `json:"age_days"`
	By         string   `json:"by"`
	Appearance *int     `json:"appearance"`
	Colour     *int     `json:"colour"`
	Texture    *int     `json:"texture"`
	Flavour    *int     `json:"flavour"`
	Faults     []string `json:"faults"`
	Note       string   `json:"note"`
}

// Show gives the tastings of the wheels named up to the caller's date, those of a
// lot that are gone with it: the scores by age, and the faults by how often.
func Show(ctx context.Context, a *app.App, c app.Caller, what []string) (Shown, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (Shown, error) { return shown(s, what) })
}

func shown(s *app.Session, what []string) (Shown, error) {
	d := Shown{Schema: app.Schema("taste-show"), Asked: []string{}, Tastings: []Tasting{}}
	until, on, err := s.AsOf()
	if err != nil {
		return d, err
	}
	d.At, d.On = app.Instant(until, s.Zone), on
	named, err := s.PickPast(what)
	if err != nil {
		return d, err
	}
	if len(named) == 0 {
		return d, app.Misuse("what", reason.Missing{What: "what"})
	}
	g := gathering{Session: s, until: until, seen: map[uuid.UUID]bool{}, makes: map[uuid.UUID]wheel.Make{}}
	for _, n := range named {
		d.Asked = append(d.Asked, n.Word)
		for _, id := range n.Wheels {
			if err := g.add(id); err != nil {
				return d, err
			}
		}
	}
	d.Wheels = g.wheels
	if len(g.makes) == 1 {
		for _, m := range g.makes {
			d.Make, d.Title = &m, m.Variety
			if v, err := s.Tx.Variety(m.Variety); err == nil {
				d.Title = v.Title
			} else if !app.IsNotFound(err) {
				return d, err
			}
		}
	}
	d.sum(g.sorted(), s.Zone)
	return d, nil
}

// tasted is one tasting with all that is known of it.
type tasted struct {
	wheel.Sample
	at        time.Time
	lot, note string
}

// gathering gathers the tastings of wheels, each wheel once.
type gathering struct {
	*app.Session
	until  time.Time
	seen   map[uuid.UUID]bool
	makes  map[uuid.UUID]wheel.Make
	wheels int
	found  []tasted
}

func (g *gathering) add(id uuid.UUID) error {
	if g.seen[id] {
		return nil
	}
	g.seen[id] = true
	if len(g.seen)%64 == 0 && g.Ctx.Err() != nil {
		return g.Ctx.Err()
	}
	w, err := g.Tx.Wheel(id)
	if err != nil {
		return err
	}
	m, ok := g.makes[w.Make]
	if !ok {
		if m, err = g.Tx.Make(w.Make); err != nil {
			return err
		}
		g.makes[w.Make] = m
	}
	es, err := g.Tx.History(id)
	if err != nil {
		return err
	}
	l := wheel.NewLife(w, m, es, g.Zone, nil)
	if wheel.IsVoid(l.Entries) {
		return nil
	}
	g.wheels++
	for _, e := range l.Entries {
		if e.Kind != wheel.Tasted || e.At.After(g.until) {
			continue
		}
		t, err := wheel.ParseTasting(e.Detail)
		if err != nil {
			return app.About(l.Tag, err)
		}
		on := day.At(e.At, g.Zone)
		x := wheel.Sample{Wheel: l.Tag, By: e.By, On: on, Age: l.Age(on), Found: t}
		g.found = append(g.found, tasted{x, e.At, m.Lot, e.Note})
	}
	return nil
}

// sorted are the tastings in the order they happened.
func (g *gathering) sorted() []tasted {
	slices.SortStableFunc(g.found, func(a, b tasted) int {
		if c := a.at.Compare(b.at); c != 0 {
			return c
		}
		return cave.NaturalCompare(a.Wheel, b.Wheel)
	})
	return g.found
}

// sum fills in what follows from the tastings.
func (d *Shown) sum(found []tasted, zone *time.Location) {
	var samples []wheel.Sample
	for _, x := range found {
		samples = append(samples, x.Sample)
		t := x.Found
		d.Tastings = append(d.Tastings, Tasting{
			x.Wheel, x.lot, app.Instant(x.at, zone), x.Age, x.By, scored(t.Appearance), scored(t.Colour),
			scored(t.Texture), scored(t.Flavour), app.Filled(t.Faults), x.note,
		})
	}
	d.Tasted, d.Tasters = wheel.CountTasted(samples)
	d.ByAge, d.Faults = wheel.Course(samples), wheel.CountFaults(samples)
}

func scored(v wheel.Score) *int {
	if v == 0 {
		return nil
	}
	n := int(v)
	return &n
}
