package care

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/apptest"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/intake"
)

// emptyCave is a book with a room and no make on 25 November 2026.
func emptyCave(t *testing.T) *app.App {
	t.Helper()
	a := apptest.Book(t)
	temp, rh := quantity.Celsius(12), quantity.Fraction(0.85)
	if _, err := rooms.Put(t.Context(), a, app.Caller{}, rooms.Change{Name: "cellar", Temp: &temp, RH: &rh}); err != nil {
		t.Fatal(err)
	}
	return a
}

// table has lots of four days without a code, of as many wheels each, with both weights.
func table(t *testing.T, wheels int, more ...string) Wheels {
	t.Helper()
	lines := []string{"tag,variety,made,place,green weight g,weight g,date weighed"}
	for lot := range 4 {
		for w := range wheels {
			lines = append(lines, fmt.Sprintf("W%d-%02d,cheddar-waxed,2026-11-%02d,cellar/A/%d,%d,%d,2026-11-24",
				lot, w+1, 14+lot, w%9+1, 2000+w, 1950+w))
		}
	}
	in, bad, err := intake.Wheels(strings.NewReader(strings.Join(append(lines, more...), "\n")), intake.How{})
	if err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	return Wheels{Table: in}
}

// held is what the book has of a table, without what differs from book to book.
func held(t *testing.T, a *app.App) (out []string) {
	t.Helper()
	_, err := app.Ask(t.Context(), a, app.Caller{}, func(s *app.Session) (int, error) {
		for st, err := range s.Tx.States() {
			if err != nil {
				return 0, err
			}
			m, err := s.Tx.Make(st.Make)
			if err != nil {
				return 0, err
			}
			es, err := s.Tx.History(st.Wheel)
			if err != nil {
				return 0, err
			}
			line := fmt.Sprintf("%s %s %s", st.Tag, m.Lot, st.Place)
			for _, e := range es {
				line += fmt.Sprintf(" %v@%s", e.Weight, e.At.Format(time.DateOnly))
			}
			out = append(out, line)
		}
		return 0, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// inParts has tables recorded so many rows at a time.
func inParts(t *testing.T, rows int) {
	was, wheels := app.RowsAtOnce, app.AtOnce
	app.RowsAtOnce, app.AtOnce = rows, rows
	t.Cleanup(func() { app.RowsAtOnce, app.AtOnce = was, wheels })
}

func TestATableInPartsComesToWhatItComesToAtOnce(t *testing.T) {
	whole := emptyCave(t)
	did, err := ImportWheels(t.Context(), whole, app.Caller{}, table(t, 7))
	if err != nil {
		t.Fatal(err)
	}
	want := held(t, whole)
	for _, rows := range []int{1, 3, 7, 20} {
		inParts(t, rows)
		a := emptyCave(t)
		parts, err := ImportWheels(t.Context(), a, app.Caller{}, table(t, 7))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(did.Result, parts.Result); d != "" {
			t.Errorf("%d rows at once: (-whole +parts)\n%s", rows, d)
		}
		if d := cmp.Diff(want, held(t, a), cmp.Transformer("sorted", sorted)); d != "" {
			t.Errorf("%d rows at once: (-whole +parts)\n%s", rows, d)
		}
	}
}

func TestAnImportThatStoppedHalfWayIsFinishedByTheNext(t *testing.T) {
	whole := emptyCave(t)
	if _, err := ImportWheels(t.Context(), whole, app.Caller{}, table(t, 7)); err != nil {
		t.Fatal(err)
	}
	want := held(t, whole)
	inParts(t, 3)
	for after := range int64(9) {
		a := emptyCave(t)
		q := table(t, 7)
		ctx, stop := context.WithCancel(t.Context())
		q.Tell = func(s drying.Stage, done, of int64) {
			if s == drying.Recording && done >= 3*after {
				stop()
			}
		}
		_, err := ImportWheels(ctx, a, app.Caller{}, q)
		var u Unfinished
		if after > 0 && (!errors.As(err, &u) || u.Taken.Wheels == 0 || u.Taken.Weights != 2*u.Taken.Wheels) {
			t.Fatalf("stopped after %d parts: %+v, %v", after, u.Taken, err)
		}
		if n := len(held(t, a)); n != u.Taken.Wheels {
			t.Errorf("%d wheels are in the book, and %d were told of", n, u.Taken.Wheels)
		}
		stop()
		q.Tell = nil
		did, err := ImportWheels(t.Context(), a, app.Caller{}, q)
		if err != nil || did.Result.Known != u.Taken.Wheels || did.Result.Same != u.Taken.Weights {
			t.Fatalf("again: %+v, %v", did.Result, err)
		}
		if d := cmp.Diff(want, held(t, a), cmp.Transformer("sorted", sorted)); d != "" {
			t.Errorf("stopped after %d parts: (-whole +in two)\n%s", after, d)
		}
	}
}

func TestABadRowAtTheEndOfALongTableRecordsNothing(t *testing.T) {
	inParts(t, 3)
	for _, row := range []string{
		"W9-01,cheddar-waxed,2026-11-16,attic/A/1,2000,1950,2026-11-24",
		"W9-01,cheddar-waxed,2026-11-20,cellar/A/1,2000,950,2026-11-24",
		"W9-01,cheddar-waxed,2026-11-16,cellar/A/1,2000,1950,2027-11-24",
		"w0-01,cheddar-waxed,2026-11-16,cellar/A/1,2000,1950,2026-11-24",
	} {
		a := emptyCave(t)
		_, err := ImportWheels(t.Context(), a, app.Caller{}, table(t, 7, row))
		var bad intake.Problems
		if !errors.As(err, &bad) || len(bad) != 1 || bad[0].Line != 30 {
			t.Errorf("%s: %v", row, err)
		}
		if got := held(t, a); len(got) > 0 {
			t.Errorf("%s: %d wheels were recorded", row, len(got))
		}
	}
}

func sorted(s []string) []string { return slices.Sorted(slices.Values(s)) }
