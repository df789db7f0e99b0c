package cli

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/cmd/workbook"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
)

// byHeading is --map without a mapping.
const byHeading = "by heading"

// tableFlags are how a table of wheels is to be taken.
type tableFlags struct {
	spec      string
	sheet     string // of a workbook
	dry, sure bool
}

// errDry ends a transaction that was only tried.
var errDry = errors.New("only tried")

// taken is what a table of wheels came to.
type taken struct {
	table     intake.WheelTable
	lots      []string // new ones
	wheels    int      // new ones
	known     int      // in the book before
	weights   int      // new ones
	same      int      // in the book before
	elsewhere int      // known wheels that the table has at another place
	sample    []wheelSample
}

// wheelSample is a row as it was understood.
type wheelSample struct {
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

// sampled is how many rows a preview shows.
const sampled = 5

// importTable takes a table of wheels and weights into the book, all of it or
// nothing. On a terminal it shows how the table is understood and asks, since
// makes and wheels cannot be withdrawn.
func (a *app) importTable(name string, f tableFlags) error {
	spec := f.spec
	if spec == byHeading {
		spec = ""
	}
	named, err := intake.Mapping(spec)
	if err != nil {
		return uc.Misuse("map", reason.Of(err))
	}
	in, err := a.openTable(name, name, f.sheet)
	if err != nil {
		return err
	}
	defer in.Close()
	table, bad, err := intake.Wheels(in, named)
	if err != nil {
		return at(name, intake.In(name, err))
	}
	if len(bad) > 0 && len(table.Rows) == 0 {
		return a.problems(name, bad)
	}
	run := func(keep bool) (taken, error) {
		var got taken
		err := a.update(func(s *session) (err error) {
			if got, err = s.takeWheels(table, slices.Clone(bad), name, f.sure); err != nil {
				return err
			}
			if !keep {
				return errDry
			}
			return s.takenOut(got, true)
		})
		if errors.Is(err, errDry) {
			err = nil
		}
		return got, err
	}
	ask := a.env.InTTY && a.env.OutTTY && name != "-" && !a.json && !f.sure
	if f.dry || ask {
		got, err := run(false)
		if err != nil {
			return err
		}
		if err := a.takenOut(got, false); err != nil || f.dry {
			return err
		}
		fmt.Fprintf(a.env.Err, "write this into %s? makes and wheels cannot be withdrawn [no]: ", safePath(a.book))
		line := bufio.NewScanner(a.env.In)
		if !line.Scan() || !strings.HasPrefix(strings.ToLower(strings.TrimSpace(line.Text())), "y") {
			if err := a.ctx.Err(); err != nil {
				return err
			}
			return errors.New("not confirmed; nothing was written")
		}
	}
	_, err = run(true)
	return err
}

// takeWheels puts what the rows say into the transaction: makes and wheels that
// are not known yet, then all weights as weigh takes them.
func (s *session) takeWheels(tb intake.WheelTable, bad []intake.Problem, file string, sure bool) (taken, error) {
	got := taken{table: tb}
	fail := func(r intake.WheelRow, field string, err error) {
		bad = append(bad, r.Problem(field, intake.Said{Words: s.nearly(err)}))
	}
	fresh := map[string]*newLot{}
	wheels := map[string]uuid.UUID{}
	var order []*newLot
	var weights []intake.Weight
	for i, r := range tb.Rows {
		if i%256 == 0 && s.ctx.Err() != nil {
			return got, s.ctx.Err()
		}
		before := len(bad)
		key := strings.ToLower(r.Tag)
		sample := wheelSample{Tag: r.Tag, Green: grams(r.Green), Weight: grams(r.Weight)}
		switch w, err := s.tx.WheelByTag(r.Tag); {
		case wheels[key] != uuid.Nil:
			fail(r, "tag", fmt.Errorf("wheel %s stands in the table already; weights of one wheel go in by weigh --from", safeWord(r.Tag)))
		case err == nil:
			wheels[key] = w.ID
			got.known++
			m, err := s.tx.Make(w.Make)
			if err != nil {
				return got, err
			}
			sample.Lot, sample.Made, sample.Variety = m.Lot, m.Date.String(), m.Variety
			elsewhere, field, err := s.agrees(r, w, m)
			if err != nil {
				fail(r, field, err)
				break
			}
			if elsewhere {
				got.elsewhere++
			}
			r.Made = m.Date.String() // a green weight is from then
		case !isNotFound(err):
			return got, err
		default:
			l, field, err := s.lotOfRow(r, fresh, &order)
			if err != nil {
				fail(r, field, err)
				break
			}
			w, field, err := s.wheelOfRow(r, l)
			if err != nil {
				fail(r, field, err)
				break
			}
			wheels[key] = w.ID
			l.wheels = append(l.wheels, w)
			sample.New, sample.Lot, sample.Made, sample.Variety = true, l.mk.Lot, l.mk.Date.String(), l.mk.Variety
			if w.Place != "" {
				p := string(w.Place)
				sample.Place = &p
			}
			r.Made = l.mk.Date.String()
		}
		if r.Weighed != "" && r.Weight == 0 {
			if _, _, err := day.ParseMoment(r.Weighed, s.today, s.loc); err != nil {
				fail(r, "date weighed", err)
			}
		}
		if len(bad) > before {
			if len(bad) >= store.MostProblems {
				return got, s.problems(file, bad)
			}
			continue
		}
		if w, ok := r.GreenWeighing(); ok {
			weights = append(weights, w)
		}
		if w, ok := r.Weighing(); ok {
			weights = append(weights, w)
			if r.Weighed != "" {
				sample.Weighed = &r.Weighed
			}
		}
		if len(got.sample) < sampled {
			got.sample = append(got.sample, sample)
		}
	}
	if len(bad) > 0 {
		slices.SortStableFunc(bad, func(a, b intake.Problem) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
		return got, s.problems(file, bad)
	}
	for _, l := range order {
		if !l.known {
			if err := s.write.PutMake(l.mk); err != nil {
				return got, err
			}
			got.lots = append(got.lots, l.mk.Lot)
		}
		if err := s.write.AddWheels(l.wheels); err != nil {
			return got, err
		}
		got.wheels += len(l.wheels)
	}
	if len(weights) == 0 {
		return got, nil
	}
	w, err := drying.TakeRows(s.S, drying.Weights{Rows: weights, Sure: sure, Brief: true})
	if problems := (intake.Problems{}); errors.As(err, &problems) {
		return got, s.problems(file, problems)
	}
	got.weights, got.same = w.Recorded, w.Same
	return got, err
}

// newLot is a make that a table's wheels belong to.
type newLot struct {
	mk     wheel.Make
	v      variety.Variety
	known  bool
	number int // of the last wheel
	wheels []wheel.Wheel
}

// lotOfRow finds or begins the make of a row: by its lot code, by the lot that
// its tag begins with, else by its make date and variety.
func (s *session) lotOfRow(r intake.WheelRow, lots map[string]*newLot, order *[]*newLot) (l *newLot, field string, err error) {
	code := r.Lot
	if code == "" {
		if i := strings.LastIndexByte(r.Tag, '-'); i > 0 {
			if l := lots[strings.ToLower(r.Tag[:i])]; l != nil || s.tx.HasLot(r.Tag[:i]) {
				code = r.Tag[:i]
			}
		}
	}
	var made day.Date
	if r.Made != "" {
		if made, err = day.ParsePast(r.Made, s.today); err != nil {
			return nil, "made", err
		}
		if made > s.today {
			return nil, "made", fmt.Errorf("%s is in the future: only what has happened can be recorded", made)
		}
	}
	v, verr := s.varietyMeant(r.Variety)
	key := strings.ToLower(code)
	if code == "" {
		key = "\x00" + r.Made + "\x00" + v.Name
	}
	if l = lots[key]; l == nil {
		l = &newLot{}
		if m, err := s.tx.MakeByLot(code); code != "" && err == nil {
			l.mk, l.known = m, true
			if l.v, err = s.tx.Variety(m.Variety); err != nil {
				return nil, "lot", err
			}
			ws, err := s.tx.WheelsOf(m.ID)
			if err != nil {
				return nil, "lot", err
			}
			for _, w := range ws {
				l.number = max(l.number, w.Number)
			}
		} else if code != "" && !isNotFound(err) {
			return nil, "lot", err
		} else {
			switch {
			case r.Variety == "":
				return nil, "variety", fmt.Errorf("wheel %s is new, and so is its make; give the variety", safeWord(r.Tag))
			case verr != nil:
				return nil, "variety", verr
			case r.Made == "":
				return nil, "made", fmt.Errorf("wheel %s is new, and so is its make; give the date it was made", safeWord(r.Tag))
			}
			q := makes.New{Variety: v.Name, Date: made.String(), Lot: code}
			if code == "" {
				taken := func(c string) bool { return s.tx.HasLot(c) || lots[strings.ToLower(c)] != nil }
				q.Lot = wheel.DefaultLot(made, taken)
			}
			if l.mk, l.v, err = makes.Build(s.S, q); err != nil {
				return nil, "lot", err
			}
			lots[strings.ToLower(l.mk.Lot)] = l
		}
		lots[key] = l
		*order = append(*order, l)
	}
	switch {
	case r.Made != "" && made != l.mk.Date:
		return nil, "made", fmt.Errorf("lot %s was made on %s", l.mk.Lot, l.mk.Date)
	case r.Variety != "" && verr != nil:
		return nil, "variety", verr
	case r.Variety != "" && v.Name != l.mk.Variety:
		return nil, "variety", fmt.Errorf("lot %s is %s", l.mk.Lot, l.mk.Variety)
	}
	return l, "", nil
}

// agrees says whether a row about a wheel that is in the book says of it what
// the book says. Only its place may differ: the book knows better, and the row
// is no move.
func (s *session) agrees(r intake.WheelRow, w wheel.Wheel, m wheel.Make) (elsewhere bool, field string, err error) {
	if r.Lot != "" && !strings.EqualFold(r.Lot, m.Lot) {
		return false, "lot", fmt.Errorf("wheel %s is of lot %s in the book", safeWord(r.Tag), m.Lot)
	}
	if r.Made != "" {
		made, err := day.ParsePast(r.Made, s.today)
		if err == nil && made != m.Date {
			err = fmt.Errorf("wheel %s was made on %s by the book", safeWord(r.Tag), m.Date)
		}
		if err != nil {
			return false, "made", err
		}
	}
	if r.Variety != "" {
		v, err := s.varietyMeant(r.Variety)
		if err == nil && v.Name != m.Variety {
			err = fmt.Errorf("wheel %s is %s in the book", safeWord(r.Tag), m.Variety)
		}
		if err != nil {
			return false, "variety", err
		}
	}
	if r.Place != "" {
		p, err := cave.ParsePlace(r.Place)
		if err != nil {
			return false, "place", err
		}
		st, err := s.tx.State(w.ID)
		if err != nil {
			return false, "place", err
		}
		elsewhere = !strings.EqualFold(string(p), string(st.Place))
	}
	return elsewhere, "", nil
}

// varietyMeant finds a variety by its name or its title, in any case, spaces
// for dashes.
func (s *session) varietyMeant(word string) (variety.Variety, error) {
	if word == "" {
		return variety.Variety{}, nil
	}
	name := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(word)), " ", "-")
	v, err := s.tx.Variety(name)
	if err == nil || !isNotFound(err) {
		return v, err
	}
	vs, verr := s.tx.Varieties()
	if verr != nil {
		return v, verr
	}
	for _, x := range vs {
		if strings.EqualFold(x.Title, strings.TrimSpace(word)) {
			return x, nil
		}
	}
	return v, err
}

// wheelOfRow makes the wheel of a row. Like one written down late, an older
// wheel is kept from now, a young one from its make date.
func (s *session) wheelOfRow(r intake.WheelRow, l *newLot) (w wheel.Wheel, field string, err error) {
	if err := cave.CheckTag("tag", r.Tag); err != nil {
		return w, "tag", err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return w, "tag", err
	}
	l.number++
	w = wheel.Wheel{ID: id, Make: l.mk.ID, Number: l.number, Tag: r.Tag, Plan: l.v.Plan, Since: s.now, Written: s.now, By: s.who}
	if s.today-l.mk.Date <= makes.YoungDays && l.mk.Date < s.today {
		w.Since = l.mk.Date.Noon(s.loc).UTC()
	}
	g := r.Green
	if g == 0 {
		g = r.Weight
	}
	w.Shape = l.v.Shape
	if g > 0 {
		w.Shape = l.v.Shape.ForWeight(g, shape.CheeseDensity)
	}
	if r.Place != "" {
		p, err := cave.ParsePlace(r.Place)
		if err == nil {
			p, err = makes.PlaceIn(s.S, p)
		}
		if err != nil {
			return w, "place", err
		}
		w.Place = p
	}
	return w, "", nil
}

type mappedDoc struct {
	Field   string  `json:"field"`
	Heading string  `json:"heading"`
	Column  int     `json:"column"`
	Unit    *string `json:"unit"`
}

// takenOut tells how a table was understood, and what came or would come of it.
func (a *app) takenOut(got taken, done bool) error {
	cols := []mappedDoc{}
	for _, c := range got.table.Columns {
		d := mappedDoc{Field: c.Field, Heading: c.Heading, Column: c.Column}
		if c.Unit != "" {
			d.Unit = &c.Unit
		}
		cols = append(cols, d)
	}
	if a.json {
		return a.document(struct {
			Schema    string        `json:"schema"`
			DryRun    bool          `json:"dry_run"`
			Rows      int           `json:"rows"`
			Columns   []mappedDoc   `json:"columns"`
			Unused    []string      `json:"unused_headings"`
			Sample    []wheelSample `json:"sample"`
			Lots      []string      `json:"new_lots"`
			Wheels    int           `json:"new_wheels"`
			Known     int           `json:"known_wheels"`
			Weights   int           `json:"new_weights"`
			Same      int           `json:"known_weights"`
			Elsewhere int           `json:"kept_at_the_books_place"`
		}{schema("book-import-table"), !done, len(got.table.Rows), cols, filled(got.table.Unused), filled(got.sample), filled(got.lots), got.wheels, got.known, got.weights, got.same, got.elsewhere})
	}
	if !done || !(a.env.InTTY && a.env.OutTTY) {
		t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
		for _, c := range cols {
			unit := ""
			if c.Unit != nil {
				unit = ", in " + *c.Unit
			}
			column := strconv.Itoa(c.Column)
			if got.table.Sheet {
				column = workbook.ColumnName(c.Column)
			}
			t.Add(c.Field, fmt.Sprintf("column %s, %q%s", column, text.Safe(c.Heading), unit))
		}
		if len(got.table.Unused) > 0 {
			t.Add("not used", text.Safe(strings.Join(got.table.Unused, ", ")))
		}
		a.print("columns\n")
		a.lines(t.Lines(a.env.Columns()))
		a.print("\nfirst rows, as understood; + is a new wheel\n")
		t = text.Table{Indent: 2, Columns: []text.Column{{Title: "wheel"}, {Title: "lot"}, {Title: "made"}, {Title: "variety"}, {Title: "place"}, {Title: "green", Right: true}, {Title: "weight", Right: true}, {Title: "weighed", Wrap: true}}}
		weight := func(g *float64) string {
			if g == nil {
				return ""
			}
			return a.units.Weight(quantity.Grams(*g))
		}
		said := func(s *string) string {
			if s == nil {
				return ""
			}
			return text.Safe(*s)
		}
		for _, r := range got.sample {
			tag := r.Tag
			if r.New {
				tag = "+" + tag
			}
			t.Add(tag, r.Lot, r.Made, r.Variety, said(r.Place), weight(r.Green), weight(r.Weight), said(r.Weighed))
		}
		a.lines(t.Lines(a.env.Columns()))
		a.print("\n")
	}
	word := "recorded"
	if !done {
		word = "would record"
	}
	parts := []string{text.Count(len(got.lots), "new lot"), text.Count(got.wheels, "new wheel"), text.Count(got.weights, "weight")}
	line := fmt.Sprintf("%s from %s: %s", word, text.Count(len(got.table.Rows), "row"), strings.Join(parts, ", "))
	if got.known > 0 {
		line += fmt.Sprintf("; %s in the book already", text.Count(got.known, "wheel"))
	}
	if got.same > 0 {
		line += fmt.Sprintf("; %s in the book already", text.Count(got.same, "weight"))
	}
	if got.elsewhere > 0 {
		line += fmt.Sprintf("; %s at another place than the table says, and left there", text.Count(got.elsewhere, "wheel"))
	}
	a.lines(text.Wrap(line, a.env.Columns()))
	if !done {
		a.note("nothing was written")
	} else if got.weights > 0 {
		a.next("weights wrong? rindkeep strike last --why TEXT")
	}
	return nil
}
