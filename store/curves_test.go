package store

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// Whatever is recorded, and in whatever order, the curves that are kept are those that
// follow from the facts, and every wheel that's here has one.
func TestKeptCurvesFollowFromTheFactsAlone(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		f := newFarm(t)
		defer f.book.Close()
		_, ws := f.lot("261105A", "2026-11-05", rapid.IntRange(1, 5).Draw(r, "wheels"), "cellar")
		f.anyActs(r, ws, func(n int) string {
			return fmt.Sprintf("2026-11-%02d %02d:%02d", rapid.IntRange(6, 24).Draw(r, "day"),
				rapid.IntRange(6, 22).Draw(r, "hour"), n)
		}, func(e *wheel.Entry) { e.Kind, e.Coat = wheel.CoatedOn, "wax" })
		f.view(func(tx *ReadTx) error {
			for s, err := range tx.States() {
				if err != nil {
					r.Fatal(err)
				}
				c, ok, err := tx.CurveOf(s)
				if err != nil || !ok {
					r.Fatalf("%s has no curve: %v", s.Tag, err)
				}
				day := c.Track.Near(f.clock.t.Sub(c.Began).Hours() / 24)
				if l := c.Track.Loss(day); !(l.Low <= l.Best && l.Best <= l.High && l.Best < 1) {
					r.Errorf("%s lost %v", s.Tag, l)
				}
			}
			return nil
		})
		f.clean()
	})
}

func TestReadingsMakeARoomsCurvesAgainOnceAWeek(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261105A", "2026-11-05", 2, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-06 08:00", 2000), f.weighed(ws[0].ID, "2026-11-09 08:00", 1970))
	curve := func(id uuid.UUID) (c derive.Curve) {
		f.view(func(tx *ReadTx) error {
			s, err := tx.State(id)
			if err == nil {
				c, _, err = tx.CurveOf(s)
			}
			return err
		})
		return c
	}
	air := func(stamp string, rh quantity.Fraction) {
		f.update(func(tx *WriteTx) error {
			_, err := tx.PutAir("cellar", []cave.Reading{{At: at(t, stamp), Temp: 12, RH: rh}})
			return err
		})
	}
	until := func(want string) {
		t.Helper()
		if got := curve(ws[0].ID).Until; !got.Equal(at(t, want)) {
			t.Errorf("the curve knows the air until %s, want %s", got, want)
		}
	}
	until("2026-11-09 08:00")
	air("2026-11-12 08:00", 0.8) // a Thursday: the week began on the day of the weighing
	until("2026-11-09 08:00")
	air("2026-11-17 08:00", 0.8)
	monday := time.Date(2026, time.November, 16, 0, 0, 0, 0, time.UTC)
	if got := curve(ws[0].ID).Until; !got.Equal(monday) {
		t.Errorf("the curve knows the air until %s, want %s", got, monday)
	}
	before := curve(ws[0].ID)
	air("2026-11-19 08:00", 0.6)
	if now := curve(ws[0].ID); now.Track.Loss(40) != before.Track.Loss(40) {
		t.Error("a reading in the same week makes the curve again")
	}
	air("2026-11-10 08:00", 0.6) // written late
	if now := curve(ws[0].ID); now.Track.Loss(40).Best <= before.Track.Loss(40).Best {
		t.Errorf("air that was dry a week ago: %v, before %v", now.Track.Loss(40), before.Track.Loss(40))
	}
	f.clean()
}
