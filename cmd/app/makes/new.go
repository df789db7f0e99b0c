package makes

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
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// New asks to put a make and its wheels in the book. What is zero or nil wasn't
// given.
type New struct {
	Variety, Lot, Note string
	Date               string // as typed; "": when the caller says it happened
	Start              string // when the make began, a time of that date as typed
	SoldAs             string // the name the cheese is sold under; laws have rules for some names
	Country            string // whose food law its wheels follow, ISO codes; "": the book's

	Milk                 wheel.Milk
	Curd, SetAside, Salt quantity.Grams
	SetAsideFor          string
	SaltRate             quantity.Fraction // of the curd
	SaltWhere            string
	PH                   float64 // as drying starts, like the shares below
	Moisture, MoistureSD *quantity.Fraction
	Fat, CheeseSalt      *quantity.Fraction

	Wheels *int // nil: as many as there are weights
	Batch
}

// Batch is what wheels are like that come into the book together.
type Batch struct {
	Weights []quantity.Grams // green weights, one for each wheel or one for all; 0: not weighed
	Place   string
	Plan    string // "": the variety's
	Shape   shape.Shape
	Sure    bool // though weights or measures look wrong
}

// Made is a make that was put in the book.
type Made struct {
	Schema string   `json:"schema"`
	Make   Make     `json:"make"`
	Wheels []string `json:"wheels"`
	app.Cautioned

	Title   string   `json:"-"` // of the variety
	Date    day.Date `json:"-"`
	Plan    string   `json:"-"`
	Weighed bool     `json:"-"`
}

// WeightsCount refuses weights that are neither one for each wheel nor one for all.
type WeightsCount struct {
	Weights int `json:"weights"`
	Wheels  int `json:"wheels"`
}

// NotThatDay refuses a start on another day than the make's.
type NotThatDay struct {
	Made  day.Date `json:"made"`
	Start day.Date `json:"start"`
}

// RoomFirst is a remedy: the book has no rooms yet.
type RoomFirst struct {
	Room string `json:"room"`
}

// NeedsTimeOfDay refuses a start that is only a date.
const NeedsTimeOfDay reason.Flat = "start-needs-time-of-day"

// The codes.

func (WeightsCount) Code() string { return "weights-count" }
func (NotThatDay) Code() string   { return "start-on-another-day" }
func (RoomFirst) Code() string    { return "room-first" }

// MaxWheels is the most wheels that come into the book at once.
const MaxWheels = 10000

// YoungDays is the age up to which a make that is written down late is kept from its
// make date: what was not done since then is late. An older one is kept from the day
// it is written, or its whole past would be late.
const YoungDays = 31

// Create puts a make and its wheels in the book.
func Create(ctx context.Context, a *app.App, c app.Caller, q New) (app.Did[Made], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (Made, error) { return CreateIn(s, q) })
}

// CreateIn is Create in a transaction that is open.
func CreateIn(s *app.Session, q New) (Made, error) {
	d := Made{Schema: app.Schema("make-new"), Wheels: []string{}}
	mk, v, err := Build(s, q)
	if err != nil {
		return d, err
	}
	since, _, err := s.Moment()
	if err != nil {
		return d, err
	}
	weighedAt := since
	if s.On == "" && s.At == "" {
		if mk.Date < s.Today {
			weighedAt = mk.Date.Noon(s.Zone)
		}
		if s.Today-mk.Date <= YoungDays {
			since = weighedAt
		}
	}
	n, err := q.wheels()
	if err != nil {
		return d, err
	}
	if q.Weights, err = Each(q.Weights, n); err != nil {
		return d, err
	}
	ws, err := q.Batch.wheels(s, mk, v, n, since)
	if err != nil {
		return d, err
	}
	if err := s.Write.PutMake(mk); err != nil {
		return d, err
	}
	if err := q.Batch.put(s, mk, v, ws, weighedAt); err != nil {
		return d, err
	}
	for _, w := range ws {
		d.Wheels, d.Plan = append(d.Wheels, w.Tag), w.Plan
	}
	d.Make, d.Title, d.Date, d.Weighed = docOf(mk, len(ws), s.Zone), v.Title, mk.Date, q.weighed()
	raw, err := s.RawMilk(mk, mk.Milk.Treatment)
	d.WarnRaw(raw)
	return d, err
}

// wheels is how many wheels are meant.
func (q New) wheels() (int, error) {
	n := 0
	switch {
	case q.Wheels != nil && *q.Wheels != 0:
		n = *q.Wheels
	case len(q.Weights) > 0:
		n = len(q.Weights)
	case q.Wheels == nil && q.Place != "":
		n = 1
	}
	if n < 0 || n > MaxWheels {
		return 0, app.Misuse("wheels", reason.Outside[int]{What: "wheels", Value: n, Low: 0, High: MaxWheels})
	}
	return n, nil
}

// weighed is true where a wheel of the batch was weighed.
func (b Batch) weighed() bool {
	return slices.ContainsFunc(b.Weights, func(g quantity.Grams) bool { return g > 0 })
}

// Each is one weight for each of n wheels: those given, or the one for all. None
// stays none.
func Each(weights []quantity.Grams, n int) ([]quantity.Grams, error) {
	switch {
	case len(weights) == 0 || len(weights) == n:
		return weights, nil
	case len(weights) == 1 && n > 1:
		return slices.Repeat(weights, n), nil
	}
	return nil, app.Misuse("weights", WeightsCount{len(weights), n})
}

// Build is the make that was asked for, not yet in the book.
func Build(s *app.Session, q New) (wheel.Make, variety.Variety, error) {
	v, err := s.Tx.Variety(q.Variety)
	if err != nil {
		return wheel.Make{}, v, app.At("variety", err)
	}
	mk := wheel.Make{
		Lot: q.Lot, Variety: v.Name, Milk: q.Milk, Curd: q.Curd, SetAside: q.SetAside, SetAsideFor: q.SetAsideFor,
		SaltMass: q.Salt, SaltRate: q.SaltRate, SaltWhere: q.SaltWhere, SoldAs: q.SoldAs, Note: q.Note, Written: s.Time,
		By: s.Who,
	}
	if mk.ID, err = s.RecordID(); err != nil {
		return mk, v, err
	}
	if mk.Date, err = q.date(s); err != nil {
		return mk, v, err
	}
	cs, err := app.Countries("country", q.Country)
	if err != nil {
		return mk, v, err
	}
	mk.Countries = holdrule.Joined(cs)
	if mk.Began, err = q.began(s, mk.Date); err != nil {
		return mk, v, err
	}
	if mk.Lot == "" {
		mk.Lot = wheel.DefaultLot(mk.Date, s.Tx.LotCode(), s.Tx.HasLot)
	}
	if err := cave.CheckTag("lot", mk.Lot); err != nil {
		return mk, v, app.At("lot", err)
	}
	mk.Milk.Species = strings.ToLower(mk.Milk.Species)
	if mk.Start, err = q.composition(v); err != nil {
		return mk, v, err
	}
	if mk.SaltRate > 0 && mk.SaltMass == 0 {
		mk.SaltMass = wheel.SaltFor(mk.Curd-mk.SetAside, mk.SaltRate)
	}
	if err := mk.Check(); err != nil {
		return mk, v, err
	}
	return mk, v, s.MayLeaveLaw(mk, nil, q.Note, q.Sure)
}

// date is the make date: as given, or that on which the caller says it happened.
func (q New) date(s *app.Session) (day.Date, error) {
	when, _, err := s.Moment()
	if err != nil || q.Date == "" {
		return day.At(when, s.Zone), err
	}
	d, err := s.Dates().ParsePast(q.Date)
	if err != nil {
		return d, app.Misread("date", err)
	}
	if d > day.At(when, s.Zone) {
		return d, app.Refuse(app.FutureDate{On: d}).In("date")
	}
	return d, nil
}

// began is when a make of a date began; the zero time where nobody said.
func (q New) began(s *app.Session, made day.Date) (time.Time, error) {
	if q.Start == "" {
		return time.Time{}, nil
	}
	dates := s.Dates()
	dates.Today = made
	t, exact, err := dates.ParseMoment(q.Start, s.Zone)
	switch {
	case err != nil:
		return t, app.Misuse("start", reason.Unreadable{What: "start", Word: q.Start})
	case !exact:
		return t, app.Misuse("start", NeedsTimeOfDay)
	case day.At(t, s.Zone) != made:
		return t, app.Refuse(NotThatDay{made, day.At(t, s.Zone)}).In("start")
	case t.After(s.Time.Add(app.ClockSlack)):
		return t, app.Refuse(app.FutureTime{At: t.In(s.Zone)}).In("start")
	}
	return t.UTC().Truncate(time.Millisecond), nil
}

// composition is the variety's as drying starts, with what was measured in its place.
func (q New) composition(v variety.Variety) (wheel.Composition, error) {
	return q.measured(wheel.Composition{
		Moisture: v.Composition.Moisture, MoistureSD: v.Composition.MoistureSD, Fat: v.Composition.Fat, FatSD: 0.01,
		Salt: v.Composition.Salt, SaltSD: 0.002, PH: v.Composition.PH,
	})
}

// measured is a composition with what was measured in its place.
func (q New) measured(c wheel.Composition) (wheel.Composition, error) {
	c.PH = cmp.Or(q.PH, c.PH)
	if q.PH != 0 && (q.PH < wheel.LowestPH || q.PH > wheel.HighestPH) {
		return c, app.Refuse(reason.Outside[float64]{
			What: "ph", Value: q.PH, Low: wheel.LowestPH, High: wheel.HighestPH,
		}).In("ph")
	}
	if q.Moisture != nil {
		c.MoistureSD, c.Measured = wheel.LabSD, true
	}
	for to, given := range map[*quantity.Fraction]*quantity.Fraction{
		&c.Moisture: q.Moisture, &c.MoistureSD: q.MoistureSD, &c.Fat: q.Fat, &c.Salt: q.CheeseSalt,
	} {
		if given != nil {
			*to = *given
		}
	}
	return c, nil
}

// wheels are n wheels of a make, the first of them number 1.
func (b Batch) wheels(s *app.Session, mk wheel.Make, v variety.Variety, n int, since time.Time) ([]wheel.Wheel, error) {
	p, err := s.Tx.Plan(cmp.Or(b.Plan, v.Plan))
	if err != nil {
		return nil, app.At("plan", err)
	}
	place, err := b.place(s)
	if err != nil {
		return nil, err
	}
	var out []wheel.Wheel
	for i := range n {
		id, err := s.RecordID()
		if err != nil {
			return nil, err
		}
		sh := b.Shape
		switch {
		case sh.Known():
		case i < len(b.Weights) && b.Weights[i] > 0:
			sh = v.Shape.ForWeight(b.Weights[i], shape.CheeseDensity)
		default:
			sh = v.Shape
		}
		out = append(out, wheel.Wheel{
			ID: id, Make: mk.ID, Number: i + 1, Tag: wheel.DefaultTag(mk.Lot, i+1, n), Place: place, Plan: p.Name, Shape: sh,
			Since: since, Written: s.Time, By: s.Who,
		})
	}
	return out, nil
}

// put puts wheels in the book with their green weights, unless they look wrong.
func (b Batch) put(s *app.Session, mk wheel.Make, v variety.Variety, ws []wheel.Wheel, at time.Time) error {
	if why := verdict.OddMake(mk, v, ws, b.Weights); why != nil && !b.Sure {
		return app.Unsure(why, app.BareUnits).In("weights")
	}
	if err := b.fit(s, ws); err != nil {
		return err
	}
	if err := s.Write.AddWheels(ws); err != nil {
		return err
	}
	var entries []wheel.Entry
	for i, g := range b.Weights {
		if g > 0 {
			entries = append(entries, s.Entry(greenWeight(ws[i], g, at, b.Sure)))
		}
	}
	_, err := s.Write.Put(entries...)
	return err
}

// greenNote is the note of a weight that came with the wheel.
const greenNote = "green weight"

func greenWeight(w wheel.Wheel, g quantity.Grams, at time.Time, sure bool) wheel.Entry {
	return wheel.Entry{Subject: w.ID, Kind: wheel.Weighed, At: at, Weight: g, Note: greenNote, Sure: sure}
}

// place is where the wheels lie; "" where nobody said.
func (b Batch) place(s *app.Session) (cave.Place, error) {
	if b.Place == "" {
		return "", nil
	}
	p, err := cave.ParsePlace(b.Place)
	if err != nil {
		return "", app.Misread("place", err)
	}
	p, err = PlaceIn(s, p)
	return p, app.At("place", err)
}

// Overfull doubts a place that would hold more wheels than fit.
type Overfull struct {
	Place cave.Place `json:"place"`
	Fits  int        `json:"fits"`
	Here  int        `json:"here"`
	Come  int        `json:"come"`
}

// PutThere asks whether wheels go to a place that would hold more than fit.
type PutThere Overfull

// The codes.

func (Overfull) Code() string { return "place-overfull" }
func (PutThere) Code() string { return "place-overfull-asked" }

// fit doubts new wheels in a place where they don't fit.
func (b Batch) fit(s *app.Session, ws []wheel.Wheel) error {
	if b.Place == "" || len(ws) == 0 {
		return nil
	}
	return RoomFor(s, ws[0].Place, len(ws), b.Sure)
}

// RoomFor doubts so many more wheels in a place where they don't fit.
func RoomFor(s *app.Session, p cave.Place, come int, sure bool) error {
	r, err := s.Tx.Room(p.Room())
	fits := r.Fits(p)
	if err != nil || sure || fits == 0 || come == 0 {
		return err
	}
	counts, err := s.Tx.ShelfCounts(p)
	here := 0
	for _, c := range counts {
		here += c.Wheels
	}
	if err == nil && here+come > fits {
		return app.Unsure(Overfull{p, fits, here, come}).In("place")
	}
	return err
}

// PlaceIn writes a place with its room's name as the book has it.
func PlaceIn(s *app.Session, p cave.Place) (cave.Place, error) {
	r, err := s.Tx.Room(p.Room())
	if err == nil {
		return cave.Place(r.Name + strings.TrimPrefix(string(p), p.Room())), nil
	}
	if rooms, rerr := s.Tx.Rooms(); rerr == nil && len(rooms) == 0 {
		r := app.AsRefusal(err)
		r.Remedy = reason.List{RoomFirst{p.Room()}}
		return p, r
	}
	return p, err
}
