package drying

import (
	"cmp"
	"context"
	"errors"
	"io"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/intake"
	"rindkeep/store"
	"rindkeep/store/load"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Long is how many rows of a table are held and recorded as one command, in parts of
// app.RowsAtOnce; a table with more is loaded. Only tests change it.
var Long = 100_000

// Table is where the rows of a table come from.
type Table struct {
	Name string // of the file, as it was given
	Rows *intake.WeightTable
	Size int64 // of the file in bytes; 0: not known

	// Tell is told how far a load has come, in rows; in bytes, of the file's, while it is
	// read and its size is known. It is not called for a table that is recorded at once.
	Tell func(stage Stage, done, of int64)
}

// Stage is what a load is at.
type Stage int

// The stages, over and over for each part of the table.
const (
	Reading Stage = iota
	Checking
	Recording
)

// Loaded is what a load came to so far.
type Loaded struct {
	Schema   string `json:"schema"`
	Rows     int    `json:"rows"`
	Recorded int    `json:"recorded"`
	NoChange int    `json:"no_change"`
	Wheels   int    `json:"wheels"`
	Try      bool   `json:"dry_run"`
}

// Unfinished is why a load ended early. What it recorded stays.
type Unfinished struct {
	Loaded Loaded
	Err    error
}

// Error is for logs and tests.
func (u Unfinished) Error() string { return u.Err.Error() }

// Unwrap gives the reason.
func (u Unfinished) Unwrap() error { return u.Err }

// ChangedSince refuses a row that the book would have taken when it was checked.
type ChangedSince struct {
	Why reason.Reason `json:"why"`
}

// What to do about a table that can't be read to its end.
const (
	Untouched reason.Flat = "nothing-recorded"
	Again     reason.Flat = "correct-and-repeat"
)

// Code implements reason.Reason.
func (ChangedSince) Code() string { return "changed-since-checked" }

// WeighTable records a table of weights: one of few wheels as Weigh does, a longer one
// part by part once all of it was checked. The error may be intake.Problems, and
// Unfinished.
func WeighTable(ctx context.Context, a *app.App, c app.Caller, q Weights, from Table) (app.Did[Weighed], error) {
	t := &table{Table: from}
	for len(q.Rows) <= Long {
		if len(q.Rows)%4096 == 0 && ctx.Err() != nil {
			return app.Did[Weighed]{}, ctx.Err()
		}
		switch r, err := t.next(); {
		case errors.Is(err, io.EOF):
			return t.short(ctx, a, c, q)
		case err != nil:
			return app.Did[Weighed]{}, err
		case r != nil:
			q.Rows = append(q.Rows, *r)
		}
	}
	l, err := newLoading(ctx, a, c, q, t)
	if err == nil {
		err = l.run()
	}
	if err != nil {
		return app.Did[Weighed]{}, err
	}
	done := l.loaded()
	return app.Did[Weighed]{Result: Weighed{
		Schema: app.Schema("weigh"), Try: q.Try, Results: []Outcome{}, Load: &done, Recorded: done.Recorded,
		Same: done.NoChange, Wheels: done.Wheels,
	}}, nil
}

// short records a table that isn't Long.
func (t *table) short(ctx context.Context, a *app.App, c app.Caller, q Weights) (app.Did[Weighed], error) {
	if q.Try {
		w, err := app.Try(ctx, a, c, func(s *app.Session) (Weighed, error) { return weigh(s, q, t) })
		return app.Did[Weighed]{Result: w}, err
	}
	var parts [][]intake.Weight
	if len(q.Rows) > app.RowsAtOnce {
		var err error
		parts, err = app.Ask(ctx, a, c, func(s *app.Session) ([][]intake.Weight, error) { return partsOf(s, q.Rows) })
		if err != nil {
			return app.Did[Weighed]{}, err
		}
	}
	if len(parts) > 1 {
		return t.byLot(ctx, a, c, q, parts)
	}
	if len(t.bad) == 0 { // else it's refused
		if err := a.BackupFirst(ctx, false); err != nil {
			return app.Did[Weighed]{}, err
		}
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Weighed, error) { return weigh(s, q, t) })
}

// partsOf cuts rows into transactions, between lots where it can; those of few wheels are
// one.
func partsOf(s *app.Session, rows []intake.Weight) (parts [][]intake.Weight, err error) {
	lots, order, wheels := map[uuid.UUID][]intake.Weight{}, []uuid.UUID(nil), map[uuid.UUID]bool{}
	for _, r := range rows {
		w, err := s.Tx.WheelByTag(r.Tag)
		if err != nil && !app.IsNotFound(err) {
			return nil, err
		}
		if len(lots[w.Make]) == 0 {
			order = append(order, w.Make)
		}
		wheels[w.ID] = true
		lots[w.Make] = append(lots[w.Make], r)
	}
	if len(wheels) <= Few {
		return nil, nil
	}
	var part []intake.Weight
	for _, lot := range order {
		if len(part) > 0 && len(part)+len(lots[lot]) > app.RowsAtOnce {
			parts, part = append(parts, part), nil
		}
		part = append(part, lots[lot]...)
	}
	return append(parts, part), nil
}

// byLot puts the parts of a table on trial, and then records them one by one.
func (t *table) byLot(ctx context.Context, a *app.App, c app.Caller, q Weights,
	parts [][]intake.Weight) (d app.Did[Weighed], err error) {
	c.ID, c.Part = "", true // the rows tell what was recorded, whatever the ID
	of := int64(len(q.Rows))
	tell := func(s Stage, done int64) {
		if t.Tell != nil {
			t.Tell(s, done, min(done, 1)*of) // it begins at 0 of 0
		}
	}
	var last *app.Session
	done := int64(0)
	tell(Checking, 0)
	for _, q.Rows = range parts {
		var bad intake.Problems
		if _, err := app.Ask(ctx, a, c, func(s *app.Session) (Weighed, error) {
			last = s.Trial()
			return weigh(last, q, t)
		}); err != nil && !errors.As(err, &bad) {
			return d, err
		}
		done += int64(len(q.Rows))
		tell(Checking, done)
	}
	if err := t.problems(); err != nil {
		return d, err
	}
	if err := a.BackupFirst(ctx, of > app.Much); err != nil {
		return d, err
	}
	q.Judged, done = true, 0
	sum := Loaded{Schema: app.Schema("weigh-load")}
	tell(Recording, 0)
	for _, q.Rows = range parts {
		x, err := app.Act(ctx, a, c, func(s *app.Session) (Weighed, error) {
			s.Continue(last)
			last = s
			return weigh(s, q, t)
		})
		if err != nil && sum.Rows > 0 {
			err = Unfinished{sum, err}
		}
		if err != nil {
			return d, err
		}
		sum.Rows, sum.Recorded = sum.Rows+len(q.Rows), sum.Recorded+x.Result.Recorded
		sum.NoChange, sum.Wheels = sum.NoChange+x.Result.Same, sum.Wheels+x.Result.Wheels
		d.Result.Warn(x.Result.Hazards()...)
		done += int64(len(q.Rows))
		tell(Recording, done)
	}
	d.Result.Schema, d.Result.Results = app.Schema("weigh"), []Outcome{}
	d.Result.Recorded, d.Result.Same, d.Result.Wheels = sum.Recorded, sum.NoChange, sum.Wheels
	return d, nil
}

// table is a table with what is wrong with it.
type table struct {
	Table
	bad []intake.Problem
}

// next is the next row; nil where it is bad.
func (t *table) next() (*intake.Weight, error) {
	r, bad, err := t.Rows.Next()
	if err != nil && !errors.Is(err, io.EOF) {
		err = app.About(t.Name, intake.In(t.Name, err))
	}
	if t.bad = append(t.bad, bad...); err != nil || len(bad) > 0 {
		return nil, err
	}
	return &r, nil
}

func (t *table) add(r intake.Weight, field string, err error) {
	t.bad = append(t.bad, r.Problem(field, app.AsRefusal(err)))
}

// full says whether enough is wrong for the table to be given up.
func (t *table) full() bool { return t != nil && len(t.bad) >= load.MostProblems }

// problems is all that is wrong, in the order of the lines, or nil.
func (t *table) problems() error {
	if t == nil || len(t.bad) == 0 {
		return nil
	}
	slices.SortStableFunc(t.bad, func(a, b intake.Problem) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
	return intake.Problems(t.bad[:min(len(t.bad), load.MostProblems)])
}

// loading is a long table on its way into the book.
type loading struct {
	*app.Session // the clock, the zone and the person, without a transaction
	*table
	in    *reader
	to    *load.Loader
	stage Stage
	first []intake.Weight // rows that are read already
	try   bool
}

func newLoading(ctx context.Context, a *app.App, c app.Caller, q Weights, t *table) (*loading, error) {
	in, err := app.Ask(ctx, a, c, newReader)
	if err != nil {
		return nil, err
	}
	in.table, in.over, in.Tx = true, Long, nil
	l := &loading{Session: in.Session, table: t, in: in, first: q.Rows, try: q.Try}
	l.to = load.New(ctx, a.Book, store.Options{Now: a.Now}, load.Options{
		By: l.Who, Written: l.Time, Note: q.Note, Sure: q.Sure, SureOf: q.SureOf,
		Doubt: doubts, Try: q.Try,
		Command: register.LastCommand{Command: c.Command + " --from", By: l.Who, At: l.Time, Batch: l.Batch()},
		Tell:    func(done, all int) { l.Tell(l.stage, int64(done), int64(all)) },
	})
	return l, nil
}

func (l *loading) loaded() Loaded {
	d := l.to.Done()
	return Loaded{app.Schema("weigh-load"), d.Rows, d.Written, d.Same, d.Wheels, l.try}
}

func (l *loading) begin(s Stage) {
	l.stage = s
	l.Tell(s, 0, 0)
}

// run loads the table, part by part: read, checked, recorded.
func (l *loading) run() error {
	for more := true; more; {
		var err error
		if more, err = l.read(); err == nil {
			err = l.part()
		}
		if err != nil {
			return Unfinished{l.loaded(), err}
		}
	}
	return nil
}

// read brings rows of the table into the load until it is full; more is false at the
// table's end.
func (l *loading) read() (more bool, err error) {
	l.begin(Reading)
	for _, r := range l.first {
		l.row(r)
	}
	n := len(l.first)
	l.first = nil
	for !l.to.Full() && !l.full() {
		r, err := l.next()
		switch {
		case errors.Is(err, io.EOF):
			return false, nil
		case err != nil:
			refused := app.AsRefusal(err)
			if l.to.Done().Written == 0 {
				refused.Remedy = append(refused.Remedy, Untouched)
			}
			refused.Remedy = append(refused.Remedy, Again)
			return false, refused
		case r != nil:
			l.row(*r)
		}
		if n++; n%1024 != 0 {
			continue
		}
		if err := l.Ctx.Err(); err != nil {
			return false, err
		}
		if read := l.Rows.Read(); l.Size > 0 && read > 0 {
			l.Tell(Reading, read, l.Size)
		} else {
			l.Tell(Reading, int64(n), 0)
		}
	}
	return !l.full(), nil
}

// row brings one row into the load.
func (l *loading) row(r intake.Weight) {
	at, exact, id, field, err := l.in.read(r)
	if err != nil {
		l.add(r, field, err)
		return
	}
	l.to.Add(load.Row{
		Tag: r.Tag, At: at.UnixMilli(), Dated: !exact, Weight: r.Weight, Note: r.Note, ID: id, Line: r.Line,
		Columns: r.Columns(),
	})
}

// part checks the rows read so far and records them.
func (l *loading) part() error {
	l.begin(Checking)
	found, err := l.to.Check()
	if err != nil {
		return err
	}
	for _, p := range found {
		l.bad = append(l.bad, l.Rows.Problem(p.Line, p.Column, p.Field, app.AsRefusal(p.Err)))
	}
	if err := l.problems(); err != nil {
		return err
	}
	if !l.try && l.to.Done().Written == 0 {
		if err := l.BackupFirst(l.Ctx, true); err != nil {
			return err
		}
	}
	l.begin(Recording)
	err = l.to.Write()
	var p load.Problem
	if errors.As(err, &p) {
		bad := l.Rows.Problem(p.Line, p.Column, p.Field, ChangedSince{app.AsRefusal(p.Err)})
		bad.File = l.Name
		return app.About(l.Name, bad)
	}
	return err
}

// doubts says what looks wrong of one wheel's new weights.
func doubts(c verdict.Case, added []wheel.Entry) map[uuid.UUID]error {
	k := c.With(added...)
	fresh := make(map[uuid.UUID]bool, len(added))
	for _, e := range added {
		fresh[e.ID] = true
	}
	found := k.Doubts(k.Forecast(), func(id uuid.UUID) bool { return fresh[id] })
	out := map[uuid.UUID]error{}
	for _, e := range added {
		if d, ok := found[e.ID]; ok && !e.Sure {
			out[e.ID] = app.Doubtful(c.Life, e, d)
		}
	}
	return out
}
