package cli

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// longTable is how many rows are recorded in one transaction; a table with more
// is loaded in several. Over someTable rows of more than few wheels, of which
// no figures are asked, one transaction is loaded too.
var ( // never changed but by tests
	longTable = 100_000
	someTable = 20_000
)

// weighTable records a table of weights: a short one whole or not at all, with
// what each means, a long one as a load.
func (a *app) weighTable(in io.Reader, file, remark string, sure bool) error {
	t, err := intake.OpenWeights(in)
	if err != nil {
		return at(file, intake.In(file, err))
	}
	var rows []intake.Weight
	var bad []intake.Problem
	load := func(whole bool) error {
		l := &weightLoad{app: a, t: t, file: file, remark: remark, sure: sure, bad: bad, whole: whole}
		return l.run(rows)
	}
	for {
		if len(rows)%4096 == 0 && a.ctx.Err() != nil {
			return a.ctx.Err()
		}
		w, p, err := t.Next()
		switch {
		case errors.Is(err, io.EOF):
			if len(bad) > 0 && len(rows) == 0 {
				return a.problems(file, bad)
			}
			if len(rows) > someTable && !a.json && a.id == "" && ofManyWheels(rows) {
				return load(true)
			}
			// Bad cells do not hide what is wrong with the rows that read.
			return a.update(func(s *session) error { return s.weigh(rows, bad, file, remark, sure) })
		case err != nil:
			return at(file, intake.In(file, err))
		}
		if bad = append(bad, p...); len(p) == 0 {
			rows = append(rows, w)
		}
		if len(rows) > longTable {
			return load(false)
		}
	}
}

// ofManyWheels says whether rows are of so many wheels that no figures are
// printed of each.
func ofManyWheels(rows []intake.Weight) bool {
	tags := map[string]bool{}
	for _, r := range rows {
		if tags[r.Tag] = true; len(tags) > few {
			return true
		}
	}
	return false
}

// loading is what a load calls itself beside the command it belongs to.
const loading = " --from"

// weightLoad is a long table of weights on its way into the book.
type weightLoad struct {
	*app
	t            *intake.WeightTable
	file, remark string
	sure         bool
	bad          []intake.Problem
	whole        bool // in one transaction, all of it or nothing

	s     *session // the clock and zone, without a transaction
	when  time.Time
	exact bool
	given bool      // when was given on the command line
	noon  time.Time // of today
	pace  pace
	load  *store.Loader
}

func (l *weightLoad) run(rows []intake.Weight) error {
	if err := l.view(func(s *session) (err error) {
		l.s = s
		l.when, l.exact, err = s.moment()
		l.given = s.at != "" || s.on != ""
		return err
	}); err != nil {
		return err
	}
	l.s.tx = nil
	l.noon = l.s.today.Noon(l.s.loc)
	l.pace.app = l.app
	last := store.LastCommand{Command: l.command, By: l.s.who, At: l.s.now, Batch: l.s.S.Batch()}
	var nextID func() uuid.UUID
	if l.whole {
		nextID = l.s.nextID
	} else {
		last.Command += loading
		l.note("over %d rows: checked first, then recorded wheel by wheel;\nif it's interrupted, run the same command again to finish", longTable)
	}
	l.load = store.NewLoader(l.ctx, l.book, store.Options{Now: l.env.Now}, store.LoadOptions{
		By: l.s.who, Written: l.s.now, Note: l.remark, Sure: l.sure, Command: last, NextID: nextID, Doubt: l.doubt,
		Tell: l.pace.tell,
	})
	if err := l.read(rows); err != nil {
		return err
	}
	if err := l.part(); err != nil {
		return err
	}
	l.Committed = true
	return l.out(l.load.Done())
}

// part checks the rows that were read so far and records them.
func (l *weightLoad) part() error {
	l.pace.begin("checked")
	found, err := l.load.Check()
	l.pace.end()
	if err != nil {
		return err
	}
	for _, p := range found {
		l.bad = append(l.bad, l.t.Problem(p.Line, p.Column, p.Field, l.s.nearly(p.Err)))
	}
	if len(l.bad) > 0 {
		l.recorded()
		slices.SortStableFunc(l.bad, func(a, b intake.Problem) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
		return l.problems(l.file, l.bad[:min(len(l.bad), enoughBad)])
	}
	l.pace.begin("recorded")
	err = l.load.Write()
	l.pace.end()
	if err == nil {
		return nil
	}
	l.recorded()
	var p store.RowProblem
	if errors.As(err, &p) {
		err = fmt.Errorf("%w: somebody else changed the wheel since the table was checked", err)
		return at(fmt.Sprintf("%s:%d", l.file, p.Line), err)
	}
	return err
}

// recorded says what a load that ends early has recorded.
func (l *weightLoad) recorded() {
	if got := l.load.Done(); got.Written > 0 {
		l.note("%s of %s were recorded before that, wheel by wheel; run the same command again to go on",
			text.Count(got.Written, "weight"), text.Count(got.Wheels, "wheel"))
	}
}

// read brings every row of the table into the load.
func (l *weightLoad) read(first []intake.Weight) error {
	size := int64(0)
	if st, err := os.Stat(l.file); err == nil && l.file != "-" && st.Mode().IsRegular() && l.t.Read() > 0 {
		size = st.Size()
	}
	l.add(first)
	n := len(first)
	l.pace.begin("read")
	defer l.pace.end()
	for {
		w, bad, err := l.t.Next()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			l.recorded()
			return hint(at(l.file, intake.In(l.file, err)), "nothing was recorded; correct it and run the command again")
		}
		if l.bad = append(l.bad, bad...); len(l.bad) >= enoughBad {
			return nil
		}
		if len(bad) == 0 {
			l.add([]intake.Weight{w})
		}
		if l.load.Full() {
			l.pace.end()
			if err := l.part(); err != nil {
				return err
			}
			l.pace.begin("read")
		}
		if n++; n%1024 != 0 {
			continue
		}
		if err := l.ctx.Err(); err != nil {
			return err
		}
		if size > 0 {
			l.pace.share(l.t.Read(), size)
		} else {
			l.pace.count(n)
		}
	}
}

// add brings rows into the load.
func (l *weightLoad) add(rows []intake.Weight) {
	for _, r := range rows {
		t, exact, err := l.moment(r)
		if err != nil {
			l.bad = append(l.bad, r.Problem("date", l.s.nearly(err)))
			continue
		}
		w := store.LoadRow{
			Tag: r.Tag, At: t.UnixMilli(), Dated: !exact, Weight: r.Weight, Note: r.Note,
			Line: r.Line, Columns: r.Columns(),
		}
		if r.ID != "" {
			if w.ID, err = uuid.Parse(r.ID); err != nil || w.ID == uuid.Nil || w.ID == uuid.Max {
				l.bad = append(l.bad, r.Problem("id", fmt.Sprintf("%q is no UUID", safeWord(r.ID))))
				continue
			}
		}
		l.load.Add(w)
	}
}

// moment is when a row was weighed. It must be the same whenever the table is
// read, or a second run would record it twice.
func (l *weightLoad) moment(r intake.Weight) (time.Time, bool, error) {
	switch {
	case l.whole && r.When == "", r.When == "" && l.given:
		return l.when, l.exact, nil
	case r.When == "":
		return time.Time{}, false, fmt.Errorf("a table of over %d rows needs each row's date; give it, or --on or --at for all", longTable)
	case !day.Absolute(r.When) && l.whole:
		return l.s.momentOf(r.When, "date")
	case !day.Absolute(r.When):
		if _, _, err := l.s.momentOf(r.When, "date"); err != nil {
			return time.Time{}, false, err
		}
		return time.Time{}, false, fmt.Errorf("%q is another day when the table is read again; write the date as 2026-11-25", safeWord(r.When))
	}
	t, exact, err := day.ParseMoment(r.When, l.s.today, l.s.loc)
	if err != nil || !exact && !t.Before(l.noon) || t.After(l.s.now) {
		return l.s.momentOf(r.When, "date") // today, the future, or a word for what is wrong
	}
	return t, exact, nil
}

// doubt says what looks wrong of one wheel's new weights.
func (l *weightLoad) doubt(c verdict.Case, added []wheel.Entry) map[uuid.UUID]error {
	k := verdict.New(c.WithQuick(added...))
	fresh := make(map[uuid.UUID]bool, len(added))
	for _, e := range added {
		fresh[e.ID] = true
	}
	doubts := k.Doubts(k.Forecast(), func(id uuid.UUID) bool { return fresh[id] })
	if len(doubts) == 0 {
		return nil
	}
	out := make(map[uuid.UUID]error, len(doubts))
	for _, e := range added {
		if d, ok := doubts[e.ID]; ok {
			out[e.ID] = uc.Doubtful(c, e, d)
		}
	}
	return out
}

// out says what a load came to.
func (l *weightLoad) out(got store.LoadResult) error {
	if l.json {
		return l.document(weighLoadDoc{schema("weigh-load"), got.Rows, got.Written, got.Same, got.Wheels})
	}
	l.print("recorded %s of %s", text.Count(got.Written, "weight"), text.Count(got.Wheels, "wheel"))
	if got.Same > 0 {
		l.print("; %s in the book already", text.Count(got.Same, "weight"))
	}
	l.print("\n")
	switch {
	case got.Written == 0:
	case l.whole:
		l.next("wrong? rindkeep strike last --why TEXT")
	default:
		l.next("wrong? a load is not struck as one: %s", undo[l.command+loading])
	}
	return nil
}

type weighLoadDoc struct {
	Schema   string `json:"schema"`
	Rows     int    `json:"rows"`
	Recorded int    `json:"recorded"`
	NoChange int    `json:"no_change"`
	Wheels   int    `json:"wheels"`
}

// pace tells on a terminal how far a long job has come and how long it will
// take, in one line that is written over; with --verbose now and then.
type pace struct {
	*app
	word    string
	began   time.Time
	said    time.Time
	logged  time.Time
	written bool
}

func (p *pace) begin(word string) {
	now := p.env.Now()
	p.word, p.began, p.said, p.logged = word, now, now, now
}

func (p *pace) tell(done, total int) {
	if total > 0 {
		p.say(fmt.Sprintf("%s %d of %d weights", p.word, done, total), int64(done), int64(total))
	}
}

func (p *pace) share(done, total int64) {
	p.say(fmt.Sprintf("%s %d %% of the table", p.word, 100*min(done, total)/total), done, total)
}

func (p *pace) count(n int) { p.say(fmt.Sprintf("%s %d rows", p.word, n), 0, 0) }

// say writes the line, not too often.
func (p *pace) say(line string, done, total int64) {
	now := p.env.Now()
	if now.Sub(p.said) < 200*time.Millisecond {
		return
	}
	p.said = now
	if done > 0 && done < total && now.Sub(p.began) > time.Second {
		left := time.Duration(float64(now.Sub(p.began)) * float64(total-done) / float64(done))
		line += ", " + leftWords(left)
	}
	if now.Sub(p.logged) > 5*time.Second {
		p.logged = now
		p.log.Info().Msg(line)
	}
	if !p.env.OutTTY || p.quiet || p.json {
		return
	}
	p.written = true
	fmt.Fprintf(p.env.Err, "\r%s\x1b[K", line)
}

// end clears the line.
func (p *pace) end() {
	p.log.Info().Dur("took", p.env.Now().Sub(p.began)).Msg(p.word)
	if p.written {
		p.written = false
		fmt.Fprint(p.env.Err, "\r\x1b[K")
	}
}

// leftWords is a time to wait in words: "40 s left", "3 min left".
func leftWords(d time.Duration) string {
	if d < 100*time.Second {
		return fmt.Sprintf("%d s left", int(d.Seconds())+1)
	}
	return fmt.Sprintf("%d min left", int(d.Minutes())+1)
}
