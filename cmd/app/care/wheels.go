package care

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/intake"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
)

// Wheels asks to take the wheels and weights of a table into the book.
type Wheels struct {
	Table intake.WheelTable
	Bad   []intake.Problem // found while it was read
	Sure  bool             // weights are right although they look wrong
	Try   bool             // only say what would come of it
}

// Taken is what a table of wheels came to, or would come to.
type Taken struct {
	Schema    string   `json:"schema"`
	Try       bool     `json:"dry_run"`
	Rows      int      `json:"rows"`
	Columns   []Mapped `json:"columns"`
	Unused    []string `json:"unused_headings"`
	Sample    []Sample `json:"sample"` // the first rows, as they were understood
	Lots      []string `json:"new_lots"`
	Wheels    int      `json:"new_wheels"`
	Known     int      `json:"known_wheels"`
	Weights   int      `json:"new_weights"`
	Same      int      `json:"known_weights"`
	Elsewhere int      `json:"kept_at_the_books_place"` // known wheels that the table has at another place

	Sheet bool `json:"-"` // of a workbook
}

// Mapped says which column of a table a field was read from.
type Mapped struct {
	Field   string  `json:"field"`
	Heading string  `json:"heading"`
	Column  int     `json:"column"`
	Unit    *string `json:"unit"`
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

// errTried ends a transaction that was only tried.
var errTried = errors.New("only tried")

// ImportWheels takes a table of wheels and weights into the book, all of it or nothing.
// All that is wrong with its rows is the error: intake.Problems.
func ImportWheels(ctx context.Context, a *app.App, c app.Caller, q Wheels) (app.Did[Taken], error) {
	var t taking
	d, err := app.Act(ctx, a, c, func(s *app.Session) (Taken, error) {
		t = taking{Session: s, bad: slices.Clone(q.Bad), tags: map[string]bool{}, lots: map[string]*lotTaken{}}
		t.describe(q)
		if err := t.take(q); err != nil {
			return t.out, err
		}
		if q.Try {
			return t.out, errTried
		}
		return t.out, nil
	})
	if errors.Is(err, errTried) {
		return app.Did[Taken]{Result: t.out}, nil
	}
	return d, err
}

// taking is a table on its way into the book.
type taking struct {
	*app.Session
	out     Taken
	bad     []intake.Problem
	tags    map[string]bool      // of the rows so far, in lower case
	lots    map[string]*lotTaken // by code in lower case, or by make date and variety
	order   []*lotTaken
	weights []intake.Weight
}

// lotTaken is a make that a table's wheels belong to.
type lotTaken struct {
	make    wheel.Make
	variety variety.Variety
	known   bool
	number  int // of the last wheel
	wheels  []wheel.Wheel
}

func (t *taking) describe(q Wheels) {
	t.out = Taken{
		Schema: app.Schema("book-import-table"), Try: q.Try, Rows: len(q.Table.Rows), Columns: []Mapped{},
		Unused: app.Filled(q.Table.Unused), Sample: []Sample{}, Lots: []string{}, Sheet: q.Table.Sheet,
	}
	for _, c := range q.Table.Columns {
		t.out.Columns = append(t.out.Columns, Mapped{c.Field, c.Heading, c.Column, app.OrNull(c.Unit)})
	}
}

// take puts what the rows say into the transaction: makes and wheels that are not
// known yet, then all weights as weigh takes them.
func (t *taking) take(q Wheels) error {
	for i, r := range q.Table.Rows {
		if i%256 == 0 && t.Ctx.Err() != nil {
			return t.Ctx.Err()
		}
		if err := t.row(r); err != nil {
			return err
		}
		if len(t.bad) >= store.MostProblems {
			break
		}
	}
	if len(t.bad) > 0 {
		slices.SortStableFunc(t.bad, func(a, b intake.Problem) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
		return intake.Problems(t.bad)
	}
	for _, l := range t.order {
		if !l.known {
			if err := t.Write.PutMake(l.make); err != nil {
				return err
			}
			t.out.Lots = append(t.out.Lots, l.make.Lot)
		}
		if err := t.Write.AddWheels(l.wheels); err != nil {
			return err
		}
		t.out.Wheels += len(l.wheels)
	}
	if len(t.weights) == 0 {
		return nil
	}
	w, err := drying.TakeRows(t.Session, drying.Weights{Rows: t.weights, Sure: q.Sure, Brief: true})
	t.out.Weights, t.out.Same = w.Recorded, w.Same
	return err
}

// row takes one row. What is wrong with it is a problem; the error is of the book.
func (t *taking) row(r intake.WheelRow) error {
	was := len(t.bad)
	made, sample, err := t.wheel(r)
	if err := t.problem(r, err); err != nil {
		return err
	}
	if r.Weighed != "" && r.Weight == 0 {
		_, _, err := day.ParseMoment(r.Weighed, t.Today, t.Zone)
		_ = t.problem(r, in("date weighed", err))
	}
	if len(t.bad) > was {
		return nil
	}
	r.Made = made.String() // a green weight is from then
	if w, ok := r.GreenWeighing(); ok {
		t.weights = append(t.weights, w)
	}
	if w, ok := r.Weighing(); ok {
		t.weights = append(t.weights, w)
		sample.Weighed = app.OrNull(r.Weighed)
	}
	if len(t.out.Sample) < sampled {
		sample.Made, sample.Green, sample.Weight = r.Made, app.Grams(r.Green), app.Grams(r.Weight)
		t.out.Sample = append(t.out.Sample, sample)
	}
	return nil
}

// in is an error about one column; nil stays nil.
func in(column string, err error) error {
	if err == nil {
		return nil
	}
	return app.AsRefusal(err).In(column)
}

// problem notes an error about a column of a row; any other it gives back.
func (t *taking) problem(r intake.WheelRow, err error) error {
	var ref *app.Refusal
	if !errors.As(err, &ref) || ref.At.Field == "" {
		return err
	}
	t.bad = append(t.bad, r.Problem(ref.At.Field, ref))
	return nil
}

// wheel finds the wheel of a row, or makes it.
func (t *taking) wheel(r intake.WheelRow) (made day.Date, sample Sample, err error) {
	key := strings.ToLower(r.Tag)
	if t.tags[key] {
		return made, sample, app.Refuse(TwiceInTable{r.Tag}).In("tag")
	}
	w, err := t.Tx.WheelByTag(r.Tag)
	if err == nil {
		t.tags[key] = true
		t.out.Known++
		m, err := t.Tx.Make(w.Make)
		if err == nil {
			err = t.agrees(r, w, m)
		}
		return m.Date, Sample{Tag: r.Tag, Lot: m.Lot, Variety: m.Variety}, err
	}
	if !app.IsNotFound(err) {
		return made, sample, err
	}
	l, err := t.lotOf(r)
	if err != nil {
		return made, sample, err
	}
	if w, err = t.newWheel(r, l); err != nil {
		return made, sample, err
	}
	t.tags[key] = true
	l.wheels = append(l.wheels, w)
	sample = Sample{Tag: r.Tag, New: true, Lot: l.make.Lot, Variety: l.make.Variety, Place: app.OrNull(string(w.Place))}
	return l.make.Date, sample, nil
}

// lotOf finds or begins the make of a row: by its lot code, by the lot that its tag
// begins with, else by its make date and variety.
func (t *taking) lotOf(r intake.WheelRow) (*lotTaken, error) {
	code := r.Lot
	if i := strings.LastIndexByte(r.Tag, '-'); code == "" && i > 0 && t.hasLot(r.Tag[:i]) {
		code = r.Tag[:i]
	}
	made := day.None
	if r.Made != "" {
		var err error
		if made, err = day.ParsePast(r.Made, t.Today); err != nil {
			return nil, in("made", err)
		}
		if made > t.Today {
			return nil, app.Refuse(app.FutureDate{On: made}).In("made")
		}
	}
	v, verr := t.variety(r.Variety)
	key := strings.ToLower(code)
	if code == "" {
		key = "\x00" + r.Made + "\x00" + v.Name
	}
	l := t.lots[key]
	if l == nil {
		l = &lotTaken{}
		m, err := t.Tx.MakeByLot(code)
		switch {
		case code != "" && err == nil:
			err = t.knownLot(l, m)
		case code != "" && !app.IsNotFound(err):
		case r.Variety != "" && verr != nil:
			return nil, verr
		default:
			err = t.newLot(l, r, code, made, v)
		}
		if err != nil {
			return nil, err
		}
		t.lots[key] = l
		t.order = append(t.order, l)
	}
	switch {
	case r.Made != "" && made != l.make.Date:
		return nil, app.Refuse(Differs{"lot", l.make.Lot, "made", l.make.Date.String()}).In("made")
	case r.Variety != "" && verr != nil:
		return nil, verr
	case r.Variety != "" && v.Name != l.make.Variety:
		return nil, app.Refuse(Differs{"lot", l.make.Lot, "variety", l.make.Variety}).In("variety")
	}
	return l, nil
}

func (t *taking) hasLot(code string) bool {
	return t.lots[strings.ToLower(code)] != nil || t.Tx.HasLot(code)
}

func (t *taking) knownLot(l *lotTaken, m wheel.Make) (err error) {
	l.make, l.known = m, true
	if l.variety, err = t.Tx.Variety(m.Variety); err != nil {
		return in("lot", err)
	}
	ws, err := t.Tx.WheelsOf(m.ID)
	for _, w := range ws {
		l.number = max(l.number, w.Number)
	}
	return err
}

// newLot begins the make of a row.
func (t *taking) newLot(l *lotTaken, r intake.WheelRow, code string, made day.Date, v variety.Variety) (err error) {
	switch {
	case r.Variety == "":
		return app.Refuse(NewNeeds{r.Tag, "variety"}).In("variety")
	case r.Made == "":
		return app.Refuse(NewNeeds{r.Tag, "made"}).In("made")
	case code == "":
		code = wheel.DefaultLot(made, t.hasLot)
	}
	l.make, l.variety, err = makes.Build(t.Session, makes.New{Variety: v.Name, Date: made.String(), Lot: code})
	if err != nil {
		return in("lot", err)
	}
	t.lots[strings.ToLower(l.make.Lot)] = l
	return nil
}

// agrees refuses a row about a wheel in the book that says of it something else than
// the book. Only its place may differ: the book knows better, and the row is no move.
func (t *taking) agrees(r intake.WheelRow, w wheel.Wheel, m wheel.Make) error {
	if r.Lot != "" && !strings.EqualFold(r.Lot, m.Lot) {
		return app.Refuse(Differs{"wheel", r.Tag, "lot", m.Lot}).In("lot")
	}
	if r.Made != "" {
		made, err := day.ParsePast(r.Made, t.Today)
		if err != nil {
			return in("made", err)
		}
		if made != m.Date {
			return app.Refuse(Differs{"wheel", r.Tag, "made", m.Date.String()}).In("made")
		}
	}
	if r.Variety != "" {
		v, err := t.variety(r.Variety)
		if err != nil {
			return err
		}
		if v.Name != m.Variety {
			return app.Refuse(Differs{"wheel", r.Tag, "variety", m.Variety}).In("variety")
		}
	}
	if r.Place == "" {
		return nil
	}
	p, err := cave.ParsePlace(r.Place)
	if err != nil {
		return in("place", err)
	}
	st, err := t.Tx.State(w.ID)
	if err == nil && !strings.EqualFold(string(p), string(st.Place)) {
		t.out.Elsewhere++
	}
	return err
}

// variety finds a variety by its name or its title, in any case, spaces for dashes;
// the zero Variety for "".
func (t *taking) variety(word string) (variety.Variety, error) {
	word = strings.TrimSpace(word)
	if word == "" {
		return variety.Variety{}, nil
	}
	v, err := t.Tx.Variety(strings.ReplaceAll(strings.ToLower(word), " ", "-"))
	if err == nil || !app.IsNotFound(err) {
		return v, in("variety", err)
	}
	vs, verr := t.Tx.Varieties()
	for _, x := range vs {
		if strings.EqualFold(x.Title, word) {
			return x, nil
		}
	}
	if verr != nil {
		return v, verr
	}
	return v, in("variety", err)
}

// newWheel makes the wheel of a row. An older wheel is kept from now, a young one from
// its make date, like one that is written down late.
func (t *taking) newWheel(r intake.WheelRow, l *lotTaken) (wheel.Wheel, error) {
	if err := cave.CheckTag("tag", r.Tag); err != nil {
		return wheel.Wheel{}, in("tag", err)
	}
	id, err := uuid.NewV7()
	if err != nil {
		return wheel.Wheel{}, err
	}
	l.number++
	w := wheel.Wheel{
		ID: id, Make: l.make.ID, Number: l.number, Tag: r.Tag, Plan: l.variety.Plan, Shape: l.variety.Shape,
		Since: t.Time, Written: t.Time, By: t.Who,
	}
	if t.Today-l.make.Date <= makes.YoungDays && l.make.Date < t.Today {
		w.Since = l.make.Date.Noon(t.Zone).UTC()
	}
	if g := cmp.Or(r.Green, r.Weight); g > 0 {
		w.Shape = w.Shape.ForWeight(g, shape.CheeseDensity)
	}
	if r.Place != "" {
		p, err := cave.ParsePlace(r.Place)
		if err == nil {
			p, err = makes.PlaceIn(t.Session, p)
		}
		if err != nil {
			return w, in("place", err)
		}
		w.Place = p
	}
	return w, nil
}
