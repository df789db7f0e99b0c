package rooms

import (
	"errors"
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/scenario"
	"rindkeep/store"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// bookOf is a book of the invented creamery: its small form, or as many wheels.
func bookOf(t testing.TB, wheels int) *app.App {
	t.Helper()
	now := time.Date(2026, time.November, 25, 8, 0, 0, 0, time.UTC)
	a := &app.App{Book: filepath.Join(t.TempDir(), "cave.book"), Now: func() time.Time { return now }}
	b, err := store.Create(a.Book, store.Settings{Created: now, Zone: "Europe/Dublin"}, store.Options{Now: a.Now})
	if err != nil {
		t.Fatal(err)
	}
	put := func(p scenario.Book) error {
		return b.Update(func(tx *store.WriteTx) error {
			for _, r := range p.Rooms {
				if err := tx.PutRoom(r); err != nil {
					return err
				}
			}
			for _, m := range p.Makes {
				if err := tx.PutMake(m); err != nil {
					return err
				}
			}
			if err := tx.AddWheels(p.Wheels); err != nil {
				return err
			}
			_, err := tx.Put(p.Entries...)
			return err
		})
	}
	zone, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		t.Fatal(err)
	}
	if wheels > 0 {
		err = scenario.Large(day.At(now, zone), zone, now, 1, wheels, put)
	} else {
		var p scenario.Book
		if p, err = scenario.Small(day.At(now, zone), zone, 1); err == nil {
			err = put(p)
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return a
}

// A large book lends forecasts within a lot. What that costs in accuracy is small
// beside the interval.
func TestForecastsLentWithinALotComeNearThoseOfEachWheel(t *testing.T) {
	a := bookOf(t, 240)
	masses := func(limit int) (best, wide []float64) {
		_, err := app.Ask(t.Context(), a, app.Caller{}, func(s *app.Session) (int, error) {
			all, err := s.Tx.Rooms()
			if err != nil {
				return 0, err
			}
			ws, err := everyWheel(s, app.Narrow{}, s.Time, s.Today, all, limit)
			if err != nil {
				return 0, err
			}
			if err := project(s, ws, s.Time, s.Today, s.Today+59); err != nil {
				return 0, err
			}
			walked(ws)
			byLot := map[string]int{}
			for _, w := range ws {
				k, ok := byLot[w.make.Lot]
				if !ok {
					k = len(best)
					byLot[w.make.Lot] = k
					best, wide = append(best, 0), append(wide, 0)
				}
				m := w.goesOn(s.Zone).Mass(s.Today + 60)
				best[k] += m.Best
				wide[k] += m.High - m.Low
			}
			return 0, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return best, wide
	}
	own, wide := masses(1000)
	lent, _ := masses(10)
	if len(own) != 6 || len(lent) != 6 {
		t.Fatalf("%d and %d lots, want 6", len(own), len(lent))
	}
	for i := range own {
		if d := math.Abs(lent[i] - own[i]); d > wide[i]/4 || d > own[i]/50 {
			t.Errorf("lot %d: %.0f g with lent forecasts, %.0f with its own, which are good to %.0f",
				i+1, lent[i], own[i], wide[i])
		}
	}
}

func TestStockOfManyWheelsIsThatOfFewToOnePercent(t *testing.T) {
	a := bookOf(t, 0)
	counted := func(many int) Stock {
		s, err := app.Ask(t.Context(), a, app.Caller{},
			func(s *app.Session) (Stock, error) { return count(s, InStock{}, many) })
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	each, shared := counted(1000), counted(0)
	if len(each.Lots) == 0 || len(shared.Lots) != len(each.Lots) {
		t.Fatalf("%d lots and %d", len(shared.Lots), len(each.Lots))
	}
	for i, l := range each.Lots {
		o := shared.Lots[i]
		if d := math.Abs(*o.Mass.Best / *l.Mass.Best - 1); d > 0.01 {
			t.Errorf("lot %s weighs %v kg by the wheel and %v by its kind", l.Lot, *l.Mass.Best, *o.Mass.Best)
		}
		l.Stock.Mass = o.Stock.Mass
		if o.Lot != l.Lot || o.Stock != l.Stock {
			t.Errorf("lot %s: %+v, by its kind %+v", l.Lot, l.Stock, o.Stock)
		}
	}
}

// A job that was asked for of one wheel is that wheel's alone, however alike its sisters are.
func TestAJobThatWasAskedForIsOnlyTheWheelsOwn(t *testing.T) {
	a := bookOf(t, 240)
	jobs := func(most int) map[string]int {
		out := map[string]int{}
		_, err := app.Ask(t.Context(), a, app.Caller{}, func(s *app.Session) (int, error) {
			ws, err := everyWheel(s, app.Narrow{}, s.Time, s.Today, nil, most)
			if err != nil {
				return 0, err
			}
			if err := project(s, ws, s.Time, s.Today, s.Today+6); err != nil {
				return 0, err
			}
			for _, w := range ws {
				for _, c := range w.chores {
					if c.Job == wheel.Smoke {
						out[w.Tag]++
					}
				}
			}
			return 0, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	if got := jobs(0); len(got) > 0 {
		t.Fatalf("smoked without being asked: %v", got)
	}
	var asked derive.WheelState
	b, err := store.Open(a.Book, store.Write, store.Options{Now: a.Now})
	if err == nil {
		err = b.Update(func(tx *store.WriteTx) error {
			for s, err := range tx.States() {
				if err != nil {
					return err
				}
				asked = s
				break
			}
			_, err := tx.Put(wheel.Entry{
				ID: uuid.New(), Subject: asked.Wheel, Kind: wheel.Asked, Job: wheel.Smoke, At: a.Now(), Written: a.Now(),
			})
			return err
		})
	}
	if err := errors.Join(err, b.Close()); err != nil {
		t.Fatal(err)
	}
	for _, most := range []int{0, 1000} {
		if got := jobs(most); len(got) != 1 || got[asked.Tag] != 1 {
			t.Errorf("%s was to be smoked; to be smoked are %v", asked.Tag, got)
		}
	}
}
