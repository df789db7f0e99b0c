package store

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// near says whether what is read from a track is the forecast's own figure, but for less
// than is printed of it and for a little of what isn't known of it.
func near(got, want quantity.Estimate, by float64) bool {
	spread := 0.03*(want.High-want.Low) + by
	off := func(x, y, by float64) bool { return !(math.Abs(x-y) <= by) && !(math.IsNaN(x) && math.IsNaN(y)) }
	return !off(got.Best, want.Best, by+0.002*math.Abs(want.Best)) && !off(got.Low, want.Low, spread) &&
		!off(got.High, want.High, spread)
}

// anyActs records up to 14 acts and readings of rooms, and cancels some acts. when stamps the
// nth, and own makes one of the kind that a test adds.
func (f *farm) anyActs(r *rapid.T, ws []wheel.Wheel, when func(n int) string, own func(e *wheel.Entry)) {
	last := map[int]float64{}
	var put []wheel.Entry
	for n := range rapid.IntRange(1, 14).Draw(r, "acts") {
		k := rapid.IntRange(0, len(ws)-1).Draw(r, "wheel")
		e := f.entry(ws[k].ID, wheel.Did, when(n))
		switch rapid.IntRange(0, 9).Draw(r, "kind") {
		case 0, 1, 2, 3:
			if last[k] == 0 {
				last[k] = 2000
			}
			last[k] *= rapid.Float64Range(0.97, 1.001).Draw(r, "left")
			e.Kind, e.Weight = wheel.Weighed, quantity.Grams(math.Round(last[k]))
		case 4:
			own(&e)
		case 5:
			e.Kind, e.Place = wheel.Moved, cave.Place(fmt.Sprintf("fridge/B/%d", n%3))
		case 6, 7:
			f.update(func(tx *WriteTx) error {
				_, err := tx.PutAir(rapid.SampledFrom([]string{"cellar", "fridge"}).Draw(r, "room"), []cave.Reading{
					{At: e.At, Temp: 12, RH: quantity.Fraction(rapid.Float64Range(0.6, 0.97).Draw(r, "rh"))},
				})
				return err
			})
			continue
		case 8:
			if len(put) == 0 {
				continue
			}
			o := put[len(put)-1]
			e.Kind, e.Subject, e.Target, e.At = wheel.Struck, o.Subject, o.ID, at(f.t, "2026-11-25 08:00")
			e.Written, put = e.At, put[:len(put)-1]
		default:
			e.Job = wheel.Turn
		}
		f.put(e)
		if e.Kind != wheel.Struck {
			put = append(put, e)
		}
	}
}

// TestKeptOutlooksAnswerAsTheHistoryDoes throws acts and readings at a book. Whatever is
// kept of a wheel that waits must answer, now and later, as its whole history does.
func TestKeptOutlooksAnswerAsTheHistoryDoes(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		f := newFarm(t)
		defer f.book.Close()
		_, ws := f.lot("261115A", "2026-11-15", rapid.IntRange(1, 4).Draw(r, "wheels"), "cellar")
		f.anyActs(r, ws, func(n int) string {
			return fmt.Sprintf("2026-11-%02d %02d:%02d", 16+n*8/14, rapid.IntRange(6, 22).Draw(r, "hour"), n)
		}, func(e *wheel.Entry) {
			e.Kind, e.Found = wheel.Checked, wheel.HandCheck{
				DryToTouch: wheel.Seen(rapid.IntRange(1, 2).Draw(r, "dry")), Gas: wheel.Seen(rapid.IntRange(0, 2).Draw(r, "gas")),
			}
		})
		f.view(func(tx *ReadTx) error {
			waiting, err := tx.Waiting()
			if err != nil || len(waiting) != len(ws) {
				r.Fatalf("%d of %d wait, %v", len(waiting), len(ws), err)
			}
			for _, s := range waiting {
				k, ok, err := tx.Kept(s)
				if err != nil || !ok {
					r.Fatal(s.Tag, err)
				}
				c, err := tx.Case(s.Wheel)
				if err != nil {
					r.Fatal(err)
				}
				hours := rapid.IntRange(0, 24*60).Draw(r, "hours")
				at := f.clock.t.Add(time.Duration(hours) * time.Hour)
				if !k.Outlook.Knows(at) {
					r.Fatalf("%s doesn't know %s", s.Tag, at)
				}
				got, want := k.Outlook.Dry(k.Terms, at), c.Dry(at)
				if !near(got.Rate, want.Rate, 2e-4) || !near(got.Present, want.Present, 5e-4) ||
					!near(got.Moisture, want.Moisture, 5e-4) {
					r.Errorf("%s in %d h: a day %v, now %v, moist %v; its history says %v, %v, %v", s.Tag, hours,
						got.Rate, got.Present, got.Moisture, want.Rate, want.Present, want.Moisture)
				}
				got.Rate, got.Present, got.Moisture = want.Rate, want.Present, want.Moisture
				if d := cmp.Diff(want, got, cmp.AllowUnexported(verdict.Dry{})); d != "" {
					r.Errorf("%s in %d h (-history +kept)\n%s", s.Tag, hours, d)
				}
			}
			return nil
		})
		f.clean()
	})
}

// TestManySistersAreJudgedByThoseWeighedMost has more wheels in a lot than one is judged by.
// Whichever of them changes, what is kept of the others must be as if all had been judged again.
func TestManySistersAreJudgedByThoseWeighedMost(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261115A", "2026-11-15", derive.Tell+2, "cellar")
	first, last := ws[0].ID, ws[len(ws)-1].ID
	var again []wheel.Entry
	for i, w := range ws {
		f.put(f.weighed(w.ID, "2026-11-16 08:00", 2000+float64(i)))
		again = append(again, f.weighed(w.ID, "2026-11-19 08:00", 1960+float64(3*i)))
	}
	f.put(again...)
	f.clean()
	moved := f.entry(ws[1].ID, wheel.Moved, "2026-11-21 08:00")
	moved.Place = "fridge/B/1"
	looked := f.entry(first, wheel.Checked, "2026-11-23 08:00")
	looked.Found.DryToTouch = wheel.Seen(1)
	strike := func(e wheel.Entry) wheel.Entry {
		s := f.entry(e.Subject, wheel.Struck, "2026-11-25 08:00")
		s.Target = e.ID
		return s
	}
	third := f.weighed(last, "2026-11-22 08:00", 1975)
	for _, step := range []struct {
		what string
		e    wheel.Entry
	}{
		{"the first of those that tell has a weight less, so that another tells", strike(again[0])},
		{"one that told nothing yet is weighed most often", third},
		{"and no longer", strike(third)},
		{"one that tells is moved", moved},
		{"one that tells nothing is looked at", looked},
		{"and weighed", f.weighed(first, "2026-11-20 08:00", 1900)},
	} {
		t.Log(step.what)
		f.put(step.e)
		f.clean()
	}
}
