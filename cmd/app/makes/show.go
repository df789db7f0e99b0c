package makes

import (
	"context"
	"reflect"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// Shown is one make with its wheels, its log and all that follows from it.
type Shown struct {
	Schema  string         `json:"schema"`
	Make    Make           `json:"make"`
	Wheels  []Wheel        `json:"wheels"`
	Salt    Dose           `json:"salt"`
	Green   *float64       `json:"green_weight_g"`
	Log     []Line         `json:"log"`
	Yield   *Yield         `json:"yield"`
	Samples []LabTest      `json:"samples"`
	Photos  []app.Shot     `json:"photos"` // of the entries, the oldest first
	Entries []app.EntryDoc `json:"entries"`
	app.Cautioned

	Corrections []Said `json:"corrections"`
	Received    []Came `json:"received"` // how its wheels came, or were taken over; empty where it was made here

	Title    string          `json:"-"` // of the variety
	DaysAgo  int             `json:"-"`
	Told     wheel.Make      `json:"-"` // as its log tells of it
	Sheet    wheel.MakeSheet `json:"-"`
	Output   Output          `json:"-"`
	Events   []Event         `json:"-"`
	Zone     *time.Location  `json:"-"`
	Borrowed bool            `json:"-"` // its milk is that of the lots its curd came from
}

// Wheel is one wheel of a make, and where it is.
type Wheel struct {
	Tag   string `json:"tag"`
	Place string `json:"place"`
	Here  bool   `json:"here"`

	Life wheel.Life `json:"-"`
}

// Came is wheels of a make that came together, or were taken over.
type Came struct {
	Arrival
	Wheels []string `json:"wheels"`
}

// came adds how a wheel came, if it did.
func (d *Shown) came(l wheel.Life) {
	if len(l.Arrivals) == 0 {
		return
	}
	c := Came{Arrival: ArrivalOf(l.Arrivals[0], d.Zone), Wheels: []string{l.Tag}}
	for i, have := range d.Received {
		if c.Wheels = have.Wheels; reflect.DeepEqual(have, c) {
			d.Received[i].Wheels = append(have.Wheels, l.Tag)
			return
		}
	}
	c.Wheels = []string{l.Tag}
	d.Received = append(d.Received, c)
}

// Dose is a make's salting in JSON.
type Dose struct {
	Given    *float64 `json:"given_g"`
	Computed *float64 `json:"computed_g"`
	Curd     *float64 `json:"of_curd_g"`
	Rate     *float64 `json:"rate_pct"`
}

// Event is a line of a make's log or, where that is nil, a note, a sample or a result.
type Event struct {
	Entry wheel.Entry
	Line  *Line
}

// Here are the tags of the wheels that aren't gone.
func (d Shown) Here() []string {
	var out []string
	for _, w := range d.Wheels {
		if w.Here {
			out = append(out, w.Tag)
		}
	}
	return out
}

// Show is one make.
func Show(ctx context.Context, a *app.App, c app.Caller, lot string) (Shown, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (Shown, error) { return Gather(s, lot) })
}

// Gather is Show in a transaction that is open.
func Gather(s *app.Session, lot string) (Shown, error) {
	d := Shown{Schema: app.Schema("make"), Wheels: []Wheel{}, Entries: []app.EntryDoc{}, Received: []Came{}, Zone: s.Zone}
	m, err := Lot(s, lot)
	if err != nil {
		return d, err
	}
	v, err := s.Tx.VarietyOf(m)
	if err != nil {
		return d, err
	}
	d.Samples = []LabTest{}
	d.Title, d.DaysAgo = v.Title, int(s.Today-m.Date)
	if d.Sheet, err = s.Tx.MakeSheet(m.ID); err != nil {
		return d, err
	}
	if d.Told, err = fromLog(s, d.Sheet); err != nil {
		return d, err
	}
	for _, t := range d.Sheet.Tests {
		d.Samples = append(d.Samples, LabTestOf(s, m.Lot, t))
	}
	var lives []wheel.Life
	if d.Output, lives, err = outputOf(s, m, d.Sheet); err != nil {
		return d, err
	}
	for _, l := range lives {
		d.Wheels = append(d.Wheels, Wheel{l.Tag, string(l.Place), l.GoneOn == day.None, l})
		d.came(l)
	}
	raw, err := s.RawMilk(m, d.Told.Milk.Treatment)
	if err != nil {
		return d, err
	}
	d.WarnRaw(raw)
	d.Make = docOf(d.Told, len(d.Wheels), s.Zone)
	dose := d.Sheet.Dose()
	d.Salt = Dose{app.Grams(dose.Given), app.Grams(dose.Computed), app.Grams(dose.Curd), app.Some(dose.Rate.Percent())}
	d.Green, d.Yield = app.Grams(d.Output.Total), d.Output.Yield
	d.Borrowed = d.Sheet.Milk().Litres == 0 && d.Sheet.Curd().Came > 0
	return d, d.diary(s)
}

// diary fills in the log and the entries in the order they happened.
func (d *Shown) diary(s *app.Session) error {
	lines := map[[16]byte]*Line{}
	d.Log = make([]Line, len(d.Sheet.Lines))
	for i, l := range d.Sheet.Lines {
		d.Log[i] = lineOf(d.Sheet, i, s.Zone)
		lines[l.Entry.ID] = &d.Log[i]
	}
	es, err := s.Tx.History(d.Sheet.Make.ID)
	d.Corrections = saidOf(es, s.Zone)
	for _, e := range wheel.Live(es) {
		d.Entries = append(d.Entries, s.EntryDoc(e, false))
		// One that is neither is half of a setting aside whose other half was struck.
		if l := lines[e.ID]; l != nil || e.Kind == wheel.Noted || e.Kind == wheel.Sampled || e.Kind == wheel.Resulted {
			d.Events = append(d.Events, Event{e, l})
		}
	}
	d.Photos = app.Shots(d.Entries)
	return err
}

// Listed asks which makes to list: of one variety, or all, and how many at most; 0
// lists all.
type Listed struct {
	Variety   string
	Person    string // who recorded it
	OlderThan int    // days; 0: any age
	YoungerBy int    // under so many days; 0: any age
	Most      int    // 0: all
}

func (q Listed) fits(m wheel.Make, age int) bool {
	return (q.Variety == "" || m.Variety == q.Variety) && (q.Person == "" || strings.EqualFold(m.By, q.Person)) &&
		(q.OlderThan == 0 || age > q.OlderThan) && (q.YoungerBy == 0 || age < q.YoungerBy)
}

// List is makes, the newest first.
type List struct {
	Schema string `json:"schema"`
	Makes  []Make `json:"makes"`

	More bool  `json:"-"` // there are more than were asked for
	Ages []int `json:"-"` // of each, in days
}

// Milk is a make's milk in two words.
func (m Make) Milk() string {
	var w []string
	for _, s := range []*string{m.Species, m.Treatment} {
		if s != nil {
			w = append(w, *s)
		}
	}
	return strings.Join(w, " ")
}

// All lists makes.
func All(ctx context.Context, a *app.App, c app.Caller, q Listed) (List, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (List, error) {
		d := List{Schema: app.Schema("make-list"), Makes: []Make{}}
		if q.Variety != "" {
			if _, err := s.Tx.Variety(q.Variety); err != nil {
				return d, app.At("variety", err)
			}
		}
		for m, err := range s.Tx.Makes() {
			if err != nil {
				return d, err
			}
			age := int(s.Today - m.Date)
			if !q.fits(m, age) {
				continue
			}
			if q.Most > 0 && len(d.Makes) == q.Most {
				d.More = true
				break
			}
			here, err := s.WheelsHere(m.ID)
			if err != nil {
				return d, err
			}
			sheet, err := s.Tx.MakeSheet(m.ID)
			if err != nil {
				return d, err
			}
			told, err := fromLog(s, sheet)
			if err != nil {
				return d, err
			}
			d.Makes, d.Ages = append(d.Makes, docOf(told, len(here), s.Zone)), append(d.Ages, age)
		}
		return d, nil
	})
}
