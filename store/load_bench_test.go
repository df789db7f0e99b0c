package store_test

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/store"
	"rindkeep/store/load"
	"rindkeep/wheel"
)

// aged makes a book of n wheels of a kind that no gate waits for, in lots of
// fifty, that are all older than their weights.
func aged(t testing.TB, n int) (path string, tags []string, now time.Time) {
	t.Helper()
	path, now = filepath.Join(t.TempDir(), "aged.book"), store.At(t, "2026-11-25 09:00")
	b, err := store.Create(path, store.TestSettings(), store.Options{Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	cellar := store.NewRoom(t, "cellar", 0, 0.9)
	if err := b.Update(func(tx *store.WriteTx) error { return tx.PutRoom(cellar) }); err != nil {
		t.Fatal(err)
	}
	for len(tags) < n {
		if err := b.Update(func(tx *store.WriteTx) error {
			var all []wheel.Wheel
			for len(all) < 5000 && len(tags) < n {
				m, ws := store.LotOf(t, fmt.Sprintf("L%05d", len(tags)/50), "2026-01-08", min(50, n-len(tags)), "cellar")
				m.Variety = "tomme"
				if err := tx.PutMake(m); err != nil {
					return err
				}
				for i := range ws {
					ws[i].Plan = "tomme"
					tags = append(tags, ws[i].Tag)
				}
				all = append(all, ws...)
			}
			return tx.AddWheels(all)
		}); err != nil {
			t.Fatal(err)
		}
	}
	return path, tags, now
}

// agedRow is the i-th weighing of a wheel, one every three days.
func agedRow(tag string, k, i int, from int64) load.Row {
	d := float64(3 * i)
	g := math.Round(2000*(1-0.02*(math.Sqrt(1+d)-1))) + float64(k%7)
	return load.Row{Tag: tag, At: from + int64(i)*3*86400_000, Weight: quantity.Grams(g), Line: 2 + i,
		Columns: [4]int32{1, 10, 15, 0}}
}

// BenchmarkLoad is a load of rows that were read already: checked,
// sorted, written and settled.
func BenchmarkLoad(b *testing.B) {
	const wheels, each = 2000, 100
	path, tags, now := aged(b, wheels)
	from := store.At(b, "2026-01-10 08:00").UnixMilli()
	for b.Loop() {
		o := store.Options{Now: func() time.Time { return now }}
		l := load.New(context.Background(), path, o, load.Options{By: "Ann", Written: now})
		for k, tag := range tags {
			for i := range each {
				l.Add(agedRow(tag, k, i, from))
			}
		}
		if bad, err := l.Check(); err != nil || len(bad) > 0 {
			b.Fatal(err, bad[:min(3, len(bad))])
		}
		if err := l.Write(); err != nil {
			b.Fatal(err)
		}
		b.StopTimer() // the next goes into a book without weights too
		path, tags, now = aged(b, wheels)
		b.StartTimer()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/wheels/each, "ns/row")
}
