package store

import (
	"errors"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// BenchmarkAWeightInALotThatWaits is one weighing in a lot of 40 that all wait for their coat,
// of a wheel that the others are judged by, with all that follows from it; nothing is kept.
func BenchmarkAWeightInALotThatWaits(b *testing.B) {
	now := at(b, "2026-11-28 09:00")
	path := filepath.Join(b.TempDir(), "lot.book")
	book, err := Create(path, testSettings(), Options{Now: func() time.Time { return now }})
	if err != nil {
		b.Fatal(err)
	}
	defer book.Close()
	m, lot := lotOf(b, "L001", "2026-11-13", 40, "cellar")
	m.Variety = "cheddar-waxed"
	var es []wheel.Entry
	rng := rand.New(rand.NewPCG(1, 2))
	start := at(b, "2026-11-14 08:00")
	for i, w := range lot {
		lot[i].Plan = "waxed-hard"
		rate := 1 + 0.1*rng.NormFloat64()
		for d := range 13 {
			if d%2 == 1 && i >= 13 {
				continue
			}
			x := start.Add(time.Duration(d*24*60+i) * time.Minute)
			g := 2000 * (1 - 0.006*rate*math.Pow(float64(d), 0.55))
			g = math.Round(g + 0.6*rng.NormFloat64())
			es = append(es, wheel.Entry{ID: newID(b), Subject: w.ID, Kind: wheel.Weighed, At: x, Written: x, By: "Ann",
				Weight: quantity.Grams(g)})
		}
	}
	if err := book.Update(func(tx *WriteTx) error {
		if err := tx.PutRoom(room(b, "cellar", 0, 0.91)); err != nil {
			return err
		}
		if err := tx.PutMake(m); err != nil {
			return err
		}
		if err := tx.AddWheels(lot); err != nil {
			return err
		}
		_, err := tx.Put(es...)
		return err
	}); err != nil {
		b.Fatal(err)
	}
	e := wheel.Entry{ID: newID(b), Subject: lot[3].ID, Kind: wheel.Weighed, At: now, Written: now, By: "Ann",
		Weight: quantity.Grams(1950)}
	tried := errors.New("tried")
	b.ResetTimer()
	b.ReportAllocs()
	for b.Loop() {
		if err := book.Update(func(tx *WriteTx) error {
			if _, err := tx.Put(e); err != nil {
				return err
			}
			if _, err := tx.Case(e.Subject); err != nil {
				return err
			}
			return tried
		}); !errors.Is(err, tried) {
			b.Fatal(err)
		}
	}
}
