package drying

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/apptest"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/intake"
)

// weighable is a book with one lot of three wheels of 2 kg, made on 23 November 2026.
func weighable(t *testing.T) *app.App {
	t.Helper()
	a := apptest.Book(t)
	lot := makes.New{Variety: "cheddar-waxed", Lot: "L1", Batch: makes.Batch{Weights: []quantity.Grams{2000, 2010, 2020}}}
	if _, err := makes.Create(t.Context(), a, app.Caller{At: "2026-11-23T17:00"}, lot); err != nil {
		t.Fatal(err)
	}
	return a
}

func row(tag string, g quantity.Grams) intake.Weight { return intake.Weight{Tag: tag, Weight: g} }

// entries counts what is in the book.
func entries(t *testing.T, a *app.App) int {
	t.Helper()
	n, err := app.Ask(t.Context(), a, app.Caller{}, func(s *app.Session) (int, error) {
		c, err := s.Tx.Counts()
		return c.Entries, err
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestSeveralWeightsAreRecordedWithOneNoteOrNoneIs(t *testing.T) {
	a := weighable(t)
	before := entries(t, a)
	good := Weights{Rows: []intake.Weight{row("L1-01", 1985), row("L1-02", 1995), row("l1-02", 1995)}, Note: "new scale"}

	wrong := good
	wrong.Rows = append([]intake.Weight{row("L1-03", 2320)}, good.Rows...)
	_, err := Weigh(t.Context(), a, app.Caller{}, wrong)
	var r *app.Refusal
	if !errors.As(err, &r) || r.Code() != "weight-looks-wrong" || !r.Sure || r.At.Of != "L1-03" {
		t.Errorf("a weight that looks wrong: %+v", err)
	}
	if n := entries(t, a); n != before {
		t.Errorf("%d entries, want the %d before", n, before)
	}

	did, err := Weigh(t.Context(), a, app.Caller{}, good)
	if err != nil {
		t.Fatal(err)
	}
	got := did.Result
	if got.Recorded != 2 || got.Same != 1 || got.Wheels != 2 || len(got.Results) != 3 || !got.Results[2].NoChange {
		t.Errorf("%+v", got)
	}
	if d := cmp.Diff([][]int{{0}, {1, 2}}, got.ByWheel); d != "" {
		t.Error(d)
	}
	if o := got.Results[0]; o.Wheel != "L1-01" || *o.Loss != 0.75 || !o.Newest || o.Dry == nil ||
		o.Dry.Verdict != "not-yet" {
		t.Errorf("%+v", o)
	}
	if _, err := app.Ask(t.Context(), a, app.Caller{}, func(s *app.Session) (int, error) {
		w, err := s.Tx.WheelByTag("L1-01")
		if err != nil {
			return 0, err
		}
		es, err := s.Tx.History(w.ID)
		if last := es[len(es)-1]; last.Note != "new scale" {
			t.Errorf("its note: %q", last.Note)
		}
		return 0, err
	}); err != nil {
		t.Error(err)
	}

	wrong.Sure = true
	if did, err = Weigh(t.Context(), a, app.Caller{}, wrong); err != nil || did.Result.Recorded != 1 ||
		did.Result.Same != 3 {
		t.Errorf("sure: %+v, %v", did.Result, err)
	}
}

func TestATableGivesAllThatIsWrongWithItsRows(t *testing.T) {
	a := weighable(t)
	rows, err := intake.OpenWeights(strings.NewReader(
		"tag,weight,date,id\nL1-01,1985,2026-11-24\nL1-01,heavy,2026-11-24\nL1-02,2320,2026-11-24\nL1-03,2005,soon\n"+
			"L2-01,1990,2026-11-24\nL1-03,2005,2026-11-01\nL1-03,2005,2026-11-24,x\n"), intake.How{})
	if err != nil {
		t.Fatal(err)
	}
	before := entries(t, a)
	_, err = WeighTable(t.Context(), a, app.Caller{}, Weights{}, Table{Name: "w.csv", Rows: rows})
	var bad intake.Problems
	if !errors.As(err, &bad) {
		t.Fatal(err)
	}
	type problem struct {
		Line  int
		Field string
	}
	var got []problem
	for _, p := range bad {
		got = append(got, problem{p.Line, p.Field})
	}
	want := []problem{{3, "weight"}, {4, "weight"}, {5, "date"}, {6, "tag"}, {7, "date"}, {8, "id"}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if n := entries(t, a); n != before {
		t.Errorf("%d entries, want the %d before", n, before)
	}
}

// weighsAll is a book with four lots of sixty wheels more, and what records a table of
// their weights.
func weighsAll(t *testing.T, more ...string) (*app.App,
	func(context.Context, func(Stage, int64, int64)) (app.Did[Weighed], error)) {
	t.Helper()
	a := weighable(t)
	lines := []string{"tag,weight g,date"}
	for _, lot := range []string{"A", "B", "C", "D"} {
		q := makes.New{Variety: "cheddar-waxed", Lot: lot}
		for i := range 60 {
			q.Weights = append(q.Weights, quantity.Grams(2000+i))
			lines = append(lines, fmt.Sprintf("%s-%02d,%d,2026-11-24", lot, i+1, 1985+i))
		}
		if _, err := makes.Create(t.Context(), a, app.Caller{At: "2026-11-23T17:00"}, q); err != nil {
			t.Fatal(err)
		}
	}
	text := strings.Join(append(lines, more...), "\n")
	return a, func(ctx context.Context, tell func(Stage, int64, int64)) (app.Did[Weighed], error) {
		rows, err := intake.OpenWeights(strings.NewReader(text), intake.How{})
		if err != nil {
			t.Fatal(err)
		}
		return WeighTable(ctx, a, app.Caller{}, Weights{Brief: true}, Table{Name: "w.csv", Rows: rows, Tell: tell})
	}
}

func TestALongTableIsRecordedInPartsAndOneCommand(t *testing.T) {
	app.RowsAtOnce = 50
	t.Cleanup(func() { app.RowsAtOnce = 100 })
	a, weigh := weighsAll(t)
	before := entries(t, a)
	ctx, stop := context.WithCancel(t.Context())
	_, err := weigh(ctx, func(s Stage, done, _ int64) {
		if s == Recording && done > 100 {
			stop()
		}
	})
	var u Unfinished
	if !errors.As(err, &u) || u.Loaded.Recorded != 120 || entries(t, a)-before != 120 {
		t.Fatalf("stopped: %+v, %v", u.Loaded, err)
	}
	for again := range 2 {
		d, err := weigh(t.Context(), nil)
		if err != nil || d.Result.Recorded != 120*(1-again) || d.Result.Same != 120*(1+again) {
			t.Errorf("run %d: %+v, %v", again, d.Result, err)
		}
	}
	if n := entries(t, a) - before; n != 240 {
		t.Errorf("%d weights are in the book", n)
	}
}

func TestABadRowOfALongTableRecordsNothing(t *testing.T) {
	app.RowsAtOnce = 50
	t.Cleanup(func() { app.RowsAtOnce = 100 })
	a, weigh := weighsAll(t, "L1-01,2600,2026-11-24", "E-01,1900,2026-11-24")
	before := entries(t, a)
	_, err := weigh(t.Context(), nil)
	var bad intake.Problems
	if !errors.As(err, &bad) || len(bad) != 2 || bad[0].Line != 242 || bad[1].Line != 243 {
		t.Errorf("%v", err)
	}
	if n := entries(t, a); n != before {
		t.Errorf("%d entries came", n-before)
	}
}
