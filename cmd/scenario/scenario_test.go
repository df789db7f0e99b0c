package scenario

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

var dublin = func() *time.Location {
	l, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		panic(err)
	}
	return l
}()

// days are todays to invent the creamery on: an ordinary one, the mornings
// after the clocks changed, a leap day, the turn of a year.
var days = []day.Date{day.Of(2026, 11, 25), day.Of(2026, 3, 30), day.Of(2026, 10, 26), day.Of(2028, 2, 29),
	day.Of(2027, 1, 1)}

// todays are all of them, or with -short the first two.
func todays() []day.Date {
	if testing.Short() {
		return days[:2]
	}
	return days
}

func small(t testing.TB, today day.Date, seed uint64) Book {
	t.Helper()
	b, err := Small(today, dublin, seed)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// histories are the entries of each wheel.
func histories(b Book) map[uuid.UUID][]wheel.Entry {
	out := map[uuid.UUID][]wheel.Entry{}
	for _, e := range b.Entries {
		out[e.Subject] = append(out[e.Subject], e)
	}
	return out
}

// cases settles every wheel of the book by itself, without its sisters.
func cases(t testing.TB, b Book) []verdict.Case {
	t.Helper()
	makes := map[uuid.UUID]wheel.Make{}
	for _, m := range b.Makes {
		makes[m.ID] = m
	}
	es := histories(b)
	var out []verdict.Case
	for _, w := range b.Wheels {
		m := makes[w.Make]
		v, ok := variety.Find(m.Variety)
		if !ok {
			t.Fatalf("%s is of no variety of the library: %s", w.Tag, m.Variety)
		}
		p, ok := schedule.Find(w.Plan)
		if !ok {
			t.Fatalf("%s is on no plan of the library: %s", w.Tag, w.Plan)
		}
		h := hand{loc: dublin, plan: p, variety: v, make: m, wheel: w, entries: es[w.ID], rooms: map[string]cave.Room{}}
		for _, r := range b.Rooms {
			h.rooms[r.Name] = r
		}
		out = append(out, h.dryCase(h.life()))
	}
	return out
}

func TestTheCreameryHasWhatADemoIsToShow(t *testing.T) {
	for _, today := range todays() {
		b := small(t, today, 1)
		if len(b.Rooms) != 3 ||
			!slices.ContainsFunc(b.Rooms, func(r cave.Room) bool { return r.Name == "fridge" && r.Temp < 8 }) {
			t.Errorf("%s: rooms %v, want three, one a fridge", today, b.Rooms)
		}
		if n := len(b.Wheels); n < 55 || n > 70 {
			t.Errorf("%s: %d wheels, want about sixty", today, n)
		}
		kinds, ages := map[string]bool{}, map[int]bool{}
		for _, m := range b.Makes {
			kinds[m.Variety] = true
			ages[int(today-m.Date)] = true
		}
		if len(kinds) < 8 {
			t.Errorf("%s: %d varieties, want eight or more: %v", today, len(kinds), kinds)
		}
		if len(ages) < 8 {
			t.Errorf("%s: the makes have only %d ages", today, len(ages))
		}
		struck, weighed := 0, 0
		for _, e := range b.Entries {
			switch e.Kind {
			case wheel.Struck:
				struck++
			case wheel.Weighed:
				weighed++
			}
			if e.At.After(today.Start(dublin)) || e.Written.Before(e.At) {
				t.Errorf("%s: an entry of %s, written %s: nothing has happened today yet", today, e.At, e.Written)
			}
		}
		if struck != 1 {
			t.Errorf("%s: %d struck entries, want one mis-keyed weight", today, struck)
		}
		if weighed < 150 {
			t.Errorf("%s: %d weights", today, weighed)
		}
		answers := map[verdict.Answer]int{}
		fast := 0
		for _, c := range cases(t, b) {
			answers[c.Dry(today.Clock(7, 30, dublin)).Answer]++
			ss := c.Forecast().Standings()
			if n := len(ss); n > 3 && len(c.Life.Coats) == 0 && ss[n-1].Verdict == drying.Fast &&
				c.Life.Make.Variety == "cheddar-waxed" {
				fast++
			}
		}
		if fast == 0 {
			t.Errorf("%s: no wheel is seen to dry too fast", today)
		}
		for _, a := range []verdict.Answer{verdict.NotYet, verdict.CheckByHand, verdict.DryEnough, verdict.Coated} {
			if answers[a] == 0 {
				t.Errorf("%s: no wheel is %s: %v", today, a, answers)
			}
		}
	}
}

func TestOneCoatLeaksWhereItsSistersAreSound(t *testing.T) {
	for _, today := range todays() {
		b := small(t, today, 1)
		type lost struct {
			tag   string
			since float64 // of the green weight, since the coat
		}
		var of []lost
		var leaking []string
		for _, c := range cases(t, b) {
			if c.Life.Make.Variety != "cheddar-waxed" || len(c.Life.Coats) == 0 {
				continue
			}
			coated := c.Life.Coats[0].At
			last, ok := c.Life.Chain.Last()
			if !ok || !last.At.After(coated) {
				t.Fatalf("%s: %s was not weighed since its coat", today, c.Life.Tag)
			}
			before := 0.0
			for _, p := range c.Life.Chain.Points {
				if !p.At.After(coated) {
					before = float64(p.Loss())
				}
			}
			if why, leaks := c.Forecast().Leaking(); leaks != (why != drying.Leaks{}) {
				t.Errorf("%s: %s leaks: %v, because %+v", today, c.Life.Tag, leaks, why)
			} else if leaks {
				leaking = append(leaking, c.Life.Tag)
			}
			of = append(of, lost{c.Life.Tag, float64(last.Loss()) - before})
		}
		slices.SortFunc(of, func(a, b lost) int {
			switch {
			case a.since > b.since:
				return -1
			case a.since < b.since:
				return 1
			}
			return 0
		})
		if !slices.Equal(leaking, []string{of[0].tag}) {
			t.Errorf("%s: seen to leak %v, want the one that loses most, %s", today, leaking, of[0].tag)
		}
		if len(of) < 4 || of[0].since < 0.03 || of[1].since > 0.015 {
			t.Errorf("%s: losses since the wax, %v; want one over 3 %% and its sisters under 1.5 %%", today, of)
		}
	}
}

func TestTheSameDayAndSeedGiveTheSameCreamery(t *testing.T) {
	for _, today := range days[:2] {
		if d := cmp.Diff(small(t, today, 1), small(t, today, 1)); d != "" {
			t.Errorf("%s: two of seed 1 differ:\n%.2000s", today, d)
		}
	}
	if cmp.Equal(small(t, days[0], 1), small(t, days[0], 2)) {
		t.Error("seeds 1 and 2 give the same creamery")
	}
	if cmp.Equal(small(t, days[0], 1), small(t, days[0]+1, 1)) {
		t.Error("two days give the same creamery")
	}
}

func TestEveryIdentityIsItsOwn(t *testing.T) {
	b := small(t, days[0], 1)
	seen := map[uuid.UUID]string{}
	note := func(id uuid.UUID, what string) {
		if was, ok := seen[id]; ok {
			t.Errorf("%s and %s are both %s", what, was, id)
		}
		if id.Version() != 7 || id.Variant() != uuid.RFC4122 {
			t.Errorf("%s has an identity of version %d", what, id.Version())
		}
		seen[id] = what
	}
	for _, r := range b.Rooms {
		note(r.ID, "room "+r.Name)
	}
	for _, m := range b.Makes {
		note(m.ID, "lot "+m.Lot)
	}
	tags := map[string]bool{}
	for _, w := range b.Wheels {
		note(w.ID, "wheel "+w.Tag)
		if tags[w.Tag] {
			t.Errorf("two wheels are tagged %s", w.Tag)
		}
		tags[w.Tag] = true
	}
	for i, e := range b.Entries {
		note(e.ID, fmt.Sprintf("entry %d", i))
	}
}

// large gathers a warehouse.
func large(t testing.TB, today day.Date, seed uint64, n int) (all Book, parts int) {
	t.Helper()
	err := Large(today, dublin, today.Clock(7, 30, dublin), seed, n, func(b Book) error {
		parts++
		all.Rooms = append(all.Rooms, b.Rooms...)
		all.Makes = append(all.Makes, b.Makes...)
		all.Wheels = append(all.Wheels, b.Wheels...)
		all.Entries = append(all.Entries, b.Entries...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all, parts
}

func TestAWarehouseHasTheWheelsAskedForAndIsTheSameTwice(t *testing.T) {
	for _, n := range []int{1, 39, 40, 41, 2000} {
		b, _ := large(t, days[0], 1, n)
		if len(b.Wheels) != n {
			t.Errorf("%d wheels asked for, %d came", n, len(b.Wheels))
		}
		again, _ := large(t, days[0], 1, n)
		if d := cmp.Diff(b, again); d != "" {
			t.Errorf("%d wheels of the same seed differ:\n%.1000s", n, d)
		}
		shelf := map[string]int{}
		for _, w := range b.Wheels {
			shelf[string(w.Place)]++
		}
		for p, k := range shelf {
			if k > perShelf {
				t.Errorf("%d wheels on %s, which has room for %d", k, p, perShelf)
			}
		}
		for _, e := range b.Entries {
			if e.At.After(days[0].Clock(7, 30, dublin)) {
				t.Errorf("an entry of %s, which is to come", e.At)
			}
		}
	}
	if _, parts := large(t, days[0], 1, 40*(lotsAtOnce+1)); parts != 3 {
		t.Errorf("%d lots came in %d parts, want the rooms and two", lotsAtOnce+1, parts)
	}
}

func TestAWarehouseThatCannotBeWrittenSaysSo(t *testing.T) {
	broken := fmt.Errorf("the disk is full")
	err := Large(days[0], dublin, days[0].Clock(7, 30, dublin), 1, 100, func(b Book) error {
		if len(b.Wheels) > 0 {
			return broken
		}
		return nil
	})
	if err != broken {
		t.Errorf("error %v, want %v", err, broken)
	}
}
