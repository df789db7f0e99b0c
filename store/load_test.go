package store

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
	"rindkeep/store/layout"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// loadRows loads rows and gives what is wrong with them, or what they came to.
func (f *farm) loadRows(how LoadOptions, rows ...LoadRow) (LoadResult, []RowProblem) {
	f.t.Helper()
	if err := f.book.Close(); err != nil {
		f.t.Fatal(err)
	}
	defer f.reopened()
	l := NewLoader(context.Background(), f.path, Options{Now: f.clock.now}, how)
	for _, r := range rows {
		l.Add(r)
	}
	bad, err := l.Check()
	if err != nil {
		f.t.Fatal(err)
	}
	if len(bad) > 0 {
		return LoadResult{}, bad
	}
	if err := l.Write(); err != nil {
		f.t.Fatal(err)
	}
	return l.Done(), nil
}

func (f *farm) reopened() {
	f.t.Helper()
	b, err := Open(f.path, Write, Options{Now: f.clock.now})
	if err != nil {
		f.t.Fatal(err)
	}
	f.book = b
}

func (f *farm) how() LoadOptions { return LoadOptions{By: "Ann", Written: f.clock.t, Sure: true} }

func row(line int, tag, when string, g float64, f *farm) LoadRow {
	return LoadRow{Line: line, Tag: tag, At: at(f.t, when).UnixMilli(), Weight: quantity.Grams(g),
		Columns: [4]int32{1, 12, 17, 40}}
}

// sentences are problems as lines.
func sentences(bad []RowProblem) []string {
	var out []string
	for _, p := range bad {
		out = append(out, fmt.Sprintf("%d:%d %s: %v", p.Line, p.Column, p.Field, p.Err))
	}
	return out
}

func TestALoadAndPutGiveEqualBooks(t *testing.T) {
	defer func(r int) { batchRows = r }(batchRows)
	rapid.Check(t, func(r *rapid.T) {
		draw := func(what string, lo, hi int) int { return rapid.IntRange(lo, hi).Draw(r, what) }
		batchRows = draw("rows in one transaction", 1, 40)
		a := newFarm(t)
		_, ws := a.lot("A", "2026-10-01", 3, "cellar")
		_, more := a.lot("B", "2026-10-03", 2, "")
		ws = append(ws, more...)
		// A history from before.
		var before []wheel.Entry
		for i := range draw("entries before", 0, 12) {
			w := ws[draw("wheel", 0, len(ws)-1)]
			when := fmt.Sprintf("2026-10-%02d %02d:00", 4+draw("day", 0, 20), 8+i%10)
			switch draw("kind", 0, 5) {
			case 0:
				e := a.entry(w.ID, wheel.CoatedOn, when)
				e.Coat, e.Before, e.Weight = "wax", 1900, 1950
				before = append(before, e)
			case 1:
				before = append(before, a.did(w.ID, wheel.Turn, when))
			case 2:
				e := a.entry(w.ID, wheel.Moved, when)
				e.Place = placeOf("fridge/A/1")
				before = append(before, e)
			default:
				before = append(before, a.weighed(w.ID, when, float64(1900+draw("weight", 0, 5))))
			}
		}
		a.put(before...)
		var strikes []wheel.Entry
		for _, e := range before {
			if e.Kind == wheel.Weighed && draw("struck", 0, 3) == 0 {
				s := a.entry(e.Subject, wheel.Struck, "2026-11-01 08:00")
				s.Target = e.ID
				strikes = append(strikes, s)
			}
		}
		a.put(strikes...)
		b := a.copied()

		how := LoadOptions{By: rapid.SampledFrom([]string{"Ann", "", "Nora"}).Draw(r, "by"), Written: a.clock.t,
			Sure: rapid.Bool().Draw(r, "sure"), Note: rapid.SampledFrom([]string{"", "a table"}).Draw(r, "note")}
		var rows []LoadRow
		var entries []wheel.Entry
		taken := map[string]bool{}
		for i := range draw("rows", 1, 40) {
			w := ws[draw("wheel", 0, len(ws)-1)]
			x := row(i+2, w.Tag, fmt.Sprintf("2026-11-%02d %02d:00",
				2+draw("day", 0, 20), 7+draw("hour", 0, 2)), float64(1800+draw("weight", 0, 3)), a)
			if draw("noted", 0, 9) == 0 {
				x.Note = "by hand"
			}
			if draw("named", 0, 4) == 0 {
				x.ID = newID(t)
			}
			if draw("in another case", 0, 4) == 0 {
				x.Tag = strings.ToLower(x.Tag)
			}
			rows = append(rows, x)
			// The same weight at the same instant is one weighing, the first.
			key := fmt.Sprint(w.ID, x.At, x.Weight)
			if taken[key] {
				continue
			}
			taken[key] = true
			e := wheel.Entry{ID: x.ID, Subject: w.ID, Kind: wheel.Weighed, At: time.UnixMilli(x.At).UTC(), Written: how.Written,
				By: how.By, Weight: x.Weight, Note: x.Note, Sure: how.Sure}
			if e.Note == "" {
				e.Note = how.Note
			}
			if e.ID == uuid.Nil {
				e.ID = weightID(a.book.Settings().ID, w.ID, x.At, float64(x.Weight))
			}
			entries = append(entries, e)
		}
		got, bad := a.loadRows(how, rows...)
		if len(bad) > 0 {
			r.Fatalf("the load found %q", sentences(bad))
		}
		put := b.put(entries...)
		if want := (LoadResult{Rows: len(rows), Written: put.Written, Same: len(rows) - put.Written,
			Wheels: got.Wheels}); got != want {
			r.Fatalf("the load came to %+v, want %+v", got, want)
		}
		if diff := cmp.Diff(b.facts(), a.facts()); diff != "" {
			r.Fatalf("after Put and after the load the books differ:\n%s", diff)
		}
		a.clean()

		// The same rows again, in another order, change nothing.
		was := a.dump()
		rows = rapid.Permutation(rows).Draw(r, "again")
		if again, bad := a.loadRows(how, rows...); len(bad) > 0 || again.Written != 0 || again.Same != len(rows) {
			r.Fatalf("loaded again: %+v %q", again, sentences(bad))
		}
		if now := a.dump(); now != was {
			r.Fatalf("the second load changed the book:\n%s", cmp.Diff(was, now))
		}
		a.book.Close()
		b.book.Close()
	})
}

// copied is an equal book beside this one.
func (f *farm) copied() *farm {
	f.t.Helper()
	o := &farm{t: f.t, path: filepath.Join(f.t.TempDir(), "copy.book"), clock: f.clock}
	if _, err := f.book.Backup(context.Background(), o.path); err != nil {
		f.t.Fatal(err)
	}
	o.reopened()
	return o
}

// facts is everything in the book but the chain, whose links follow the
// transactions, and the name of the last command.
func (f *farm) facts() []string {
	var out []string
	for _, l := range strings.Split(f.dump(), "\n") {
		if !strings.HasPrefix(l, layout.Chain+" ") && !strings.HasPrefix(l, fmt.Sprintf("%s %x ", layout.Book, lastKey)) {
			out = append(out, l)
		}
	}
	return out
}

func TestWhatABookDoesNotTakeIsNamedAndNothingIsWritten(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("A", "2026-11-10", 3, "cellar")
	known := f.weighed(ws[0].ID, "2026-11-12 08:00", 2000)
	sent := f.entry(ws[2].ID, wheel.Sent, "2026-11-20 08:00")
	f.put(known, sent)
	was := f.dump()
	named := func(r LoadRow, id uuid.UUID) LoadRow { r.ID = id; return r }
	noted := func(r LoadRow, note string) LoadRow { r.Note = note; return r }
	twice := newID(t)
	_, bad := f.loadRows(f.how(),
		row(2, "A-01", "2026-11-13 08:00", 1990, f), // nothing is wrong with it
		row(3, "A-09", "2026-11-13 08:00", 1990, f),
		row(4, "A-01", "2026-11-09 08:00", 1990, f),
		row(5, "A-01", "2026-11-26 08:00", 1990, f),
		row(6, "A-03", "2026-11-21 08:00", 1990, f),
		named(row(7, "A-02", "2026-11-13 08:00", 1990, f), known.ID),
		named(row(8, "A-02", "2026-11-14 08:00", 1980, f), twice),
		named(row(9, "A-02", "2026-11-15 08:00", 1970, f), twice),
		row(10, "A-02", "2026-11-16 08:00", 600_000, f),
		noted(row(11, "A-02", "2026-11-16 09:00", 1970, f), "\x1b[31m"),
		named(row(12, "A-01", "2026-11-15 08:00", 1970, f), twice),
	)
	want := []string{
		`3:1 tag: not-found wheel "A-09"`,
		`4:17 date: A-01: before-make {On:2026-11-09 Made:2026-11-10}`,
		`5:17 date: A-01: time-in-future {At:2026-11-26 08:00:00 +0000 GMT}`,
		`6:17 date: A-03: gone {How:sent On:2026-11-20}`,
		`7:40 id: A-02: entry-differs {Was:weighed}`,
		`9:40 id: id-given-twice {Line:8}`,
		`10:12 weight: A-02: outside {What:weight Value:600000 Low:0 High:500000}`,
		`11:0 note: A-02: unprintable {What:note Char:27 Byte:1}`,
		`12:40 id: id-given-twice {Line:9}`,
	}
	if diff := cmp.Diff(want, sentences(bad)); diff != "" {
		t.Error(diff)
	}
	if now := f.dump(); now != was {
		t.Errorf("something was written:\n%s", cmp.Diff(was, now))
	}
}

func TestAWeightThatWasStruckStaysStruckWhenItsTableIsLoadedAgain(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("A", "2026-11-10", 1, "cellar")
	rows := []LoadRow{row(2, "A-01", "2026-11-12 08:00", 2000, f), row(3, "A-01", "2026-11-14 08:00", 1880, f),
		row(4, "A-01", "2026-11-16 08:00", 1975, f)}
	f.loadRows(f.how(), rows...)
	s := f.entry(ws[0].ID, wheel.Struck, "2026-11-25 08:30")
	s.Target = weightID(f.book.Settings().ID, ws[0].ID, rows[1].At, 1880)
	f.put(s)
	was := f.dump()
	if got, bad := f.loadRows(f.how(), rows...); len(bad) > 0 || got != (LoadResult{Rows: 3, Same: 3, Wheels: 1}) {
		t.Errorf("loaded again: %+v %q", got, sentences(bad))
	}
	if now := f.dump(); now != was {
		t.Error(cmp.Diff(was, now))
	}
}

func TestADateAloneFindsTheWeighingOfItsDay(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("A", "2026-11-10", 1, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-12 08:17", 2000))
	dated := func(r LoadRow) LoadRow { r.Dated = true; return r }
	got, bad := f.loadRows(f.how(),
		dated(row(2, "A-01", "2026-11-12 12:00", 2000, f)), // known
		dated(row(3, "A-01", "2026-11-12 12:00", 1999, f)), // another weight
		row(4, "A-01", "2026-11-12 12:00", 2000, f))        // another time
	if len(bad) > 0 || got != (LoadResult{Rows: 3, Written: 2, Same: 1, Wheels: 1}) {
		t.Errorf("%+v %q", got, sentences(bad))
	}
	f.clean()
}

func TestALoadIsWrittenInPartsAndManyTransactions(t *testing.T) {
	defer func(p, r int) { partRows, batchRows = p, r }(partRows, batchRows)
	partRows, batchRows = 4000, 700
	path, tags, now := aged(t, 300)
	o := Options{Now: func() time.Time { return now }}
	how := LoadOptions{By: "Ann", Written: now, Doubt: func(c verdict.Case, added []wheel.Entry) map[uuid.UUID]error {
		t.Errorf("%s was left to the model: %d weights", c.Life.Tag, len(added))
		return nil
	}}
	l := NewLoader(context.Background(), path, o, how)
	parts := 0
	part := func() {
		parts++
		if bad, err := l.Check(); err != nil || len(bad) > 0 {
			t.Fatal(err, sentences(bad))
		}
		if err := l.Write(); err != nil {
			t.Fatal(err)
		}
	}
	from := at(t, "2026-01-10 08:00").UnixMilli()
	const each = 100
	for i := range each { // as weighed: all wheels one day after the other
		for k, tag := range tags {
			r := agedRow(tag, k, i, from)
			r.Line = 2 + i*len(tags) + k
			l.Add(r)
			if l.Full() {
				part()
			}
		}
	}
	part()
	if parts != 300*each/partRows+1 {
		t.Errorf("%d parts", parts)
	}
	if want := (LoadResult{Rows: 300 * each, Written: 300 * each, Wheels: 300}); l.Done() != want {
		t.Fatalf("%+v, want %+v", l.Done(), want)
	}
	b, err := Open(path, Read, o)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	wantClean(t, b)
	if err := b.View(func(tx *ReadTx) error {
		w, err := tx.WheelByTag(tags[123])
		if err != nil {
			return err
		}
		es, err := tx.History(w.ID)
		if err != nil {
			return err
		}
		for i, e := range es {
			if r := agedRow(tags[123], 123, i, from); e.At.UnixMilli() != r.At || e.Weight != r.Weight {
				return fmt.Errorf("weighing %d is %v at %v", i, e.Weight, e.At)
			}
		}
		if len(es) != each {
			return fmt.Errorf("%d weighings", len(es))
		}
		return nil
	}); err != nil {
		t.Error(err)
	}
}

func TestAllWeightsOfOneWheelAreLoadedHoweverMany(t *testing.T) {
	defer func(r int) { batchRows = r }(batchRows)
	batchRows = 100
	path, tags, now := aged(t, 2)
	l := NewLoader(context.Background(), path, Options{Now: func() time.Time { return now }},
		LoadOptions{Written: now, Sure: true})
	from := at(t, "2026-01-10 08:00").UnixMilli()
	for i := range 1001 { // the last row first
		r := agedRow(tags[0], 0, 0, from+int64(1000-i)*1000)
		r.Line = 2 + i
		l.Add(r)
	}
	if bad, err := l.Check(); err != nil || len(bad) > 0 {
		t.Fatal(err, sentences(bad))
	}
	if err := l.Write(); err != nil || l.Done() != (LoadResult{Rows: 1001, Written: 1001, Wheels: 1}) {
		t.Fatal(l.Done(), err)
	}
	b, err := Open(path, Read, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	wantClean(t, b)
}

func TestAnInterruptedLoadIsSoundAndIsFinishedByTheNext(t *testing.T) {
	path, tags, now := aged(t, 60)
	o := Options{Now: func() time.Time { return now }}
	from := at(t, "2026-01-10 08:00").UnixMilli()
	load := func(ctx context.Context, tell func(done, total int)) (*Loader, error) {
		l := NewLoader(ctx, path, o, LoadOptions{By: "Ann", Written: now, Tell: tell})
		for k, tag := range tags {
			for i := range 50 {
				l.Add(agedRow(tag, k, i, from))
			}
		}
		return l, nil
	}
	defer func(r, w int) { batchRows, batchWheels = r, w }(batchRows, batchWheels)
	batchRows = 500
	ctx, stop := context.WithCancel(context.Background())
	writing := false
	l, err := load(ctx, func(done, _ int) {
		if writing && done >= 1000 {
			stop()
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if bad, err := l.Check(); err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	writing = true
	err = l.Write()
	if got := l.Done(); !errors.Is(err, context.Canceled) || got.Written != 1000 {
		t.Fatalf("interrupted: %+v %v", l.Done(), err)
	}
	check := func(entries int) {
		b, err := Open(path, Read, o)
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		wantClean(t, b)
		if err := b.View(func(tx *ReadTx) error {
			c, err := tx.Counts()
			if c.Entries != entries {
				t.Errorf("%d entries, want %d", c.Entries, entries)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
	}
	check(1000)
	l, err = load(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if bad, err := l.Check(); err != nil || len(bad) > 0 {
		t.Fatal(err, sentences(bad))
	}
	if err := l.Write(); err != nil || l.Done() != (LoadResult{Rows: 3000, Written: 2000, Same: 1000, Wheels: 60}) {
		t.Fatalf("finished: %+v %v", l.Done(), err)
	}
	check(3000)
}

func TestOthersMayWriteBetweenTheTransactionsOfALoad(t *testing.T) {
	path, tags, now := aged(t, 40)
	o := Options{Now: func() time.Time { return now }}
	from := at(t, "2026-01-10 08:00").UnixMilli()
	defer func(r int) { batchRows = r }(batchRows)
	batchRows = 200
	var last wheel.Wheel
	send := func(b *Book) error {
		return b.Update(func(tx *WriteTx) error {
			_, err := tx.Put(wheel.Entry{ID: newID(t), Subject: last.ID, Kind: wheel.Sent, At: at(t, "2026-01-20 08:00"),
				Written: now, By: "Nora"})
			return err
		})
	}
	began := false
	l := NewLoader(context.Background(), path, o, LoadOptions{By: "Ann", Written: now, Tell: func(done, _ int) {
		if !began {
			return
		}
		began = false
		b, err := Open(path, Write, o)
		if err != nil {
			t.Error(err)
			return
		}
		defer b.Close()
		if err := send(b); err != nil {
			t.Error(err)
		}
	}})
	for k, tag := range tags {
		for i := range 50 {
			l.Add(agedRow(tag, k, i, from))
		}
	}
	b, err := Open(path, Read, o)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.View(func(tx *ReadTx) error {
		for w, err := range tx.EachWheel() { // in the order of the load
			if err != nil {
				return err
			}
			last = w
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	b.Close()
	if bad, err := l.Check(); err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	began = true
	err = l.Write()
	got := l.Done()
	var c RowProblem
	if !errors.As(err, &c) || c.Field != "date" || !strings.HasSuffix(err.Error(), "gone {How:sent On:2026-01-20}") {
		t.Fatalf("%+v: %v", got, err)
	}
	if got.Written != 1800 {
		t.Errorf("%+v were written before, want 1800", got)
	}
	if b, err = Open(path, Read, o); err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	wantClean(t, b)
}

func TestAnIdentityOfAWeighingFollowsFromWhatItSays(t *testing.T) {
	book, w := uuid.MustParse("0193a5c0-7b1e-7c3a-9f10-2b7d4e9f3c1a"), uuid.MustParse(
		"0193a5c0-8000-7d01-8000-000000000001")
	at := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC).UnixMilli()
	id := weightID(book, w, at, 1942)
	// Ours, fixed: books hold it.
	if got, want := id.String(), "0193a5c0-8000-8d01-a339-7c27f8a33f0d"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if id.Version() != 8 || id.Variant() != uuid.RFC4122 {
		t.Errorf("%s is of version %d, variant %d", id, id.Version(), id.Variant())
	}
	for what, o := range map[string]uuid.UUID{
		"another book":    weightID(w, w, at, 1942),
		"another wheel":   weightID(book, book, at, 1942),
		"another instant": weightID(book, w, at+1, 1942),
		"another weight":  weightID(book, w, at, 1942.001),
	} {
		if o == id {
			t.Errorf("%s gives the same identity", what)
		}
	}
}
