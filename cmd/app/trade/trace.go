package trade

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
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// Question says what to trace: tags and lots, the lot of an ingredient or of milk,
// a customer, or a room over some days. Exactly one of them is given.
type Question struct {
	What                 []string
	Ingredient, Customer string
	Room, From, To       string // dates as typed, both of them included
}

// Trace is all that a trace found.
type Trace struct {
	Schema     string     `json:"schema"`
	Asked      Asked      `json:"asked"`
	At         string     `json:"at"`
	Totals     Totals     `json:"totals"`
	Lots       []*Lot     `json:"lots"`
	Deliveries []Delivery `json:"deliveries"`
	Customers  []Reach    `json:"customers"`
	app.Cautioned

	Time time.Time `json:"-"` // At, in the book's zone
	Site string    `json:"-"` // where the cheese is kept, in a line; else the book's name

	NoAddress []string `json:"-"` // suppliers and makers of it whose address isn't in the book
}

// Asked is what a trace is of. Kind is wheels, lots, mixed, ingredient, customer or
// room.
type Asked struct {
	Kind string    `json:"kind"`
	Of   []string  `json:"of"`
	From *day.Date `json:"from"` // of a room
	To   *day.Date `json:"to"`
}

// Totals counts what was found. Lots that only gave curd have no wheels in it.
type Totals struct {
	Lots       int `json:"lots"`
	Wheels     int `json:"wheels"`
	Here       int `json:"here"`
	Sent       int `json:"sent"`
	Lost       int `json:"lost"`
	Destroyed  int `json:"destroyed"` // of those that were lost
	Deliveries int `json:"deliveries"`
	Customers  int `json:"customers"`

	WithWheels int `json:"-"` // lots that have wheels in the trace
}

// Via says how a trace came to a lot.
type Via string

// The ways to a lot.
const (
	ViaAsked Via = "asked"     // it was asked about, or has wheels that were
	ViaInto  Via = "curd-into" // curd of a lot asked about went into it
	ViaFrom  Via = "curd-from" // curd of it went into a lot asked about
)

// Lot is one make of a trace, with the wheels of it that are concerned: none of a
// lot that only gave curd.
type Lot struct {
	Lot         string       `json:"lot"`
	Reach       Via          `json:"reach"`
	Made        day.Date     `json:"made"`
	Variety     string       `json:"variety"`
	Title       string       `json:"variety_title"`
	WheelsOfLot int          `json:"wheels_of_lot"`
	Milk        []Milk       `json:"milk"`
	Ingredients []Ingredient `json:"ingredients"`
	Salt        []Salt       `json:"salt"`
	CurdFrom    []Curd       `json:"curd_from"`
	CurdInto    []Curd       `json:"curd_into"`
	Air         []Air        `json:"air"`
	Hands       []Hand       `json:"hands"`
	Samples     []Tested     `json:"samples"`
	Wheels      []Wheel      `json:"wheels"`
	DateKnown   bool         `json:"made_known"`  // false: it was made on that date or before
	Received    []Receipt    `json:"received"`    // how its wheels came; empty where it was made here
	Transformed bool         `json:"transformed"` // some leave under the book's own code, not the maker's

	came []Receipt // how all its wheels came
	done []made    // as what it leaves here, of cheese that was bought in

	Rooms  []Air    `json:"-"` // Air by room alone, from the first that came to the last that went
	Inputs []string `json:"-"` // lot codes of what went in, each once
}

// Tested is one laboratory test of a lot; Result "" is awaited.
type Tested struct {
	Sample string   `json:"sample"`
	Test   string   `json:"test"`
	Lab    string   `json:"lab"`
	Taken  day.Date `json:"taken"`
	Result string   `json:"result"`
	Report string   `json:"report"`
	Open   bool     `json:"open"` // it holds the wheels that nobody released from it
}

// Milk is one delivery of milk that went into a lot.
type Milk struct {
	Source    string   `json:"source"`
	Lot       string   `json:"milk_lot"`
	Species   string   `json:"species"`
	Litres    *float64 `json:"litres"`
	Treatment *string  `json:"treatment"`
	HeatTemp  *float64 `json:"heat_temp_c"`
	HeatFor   *float64 `json:"heat_s"`
}

// Ingredient is one ingredient of a lot.
type Ingredient struct {
	Name   string `json:"name"`
	Kind   string `json:"kind"`
	Lot    string `json:"ingredient_lot"`
	Source string `json:"source"`
	Amount string `json:"amount"`
}

// Salt is one salting of a lot.
type Salt struct {
	Weight *float64 `json:"salt_g"`
	Where  string   `json:"where"`
	Lot    string   `json:"salt_lot"`
}

// Curd is curd that came from another lot, or was set aside for one.
type Curd struct {
	Lot    *string  `json:"lot"`
	Weight *float64 `json:"weight_g"`
	For    string   `json:"for"`
}

// Range is how far a quantity went; null where it isn't known.
type Range struct {
	Min  *float64 `json:"min"`
	Mean *float64 `json:"mean"`
	Max  *float64 `json:"max"`
}

// Air is the air of a room while wheels of a lot lay in it. Without readings it is
// the room's set point, if that is known.
type Air struct {
	Room     string   `json:"room"`
	From     day.Date `json:"from"`
	To       day.Date `json:"to"`
	Days     int      `json:"days"` // the first and the last among them
	Now      bool     `json:"there_now"`
	Readings int      `json:"readings"`
	Temp     Range    `json:"temp_c"`
	RH       Range    `json:"rh_pct"`
	SetPoint bool     `json:"set_point"`
	Wheels   []string `json:"wheels"`

	Elsewhere bool `json:"elsewhere"` // before they came: nothing is known of that air
	Own       bool `json:"-"`         // Elsewhere, and taken over: not at a supplier
}

// Hand is one person who handled a lot.
type Hand struct {
	By      string   `json:"by"`
	Entries int      `json:"entries"`
	First   day.Date `json:"first"`
	Last    day.Date `json:"last"`
	Did     []Deed   `json:"did"`
}

// Deed is what a person did, and how often.
type Deed struct {
	What  string `json:"what"`
	Count int    `json:"count"`
}

// Wheel is one wheel of a trace.
type Wheel struct {
	Tag       string    `json:"wheel"`
	Here      bool      `json:"here"`
	Place     string    `json:"place"`
	Weight    *float64  `json:"weight_g"`
	Held      []string  `json:"held"` // why, of one that is here and held by hand
	Gone      *day.Date `json:"gone_on"`
	Lost      bool      `json:"lost"`
	Destroyed bool      `json:"destroyed"`   // so that nobody eats it
	Why       string    `json:"why"`         // in words, filled by cmd/words
	Before    []string  `json:"tags_before"` // tags that it had, of entries that were cancelled too

	Reasons reason.List `json:"reasons"`
}

// Delivery is one wheel, or a piece of one, that went to a customer.
type Delivery struct {
	Wheel    string   `json:"wheel"`
	Lot      string   `json:"lot"`
	Customer string   `json:"customer"`
	Contact  string   `json:"contact"`
	Address  string   `json:"address"`
	Date     day.Date `json:"date"`
	Weight   *float64 `json:"weight_g"`
	Part     string   `json:"whole_or_piece"`
	Document string   `json:"document"`
	By       string   `json:"by"`
	Note     string   `json:"note"`
	Code     string   `json:"lot_code"`        // it left under: the maker's, of what was bought in
	Source   string   `json:"lot_code_source"` // who gave it and where they are; "": this site
	Then     string   `json:"tag_then"`        // the wheel's as it went, which its label says

	at    time.Time
	title string // of its variety
}

// Tag is the tag under which the wheel went, with the one that it has now.
func (d Delivery) Tag() string {
	if d.Then == d.Wheel {
		return d.Wheel
	}
	return d.Then + " (now " + d.Wheel + ")"
}

// Reach is a customer who had something, and how to reach them.
type Reach struct {
	Name       string `json:"name"`
	Contact    string `json:"contact"`
	Address    string `json:"address"`
	Known      bool   `json:"written_down"`
	Deliveries int    `json:"deliveries"`
}

// Run traces what went into something and who had it.
func Run(ctx context.Context, a *app.App, c app.Caller, q Question) (Trace, error) {
	if err := q.Check(); err != nil {
		return Trace{}, err
	}
	return app.Ask(ctx, a, c, func(s *app.Session) (Trace, error) { return Gather(s, q) })
}

// Gather is Run in a transaction that is open, for a question that was checked. It finds the lots and wheels
// concerned, follows curd both ways and gathers what the book says of them. Where a
// lot or tag is named it reads those lots alone.
func Gather(s *app.Session, q Question) (Trace, error) {
	t := &finder{Session: s, picks: map[[16]byte]*picked{}, rooms: map[string]*roomDays{}}
	asked, follow, err := t.find(q)
	if err != nil {
		return Trace{}, err
	}
	if err := t.curd(follow); err != nil {
		return Trace{}, err
	}
	out := Trace{
		Schema: app.Schema("trace"), Asked: asked, At: app.Instant(s.Time, s.Zone),
		Lots: []*Lot{}, Deliveries: []Delivery{}, Customers: []Reach{}, Time: s.Time.In(s.Zone), Site: s.Tx.Settings().Name,
	}
	site, err := s.Tx.Site()
	if err != nil {
		return out, err
	}
	out.Site = cmp.Or(place(site.Name, site.Address, site.Contact), out.Site)
	for i, mk := range t.order {
		if i%64 == 0 && s.Ctx.Err() != nil {
			return out, s.Ctx.Err()
		}
		l, sent, err := t.lotOf(mk, t.picks[mk])
		if err != nil {
			return out, err
		}
		out.Lots, out.Deliveries = append(out.Lots, l), append(out.Deliveries, sent...)
	}
	out.NoAddress = t.lacking
	rank := map[Via]int{ViaAsked: 0, ViaInto: 1, ViaFrom: 2}
	slices.SortStableFunc(out.Lots, func(a, b *Lot) int { return rank[a.Reach] - rank[b.Reach] })
	slices.SortStableFunc(out.Deliveries, func(a, b Delivery) int {
		if c := a.at.Compare(b.at); c != 0 {
			return c
		}
		if a.Customer != b.Customer {
			return cave.NaturalCompare(a.Customer, b.Customer)
		}
		return cave.NaturalCompare(a.Wheel, b.Wheel)
	})
	known, err := s.Tx.Customers()
	if err != nil {
		return out, err
	}
	out.reach(known)
	out.count()
	if len(out.Deliveries) > 0 {
		out.Warn(app.Recalling)
	}
	return out, nil
}

// reach fills in how to reach those who had something.
func (t *Trace) reach(known []register.Customer) {
	by := map[string]*register.Customer{}
	for i, c := range known {
		by[strings.ToLower(c.Name)] = &known[i]
	}
	at := map[string]int{}
	for i := range t.Deliveries {
		d := &t.Deliveries[i]
		k := strings.ToLower(d.Customer)
		n, ok := at[k]
		if !ok {
			n = len(t.Customers)
			at[k] = n
			t.Customers = append(t.Customers, Reach{Name: d.Customer, Known: by[k] != nil})
		}
		c := &t.Customers[n]
		c.Deliveries++
		if b := by[k]; b != nil {
			c.Contact, c.Address = b.Contact, b.Address
		}
		d.Contact, d.Address = c.Contact, c.Address
	}
	slices.SortStableFunc(t.Customers, func(a, b Reach) int { return cave.NaturalCompare(a.Name, b.Name) })
}

func (t *Trace) count() {
	n := Totals{Lots: len(t.Lots), Deliveries: len(t.Deliveries), Customers: len(t.Customers)}
	for _, l := range t.Lots {
		if len(l.Wheels) > 0 {
			n.WithWheels++
		}
		for _, w := range l.Wheels {
			n.Wheels++
			switch {
			case w.Here:
				n.Here++
			case w.Lost:
				n.Lost++
				if w.Destroyed {
					n.Destroyed++
				}
			default:
				n.Sent++
			}
		}
	}
	t.Totals = n
}

// StillHere is wheels of a trace that lie at one place and are held for one reason.
type StillHere struct {
	Place string // "": no place
	Held  string // why; "": not held by hand
	Tags  []string
}

// Here are the places where wheels of the trace still are.
func (t Trace) Here() []StillHere {
	var out []StillHere
	for _, l := range t.Lots {
		for _, w := range l.Wheels {
			if !w.Here {
				continue
			}
			at := StillHere{Place: w.Place, Held: strings.Join(w.Held, "; ")}
			i := slices.IndexFunc(out, func(o StillHere) bool { return o.Place == at.Place && o.Held == at.Held })
			if i < 0 {
				i = len(out)
				out = append(out, at)
			}
			out[i].Tags = append(out[i].Tags, w.Tag)
		}
	}
	slices.SortStableFunc(out, func(a, b StillHere) int { return cave.NaturalCompare(a.Place, b.Place) })
	return out
}

// Lost are the wheels of the trace that were lost.
func (t Trace) Lost() []Wheel {
	var out []Wheel
	for _, l := range t.Lots {
		for _, w := range l.Wheels {
			if w.Lost {
				out = append(out, w)
			}
		}
	}
	return out
}

// Had is what a customer had of one lot on one day with one document, whole wheels
// apart from pieces.
type Had struct {
	Date                       day.Date
	Lot, Title, Part, Document string
	Tags                       []string // each once, though several pieces of it went
	Count                      int
	Weight                     quantity.Grams
	Unweighed                  int
}

// Had is what a customer had, in the order it went.
func (t Trace) Had(customer string) []Had {
	var out []Had
	for _, d := range t.Deliveries {
		if !strings.EqualFold(d.Customer, customer) {
			continue
		}
		i := slices.IndexFunc(out, func(o Had) bool {
			return o.Date == d.Date && o.Lot == d.Lot && o.Part == d.Part && o.Document == d.Document
		})
		if i < 0 {
			i = len(out)
			out = append(out, Had{Date: d.Date, Lot: d.Lot, Title: d.title, Part: d.Part, Document: d.Document})
		}
		h := &out[i]
		h.Count++
		if !slices.Contains(h.Tags, d.Tag()) {
			h.Tags = append(h.Tags, d.Tag())
		}
		if d.Weight == nil {
			h.Unweighed++
		} else {
			h.Weight += quantity.Grams(*d.Weight)
		}
	}
	return out
}

// documentOf is the reference of the delivery note of a sending, or "". Books from
// before entries kept it by itself have it at the head of the note: "document D-7;
// left at the gate".
func documentOf(e wheel.Entry) string {
	rest, ok := strings.CutPrefix(e.Note, "document ")
	if !ok || e.Detail != "" {
		return e.Sending().Document
	}
	ref, _, _ := strings.Cut(rest, ";")
	return strings.TrimSpace(ref)
}
