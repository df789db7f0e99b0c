package care

import (
	"cmp"
	"errors"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/tables"
	"rindkeep/cmd/intake"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
)

// Wheels asks to take the wheels and weights of a table into the book.
type Wheels struct {
	Table intake.WheelTable
	Bad   []intake.Problem  // found while it was read
	Kinds map[string]string // what the table's words for kinds of cheese mean, in lower case; "": rows without one
	Sure  bool              // weights are right although they look wrong
	Try   bool              // only say what would come of it

	// Tell is told how far it has come, in rows, where set. A stage begins at 0 of 0.
	Tell func(stage drying.Stage, done, of int64)
}

// Taken is what a table of wheels came to, or would come to.
type Taken struct {
	Schema    string               `json:"schema"`
	Try       bool                 `json:"dry_run"`
	Rows      int                  `json:"rows"`
	Columns   []intake.WheelColumn `json:"columns"`
	Unused    []string             `json:"unused_headings"`
	Sample    []Sample             `json:"sample"` // the first rows, as they were understood
	Lots      []string             `json:"new_lots"`
	Wheels    int                  `json:"new_wheels"`
	Known     int                  `json:"known_wheels"`
	Weights   int                  `json:"new_weights"`
	Same      int                  `json:"known_weights"`
	Elsewhere int                  `json:"kept_at_the_books_place"` // known wheels that the table has at another place
	Received  int                  `json:"received"`                // new wheels that came from a supplier
	TakenOver int                  `json:"taken_over"`              // new wheels of one's own that are older
	NoMilk    []string             `json:"milk_unknown"`            // new lots whose law asks how the milk was treated
	NoDoc     []string             `json:"document_missing"`        // new lots whose traceability sheet needs it
	NoAddress []string             `json:"address_missing"`         // suppliers and makers whose address isn't in the book
	Read      int                  `json:"-"`                       // rows
}

// Sample is a row as it was understood.
type Sample struct {
	Tag     string   `json:"tag"`
	New     bool     `json:"new"`
	Lot     string   `json:"lot"`
	Made    string   `json:"made"`
	Variety string   `json:"variety"`
	Place   *string  `json:"place"`
	Green   *float64 `json:"green_weight_g"`
	Weight  *float64 `json:"weight_g"`
	Weighed *string  `json:"weighed_at"`

	Supplier *string `json:"supplier"`
	Coat     *string `json:"coat"`
}

// sampled is how many rows are shown as they were understood.
const sampled = 5

// TwiceInTable refuses a second row about a wheel.
type TwiceInTable struct {
	Wheel string `json:"wheel"`
}

// NewNeeds refuses a new wheel of a new make of which something isn't said.
type NewNeeds struct {
	Wheel string       `json:"wheel"`
	What  reason.Thing `json:"what"` // variety or made

	Unused []string `json:"unused_headings"` // one of them may say it, where no column does
}

// Differs refuses a row that says of a wheel or a lot something else than the book.
type Differs struct {
	Thing reason.Thing `json:"thing"` // wheel or lot
	Name  string       `json:"name"`
	What  reason.Thing `json:"what"`    // lot, made or variety
	Is    string       `json:"in_book"` // in the book
}

// The codes.

func (TwiceInTable) Code() string { return "wheel-twice-in-table" }
func (NewNeeds) Code() string     { return "new-wheel-needs" }
func (Differs) Code() string      { return "differs-from-book" }

// taking is a table on its way into the book.
type taking struct {
	*app.Session
	dates  map[string]*day.Column // by field
	kinds  map[string]string
	unused []string // headings
	out    Taken
	bad    []intake.Problem
	tags   map[string]bool      // of the rows so far, in lower case
	lots   map[string]*lotTaken // by code in lower case, or by make date and variety
	order  []*lotTaken
	kept   int // rows that bring something
	sure   bool
	tell   func(stage drying.Stage, done, of int64)
}

// lotTaken is a make that a table's wheels belong to.
type lotTaken struct {
	make    wheel.Make
	variety variety.Variety
	known   bool
	came    wheel.Arrival // the first of its wheels; zero of one's own
	number  int           // of the last wheel
	held    []wheel.Entry // the holds that others of its wheels are on
	rows    []rowTaken
}

// row is a row with what it says, read.
type row struct {
	intake.WheelRow
	made    day.Date        // None: it doesn't say
	variety variety.Variety // the zero one: it doesn't say
	place   cave.Place      // "": it doesn't say
	bought
}

// read reads what a row says; ok is false where a cell is wrong.
func (t *taking) read(r intake.WheelRow) (x row, ok bool) {
	x, ok = row{WheelRow: r, made: day.None}, true
	check := func(column string, err error) {
		if err != nil {
			t.bad, ok = append(t.bad, r.Problem(column, app.AsRefusal(err))), false
		}
	}
	check("tag", cave.CheckTag("tag", r.Tag))
	if key := strings.ToLower(r.Tag); t.tags[key] {
		check("tag", app.Refuse(TwiceInTable{r.Tag}))
	} else {
		t.tags[key] = true
	}
	var err error
	if r.Made != "" {
		x.made, err = t.date("made", r.Made)
		check("made", err)
	}
	if r.Variety != "" || t.kinds[""] != "" {
		x.variety, err = tables.Variety(t.Tx, t.kinds, r.Variety)
		check("variety", err)
	}
	if r.Place != "" {
		x.place, err = cave.ParsePlace(r.Place)
		check("place", err)
	}
	if r.Weighed != "" {
		dates, derr := t.dates["date weighed"].For(r.Weighed)
		at, exact, err := dates.ParseMoment(r.Weighed, t.Zone)
		check("date weighed", cmp.Or(derr, err))
		x.weighed, x.timed = at, exact
		if on := day.At(at, t.Zone).String(); !strings.HasPrefix(r.Weighed, on) {
			if x.Weighed = on; exact {
				x.Weighed += at.In(t.Zone).Format(" 15:04")
			}
		}
	}
	t.readBought(&x, check)
	return x, ok
}

// row takes one row. What is wrong with it is a problem; the error is of the book.
func (t *taking) row(r intake.WheelRow) error {
	x, ok := t.read(r)
	if !ok {
		return nil
	}
	l, w, sample, err := t.wheel(x)
	if err != nil {
		return t.faulty(r, err)
	}
	m := l.make
	r.Weighed = x.Weighed
	r.Made = m.Date.String() // a green weight is from then
	brings := rowTaken{wheel: w}
	if w != nil {
		brings.entries, err = t.arrive(&x, l, w)
	} else if x.Arrival > 0 {
		x.came, err = t.cameBefore(x)
	}
	if err != nil {
		return t.faulty(r, err)
	}
	if w, ok := r.GreenWeighing(); ok {
		brings.weights = append(brings.weights, w)
	}
	if w, ok := r.ArrivalWeighing(); ok {
		w.When = day.At(x.came, t.Zone).String()
		brings.weights = append(brings.weights, w)
	}
	if w, ok := r.Weighing(); ok {
		brings.weights = append(brings.weights, w)
		sample.Weighed = app.OrNull(r.Weighed)
	}
	if brings.wheel != nil || len(brings.weights) > 0 {
		l.rows = append(l.rows, brings)
		t.kept++
	}
	if len(t.out.Sample) < sampled {
		sample.Tag, sample.Lot, sample.Made, sample.Variety = r.Tag, m.Lot, r.Made, m.Variety
		sample.Supplier, sample.Coat = app.OrNull(r.Supplier), app.OrNull(r.Coat)
		sample.Green, sample.Weight = app.Grams(r.Green), app.Grams(cmp.Or(r.Weight, r.Arrival))
		if r.Weight == 0 && r.Arrival > 0 {
			sample.Weighed = app.OrNull(day.At(x.came, t.Zone).String())
		}
		t.out.Sample = append(t.out.Sample, sample)
	}
	return nil
}

// faulty keeps what is wrong with a field of a row, and hands back an error of the book.
func (t *taking) faulty(r intake.WheelRow, err error) error {
	var ref *app.Refusal
	if errors.As(err, &ref) && ref.At.Field != "" {
		t.bad = append(t.bad, r.Problem(ref.At.Field, ref))
		return nil
	}
	return err
}

// wheel finds the wheel of a row and its lot, or makes it: w is nil where it's known. A
// wheel in the book stays where it is: the book knows better, and the row is no move.
func (t *taking) wheel(x row) (l *lotTaken, w *wheel.Wheel, sample Sample, err error) {
	if !t.Tx.HasTag(x.Tag) {
		if l, err = t.lotOf(x); err != nil {
			return nil, nil, sample, err
		}
		made, err := t.newWheel(x, l)
		t.out.Wheels++
		return l, &made, Sample{New: true, Place: app.OrNull(string(made.Place))}, err
	}
	known, err := t.Tx.WheelByTag(x.Tag)
	if err != nil {
		return nil, nil, sample, err
	}
	t.out.Known++
	if l, err = t.lotNamed(known.Make); err != nil {
		return nil, nil, sample, err
	}
	if x.Lot == "" && x.Made != "" && x.variety.Name != "" && t.lots[x.keyOf()] == nil {
		t.lots[x.keyOf()] = l // a lot that was recorded in part goes on
	}
	st, err := t.Tx.State(known.ID)
	if x.place != "" && !strings.EqualFold(string(x.place), string(st.Place)) {
		t.out.Elsewhere++
	}
	return l, nil, sample, errors.Join(err, x.agrees("wheel", x.Tag, l))
}

// lotNamed is a make of the book.
func (t *taking) lotNamed(id uuid.UUID) (*lotTaken, error) {
	m, err := t.Tx.Make(id)
	if err != nil {
		return nil, err
	}
	if l := t.lots[strings.ToLower(m.Lot)]; l != nil {
		return l, nil
	}
	l, err := t.knownLot(m)
	if err == nil {
		t.lots[strings.ToLower(m.Lot)], t.order = l, append(t.order, l)
	}
	return l, err
}

// agrees refuses a row that says of a wheel or a lot something else than the book.
func (x row) agrees(thing reason.Thing, name string, l *lotTaken) error {
	m := l.make
	switch {
	case x.Supplier != "" && !strings.EqualFold(x.Supplier, l.came.Supplier):
		return app.Refuse(Differs{thing, name, "supplier", l.came.Supplier}).In("supplier")
	case x.Treatment != "" && x.milk.Treatment != m.Milk.Treatment:
		return app.Refuse(Differs{thing, name, "milk-treatment", string(m.Milk.Treatment)}).In("treatment")
	case x.Lot != "" && !strings.EqualFold(x.Lot, m.Lot):
		return app.Refuse(Differs{thing, name, "lot", m.Lot}).In("lot")
	case x.Made != "" && x.made != m.Date:
		return app.Refuse(Differs{thing, name, "made", m.Date.String()}).In("made")
	case x.Variety != "" && x.variety.Name != m.Variety:
		return app.Refuse(Differs{thing, name, "variety", m.Variety}).In("variety")
	}
	return nil
}

// lotOf finds or begins the make of a row: by its lot code, by the lot that its tag
// begins with, else by its make date and variety.
func (t *taking) lotOf(x row) (*lotTaken, error) {
	code := x.Lot
	if i := strings.LastIndexByte(x.Tag, '-'); code == "" && x.Supplier == "" && i > 0 && t.hasLot(x.Tag[:i]) {
		code = x.Tag[:i]
	}
	key := strings.ToLower(code)
	if code == "" {
		key = x.keyOf()
	}
	l := t.lots[key]
	if l == nil {
		var err error
		if x.Supplier != "" {
			l, err = t.boughtLot(x)
		} else if t.Tx.HasLot(code) {
			var m wheel.Make
			if m, err = t.Tx.MakeByLot(code); err == nil {
				l, err = t.lotNamed(m.ID)
			}
		} else {
			l, err = t.newLot(x, code)
		}
		if err != nil {
			return nil, err
		}
		t.lots[key], t.lots[strings.ToLower(l.make.Lot)] = l, l
	}
	return l, x.agrees("lot", l.make.Lot, l)
}

func (t *taking) hasLot(code string) bool {
	return t.lots[strings.ToLower(code)] != nil || t.Tx.HasLot(code)
}

func (t *taking) knownLot(m wheel.Make) (*lotTaken, error) {
	v, err := t.Tx.Variety(m.Variety)
	if err != nil {
		return nil, app.AsRefusal(err).In("lot")
	}
	l := &lotTaken{make: m, variety: v, known: true}
	when, _, err := t.Moment()
	if err != nil {
		return nil, err
	}
	if l.held, err = makes.HoldsOn(t.Session, m, when); err != nil {
		return nil, err
	}
	if l.came, _, err = makes.CameAs(t.Session, m); err != nil {
		return nil, err
	}
	if l.make.Milk, err = t.Tx.MilkOf(m.ID); err != nil {
		return nil, err
	}
	ws, err := t.Tx.WheelsOf(m.ID)
	for _, w := range ws {
		l.number = max(l.number, w.Number)
	}
	return l, err
}

// newLot begins the make of a row.
func (t *taking) newLot(x row, code string) (*lotTaken, error) {
	switch {
	case x.variety.Name == "":
		return nil, app.Refuse(NewNeeds{x.Tag, "variety", t.unused}).In("variety")
	case x.Made == "":
		return nil, app.Refuse(NewNeeds{x.Tag, "made", t.unused}).In("made")
	case code == "":
		code = wheel.DefaultLot(x.made, t.Tx.LotCode(), t.hasLot)
	}
	m, v, err := makes.Build(t.Session, makes.New{
		Variety: x.variety.Name, Date: x.made.String(), Lot: code, Milk: x.milk,
	})
	if err != nil {
		return nil, app.AsRefusal(err).In("lot")
	}
	return t.begun(&lotTaken{make: m, variety: v}), nil
}

// begun keeps a lot that is new to the book.
func (t *taking) begun(l *lotTaken) *lotTaken {
	t.order = append(t.order, l)
	t.out.Lots = append(t.out.Lots, l.make.Lot)
	return l
}

// newWheel makes the wheel of a row. An older wheel is kept from now, a young one from
// its make date, like one that is written down late.
func (t *taking) newWheel(x row, l *lotTaken) (wheel.Wheel, error) {
	id, err := uuid.NewV7()
	if err != nil {
		return wheel.Wheel{}, err
	}
	l.number++
	w := wheel.Wheel{
		ID: id, Make: l.make.ID, Number: l.number, Tag: x.Tag, Plan: l.variety.Plan, Shape: l.variety.Shape,
		Since: t.Time, Written: t.Time, By: t.Who,
	}
	if t.Today-l.make.Date <= makes.YoungDays && l.make.Date < t.Today {
		w.Since = l.make.Date.Noon(t.Zone).UTC()
	}
	if g := cmp.Or(x.Green, x.Arrival, x.Weight); g > 0 {
		w.Shape = w.Shape.ForWeight(g, shape.CheeseDensity)
	}
	if x.place != "" {
		if w.Place, err = makes.PlaceIn(t.Session, x.place); err != nil {
			return w, app.AsRefusal(err).In("place")
		}
	}
	return w, nil
}
