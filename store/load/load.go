// Package load writes tables of weights to a book, however long they are: each row is
// checked first, and then they're written wheel by wheel in transactions of their own.
package load

import (
	"bytes"
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Row is one weighing of a table. Line and Columns (where its tag, weight,
// date and identity stand; 0: nowhere) come back with what is wrong with it.
type Row struct {
	Tag     string
	At      int64 // ms since 1970
	Dated   bool  // only its date is known
	Weight  quantity.Grams
	Note    string
	ID      uuid.UUID // the writer's own; Nil: it follows from what the row says
	Line    int
	Columns [4]int32
}

// Problem is what is wrong with one row. Field is tag, weight, date, id or
// note; Column is 0 where it is not known.
type Problem struct {
	Line, Column int
	Field        string
	Err          error
}

// Error is what is wrong, without the place.
func (p Problem) Error() string { return p.Err.Error() }

// Unwrap gives the error itself.
func (p Problem) Unwrap() error { return p.Err }

// Options say how a table of weights is to be written.
type Options struct {
	By      string
	Written time.Time
	Note    string // for rows without their own
	Sure    bool   // weights that look wrong are taken
	SureOf  []int  // or those of these lines
	Try     bool   // rows are only checked
	Command register.LastCommand

	// Doubt looks at one wheel's new weights, in time order, with the case as
	// it was before them, and gives what looks wrong by entry. It is called
	// from several goroutines at once.
	Doubt func(c verdict.Case, added []wheel.Entry) map[uuid.UUID]error

	Part  int // how many rows are held at once; 0: a million
	Batch int // how many one transaction writes; 0: ten thousand

	// Tell is told how far a check or a write has come, in rows.
	Tell store.Progress
}

// Result is what a load came to so far.
type Result struct {
	Rows, Written, Same int
	Wheels              int
}

// Loader writes weights by the million: rows are added until it is Full, all of
// them are checked, and then they are written through Put, wheel by wheel, in
// several transactions that each leave a sound book. Then the next part is
// added. Memory is bounded by the part; others may use the book between two
// transactions; and rows that an interrupted load has written are known again.
type Loader struct {
	ctx  context.Context
	path string
	opt  store.Options
	how  Options
	book uuid.UUID
	zone *time.Location

	rows  []heldRow
	tags  []loadTag
	nth   map[string]int32 // by tag, its place in tags
	ids   []heldID
	twins map[uuid.UUID]bool // identities given to different weighings
	bad   []Problem

	seen map[uuid.UUID]bool // wheels written to
	done Result
}

// MostProblems is how many bad rows are looked for before a load is given up.
const MostProblems = 1000

// batchWheels is how many wheels one transaction writes to at most.
const batchWheels = 500

// New begins a load into the book at path, which Write writes to.
func New(ctx context.Context, path string, o store.Options, how Options) *Loader {
	how.Written = pack.Milli(how.Written)
	if how.Tell == nil {
		how.Tell = func(int, int) {}
	}
	how.Part, how.Batch = cmp.Or(how.Part, 1_000_000), cmp.Or(how.Batch, 10_000)
	return &Loader{
		ctx: ctx, path: path, opt: o, how: how, nth: map[string]int32{}, seen: map[uuid.UUID]bool{},
	}
}

// Add takes one more row.
func (l *Loader) Add(r Row) {
	n, ok := l.nth[r.Tag]
	if !ok {
		n = int32(len(l.tags))
		l.nth[r.Tag], l.tags = n, append(l.tags, loadTag{name: r.Tag})
	}
	h := heldRow{
		at: r.At, weight: float64(r.Weight), line: int32(r.Line), tag: n, columns: r.Columns, dated: r.Dated,
	}
	if r.Note != "" || r.ID != uuid.Nil {
		h.own = &ownWords{r.Note, r.ID}
	}
	if n := len(l.rows); n == cap(l.rows) && n > l.how.Part/8 { // a long table: for good
		l.rows = slices.Grow(l.rows, l.how.Part-n)
	}
	l.rows = append(l.rows, h)
}

// Full says whether the part is full: it must be checked and written before
// more rows are added.
func (l *Loader) Full() bool { return len(l.rows) >= l.how.Part }

// Done is what the load came to so far.
func (l *Loader) Done() Result { return l.done }

// Check proves the rows of the part against the book and each other. What it
// finds is in the order of the lines, at most MostProblems of them. Every row
// stays to be written.
func (l *Loader) Check() ([]Problem, error) {
	l.bad = nil
	if err := l.view(l.findWheels); err != nil {
		return nil, err
	}
	l.findTwins()
	l.sort()
	var mu sync.Mutex
	var failed error
	checked, batches := 0, slices.Collect(l.batches())
	derive.InParallel(len(batches), func(i int) {
		mu.Lock()
		enough := failed != nil || len(l.bad) >= MostProblems
		mu.Unlock()
		if enough {
			return
		}
		var bad []Problem
		err := l.view(func(t *store.ReadTx) (err error) { bad, err = l.check(t, batches[i]); return err })
		mu.Lock()
		defer mu.Unlock()
		l.bad, failed = append(l.bad, bad...), errors.Join(failed, err)
		checked += len(batches[i])
		l.how.Tell(checked, len(l.rows))
	})
	if failed != nil {
		return nil, failed
	}
	slices.SortStableFunc(l.bad, func(a, b Problem) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
	return l.bad[:min(len(l.bad), MostProblems)], nil
}

// Write writes the part, in which Check found nothing wrong, and makes room for
// the next. A row that the book has come to refuse meanwhile ends the load with
// a Problem; what was written before it stays.
func (l *Loader) Write() error {
	written := 0
	for b := range l.batches() {
		if l.how.Try {
			l.done.Rows += len(b)
			continue
		}
		res := store.Result{}
		if err := l.update(func(t *store.WriteTx) (err error) {
			if res, err = l.write(t, b); err != nil || res.Written == 0 {
				return err
			}
			return t.SetLastCommand(l.how.Command)
		}); err != nil {
			return err
		}
		l.done.Rows += len(b)
		l.done.Written += res.Written
		l.done.Same += len(b) - res.Written
		l.done.Wheels = len(l.seen)
		written += len(b)
		l.how.Tell(written, len(l.rows))
	}
	l.rows, l.tags = l.rows[:0], l.tags[:0]
	clear(l.nth)
	return nil
}

// view runs fn on the book, opened for it.
func (l *Loader) view(fn func(*store.ReadTx) error) error {
	return l.with(store.Read, func(b *store.Book) error { return b.View(fn) })
}

// update runs fn in one transaction, for which the book is opened.
func (l *Loader) update(fn func(*store.WriteTx) error) error {
	return l.with(store.Write, func(b *store.Book) error {
		return b.Update(func(t *store.WriteTx) error {
			if err := fn(t); err != nil {
				return err
			}
			return l.ctx.Err()
		})
	})
}

func (l *Loader) with(m store.Mode, fn func(*store.Book) error) (err error) {
	if err := l.ctx.Err(); err != nil {
		return err
	}
	b, err := store.Open(l.path, m, l.opt)
	if err != nil {
		return err
	}
	defer func() {
		if cerr := b.Close(); err == nil {
			err = cerr
		}
	}()
	switch id := b.Settings().ID; {
	case l.zone == nil:
		l.zone, l.book = b.Zone(), id
	case l.book != id:
		return bookfile.NotABook(l.path, "another")
	}
	return fn(b)
}

// findWheels finds the wheels of the part's tags.
func (l *Loader) findWheels(t *store.ReadTx) error {
	missing := 0
	for i := range l.tags {
		g := &l.tags[i]
		if !t.HasTag(g.name) {
			if missing++; missing > MostProblems { // names that come near are looked for among all
				g.err = refusal.NotFound{Thing: "wheel", Name: g.name}
				continue
			}
		}
		w, err := t.WheelByTag(g.name)
		if err != nil && !refusal.IsNotFound(err) {
			return err
		}
		g.wheel, g.err = w.ID, err
	}
	return nil
}

// findTwins finds identities that two rows give to different weighings.
func (l *Loader) findTwins() {
	l.ids, l.twins = l.ids[:0], map[uuid.UUID]bool{}
	for i := range l.rows {
		if r := &l.rows[i]; r.id() != uuid.Nil {
			l.ids = append(l.ids, heldID{r.id(), int32(i)})
		}
	}
	slices.SortFunc(l.ids, func(a, b heldID) int { return cmp.Or(bytes.Compare(a.id[:], b.id[:]), int(a.row-b.row)) })
	for i := 1; i < len(l.ids); i++ {
		a, b := &l.rows[l.ids[i-1].row], &l.rows[l.ids[i].row]
		if l.ids[i].id == l.ids[i-1].id &&
			(a.at != b.at || a.weight != b.weight || l.tags[a.tag].wheel != l.tags[b.tag].wheel) {
			l.bad = append(l.bad, b.problem("id", reason.Err(refusal.SameID{Line: int(a.line)})))
			l.twins[b.id()] = true
		}
	}
}

// sort puts the rows in the order of their entries' keys, wheel by wheel, and
// drops those of no wheel.
func (l *Loader) sort() {
	order := make([]int32, len(l.tags))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(a, b int32) int { return bytes.Compare(l.tags[a].wheel[:], l.tags[b].wheel[:]) })
	rank := int32(0)
	for i, n := range order {
		if i > 0 && l.tags[n].wheel != l.tags[order[i-1]].wheel {
			rank++
		}
		l.tags[n].rank = rank
	}
	l.rows = slices.DeleteFunc(l.rows, func(r heldRow) bool {
		err := l.tags[r.tag].err
		if err != nil && len(l.bad) < MostProblems {
			l.bad = append(l.bad, r.problem("tag", err))
		}
		return err != nil
	})
	slices.SortFunc(l.rows, func(a, b heldRow) int {
		return cmp.Or(
			int(l.tags[a.tag].rank-l.tags[b.tag].rank), cmp.Compare(a.at, b.at), cmp.Compare(a.line, b.line))
	})
}

// batches cuts the sorted rows into runs for one transaction each, between two
// wheels where it can.
func (l *Loader) batches() func(yield func([]heldRow) bool) {
	return func(yield func([]heldRow) bool) {
		from, wheels := 0, 0
		for i := range l.rows {
			if i == from || l.rank(i) == l.rank(i-1) && i-from < 2*l.how.Batch {
				continue
			}
			wheels++
			if i-from >= l.how.Batch || wheels >= batchWheels {
				if !yield(l.rows[from:i]) {
					return
				}
				from, wheels = i, 0
			}
		}
		if from < len(l.rows) {
			yield(l.rows[from:])
		}
	}
}

func (l *Loader) rank(row int) int32 { return l.tags[l.rows[row].tag].rank }

// byWheel goes through the rows of each wheel of a batch.
func (l *Loader) byWheel(batch []heldRow, fn func(w uuid.UUID, rows []heldRow) error) error {
	for len(batch) > 0 {
		w, n := l.tags[batch[0].tag].wheel, 1
		for n < len(batch) && l.tags[batch[n].tag].wheel == w {
			n++
		}
		if err := fn(w, batch[:n]); err != nil {
			return err
		}
		batch = batch[n:]
	}
	return nil
}

// doubtful is a wheel whose new weights the drying model has to judge.
type doubtful struct {
	c       verdict.Case // before them
	entries []wheel.Entry
	rows    []*heldRow
}

// check puts a batch on trial.
func (l *Loader) check(t *store.ReadTx, batch []heldRow) (bad []Problem, err error) {
	trial := t.Trial()
	var doubts []doubtful
	if err := l.byWheel(batch, func(w uuid.UUID, rows []heldRow) error {
		entries, from, err := l.newEntries(trial, w, rows, true)
		if err != nil || len(entries) == 0 {
			return err
		}
		for i := range entries {
			if id := &entries[i].ID; *id == uuid.Nil { // until it is written
				layout.BeginID(id, w)
				binary.BigEndian.PutUint32(id[12:], uint32(i))
			}
		}
		if _, err := trial.Put(entries...); err != nil {
			refused, err := l.refused(err, from)
			bad = append(bad, refused...)
			return err
		}
		if l.how.Sure || l.how.Doubt == nil {
			return nil
		}
		yes, err := l.plausible(trial, w, entries)
		if err != nil || yes {
			return err
		}
		c, err := t.CaseAlone(w)
		doubts = append(doubts, doubtful{c, entries, from})
		return err
	}); err != nil {
		return nil, err
	}
	found := make([]map[uuid.UUID]error, len(doubts))
	derive.InParallel(len(doubts), func(i int) {
		if l.ctx.Err() == nil {
			found[i] = l.how.Doubt(doubts[i].c, doubts[i].entries)
		}
	})
	for i, d := range doubts {
		for k, e := range d.entries {
			if err, ok := found[i][e.ID]; ok {
				bad = append(bad, d.rows[k].problem("weight", err))
			}
		}
	}
	return bad, l.ctx.Err()
}

// plausible looks at a wheel's new weights without the drying model.
func (l *Loader) plausible(t *store.WriteTx, w uuid.UUID, entries []wheel.Entry) (bool, error) {
	s, err := t.Subject(w)
	if err != nil {
		return false, err
	}
	v, err := t.VarietyOf(s.Make)
	if err != nil {
		return false, err
	}
	fresh := make(map[uuid.UUID]bool, len(entries))
	for i := range entries {
		fresh[entries[i].ID] = true
	}
	isFresh := func(id uuid.UUID) bool { return fresh[id] }
	return verdict.PlausibleRun(wheel.Live(s.History()), isFresh, v.Weight, s.Make.Date.Noon(t.Zone())), nil
}

// write puts a batch.
func (l *Loader) write(t *store.WriteTx, batch []heldRow) (sum store.Result, err error) {
	return sum, l.byWheel(batch, func(w uuid.UUID, rows []heldRow) error {
		entries, from, err := l.newEntries(t, w, rows, false)
		if err != nil {
			return err
		}
		res, err := t.Put(entries...)
		if err != nil {
			if bad, other := l.refused(err, from); len(bad) > 0 {
				return bad[0]
			} else if other != nil {
				return other
			}
			return err
		}
		sum.Written += res.Written
		l.seen[w] = true
		return nil
	})
}

// refused gives what Put refused as problems of the entries' rows.
func (l *Loader) refused(err error, from []*heldRow) (bad []Problem, other error) {
	rs := refusal.Of(err)
	if len(rs) == 0 {
		return nil, err
	}
	for _, r := range rs {
		row := from[r.Index]
		if r.Field == "id" && l.twins[row.id()] {
			continue // told of already
		}
		bad = append(bad, row.problem(cmp.Or(r.Field, "date"), r))
	}
	return bad, nil
}

// problem is what is wrong with a field of the row.
func (r *heldRow) problem(field string, err error) Problem {
	column := int32(0)
	if i := slices.Index([]string{"tag", "weight", "date", "id"}, field); i >= 0 {
		column = r.columns[i]
	}
	return Problem{Line: int(r.line), Column: int(column), Field: field, Err: err}
}
