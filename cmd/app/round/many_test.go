package round

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/apptest"
	"rindkeep/cmd/app/makes"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// threeLots is a book of three lots of five wheels, made on 23 November 2026.
func threeLots(t *testing.T) *app.App {
	t.Helper()
	a := apptest.Book(t)
	for _, lot := range []string{"L1", "L2", "L3"} {
		q := makes.New{Variety: "cheddar-waxed", Lot: lot,
			Batch: makes.Batch{Weights: []quantity.Grams{2000, 2010, 2020, 2030, 2040}}}
		if _, err := makes.Create(t.Context(), a, app.Caller{At: "2026-11-23T17:00"}, q); err != nil {
			t.Fatal(err)
		}
	}
	return a
}

// turns is how often each wheel was turned, and by how many commands' entries.
func turns(t *testing.T, a *app.App) (out []string, commands int) {
	t.Helper()
	batches := map[uuid.UUID]bool{}
	_, err := app.Ask(t.Context(), a, app.Caller{}, func(s *app.Session) (int, error) {
		for st, err := range s.Tx.States() {
			if err != nil {
				return 0, err
			}
			es, err := s.Tx.History(st.Wheel)
			if err != nil {
				return 0, err
			}
			n := 0
			for _, e := range wheel.Live(es) {
				if e.Kind == wheel.Did {
					id := e.ID
					copy(id[12:], make([]byte, 4))
					n, batches[id] = n+1, true
				}
			}
			out = append(out, fmt.Sprint(st.Tag, " ", n))
		}
		return 0, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return slices.Sorted(slices.Values(out)), len(batches)
}

func inParts(t *testing.T, wheels int) {
	was := app.AtOnce
	app.AtOnce = wheels
	t.Cleanup(func() { app.AtOnce = was })
}

var turnAll = Job{Job: wheel.Turn, What: []string{"all"}}

func TestAJobInPartsComesToWhatItComesToAtOnce(t *testing.T) {
	whole := threeLots(t)
	want, err := Did(t.Context(), whole, app.Caller{}, turnAll)
	if err != nil {
		t.Fatal(err)
	}
	for _, wheels := range []int{1, 4, 5, 7} {
		inParts(t, wheels)
		a := threeLots(t)
		got, err := Did(t.Context(), a, app.Caller{}, turnAll)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, got, cmp.Transformer("sorted", func(s []string) []string {
			return slices.Sorted(slices.Values(s))
		})); d != "" {
			t.Errorf("%d at once: (-whole +parts)\n%s", wheels, d)
		}
		told, commands := turns(t, a)
		all, _ := turns(t, whole)
		if d := cmp.Diff(all, told); d != "" || commands != 1 {
			t.Errorf("%d at once, %d commands: (-whole +parts)\n%s", wheels, commands, d)
		}
	}
}

func TestAJobThatStoppedHalfWayGoesOnUnderItsID(t *testing.T) {
	inParts(t, 5)
	a := threeLots(t)
	ctx, stop := context.WithCancel(t.Context())
	a.Pace = func(recording bool, done, _ int) {
		if recording && done == 10 {
			stop()
		}
	}
	_, err := Did(ctx, a, app.Caller{}, turnAll)
	var x app.Stopped
	if !errors.As(err, &x) || x.Done != 10 || x.Of != 15 {
		t.Fatalf("stopped: %+v, %v", x, err)
	}
	a.Pace = nil
	left := func() (out []register.Unfinished) {
		_, err := app.Ask(t.Context(), a, app.Caller{}, func(s *app.Session) (_ int, err error) {
			out, err = s.Tx.Unfinished()
			return 0, err
		})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	if u := left(); len(u) != 1 || u[0].Left != 5 || u[0].Batch.String() != x.ID {
		t.Errorf("the book notes as stopped %+v", u)
	}
	for again := range 2 {
		d, err := Did(t.Context(), a, app.Caller{ID: x.ID}, turnAll)
		if err != nil {
			t.Fatal(err)
		}
		if again == 0 && len(d.Result.Wheels) != 5 || again == 1 && (d.Known == nil || d.Known.Entries != 15) {
			t.Errorf("run %d: %+v", again, d)
		}
		told, commands := turns(t, a)
		for _, w := range told {
			if w[len(w)-2:] != " 1" || commands != 1 {
				t.Errorf("run %d: turned %s times, %d commands", again, w, commands)
			}
		}
		if u := left(); len(u) > 0 {
			t.Errorf("run %d: the book notes as stopped %+v", again, u)
		}
	}
}

func TestAJobOnManyWheelsThatOneCannotHaveIsRecordedForNone(t *testing.T) {
	inParts(t, 5)
	a := threeLots(t)
	_, err := Did(t.Context(), a, app.Caller{At: "2026-11-22T08:00"}, turnAll)
	if err == nil {
		t.Fatal("recorded before it was made")
	}
	q := turnAll
	q.What = []string{"all", "L9-01"}
	if _, err := Did(t.Context(), a, app.Caller{}, q); !app.IsNotFound(err) {
		t.Errorf("a wheel that isn't there: %v", err)
	}
	if _, commands := turns(t, a); commands > 0 {
		t.Error("some of it was recorded")
	}
}
