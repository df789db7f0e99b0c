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
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// Receive asks to put wheels in the book that are already weeks or years old: bought
// in, or of one's own and never written down. They come when the caller says.
type Receive struct {
	Variety, Note string
	Lot           string // the book's own code; "": the maker's, where it can be one and leaves under it, else a new one
	Made          string // as typed; "": not known
	Country       string // whose food law the wheels follow, ISO codes; "": the book's
	SoldAs        string
	Milk          wheel.Milk
	Arrival       wheel.Arrival // without a supplier the wheels are one's own
	HereSince     string        // of one's own: at their place since, a date as typed

	Coat, CoatedOn string    // CoatedOn "": not known
	Last           []LastJob // when jobs were last done
	Known          time.Time // of one's own: until when what was done is given; zero: until they came
	Wheels         *int      // nil: as many as there are weights
	Batch
}

// LastJob is a job that was last done on a date, as typed.
type LastJob struct{ Job, On string }

// Arrived is a make of which wheels were received or taken over.
type Arrived struct {
	Schema string `json:"schema"`
	At     string `json:"at"`
	Make   Make   `json:"make"`
	Arrival
	Wheels []string    `json:"wheels"`
	Held   reason.List `json:"held"`             // by safety holds that the rest of the lot is on
	NoDoc  bool        `json:"document_missing"` // the traceability sheet of a law followed needs it

	Title   string   `json:"-"` // of the variety
	Date    day.Date `json:"-"` // of the make
	Age     int      `json:"-"` // days, on arrival
	Plan    string   `json:"-"`
	Weighed bool     `json:"-"`
	AskMilk bool     `json:"-"` // a law followed asks how the milk was treated, and nobody has said
	NoAddr  string   `json:"-"` // a supplier or maker whose address isn't in the book
}

// Arrival is how wheels came, in JSON.
type Arrival struct {
	Supplier     string   `json:"supplier"` // "" of one's own
	Maker        string   `json:"maker"`
	MakerLot     string   `json:"maker_lot"`
	DocumentType string   `json:"document_type"`
	Document     string   `json:"document"`
	Temp         *float64 `json:"arrival_temp_c"`
	Price        *float64 `json:"price_per_kg"`
	Currency     string   `json:"currency"`
	On           *string  `json:"arrived_on"` // null where it was made here
}

// ArrivalOf is how a wheel came, for JSON; the zero entry of one made here.
func ArrivalOf(e wheel.Entry, zone *time.Location) Arrival {
	a := e.Arrival()
	d := Arrival{
		Supplier: a.Supplier, Maker: a.From(), MakerLot: a.Lot, DocumentType: a.DocumentType, Document: a.Document,
		Price: app.Some(a.Price), Currency: a.Currency,
	}
	if a.Temp != nil {
		d.Temp = app.Num(*a.Temp)
	}
	if !e.At.IsZero() {
		d.On = app.OrNull(day.At(e.At, zone).String())
	}
	return d
}

// DeliveryNote is the type of a delivery's document where nobody gives another.
const DeliveryNote = "delivery note"

// OnArrival is the note of a weight that was taken as the wheel came.
const OnArrival = "on arrival"

// CoatNoDate is the note of a coat that was on the wheel as it came, since when isn't known.
const CoatNoDate = "on it when it came, since when isn't known"

// BeforeItCame is the note of what was done before the wheel came.
const BeforeItCame = "before it came"

// MadeAfter refuses wheels that came before they were made.
type MadeAfter struct {
	Made    day.Date `json:"made"`
	Arrived day.Date `json:"arrived"`
}

// Code implements reason.Reason.
func (MadeAfter) Code() string { return "made-after-arrival" }

// Take puts wheels in the book that come, or are taken over, already ripening.
func Take(ctx context.Context, a *app.App, c app.Caller, q Receive) (app.Did[Arrived], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (Arrived, error) { return TakeIn(s, q) })
}

// TakeIn is Take in a transaction that is open.
func TakeIn(s *app.Session, q Receive) (Arrived, error) {
	d := Arrived{Schema: app.Schema("make-receive"), Wheels: []string{}, Held: reason.List{}}
	when, _, err := s.Moment()
	if err != nil {
		return d, err
	}
	n, err := New{Wheels: q.Wheels, Batch: q.Batch}.wheels()
	if err != nil {
		return d, err
	}
	if n == 0 {
		return d, app.Misuse("wheels", reason.Missing{What: "wheels"})
	}
	if q.Weights, err = Each(q.Weights, n); err != nil {
		return d, err
	}
	mk, known, err := q.Make(s, when)
	if err != nil {
		return d, err
	}
	if err := q.again(s, mk, n, when); err != nil {
		return d, err
	}
	v, err := s.Tx.Variety(mk.Variety)
	if err != nil {
		return d, err
	}
	ws, err := q.newWheels(s, mk, v, n, when)
	if err != nil {
		return d, err
	}
	if !known {
		if err := s.Write.PutMake(mk); err != nil {
			return d, err
		}
	}
	on, err := HoldsOn(s, mk, when)
	if err != nil {
		return d, err
	}
	for _, h := range on {
		of := wheel.Hold{Why: h.Note, Kind: h.Holding().Kind, On: day.At(when, s.Zone), By: s.Who}
		d.Held = append(d.Held, of.Reason())
	}
	e, err := q.put(s, mk, v, ws, on, when)
	if err != nil {
		return d, err
	}
	l, err := s.Tx.LifeAlone(ws[0].ID)
	if err != nil {
		return d, err
	}
	others, err := s.HoldsOfLot(l)
	if err != nil {
		return d, err
	}
	d.Held = append(d.Held, app.SafetyHolds(others)...)
	for _, w := range ws {
		d.Wheels, d.Plan = append(d.Wheels, w.Tag), w.Plan
	}
	d.At, d.Make, d.Arrival = app.Instant(when, s.Zone), docOf(mk, len(ws), s.Zone), ArrivalOf(e, s.Zone)
	d.Title, d.Date, d.Age, d.Weighed = v.Title, mk.Date, int(day.At(when, s.Zone)-mk.Date), q.weighed()
	return d, q.Remind(s, &d, mk)
}

// documentLaw is the country whose traceability sheet needs the document of each delivery: 21
// CFR 1.1345(a), eCFR current to 5 April 2026, read 2026-11-28.
const documentLaw = "US"

// Remind notes what is still to be said of the wheels.
func (q Receive) Remind(s *app.Session, d *Arrived, mk wheel.Make) error {
	set, err := s.Tx.MakeLaw(mk)
	if err != nil {
		return err
	}
	d.AskMilk = mk.Milk.Treatment == "" && slices.ContainsFunc(set.Rules, holdrule.Rule.AsksMilk)
	a := q.Arrival
	d.NoDoc = a.Supplier != "" && a.Document == "" && slices.Contains(set.Countries, documentLaw)
	for _, name := range []string{a.Maker, a.Supplier} {
		if name == "" {
			continue
		}
		c, err := s.Tx.Customer(name)
		if err != nil && !app.IsNotFound(err) {
			return err
		}
		if c.Address == "" {
			d.NoAddr = name
		}
	}
	return nil
}

// Make is the make that the wheels belong to: one that is in the book already where the
// lot code is its, which known says, else a new one.
func (q Receive) Make(s *app.Session, when time.Time) (mk wheel.Make, known bool, err error) {
	arrived := day.At(when, s.Zone)
	made, before := arrived, q.Made == ""
	if !before {
		if made, err = s.Dates().ParsePast(q.Made); err != nil {
			return mk, false, app.Misread("made", err)
		}
	} else if made, err = q.latest(s, made); err != nil {
		return mk, false, err
	}
	if made > arrived {
		return mk, false, app.Refuse(MadeAfter{made, arrived}).In("made")
	}
	lot := cmp.Or(q.Lot, q.Arrival.Lot)
	if own, err := s.Tx.Transforms(when, s.Time); err != nil {
		return mk, false, err
	} else if own {
		lot = q.Lot // it leaves under a code of our own
	}
	if old, err := s.Tx.MakeByLot(lot); lot != "" && err == nil {
		return old, true, q.fits(s, old, made, before)
	}
	if q.Lot == "" && cave.CheckTag("lot", lot) != nil {
		lot = ""
	}
	mk, _, err = Build(s, New{
		Variety: q.Variety, Lot: lot, Note: q.Note, Date: made.String(), SoldAs: q.SoldAs, Country: q.Country, Milk: q.Milk,
	})
	mk.MadeBefore = before
	return mk, false, err
}

// latest is the latest date on which the wheels can have been made: before all that is known of them.
func (q Receive) latest(s *app.Session, made day.Date) (day.Date, error) {
	words := []string{q.CoatedOn, q.HereSince}
	for _, l := range q.Last {
		words = append(words, l.On)
	}
	for _, w := range words {
		if w == "" {
			continue
		}
		d, err := s.Dates().ParsePast(w)
		if err != nil {
			return made, app.Misread("last", err)
		}
		made = min(made, d)
	}
	return made, nil
}

// newWheels are n wheels of a make, numbered on from those it has.
func (q Receive) newWheels(
	s *app.Session, mk wheel.Make, v variety.Variety, n int, when time.Time,
) ([]wheel.Wheel, error) {
	ws, err := q.Batch.wheels(s, mk, v, n, when)
	if err != nil {
		return nil, err
	}
	have, err := s.Tx.WheelsOf(mk.ID)
	last := 0
	for _, w := range have {
		last = max(last, w.Number)
	}
	for i := range ws {
		ws[i].Number += last
		ws[i].Tag = wheel.DefaultTag(mk.Lot, ws[i].Number, last+n)
	}
	return ws, err
}

// put puts the wheels in the book with what is known of them and the holds they are on, and
// gives the entry of the last one's arrival.
func (q Receive) put(
	s *app.Session, mk wheel.Make, v variety.Variety, ws []wheel.Wheel, on []wheel.Entry, when time.Time,
) (last wheel.Entry, err error) {
	if why := verdict.OddMake(mk, v, ws, q.Weights); why != nil && !q.Sure {
		return last, app.Unsure(why, app.BareUnits).In("weights")
	}
	if err := q.fit(s, ws); err != nil {
		return last, err
	}
	like, err := q.Entries(s, mk, when)
	if err != nil {
		return last, err
	}
	if err := s.Write.AddWheels(ws); err != nil {
		return last, err
	}
	like = append(like, on...)
	var entries []wheel.Entry
	for i, w := range ws {
		for _, e := range like {
			e.Subject = w.ID
			if e = s.Entry(e); e.Kind == wheel.Received || e.Kind == wheel.TakenOver {
				last = e
			}
			entries = append(entries, e)
		}
		if i < len(q.Weights) && q.Weights[i] > 0 {
			entries = append(entries, s.Entry(wheel.Entry{
				Subject: w.ID, Kind: wheel.Weighed, At: when, Weight: q.Weights[i], Note: OnArrival, Sure: q.Sure,
			}))
		}
	}
	_, err = s.Write.Put(entries...)
	return last, err
}

// Entries are what each of the wheels gets but for its weight: what was done before it
// came, its coat, and that it came. They lack their IDs and wheels.
func (q Receive) Entries(s *app.Session, mk wheel.Make, when time.Time) ([]wheel.Entry, error) {
	var out []wheel.Entry
	arrived := day.At(when, s.Zone)
	past := func(field, word string) (time.Time, error) {
		d, err := s.Dates().ParsePast(word)
		switch {
		case err != nil:
			return when, app.Misread(field, err)
		case d > arrived && d <= day.At(q.Known, s.Zone):
			return d.Noon(s.Zone), nil
		case d > arrived:
			return when, app.Refuse(MadeAfter{d, arrived}).In(field)
		}
		if d < arrived {
			return d.Noon(s.Zone), nil
		}
		return when, nil
	}
	before := func(at time.Time) string {
		if at.After(when) {
			return ""
		}
		return BeforeItCame
	}
	for _, l := range q.Last {
		j, err := wheel.ParseJob(strings.TrimSpace(l.Job))
		if err != nil {
			return nil, app.Misread("last", err)
		}
		at, err := past("last", l.On)
		if err != nil {
			return nil, err
		}
		out = append(out, wheel.Entry{Kind: wheel.Did, Job: j, At: at, Note: before(at)})
	}
	if q.Coat != "" {
		coat, err := drying.ParseCoat(q.Coat)
		if err != nil {
			return nil, app.Misread("coat", err)
		}
		e := wheel.Entry{Kind: wheel.CoatedOn, Coat: string(coat), At: when, Note: CoatNoDate}
		if q.CoatedOn != "" {
			if e.At, err = past("coated", q.CoatedOn); err != nil {
				return nil, err
			}
			e.Note = before(e.At)
		}
		out = append(out, e)
	} else if q.CoatedOn != "" {
		return nil, app.Misuse("coated", reason.Needs{What: "coating-date", Other: "coat"})
	}
	a := q.Arrival
	if q.HereSince != "" {
		at, err := past("here", q.HereSince)
		if err != nil {
			return nil, err
		}
		a.Here = new(day.Date)
		*a.Here = day.At(at, s.Zone)
	}
	if err := a.Check(); err != nil {
		return nil, app.At("", err)
	}
	kind := wheel.Received
	if a.Supplier == "" {
		kind = wheel.TakenOver
	}
	return append(out, wheel.Entry{Kind: kind, At: when, Detail: a.Detail()}), nil
}

// Money reads a price of a kilogram, like "14.20 EUR" or "14,20".
func Money(s string) (price float64, currency string, err error) {
	num, currency, _ := strings.Cut(strings.TrimSpace(s), " ")
	x, err := quantity.Number(num)
	if err != nil || x < 0 {
		return 0, "", reason.Err(reason.Unreadable{What: "price", Word: s})
	}
	return x, strings.TrimSuffix(strings.TrimSpace(currency), "/kg"), nil
}
