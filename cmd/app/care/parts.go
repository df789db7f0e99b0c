package care

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/intake"
	"rindkeep/store/load"
	"rindkeep/wheel"
)

// Unfinished is why a table's wheels weren't all recorded. What was stays, and the same
// table again brings the rest.
type Unfinished struct {
	Taken Taken
	Err   error
}

// Error is for logs and tests.
func (u Unfinished) Error() string { return u.Err.Error() }

// Unwrap gives the reason.
func (u Unfinished) Unwrap() error { return u.Err }

// ImportWheels takes a table of wheels and weights into the book. All that is wrong with
// its rows is the error, intake.Problems, and then nothing was recorded; a table of up to
// app.RowsAtOnce rows is recorded whole or not at all, and of a longer one the error may be
// Unfinished.
func ImportWheels(ctx context.Context, a *app.App, c app.Caller, q Wheels) (app.Did[Taken], error) {
	c.Part = len(q.Table.Rows) > app.RowsAtOnce
	if c.Part {
		c.ID = "" // the rows tell what was recorded, whatever the ID
	}
	t := &taking{
		kinds: q.Kinds, unused: q.Table.Unused, bad: slices.Clone(q.Bad),
		tags: map[string]bool{}, lots: map[string]*lotTaken{}, dates: map[string]*day.Column{},
		tell: q.Tell,
		out: Taken{
			Schema: app.Schema("book-import-table"), Try: q.Try, Rows: len(q.Table.Rows),
			Columns: q.Table.Columns, Unused: app.Filled(q.Table.Unused), Sample: []Sample{}, Lots: []string{},
			NoMilk: []string{}, NoDoc: []string{}, NoAddress: []string{},
		},
	}
	if t.tell == nil {
		t.tell = func(drying.Stage, int64, int64) {}
	}
	if err := t.check(ctx, a, c, q); err != nil {
		return app.Did[Taken]{}, err
	}
	if q.Try {
		return app.Did[Taken]{Result: t.out}, nil
	}
	if err := a.BackupFirst(ctx, len(q.Table.Rows) > app.Much); err != nil {
		return app.Did[Taken]{}, err
	}
	return t.record(ctx, a, c)
}

// check reads the rows and puts on trial what they say. What is wrong is the error.
func (t *taking) check(ctx context.Context, a *app.App, c app.Caller, q Wheels) error {
	t.tell(drying.Checking, 0, 0)
	ask := func(fn func() error) error {
		_, err := app.Ask(ctx, a, c, func(s *app.Session) (int, error) {
			t.begin(s)
			return 0, fn()
		})
		return err
	}
	for rows := range slices.Chunk(q.Table.Rows, app.RowsAtOnce) {
		if err := ask(func() error { return t.rows(rows, q.Table.Rows) }); err != nil {
			return err
		}
	}
	if err := t.problems(); err != nil {
		return err
	}
	checked := 0
	for _, p := range t.parts() {
		err := ask(func() error {
			t.Session = t.Trial()
			w, err := t.put(p, drying.Weights{Sure: q.Sure, Brief: true})
			t.out.Weights, t.out.Same = t.out.Weights+w.Recorded, t.out.Same+w.Same
			var bad intake.Problems
			if errors.As(err, &bad) {
				t.bad, err = append(t.bad, bad...), nil
			}
			return err
		})
		if err != nil {
			return err
		}
		checked += p.size()
		if t.tell(drying.Checking, int64(checked), int64(t.kept)); len(t.bad) >= load.MostProblems {
			break
		}
	}
	t.sure = q.Sure
	return t.problems()
}

// problems is all that is wrong so far, in the order of the lines, or nil.
func (t *taking) problems() error {
	if len(t.bad) == 0 {
		return nil
	}
	slices.SortStableFunc(t.bad, func(a, b intake.Problem) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
	return intake.Problems(t.bad)
}

// record writes what was checked.
func (t *taking) record(ctx context.Context, a *app.App, c app.Caller) (d app.Did[Taken], err error) {
	done := Taken{Schema: t.out.Schema, Rows: t.out.Rows}
	t.tell(drying.Recording, 0, 0)
	recorded := 0
	for _, p := range t.parts() {
		d, err = app.Act(ctx, a, c, func(s *app.Session) (Taken, error) {
			t.begin(s)
			w, err := t.put(p, drying.Weights{Sure: t.sure, Judged: true})
			done.Weights += w.Recorded
			return t.out, err
		})
		if err != nil || d.Known != nil {
			break
		}
		for _, b := range p {
			done.Wheels += len(b.wheels())
		}
		recorded += p.size()
		t.tell(drying.Recording, int64(recorded), int64(t.kept))
	}
	if err != nil && recorded > 0 {
		err = Unfinished{done, err}
	}
	if d.Known == nil {
		d.Result = t.out
	}
	return d, err
}

// begin takes a transaction, which goes on from the one before.
func (t *taking) begin(s *app.Session) {
	if t.Session != nil {
		s.Continue(t.Session)
	} else {
		for _, f := range dated {
			t.dates[f] = s.Column()
		}
	}
	t.Session = s
}

// rows reads rows of the table all.
func (t *taking) rows(rows, all []intake.WheelRow) error {
	if t.out.Read == 0 {
		for _, r := range all {
			t.dates["made"].Learn(r.Made)
			t.dates["date weighed"].Learn(r.Weighed)
			t.dates["arrived"].Learn(r.Arrived)
			t.dates["coated"].Learn(r.Coated)
			for _, l := range r.Last {
				t.dates[l.Field].Learn(l.On)
			}
		}
	}
	for _, r := range rows {
		if len(t.bad) >= load.MostProblems {
			return nil
		}
		if err := t.row(r); err != nil {
			return err
		}
		t.out.Read++
	}
	return t.Ctx.Err()
}

// part is what one transaction records.
type part []bit

// bit is some rows of a lot.
type bit struct {
	lot  *lotTaken
	rows []rowTaken
}

// rowTaken is what a row brings: a wheel with what was done to it, where it's new, and weights.
type rowTaken struct {
	wheel   *wheel.Wheel
	entries []wheel.Entry // of a new wheel, but for its weights; they lack their IDs
	weights []intake.Weight
}

func (b bit) wheels() (out []wheel.Wheel) {
	for _, r := range b.rows {
		if r.wheel != nil {
			out = append(out, *r.wheel)
		}
	}
	return out
}

func (p part) size() (n int) {
	for _, b := range p {
		n += len(b.rows)
	}
	return n
}

// parts cuts what the rows bring into transactions, between lots where it can: what is
// known of a lot's drying is found again with each.
func (t *taking) parts() (out []part) {
	var p part
	n := 0
	end := func() {
		if n > 0 {
			out, p, n = append(out, p), nil, 0
		}
	}
	for _, l := range t.order {
		for rows := range slices.Chunk(l.rows, app.AtOnce) {
			if n+len(rows) > app.RowsAtOnce {
				end()
			}
			p, n = append(p, bit{l, rows}), n+len(rows)
		}
	}
	end()
	return out
}

// put puts a part into the transaction: makes and wheels that aren't known yet, then all
// weights as weigh takes them.
func (t *taking) put(p part, q drying.Weights) (drying.Weighed, error) {
	var wheels []wheel.Wheel
	var entries []wheel.Entry
	for _, b := range p {
		if !b.lot.known {
			if err := t.Write.PutMake(b.lot.make); err != nil {
				return drying.Weighed{}, err
			}
		}
		wheels = append(wheels, b.wheels()...)
		for _, r := range b.rows {
			q.Rows = append(q.Rows, r.weights...)
			for _, e := range r.entries {
				entries = append(entries, t.Entry(e))
			}
		}
	}
	if err := t.Write.AddWheels(wheels); err != nil {
		return drying.Weighed{}, err
	}
	if _, err := t.Write.Put(entries...); err != nil || len(q.Rows) == 0 {
		return drying.Weighed{}, err
	}
	w, err := drying.TakeRows(t.Session, q)
	return w, broughtFirst(err, wheels)
}

// broughtFirst tells the doubts of weights which wheels aren't in the book until the
// table is taken.
func broughtFirst(err error, added []wheel.Wheel) error {
	var bad intake.Problems
	errors.As(err, &bad)
	for _, p := range bad {
		r, ok := p.Why.(*app.Refusal)
		if !ok {
			continue
		}
		for i, x := range r.Remedy {
			if first, ok := x.(app.TakeOverFirst); ok {
				first.New = slices.ContainsFunc(added, func(w wheel.Wheel) bool { return w.Tag == first.Wheel })
				r.Remedy[i] = first
			}
		}
	}
	return err
}

// keyOf names the lot of a row that gives no code: by make date, variety and whose it is.
func (x row) keyOf() string {
	return strings.ToLower("\x00" + x.Made + "\x00" + x.variety.Name + "\x00" + x.Supplier + "\x00" + x.SupplierLot)
}
