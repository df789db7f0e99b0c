package store

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// TestAListForAPastDayIsWhatItWasThatDay keeps the list of each day as it was
// printed at its end, and asks for it again when weeks have passed.
func TestAListForAPastDayIsWhatItWasThatDay(t *testing.T) {
	f := newFarm(t)
	f.clock.t = at(t, "2026-11-01 08:00")
	var wheels []wheel.Wheel
	_, ws := f.lot("261101A", "2026-11-01", 4, "cellar")
	wheels = append(wheels, ws...)
	then := map[day.Date][]derive.Task{}
	r := rand.New(rand.NewPCG(1, 2))
	first, _ := day.ParseISO("2026-11-01")
	for d := first; d < first+24; d++ {
		f.clock.t = d.Clock(8, 0, dublin)
		if d == first+5 {
			_, ws := f.lot("261106A", d.String(), 3, "fridge")
			wheels = append(wheels, ws...)
		}
		var es []wheel.Entry
		for i, w := range wheels {
			x := d.Clock(8, i, dublin)
			stamp := x.Format("2006-01-02 15:04")
			if d > day.At(w.Since, dublin) && r.IntN(3) > 0 {
				es = append(es, f.did(w.ID, wheel.Turn, stamp))
			}
			if d > first+6 && r.IntN(3) == 0 {
				es = append(es, f.weighed(w.ID, stamp, 2000-10*float64(d-first)))
			}
			if d == first+12 && i == 1 {
				e := f.entry(w.ID, wheel.Moved, stamp)
				e.Place = "fridge/C/1"
				es = append(es, e)
			}
			if d == first+15 && i == 2 {
				e := f.entry(w.ID, wheel.CoatedOn, stamp)
				e.Coat = "wax"
				es = append(es, e)
			}
		}
		f.clock.t = d.Clock(20, 0, dublin)
		f.put(es...)
		then[d] = f.due(d.String())
	}
	f.clock.t = f.clock.t.AddDate(0, 2, 0)
	f.put(f.did(wheels[0].ID, wheel.Turn, f.clock.t.In(dublin).Format("2006-01-02 15:04")))
	f.clean()
	for d := first; d < first+24; d++ {
		got := f.due(d.String())
		if diff := cmp.Diff(then[d], got); diff != "" {
			t.Errorf("%s: %s", d, diff)
		}
	}
	if err := f.book.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	f.clean()
	for d := first; d < first+24; d++ {
		if diff := cmp.Diff(then[d], f.due(d.String())); diff != "" {
			t.Errorf("rebuilt, %s: %s", d, diff)
		}
	}
}

func TestTheListComesInWalkingOrder(t *testing.T) {
	f := newFarm(t)
	f.update(func(tx *WriteTx) error {
		r, err := tx.Room("fridge")
		if err != nil {
			return err
		}
		r.Order = -1 // the fridge is walked by first
		return tx.PutRoom(r)
	})
	_, ws := lotOf(t, "261120A", "2026-11-20", 4, "")
	m, _ := lotOf(t, "261120A", "2026-11-20", 0, "")
	for i, p := range []cave.Place{"cellar/A/10", "cellar/A/2", "fridge/A/1", ""} {
		ws[i].Make, ws[i].Place = m.ID, p
	}
	f.update(func(tx *WriteTx) error {
		if err := tx.PutMake(m); err != nil {
			return err
		}
		return tx.AddWheels(ws)
	})
	var got []string
	for _, d := range f.due("2026-11-25") {
		if d.Job == wheel.Turn {
			got = append(got, string(d.Place)+" "+d.Tag)
		}
	}
	want := []string{"fridge/A/1 261120A-03", "cellar/A/2 261120A-02", "cellar/A/10 261120A-01", " 261120A-04"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestAWheelOfAYearAgoBringsNoFloodOfLateTasks(t *testing.T) {
	f := newFarm(t)
	m, ws := lotOf(t, "251120A", "2025-11-20", 1, "cellar")
	ws[0].Since = at(t, "2026-11-25 08:00")
	f.update(func(tx *WriteTx) error {
		if err := tx.PutMake(m); err != nil {
			return err
		}
		return tx.AddWheels(ws)
	})
	for _, d := range f.due("2026-11-25") {
		if s, _ := d.On(d.Due); d.Due < 20782 || s.LateDays > 0 {
			t.Errorf("%s is due from %s", d.Job, d.Due)
		}
	}
	f.clean()
}

// TestAnyOrderOfEntriesGivesTheSameBook throws entries at a book in random
// order, in random portions and with repeats. What is derived must be what a
// rebuild derives, and what another order derives.
func TestAnyOrderOfEntriesGivesTheSameBook(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		f := newFarm(t)
		defer f.book.Close()
		m, ws := lotOf(t, "261115A", "2026-11-15", 5, "cellar")
		m2, ws2 := lotOf(t, "261116A", "2026-11-16", 3, "fridge")
		f.update(func(tx *WriteTx) error {
			for _, m := range []wheel.Make{m, m2} {
				if err := tx.PutMake(m); err != nil {
					return err
				}
			}
			return tx.AddWheels(append(slices.Clone(ws), ws2...))
		})
		empty := f.dump()
		ws = append(ws, ws2...)
		var es []wheel.Entry
		n := rapid.IntRange(1, 40).Draw(r, "entries")
		for i := range n {
			w := ws[rapid.IntRange(0, len(ws)-1).Draw(r, "wheel")]
			stamp := fmt.Sprintf("2026-11-%02d %02d:%02d",
				rapid.IntRange(16, 24).Draw(r, "day"), rapid.IntRange(6, 22).Draw(r, "hour"), i%60)
			e := f.entry(w.ID, wheel.Did, stamp)
			e.Written = e.Written.Add(time.Duration(i) * time.Second)
			switch rapid.IntRange(0, 8).Draw(r, "kind") {
			case 0, 1:
				e.Kind, e.Weight = wheel.Weighed, 2000
			case 2:
				e.Kind, e.Found = wheel.Checked, wheel.HandCheck{DryToTouch: wheel.Yes}
			case 3:
				e.Kind, e.Place = wheel.Moved, cave.Place(fmt.Sprintf("fridge/B/%d", i%3))
			case 4:
				e.Kind, e.Coat = wheel.CoatedOn, "wax"
			case 5:
				e.Kind, e.Tag = wheel.Tagged, fmt.Sprintf("renamed-%d", i)
			case 6:
				e.Kind, e.Plan = wheel.Planned, "tomme"
			default:
				e.Job = wheel.Turn
			}
			es = append(es, e)
		}
		for range rapid.IntRange(0, 4).Draw(r, "strikes") {
			target := es[rapid.IntRange(0, n-1).Draw(r, "target")]
			if slices.ContainsFunc(es, func(e wheel.Entry) bool { return e.Target == target.ID }) {
				continue
			}
			e := f.entry(target.Subject, wheel.Struck, "2026-11-25 08:00")
			e.At = e.At.Add(time.Duration(len(es)) * time.Millisecond)
			e.Target = target.ID
			es = append(es, e)
		}
		play := func(order []wheel.Entry) string {
			var late []wheel.Entry
			for len(order) > 0 {
				k := min(len(order), rapid.IntRange(1, 6).Draw(r, "portion"))
				var now []wheel.Entry
				for _, e := range order[:k] {
					if e.Kind == wheel.Struck {
						late = append(late, e) // what it strikes may not be there yet
						continue
					}
					now = append(now, e)
				}
				f.put(now...)
				f.put(now[:len(now)/2]...)
				order = order[k:]
			}
			f.put(late...)
			return f.dump()
		}
		one := play(rapid.Permutation(es).Draw(r, "order"))
		if one == empty {
			r.Fatal("nothing was written")
		}
		wantClean(t, f.book)
		if err := f.book.Rebuild(t.Context()); err != nil {
			r.Fatal(err)
		}
		if f.dump() != one {
			r.Fatal("a rebuild gives another book")
		}
		f.put(rapid.Permutation(es).Draw(r, "again")...)
		if f.dump() != one {
			r.Fatal("sent again in another order it changed the book")
		}
	})
}

func TestWhatIsDueAtAPlaceIsThatPartOfTheDay(t *testing.T) {
	f := newFarm(t)
	_, ws := lotOf(t, "261110A", "2026-11-10", 12, "")
	m, _ := lotOf(t, "261110A", "2026-11-10", 0, "")
	for i := range ws {
		ws[i].Make, ws[i].Place = m.ID, []cave.Place{"cellar", "cellar/A", "cellar/A/1", "cellar/AA/1", "fridge/A/1", ""}[i%6]
	}
	f.update(func(tx *WriteTx) error {
		if err := tx.PutMake(m); err != nil {
			return err
		}
		return tx.AddWheels(ws)
	})
	f.put(f.did(ws[0].ID, wheel.Turn, "2026-11-24 08:00"), f.did(ws[2].ID, wheel.Turn, "2026-11-21 08:00"))
	for _, date := range []string{"2026-11-25", "2026-11-23"} { // the second from before the last entry
		on, _ := day.ParseISO(date)
		some := 0
		for _, at := range []cave.Place{"cellar", "cellar/A", "cellar/A/1", "fridge", "attic", ""} {
			var got, want []derive.Task
			err := f.book.View(func(tx *ReadTx) error {
				all := func(task derive.Task) bool {
					if task.Place == at || task.Place.Within(at) {
						want = append(want, task)
					}
					return true
				}
				if err := tx.EachDue(on, all); err != nil {
					return err
				}
				return tx.EachDueAt(on, at, func(task derive.Task) bool { got = append(got, task); return true })
			})
			if err != nil {
				t.Fatal(err)
			}
			byTag := func(a, b derive.Task) int {
				return strings.Compare(fmt.Sprint(a.Tag, a.Job, a.Due), fmt.Sprint(b.Tag, b.Job, b.Due))
			}
			slices.SortFunc(got, byTag)
			slices.SortFunc(want, byTag)
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("%s at %s: %s", date, at, diff)
			}
			some += len(got)
		}
		if some == 0 {
			t.Error("nothing was due on " + date)
		}
	}
}
