package drying

import (
	"cmp"
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/intake"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// Weights are weights to record, as a person gives them or as a table has them.
type Weights struct {
	Rows   []intake.Weight
	Note   string // of rows without one
	Sure   bool   // weights that look wrong are taken
	SureOf []int  // or only those of these lines of a table
	Try    bool   // of a table: only say what would come of it
	Brief  bool   // no figures where the rows are of more than Few wheels

	Judged bool // they were judged on trial: they're recorded without a look, or figures
}

// Few is how many wheels are judged by all that their sisters tell, and get their
// figures even where Brief is asked.
const Few = 100

// Weigh records weights, all of them or none, and says what each means.
func Weigh(ctx context.Context, a *app.App, c app.Caller, q Weights) (app.Did[Weighed], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (Weighed, error) { return weigh(s, q, nil) })
}

// TakeRows records a table's rows in a transaction that is open. All that is wrong with
// them is the error: intake.Problems.
func TakeRows(s *app.Session, q Weights) (Weighed, error) { return weigh(s, q, &table{}) }

// weigh records weights. With a table, all that is wrong with its rows is the error;
// else the first that is.
func weigh(s *app.Session, q Weights, t *table) (Weighed, error) {
	w := weighing{
		Session: s, Weights: q, table: t, byTag: map[string]*scaled{}, byID: map[uuid.UUID]*scaled{},
		usual: map[uuid.UUID]usualWheel{},
	}
	steps := []func() error{w.read, w.put, w.judge}
	if q.Judged {
		steps = steps[:2]
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return Weighed{}, err
		}
	}
	if err := t.problems(); err != nil {
		return Weighed{}, err
	}
	out := Weighed{
		Schema: app.Schema("weigh"), Try: q.Try, Results: app.Filled(w.results), ByWheel: w.byWheel, Wheels: len(w.wheels),
	}
	for _, r := range w.rows {
		if r.entry.Weight >= app.HeavyWheel {
			out.Warn(app.Lifting)
		}
		if r.same {
			out.Same++
		} else {
			out.Recorded++
		}
	}
	return out, nil
}

// weighing is an act of weighing on its way.
type weighing struct {
	*app.Session
	Weights
	table   *table // its rows' origin; nil: a person
	rows    []weighed
	wheels  []*scaled // in the order they were named
	byTag   map[string]*scaled
	byID    map[uuid.UUID]*scaled
	usual   map[uuid.UUID]usualWheel // by make
	results []Outcome
	byWheel [][]int
}

// weighed is one row.
type weighed struct {
	entry wheel.Entry
	of    int  // its place in Rows
	timed bool // a time of day was given, not only a date
	same  bool // it was in the book already
}

// scaled is a wheel with the rows that are about it.
type scaled struct {
	id, lot uuid.UUID
	err     error // why there is no such wheel
	rows    []int
	before  wheel.Life // its tag and entries before them
	fresh   map[uuid.UUID]bool
	now     verdict.Case // with them
	curve   drying.Forecast
}

// refuse keeps what is wrong with a field of a table's row, and hands a person's back.
func (w *weighing) refuse(row int, field string, err error) error {
	if w.table == nil {
		return err
	}
	w.table.add(w.Rows[row], field, err)
	return nil
}

// read makes an entry of each row.
func (w *weighing) read() error {
	in, err := newReader(w.Session)
	if err != nil {
		return err
	}
	in.table = w.table != nil
	for i := range w.Rows {
		in.dates.Learn(w.Rows[i].When)
	}
	for i := range w.Rows {
		if i%4096 == 0 && w.Ctx.Err() != nil {
			return w.Ctx.Err()
		}
		if w.table.full() {
			return nil
		}
		g, field, err := w.readRow(in, i)
		if err != nil && field == "" {
			return err
		}
		if err != nil {
			if err := w.refuse(i, field, err); err != nil {
				return err
			}
			continue
		}
		if len(g.rows) == 0 {
			w.wheels = append(w.wheels, g)
		}
		g.rows = append(g.rows, len(w.rows)-1)
	}
	for _, g := range w.wheels {
		if err := w.known(g); err != nil {
			return err
		}
	}
	return nil
}

// readRow adds the entry of a row, or gives the field that is wrong; "" where the book
// can't be read.
func (w *weighing) readRow(in *reader, n int) (g *scaled, field string, err error) {
	row := w.Rows[n]
	if g, err = w.named(row.Tag); g == nil {
		return nil, "", err
	} else if g.err != nil {
		return nil, "tag", g.err
	}
	at, exact, id, field, err := in.read(row)
	if err != nil {
		return nil, field, err
	}
	e := w.Entry(wheel.Entry{
		Subject: g.id, Kind: wheel.Weighed, At: at, Weight: row.Weight, Note: cmp.Or(row.Note, w.Note),
		Sure: w.Sure || slices.Contains(w.SureOf, row.Line),
	})
	if id != uuid.Nil {
		e.ID = id
	}
	w.rows = append(w.rows, weighed{entry: e, of: n, timed: exact})
	return g, "", nil
}

// named finds the wheel of a tag, or why there is none.
func (w *weighing) named(tag string) (*scaled, error) {
	if g := w.byTag[tag]; g != nil {
		return g, nil
	}
	found, err := w.Tx.WheelByTag(tag)
	if app.IsNotFound(err) && w.table == nil { // a table's may have been meant for another book
		st, serr := w.ByNumber(tag)
		if serr != nil {
			return &scaled{err: serr}, nil
		}
		if st.Tag != "" {
			found, err = w.Tx.Wheel(st.Wheel)
		}
	}
	if err != nil && !app.IsNotFound(err) {
		return nil, err
	}
	g := w.byID[found.ID]
	switch {
	case err != nil:
		g = &scaled{err: app.About(tag, w.NoTag(tag, err))}
	case g == nil:
		g = &scaled{id: found.ID, lot: found.Make, fresh: map[uuid.UUID]bool{}}
		g.before.Tag = found.Tag
		w.byID[g.id] = g
	}
	w.byTag[tag] = g
	return g, nil
}

// mark is what makes two weighings of a wheel the same.
type mark struct {
	at     int64 // ms since 1970, or the day
	weight quantity.Grams
}

func instant(t time.Time, g quantity.Grams) mark { return mark{t.UnixMilli(), g} }

// known finds the rows that the book has already: the same weight at the same
// instant, or on the same day where only its date is known.
func (w *weighing) known(g *scaled) error {
	es, err := w.Tx.History(g.id)
	if err != nil {
		return err
	}
	if g.before.Tag, err = w.Tx.TagOf(g.id); err != nil {
		return err
	}
	g.before.Entries = wheel.Live(es)
	at, on := map[mark]wheel.Entry{}, map[mark]wheel.Entry{}
	for _, e := range g.before.Entries {
		if e.Kind == wheel.Weighed {
			at[instant(e.At, e.Weight)], on[mark{int64(day.At(e.At, w.Zone)), e.Weight}] = e, e
		}
	}
	for _, i := range g.rows {
		r := &w.rows[i]
		m := instant(r.entry.At, r.entry.Weight)
		old, same := at[m]
		if !same && !r.timed {
			old, same = on[mark{int64(day.At(r.entry.At, w.Zone)), r.entry.Weight}]
		}
		if same {
			r.same, r.entry = true, old
			continue
		}
		at[m], g.fresh[r.entry.ID] = r.entry, true
	}
	return nil
}

// put writes what is new.
func (w *weighing) put() error {
	var entries []wheel.Entry
	var from []int
	for _, r := range w.rows {
		if !r.same {
			entries, from = append(entries, r.entry), append(from, r.of)
		}
	}
	_, err := w.Write.Put(entries...)
	refused := refusal.Of(err)
	if w.table == nil || len(refused) == 0 {
		return err
	}
	for _, r := range refused {
		w.table.add(w.Rows[from[r.Index]], cmp.Or(r.Field, "date"), r)
	}
	return nil
}

// together is how many wheels are fitted at once, which share what they can.
const together = 4096

// judge looks at the new weights with all that is in the book now, and says what each
// means. A wheel is fitted once; of more than a few wheels only those whose weights
// don't carry on plainly, where no figures are wanted.
func (w *weighing) judge() error {
	few := len(w.wheels) <= Few && !w.Part
	figures := few || !w.Brief
	if figures {
		w.results = make([]Outcome, len(w.rows))
	}
	var part []*scaled
	for i, g := range w.wheels {
		if i%256 == 0 && w.Ctx.Err() != nil {
			return w.Ctx.Err()
		}
		plain, err := false, error(nil)
		if !figures {
			plain, err = w.plain(g)
		}
		if err != nil {
			return err
		}
		if !plain {
			part = append(part, g)
		}
		if len(part) == together || i == len(w.wheels)-1 {
			if err := w.fit(part, few); err != nil || w.table.full() {
				return err
			}
			part = part[:0]
		}
	}
	return nil
}

// plain says whether a wheel's new weights carry on as loss goes on, at a glance.
func (w *weighing) plain(g *scaled) (bool, error) {
	if w.Sure || len(g.fresh) == 0 {
		return true, nil
	}
	usual, ok := w.usual[g.lot]
	if !ok {
		mk, err := w.Tx.Make(g.lot)
		if err != nil {
			return false, err
		}
		v, err := w.Tx.VarietyOf(mk)
		if err != nil {
			return false, err
		}
		usual = usualWheel{v.Weight, mk.Date.Noon(w.Tx.Zone())}
		w.usual[g.lot] = usual
	}
	es, err := w.Tx.History(g.id)
	return verdict.PlausibleRun(wheel.Live(es), g.isFresh, usual.weight, usual.made), err
}

// usualWheel is what a wheel of a make's variety weighs, and the noon it was made at.
type usualWheel struct {
	weight quantity.Grams
	made   time.Time
}

func (g *scaled) isFresh(entry uuid.UUID) bool { return g.fresh[entry] }

// fit fits wheels, refuses what looks wrong and fills in their results.
func (w *weighing) fit(part []*scaled, few bool) error {
	cases := make([]verdict.Case, len(part))
	for i, g := range part {
		var err error
		if few {
			cases[i], err = w.Tx.Case(g.id)
		} else if cases[i], err = w.Tx.CaseAlone(g.id); err == nil {
			cases[i] = verdict.New(cases[i])
		}
		if err != nil {
			return err
		}
	}
	for i, f := range verdict.Forecasts(cases) {
		g := part[i]
		g.now, g.curve = cases[i], f
		if err := w.doubt(g); err != nil {
			return err
		}
		if err := w.outcomes(g, few); err != nil {
			return err
		}
		g.now, g.curve = verdict.Case{}, drying.Forecast{}
	}
	return nil
}

// doubt refuses new weights that look wrong, unless the writer is sure.
func (w *weighing) doubt(g *scaled) error {
	if w.Sure {
		return nil
	}
	doubts := g.now.Doubts(g.curve, g.isFresh)
	for _, i := range g.rows {
		e := w.rows[i].entry
		if d, ok := doubts[e.ID]; ok && !w.rows[i].same && !e.Sure {
			if err := w.refuse(w.rows[i].of, "weight", app.Doubtful(g.before, e, d).Of(g.before.Tag)); err != nil {
				return err
			}
		}
	}
	return nil
}
