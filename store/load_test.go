package store_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/store"
	"rindkeep/store/layout"
	"rindkeep/store/load"
	"rindkeep/wheel"
)

// loadRows loads rows and gives what is wrong with them, or what they came to.
func loadRows(f *store.Farm, how load.Options, rows ...load.Row) (load.Result, []load.Problem) {
	t := f.T()
	t.Helper()
	defer f.LetGo()()
	l := load.New(context.Background(), f.Path(), store.Options{Now: f.Now}, how)
	for _, r := range rows {
		l.Add(r)
	}
	bad, err := l.Check()
	if err != nil {
		t.Fatal(err)
	}
	if len(bad) > 0 {
		return load.Result{}, bad
	}
	if err := l.Write(); err != nil {
		t.Fatal(err)
	}
	return l.Done(), nil
}

// idOf is the identity of a weighing in the book; Nil where it has none.
func idOf(f *store.Farm, w uuid.UUID, at int64, g quantity.Grams) (id uuid.UUID) {
	f.T().Helper()
	if err := f.Book().View(func(tx *store.ReadTx) error {
		es, err := tx.History(w)
		for _, e := range es {
			if e.Kind == wheel.Weighed && e.At.UnixMilli() == at && e.Weight == g {
				id = e.ID
			}
		}
		return err
	}); err != nil {
		f.T().Fatal(err)
	}
	return id
}

func howOf(f *store.Farm) load.Options {
	return load.Options{By: "Ann", Written: f.Now(), Sure: true}
}

func row(line int, tag, when string, g float64, f *store.Farm) load.Row {
	return load.Row{Line: line, Tag: tag, At: store.At(f.T(), when).UnixMilli(), Weight: quantity.Grams(g),
		Columns: [4]int32{1, 12, 17, 40}}
}

// sentences are problems as lines.
func sentences(bad []load.Problem) []string {
	var out []string
	for _, p := range bad {
		out = append(out, fmt.Sprintf("%d:%d %s: %v", p.Line, p.Column, p.Field, p.Err))
	}
	return out
}

func TestALoadAndPutGiveEqualBooks(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		draw := func(what string, lo, hi int) int { return rapid.IntRange(lo, hi).Draw(r, what) }
		batch := draw("rows in one transaction", 1, 40)
		a := store.NewFarm(t)
		_, ws := a.Lot("A", "2026-10-01", 3, "cellar")
		_, more := a.Lot("B", "2026-10-03", 2, "")
		ws = append(ws, more...)
		// A history from before.
		var before []wheel.Entry
		for i := range draw("entries before", 0, 12) {
			w := ws[draw("wheel", 0, len(ws)-1)]
			when := fmt.Sprintf("2026-10-%02d %02d:00", 4+draw("day", 0, 20), 8+i%10)
			switch draw("kind", 0, 5) {
			case 0:
				e := a.Entry(w.ID, wheel.CoatedOn, when)
				e.Coat, e.Before, e.Weight = "wax", 1900, 1950
				before = append(before, e)
			case 1:
				before = append(before, a.Did(w.ID, wheel.Turn, when))
			case 2:
				e := a.Entry(w.ID, wheel.Moved, when)
				e.Place = cave.Place("fridge/A/1")
				before = append(before, e)
			default:
				before = append(before, a.Weighed(w.ID, when, float64(1900+draw("weight", 0, 5))))
			}
		}
		a.Put(before...)
		var strikes []wheel.Entry
		for _, e := range before {
			if e.Kind == wheel.Weighed && draw("struck", 0, 3) == 0 {
				s := a.Entry(e.Subject, wheel.Struck, "2026-11-01 08:00")
				s.Target = e.ID
				strikes = append(strikes, s)
			}
		}
		a.Put(strikes...)
		b := a.Copied()

		how := load.Options{By: rapid.SampledFrom([]string{"Ann", "", "Nora"}).Draw(r, "by"), Written: a.Now(),
			Batch: batch, Sure: rapid.Bool().Draw(r, "sure"), Note: rapid.SampledFrom([]string{"", "a table"}).Draw(r, "note")}
		var rows []load.Row
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
				x.ID = store.NewID(t)
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
			entries = append(entries, e)
		}
		got, bad := loadRows(a, how, rows...)
		if len(bad) > 0 {
			r.Fatalf("the load found %q", sentences(bad))
		}
		for i, e := range entries {
			if e.ID != uuid.Nil {
				continue
			}
			if entries[i].ID = idOf(a, e.Subject, e.At.UnixMilli(), e.Weight); entries[i].ID == uuid.Nil {
				r.Fatalf("%+v was not loaded", e)
			}
		}
		put := b.Put(entries...)
		if want := (load.Result{Rows: len(rows), Written: put.Written, Same: len(rows) - put.Written,
			Wheels: got.Wheels}); got != want {
			r.Fatalf("the load came to %+v, want %+v", got, want)
		}
		if diff := cmp.Diff(factsOf(b), factsOf(a)); diff != "" {
			r.Fatalf("after Put and after the load the books differ:\n%s", diff)
		}
		a.Clean()

		// The same rows again, in another order, change nothing.
		was := a.Dump()
		rows = rapid.Permutation(rows).Draw(r, "again")
		if again, bad := loadRows(a, how, rows...); len(bad) > 0 || again.Written != 0 || again.Same != len(rows) {
			r.Fatalf("loaded again: %+v %q", again, sentences(bad))
		}
		if now := a.Dump(); now != was {
			r.Fatalf("the second load changed the book:\n%s", cmp.Diff(was, now))
		}
		a.Book().Close()
		b.Book().Close()
	})
}

// factsOf is everything in the book but the chain, whose links follow the
// transactions, and the name of the last command.
func factsOf(f *store.Farm) []string {
	var out []string
	for _, l := range strings.Split(f.Dump(), "\n") {
		last := fmt.Sprintf("%s %x ", layout.Book, "last-command")
		if !strings.HasPrefix(l, layout.Chain+" ") && !strings.HasPrefix(l, last) {
			out = append(out, l)
		}
	}
	return out
}

func TestWhatABookDoesNotTakeIsNamedAndNothingIsWritten(t *testing.T) {
	f := store.NewFarm(t)
	_, ws := f.Lot("A", "2026-11-10", 3, "cellar")
	known := f.Weighed(ws[0].ID, "2026-11-12 08:00", 2000)
	sent := f.Entry(ws[2].ID, wheel.Sent, "2026-11-20 08:00")
	f.Put(known, sent)
	was := f.Dump()
	named := func(r load.Row, id uuid.UUID) load.Row { r.ID = id; return r }
	noted := func(r load.Row, note string) load.Row { r.Note = note; return r }
	twice := store.NewID(t)
	_, bad := loadRows(f, howOf(f),
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
	if now := f.Dump(); now != was {
		t.Errorf("something was written:\n%s", cmp.Diff(was, now))
	}
}

func TestAWeightThatWasStruckStaysStruckWhenItsTableIsLoadedAgain(t *testing.T) {
	f := store.NewFarm(t)
	_, ws := f.Lot("A", "2026-11-10", 1, "cellar")
	rows := []load.Row{row(2, "A-01", "2026-11-12 08:00", 2000, f), row(3, "A-01", "2026-11-14 08:00", 1880, f),
		row(4, "A-01", "2026-11-16 08:00", 1975, f)}
	loadRows(f, howOf(f), rows...)
	s := f.Entry(ws[0].ID, wheel.Struck, "2026-11-25 08:30")
	s.Target = idOf(f, ws[0].ID, rows[1].At, 1880)
	f.Put(s)
	was := f.Dump()
	if got, bad := loadRows(f, howOf(f), rows...); len(bad) > 0 || got != (load.Result{Rows: 3, Same: 3, Wheels: 1}) {
		t.Errorf("loaded again: %+v %q", got, sentences(bad))
	}
	if now := f.Dump(); now != was {
		t.Error(cmp.Diff(was, now))
	}
}

func TestADateAloneFindsTheWeighingOfItsDay(t *testing.T) {
	f := store.NewFarm(t)
	_, ws := f.Lot("A", "2026-11-10", 1, "cellar")
	f.Put(f.Weighed(ws[0].ID, "2026-11-12 08:17", 2000))
	dated := func(r load.Row) load.Row { r.Dated = true; return r }
	got, bad := loadRows(f, howOf(f),
		dated(row(2, "A-01", "2026-11-12 12:00", 2000, f)), // known
		dated(row(3, "A-01", "2026-11-12 12:00", 1999, f)), // another weight
		row(4, "A-01", "2026-11-12 12:00", 2000, f))        // another time
	if len(bad) > 0 || got != (load.Result{Rows: 3, Written: 2, Same: 1, Wheels: 1}) {
		t.Errorf("%+v %q", got, sentences(bad))
	}
	f.Clean()
}
