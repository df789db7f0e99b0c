package round

import (
	"errors"
	"math/rand"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

var today = day.Of(2026, time.November, 25)

var walked = []cave.Room{{Name: "fridge"}, {Name: "cellar"}, {Name: "attic"}}

// id is the identity of a wheel by its tag.
func id(tag string) uuid.UUID { return uuid.NewSHA1(uuid.Nil, []byte(tag)) }

// due is a task of one wheel, due today, of a quarter of a minute.
func due(place cave.Place, tag string, j wheel.Job, change ...func(*derive.Task)) derive.Task {
	lot, _, _ := strings.Cut(tag, "-")
	t := derive.Task{
		Task: schedule.Task{Job: j, Due: today, Until: day.None, Rounds: 1, Round: 1, RoundOn: day.None, Minutes: 0.25,
			Why: daily},
		Wheel: id(tag), Tag: tag, Lot: lot, Place: place,
	}
	for _, c := range change {
		c(&t)
	}
	return t
}

// list lays out tasks handed over one by one.
func list(t interface{ Fatal(...any) }, tasks []derive.Task, shelves map[cave.Place]int, o Options) List {
	l, err := Make(today, func(yield func(derive.Task) bool) error {
		for _, t := range tasks {
			if !yield(t) {
				break
			}
		}
		return nil
	}, walked, shelves, o)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// lines writes a list short: "cellar/A/1 turn a-01 a-02".
func lines(l List) []string {
	out := []string{}
	for _, n := range l.Lines {
		out = append(out, strings.Join(append([]string{string(n.Place), string(n.Job)}, n.Tags...), " "))
	}
	return out
}

func TestTheListGoesAsOneWalks(t *testing.T) {
	tasks := []derive.Task{
		due("", "z-01", wheel.Turn),
		due("cellar/A/10", "a-04", wheel.Turn),
		due("cellar/A/2", "a-03", wheel.Turn),
		due("cellar/A/2", "a-03", wheel.Weigh),
		due("cellar/A/2", "a-03", wheel.Coat),
		due("cellar/A/2", "a-03", wheel.Check),
		due("attic", "b-01", wheel.Turn),
		due("fridge/1", "c-01", wheel.Turn),
		due("shed", "d-01", wheel.Turn), // a room the book does not know
		due("cellar/B/1", "a-10", wheel.Turn),
		due("cellar/B/1", "a-9", wheel.Turn),
	}
	want := []string{
		"fridge/1 turn c-01",
		"cellar/A/2 check a-03", "cellar/A/2 weigh a-03", "cellar/A/2 turn a-03", "cellar/A/2 coat a-03",
		"cellar/A/10 turn a-04",
		"cellar/B/1 turn a-9 a-10",
		"attic turn b-01",
		"shed turn d-01",
		" turn z-01",
	}
	for seed := range int64(10) {
		ts := slices.Clone(tasks)
		rand.New(rand.NewSource(seed)).Shuffle(len(ts), func(i, j int) { ts[i], ts[j] = ts[j], ts[i] })
		if diff := cmp.Diff(want, lines(list(t, ts, nil, Options{}))); diff != "" {
			t.Fatal(diff)
		}
	}
}

func TestALineIsForWheelsThatShareEverything(t *testing.T) {
	tasks := []derive.Task{
		due("cellar/A/1", "a-01", wheel.Turn),
		due("cellar/A/1", "a-02", wheel.Turn),
		due("cellar/A/1", "b-01", wheel.Turn),
		due("cellar/A/1", "a-03", wheel.Turn, func(t *derive.Task) { t.Due = today - 2 }),
		due("cellar/A/1", "a-04", wheel.Turn, func(t *derive.Task) { t.Rounds = 2 }),
		due("cellar/A/1", "a-05", wheel.Turn, func(t *derive.Task) { t.Rounds, t.Round, t.RoundOn = 2, 2, today }),
		due("cellar/A/1", "a-06", wheel.Coat, func(t *derive.Task) { t.Coat = "wax" }),
		due("cellar/A/1", "a-07", wheel.Coat, func(t *derive.Task) { t.Coat = "cloth" }),
		due("cellar/A/1", "a-08", wheel.Turn, func(t *derive.Task) { t.Note = "gently" }),
	}
	want := []string{
		"cellar/A/1 turn a-03",
		"cellar/A/1 turn a-01 a-02 b-01", "cellar/A/1 turn a-04", "cellar/A/1 turn a-05", "cellar/A/1 turn a-08",
		"cellar/A/1 coat a-06", "cellar/A/1 coat a-07",
	}
	if diff := cmp.Diff(want, lines(list(t, tasks, nil, Options{}))); diff != "" {
		t.Error(diff)
	}
	apart := []string{
		"cellar/A/1 turn a-03",
		"cellar/A/1 turn a-01 a-02", "cellar/A/1 turn a-04", "cellar/A/1 turn a-05", "cellar/A/1 turn a-08",
		"cellar/A/1 turn b-01",
		"cellar/A/1 coat a-06", "cellar/A/1 coat a-07",
	}
	if diff := cmp.Diff(apart, lines(list(t, tasks, nil, Options{ByLot: true}))); diff != "" {
		t.Errorf("lots apart:\n%s", diff)
	}
}

func TestALineInFull(t *testing.T) {
	tasks := []derive.Task{
		due("cellar/A/1", "a-02", wheel.Turn, func(t *derive.Task) { t.Rounds, t.Due, t.Why = 2, today-1, twice(today-2) }),
		due("cellar/A/1", "a-01", wheel.Turn, func(t *derive.Task) { t.Rounds, t.Due, t.Why = 2, today-1, twice(today-3) }),
		due("cellar/A/1", "b-01", wheel.Wash, func(t *derive.Task) { t.Note = "weak brine" }),
	}
	for i, v := range []string{"edam", "edam", "tomme"} {
		tasks[i].Variety = v
	}
	got := list(t, tasks, map[cave.Place]int{"cellar/A/1": 2}, Options{})
	want := List{Date: today, Wheels: 3, Minutes: 1.25, Lines: []Line{
		{Place: "cellar/A/1", Job: wheel.Turn, Lot: "a", Tags: []string{"a-01", "a-02"},
			Wheels: []uuid.UUID{id("a-01"), id("a-02")}, Varieties: []string{"edam"}, WholeShelf: true,
			Due: today - 1, LateDays: 1, Round: 1, Rounds: 2, Left: 2, Minutes: 1, Why: reason.List{schedule.PerDay{Times: 2}}},
		{Place: "cellar/A/1", Job: wheel.Wash, Lot: "b", Tags: []string{"b-01"}, Wheels: []uuid.UUID{id("b-01")},
			Varieties: []string{"tomme"}, Due: today, Round: 1, Rounds: 1, Left: 1, Minutes: 0.25,
			Why: daily, Note: "weak brine"},
	}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	mixed := list(t, []derive.Task{due("cellar", "a-01", wheel.Turn), due("cellar", "b-01", wheel.Turn),
		due("cellar", "a-02", wheel.Turn)}, nil, Options{})
	if l := mixed.Lines[0]; l.Lot != "" || len(l.Tags) != 3 {
		t.Errorf("a line over two lots: %+v", l)
	}
}

func TestAWholeShelfIsAllOfItsWheels(t *testing.T) {
	a := []derive.Task{due("cellar/A/1", "a-01", wheel.Turn), due("cellar/A/1", "a-02", wheel.Turn)}
	for _, c := range []struct {
		name   string
		tasks  []derive.Task
		shelf  int
		byLot  bool
		expect bool
	}{
		{"two of two", a, 2, false, true},
		{"two of three", a, 3, false, false},
		{"one of one is a wheel, no shelf", a[:1], 1, false, false},
		{"nobody counted", a, 0, false, false},
		{"two lots, kept apart", []derive.Task{a[0], due("cellar/A/1", "b-01", wheel.Turn)}, 2, true, false},
		{"wheels that lie nowhere", []derive.Task{due("", "a-01", wheel.Turn), due("", "a-02", wheel.Turn)}, 2, false, false},
	} {
		l := list(t, c.tasks, map[cave.Place]int{"cellar/A/1": c.shelf, "": c.shelf}, Options{ByLot: c.byLot})
		if got := l.Lines[0].WholeShelf; got != c.expect {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

func TestWhatTheListLeavesOut(t *testing.T) {
	tasks := []derive.Task{
		due("cellar/A/1", "a-01", wheel.Turn),
		due("cellar/A/1", "a-01", wheel.Brush),
		due("cellar2", "b-01", wheel.Turn),
		due("cellar/A/1", "a-02", wheel.Turn, func(t *derive.Task) { t.Due = today + 1 }),
		due("cellar/A/1", "a-03", wheel.Turn, func(t *derive.Task) { t.Due, t.Until = today-9, today-1 }),
	}
	for _, c := range []struct {
		name string
		o    Options
		want []string
	}{
		{"what is not due yet, or not any more", Options{},
			[]string{"cellar/A/1 turn a-01", "cellar/A/1 brush a-01", "cellar2 turn b-01"}},
		{"other jobs", Options{Only: []wheel.Job{wheel.Brush}}, []string{"cellar/A/1 brush a-01"}},
		{"other rooms", Options{Place: "cellar"}, []string{"cellar/A/1 turn a-01", "cellar/A/1 brush a-01"}},
		{"everything", Options{Place: "attic"}, []string{}},
	} {
		l := list(t, tasks, nil, c.o)
		if diff := cmp.Diff(c.want, lines(l)); diff != "" {
			t.Errorf("%s:\n%s", c.name, diff)
		}
	}
	if l := list(t, nil, nil, Options{}); l.Wheels != 0 || l.Minutes != 0 || len(l.Lines) != 0 || l.Date != today {
		t.Errorf("an empty day: %+v", l)
	}
}

func TestWhatKeepsTheTasksFromBeingReadIsSaid(t *testing.T) {
	torn := errors.New("torn page")
	l, err := Make(today, func(yield func(derive.Task) bool) error {
		yield(due("cellar/A/1", "a-01", wheel.Turn))
		return torn
	}, walked, nil, Options{})
	if !errors.Is(err, torn) || len(l.Lines) != 0 {
		t.Errorf("%+v, %v", l, err)
	}
}

func TestEveryWheelsJobIsOnTheListOnceWhateverTheOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var tasks []derive.Task
		shelves := map[cave.Place]int{}
		want := map[string]int{}
		minutes := 0.0
		for range rapid.IntRange(0, 40).Draw(t, "wheels") {
			tag := rapid.StringMatching(`[ab]-[0-9]{1,2}`).Draw(t, "tag")
			j := rapid.SampledFrom(wheel.Jobs).Draw(t, "job")
			if want[tag+" "+string(j)]++; want[tag+" "+string(j)] > 1 {
				want[tag+" "+string(j)] = 1
				continue
			}
			place := cave.Place(
				rapid.SampledFrom([]string{"", "cellar/A/1", "cellar/A/10", "cellar/A/2", "attic", "shed/1"}).Draw(t, "place"))
			shelves[place]++
			tasks = append(tasks, due(place, tag, j, func(d *derive.Task) {
				d.Due = today - day.Date(rapid.IntRange(0, 2).Draw(t, "late"))
				d.Rounds = rapid.IntRange(1, 2).Draw(t, "rounds")
				minutes += d.Minutes * float64(d.Rounds)
			}))
		}
		o := Options{ByLot: rapid.Bool().Draw(t, "by lot")}
		got := list(t, tasks, shelves, o)
		seen := map[string]int{}
		wheels := map[uuid.UUID]bool{}
		for _, l := range got.Lines {
			for i, tag := range l.Tags {
				seen[tag+" "+string(l.Job)]++
				wheels[l.Wheels[i]] = true
				if l.Wheels[i] != id(tag) {
					t.Fatalf("%s has the identity of another", tag)
				}
			}
		}
		if diff := cmp.Diff(want, seen, cmpopts.EquateEmpty()); diff != "" {
			t.Fatal(diff)
		}
		if len(wheels) != got.Wheels || got.Minutes != minutes {
			t.Fatalf("%d wheels and %v min, want %d and %v", got.Wheels, got.Minutes, len(wheels), minutes)
		}
		rand.New(rand.NewSource(rapid.Int64().Draw(t, "order"))).Shuffle(len(tasks),
			func(i, j int) { tasks[i], tasks[j] = tasks[j], tasks[i] })
		if diff := cmp.Diff(lines(got), lines(list(t, tasks, shelves, o))); diff != "" {
			t.Fatalf("in another order:\n%s", diff)
		}
	})
}

var daily = reason.List{schedule.Every{Days: 1}, schedule.LastDone{On: today - 1}}

func twice(last day.Date) reason.List {
	return reason.List{schedule.PerDay{Times: 2}, schedule.LastDone{On: last}}
}
