package page

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/tasting"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/page/access"
	"rindkeep/cmd/page/daylist"
	"rindkeep/cmd/page/format"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/sheet"
	"rindkeep/wheel"
)

// The pages of wheels, and what the API gives of them.

func listWheels(c *call) (any, error) {
	q := wheels.Listed{What: c.q["what"]}
	err := c.listed(&q.Narrow, &q.Most)
	if err != nil {
		return nil, err
	}
	if q.Gone, err = c.truth("gone"); err != nil {
		return nil, err
	}
	return wheels.All(c.ctx, c.app, c.caller, q)
}

// narrowing are the parts of a query that narrow a list of wheels.
var narrowing = []string{
	"room", "rack", "variety", "stage", "plan", "supplier", "person", "ready-by", "held", "doubtful",
	"older-than", "younger-than",
}

// listed reads them, and how many rows a list has at most.
func (c *call) listed(n *app.Narrow, most *int) (err error) {
	if *most, err = c.number("most", 0); err == nil {
		*n, err = c.narrow()
	}
	return err
}

// narrow reads them.
func (c *call) narrow() (n app.Narrow, err error) {
	n = app.Narrow{Room: c.text("room"), Rack: c.text("rack"), Variety: c.text("variety"), Stage: c.text("stage"),
		Plan: c.text("plan"), Supplier: c.text("supplier"), Person: c.text("person"), ReadyBy: c.text("ready-by")}
	for name, days := range map[string]*int{"older-than": &n.OlderThan, "younger-than": &n.YoungerBy} {
		if *days, err = c.number(name, 0); err != nil {
			return n, err
		}
	}
	if n.Held, err = c.truth("held"); err == nil {
		n.Doubtful, err = c.truth("doubtful")
	}
	return n, err
}

func showWheel(c *call) (any, error) {
	d, err := wheels.Show(c.ctx, c.app, c.caller, c.name())
	return filled(d, err, c.words().FillWheel)
}

// sheetful is how many rows of a long list a page shows at a time.
const sheetful = 100

// found is a list cut into pages.
type found struct {
	Find    string
	List    []wheels.Row
	From    int // the first shown, counted from 0
	All     int
	Before  string // addresses of the pages before and after
	After   string
	Shelves []shelf // instead of a list that would be too long
	Room    string
	Refused *Refusal
	Rooms   []rooms.Room
	Makes   []makes.Make
	Looks   bool // something was asked for
	Narrow  app.Narrow
	Stages  []wheel.Stage // but for gone: the list is of what is here
}

// Narrowed says whether the list is of some wheels only.
func (f found) Narrowed() bool { return f.Narrow != app.Narrow{} }

// NarrowedTo says of which: "drying, held".
func (f found) NarrowedTo() string {
	var w []string
	n := f.Narrow
	for _, x := range []string{n.Room, n.Rack, n.Variety, n.Stage, n.Plan, n.Supplier, n.Person} {
		if x != "" {
			w = append(w, x)
		}
	}
	if n.ReadyBy != "" {
		w = append(w, "ready by "+n.ReadyBy)
	}
	if n.Held {
		w = append(w, "held")
	}
	if n.Doubtful {
		w = append(w, "weights look wrong")
	}
	return strings.Join(w, ", ")
}

// Title is what the list is of.
func (f found) Title() string { return cmp.Or(f.Find, "All wheels") }

// mostLots is how many lots are offered to choose from.
const mostLots = 60

// findWheels finds wheels by tag, lot or place.
func findWheels(c *call) (View, error) {
	f := found{Find: c.text("find"), Stages: wheel.Stages[:len(wheel.Stages)-1]}
	var wrong error
	f.Narrow, wrong = c.narrow()
	f.Looks = f.Find != "" || f.Narrowed() || wrong != nil
	v := View{Template: "wheels.html", Title: "Wheels", Here: "wheels"}
	all, err := rooms.All(c.ctx, c.app, c.caller)
	if err != nil {
		return v, err
	}
	f.Rooms = all.Rooms
	if f.Looks && !f.whole(c) {
		q := wheels.Listed{Narrow: f.Narrow, Most: sheetful}
		if f.Find != "" {
			q.What = []string{f.Find}
		}
		q.From, _ = strconv.Atoi(c.text("from"))
		var d wheels.List
		if err = wrong; err == nil {
			d, err = wheels.All(c.ctx, c.app, c.caller, q)
		}
		switch {
		case app.IsNotFound(err) && !f.Narrowed():
			return v, elsewhere(searchPage(f.Find))
		case err != nil:
			status, said := c.s.refusal(c.r, err)
			f.Refused, v.Status = &said, status
		case len(d.Wheels) == 1 && d.Wheels[0].Tag == f.Find:
			return v, elsewhere(wheelPage(f.Find))
		default:
			f.cut(d, c.q)
		}
	}
	if f.List == nil && f.Shelves == nil {
		m, err := makes.All(c.ctx, c.app, c.caller, makes.Listed{Most: mostLots})
		if err != nil {
			return v, err
		}
		f.Makes = m.Makes
	}
	v.Body = f
	return v, nil
}

// whole shows a room of many wheels, or all of a large book, by shelf and room:
// nobody reads a list of a hundred thousand.
func (f *found) whole(c *call) bool {
	i := slices.IndexFunc(f.Rooms, func(x rooms.Room) bool { return x.Name == strings.Trim(f.Find, "/") })
	if i < 0 || f.Rooms[i].Wheels <= 2*sheetful || c.q.Has("from") || f.Narrowed() {
		return false
	}
	d, err := rooms.Show(c.ctx, c.app, c.caller, f.Rooms[i].Name, rooms.WaterAsked{Without: true})
	if err != nil || len(d.Shelves) < 2 {
		return false
	}
	f.Room, f.Shelves = d.Room.Name, shelves(d)
	return true
}

// cut notes which part of a list it is, and where the parts before and after are.
func (f *found) cut(d wheels.List, q url.Values) {
	f.List, f.From, f.All = d.Wheels, d.From, d.From+len(d.Wheels)+d.More
	at := func(n int) string {
		to := url.Values{"from": {strconv.Itoa(n)}}
		for _, name := range append([]string{"find"}, narrowing...) {
			if v := q.Get(name); v != "" {
				to.Set(name, v)
			}
		}
		return "/wheels?" + to.Encode()
	}
	if f.From > 0 {
		f.Before = at(max(0, f.From-sheetful))
	}
	if d.More > 0 {
		f.After = at(f.From + len(d.Wheels))
	}
}

// wheelBody is the page of one wheel.
type wheelBody struct {
	wheels.Card
	Tastings  []tasting.Tasting
	Places    []string
	Customers []string
	Curve     string
	Wants     string // the coat that its plan has due
}

// Form is the form of this page that a job is recorded by; "" where one tap will do.
func (wheelBody) Form(job string) string {
	if job == string(wheel.Taste) {
		return job
	}
	return daylist.Forms[wheel.Job(job)]
}

// Past is a job once done.
func (wheelBody) Past(job string) string { return wheel.Job(job).Done() }

func wheelPageOf(c *call) (View, error) {
	var d wheelBody
	var err error
	if d.Card, err = wheels.Show(c.ctx, c.app, c.caller, c.name()); err != nil {
		return View{}, err
	}
	c.words().FillWheel(&d.Card)
	if slices.ContainsFunc(d.Entries, func(e app.EntryDoc) bool { return e.What == "tasted" }) {
		d.Tastings = tastingsOf(c, d.Tag).Tastings
	}
	if personOf(c.r).Role != access.Reader && d.Gone == nil {
		d.Places, d.Customers = append(places(c), otherSites(c)...), customerNames(c)
	}
	for _, x := range d.Due {
		d.Wants = cmp.Or(d.Wants, x.Coat)
	}
	d.Curve = addressOf("wheel", d.Tag, "curve.svg")
	return View{Template: "wheel.html", Title: d.Tag, Here: "wheels", Body: d}, nil
}

// tastingsOf are the tastings of a wheel or a lot: a page goes on without them.
func tastingsOf(c *call, of string) tasting.Shown {
	d, _ := tasting.Show(c.ctx, c.app, c.caller, []string{of})
	return d
}

// addressOf is the address of a picture of one thing.
func addressOf(kind, name, file string) string {
	if name == "." || strings.Contains(name, "..") {
		return "" // no path can name it
	}
	return "/" + kind + "/" + url.PathEscape(name) + "/" + file
}

// usualHistory is how many entries a printed card has.
const usualHistory = 12

func wheelSheet(c *call) ([]byte, error) {
	p := c.words()
	return c.sheet(func(s *app.Session, h sheet.Head) (func() (sheet.Doc, error), error) {
		d, err := wheels.Gather(s, c.name())
		if err != nil {
			return nil, err
		}
		curves, err := drying.CurvesOf(s, drying.CurveQuestion{What: d.Tag})
		return func() (sheet.Doc, error) {
			p.FillWheel(&d)
			return sheet.Wheel(h, sheet.CardOf(p, d, plot.Drying(curves.Wheels), usualHistory))
		}, err
	})
}

// keeps says what keeps a wheel here: a hold set by hand, a law, or both.
func keeps(w wheels.Row) string {
	switch {
	case w.Held && w.Law:
		return "HELD, and by law"
	case w.Held:
		return "HELD"
	case w.Law:
		return "HELD by law"
	}
	return ""
}

// Words says which of how many the list shows.
func (f found) Words() string {
	if len(f.List) == f.All {
		return format.Count(f.All, "wheel", "wheels")
	}
	return fmt.Sprintf("wheels %d to %d of %d", f.From+1, f.From+len(f.List), f.All)
}
