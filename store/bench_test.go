package store

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// benchBook makes a book of n wheels of which about 2 % are due on the day of
// the test books' clock: old lots turned weekly or more rarely, in 40 to a
// shelf.
func benchBook(b *testing.B, n int) (*Book, string, time.Duration) {
	b.Helper()
	const lotSize = 50
	now := at(b, "2026-11-25 09:00")
	path := filepath.Join(b.TempDir(), "bench.book")
	from := time.Now()
	book, err := Create(path, testSettings(), Options{Now: func() time.Time { return now }})
	if err != nil {
		b.Fatal(err)
	}
	today := day.At(now, dublin)
	if err := book.Update(func(tx *WriteTx) error {
		for i := range 10 {
			if err := tx.PutRoom(room(b, fmt.Sprintf("room%d", i), i, 0.85)); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		b.Fatal(err)
	}
	for first := 0; first < n; first += 20_000 {
		if err := book.Update(func(tx *WriteTx) error {
			var ws []wheel.Wheel
			var es []wheel.Entry
			for i := first; i < min(n, first+20_000); i += lotSize {
				m, lot := lotOf(b, fmt.Sprintf("L%06d", i/lotSize), (today - 200).String(), min(lotSize, n-i), "")
				m.Variety = "cheddar-waxed"
				if err := tx.PutMake(m); err != nil {
					return err
				}
				for k := range lot {
					j := i + k
					lot[k].Place = cave.Place(fmt.Sprintf("room%d/%c/%d", j*10/n, 'A'+j/400%26, j/40%10+1))
					lot[k].Since = (today - 60).Start(dublin)
					coat := time.UnixMilli((today - 190).Noon(dublin).UnixMilli()).UTC()
					es = append(es, wheel.Entry{ID: newID(b), Subject: lot[k].ID, Kind: wheel.CoatedOn, Coat: "wax", At: coat,
						Written: coat, By: "Ann"})
					// All jobs done lately, but for one wheel in fifty whose
					// turning is due.
					for _, job := range []wheel.Job{wheel.Turn, wheel.Check, wheel.Weigh, wheel.Taste} {
						ago := day.Date(3)
						if job == wheel.Turn && j%50 == 0 {
							ago = 7
						}
						x := (today - ago).Noon(dublin).UTC()
						e := wheel.Entry{ID: newID(b), Subject: lot[k].ID, Kind: wheel.Did, Job: job, At: x, Written: x, By: "Ann"}
						if job == wheel.Weigh {
							e.Kind, e.Job, e.Weight = wheel.Weighed, "", 2000
						}
						es = append(es, e)
					}
				}
				ws = append(ws, lot...)
			}
			if err := tx.AddWheels(ws); err != nil {
				return err
			}
			_, err := tx.Put(es...)
			return err
		}); err != nil {
			b.Fatal(err)
		}
	}
	return book, path, time.Since(from)
}

func sizes(b *testing.B) []int {
	if testing.Short() {
		return []int{1e4}
	}
	if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
		return []int{1e4, 1e5, 1e6}
	}
	return []int{1e4, 1e5}
}

// BenchmarkDue opens a book and lists what is due: the day's list but for its
// printing. About 2 % of the wheels are due.
func BenchmarkDue(b *testing.B) {
	for _, n := range sizes(b) {
		b.Run(fmt.Sprintf("%d wheels", n), func(b *testing.B) {
			book, path, took := benchBook(b, n)
			today := book.opt.Now()
			book.Close()
			st, err := os.Stat(path)
			if err != nil {
				b.Fatal(err)
			}
			due := 0
			for b.Loop() {
				r, err := Open(path, Read, Options{Now: func() time.Time { return today }})
				if err != nil {
					b.Fatal(err)
				}
				if err := r.View(func(tx *ReadTx) error {
					ts, err := tx.Due(day.At(today, dublin))
					due = len(ts)
					return err
				}); err != nil {
					b.Fatal(err)
				}
				r.Close()
			}
			b.ReportMetric(float64(due), "due")
			b.ReportMetric(took.Seconds(), "s-to-load")
			b.ReportMetric(float64(st.Size())/float64(n), "B/wheel")
		})
	}
}

// BenchmarkPut is one weighing of a coated wheel, fitted and synced, beside
// the bare cost of syncing as many bytes.
func BenchmarkPut(b *testing.B) {
	b.Run("one synced page", func(b *testing.B) {
		f, err := os.Create(filepath.Join(b.TempDir(), "bare"))
		if err != nil {
			b.Fatal(err)
		}
		defer f.Close()
		page := make([]byte, 4096)
		for b.Loop() {
			if _, err := f.WriteAt(page, 0); err != nil {
				b.Fatal(err)
			}
			if err := f.Sync(); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, n := range sizes(b)[:1] {
		book, _, _ := benchBook(b, n)
		defer book.Close()
		var ids []uuid.UUID
		if err := book.View(func(tx *ReadTx) error {
			for s, err := range tx.States() {
				if err != nil {
					return err
				}
				ids = append(ids, s.Wheel)
			}
			return nil
		}); err != nil {
			b.Fatal(err)
		}
		i := 0
		for _, kind := range []wheel.Kind{wheel.Did, wheel.Weighed} {
			b.Run(fmt.Sprintf("%s in %d wheels", kind, n), func(b *testing.B) {
				for b.Loop() {
					i++
					x := book.opt.Now().Add(-time.Duration(i) * time.Second)
					e := wheel.Entry{ID: newID(b), Subject: ids[i*7919%len(ids)], Kind: kind, At: x, Written: x, By: "Ann"}
					if kind == wheel.Did {
						e.Job = wheel.Turn
					} else {
						e.Weight = 1990
					}
					if err := book.Update(func(tx *WriteTx) error { _, err := tx.Put(e); return err }); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// BenchmarkDrying is what a day's weighing of a cellar of drying wheels costs:
// every wheel in lots of 20 weighed once more, its gate and its sisters' judged
// again, in one transaction.
func BenchmarkDrying(b *testing.B) {
	now := at(b, "2026-11-25 09:00")
	path := filepath.Join(b.TempDir(), "drying.book")
	book, err := Create(path, testSettings(), Options{Now: func() time.Time { return now }})
	if err != nil {
		b.Fatal(err)
	}
	defer book.Close()
	const lots, each = 20, 20
	var ws []wheel.Wheel
	if err := book.Update(func(tx *WriteTx) error {
		if err := tx.PutRoom(room(b, "cellar", 0, 0.82)); err != nil {
			return err
		}
		for i := range lots {
			m, lot := lotOf(b, fmt.Sprintf("L%03d", i), "2026-11-10", each, "cellar")
			if err := tx.PutMake(m); err != nil {
				return err
			}
			ws = append(ws, lot...)
		}
		return tx.AddWheels(ws)
	}); err != nil {
		b.Fatal(err)
	}
	weigh := func(x time.Time, loss float64) {
		var es []wheel.Entry
		for i, w := range ws {
			y := x.Add(time.Duration(i) * time.Second)
			e := wheel.Entry{ID: newID(b), Subject: w.ID, Kind: wheel.Weighed, At: y, Written: y, By: "Ann"}
			e.Weight = quantity.Grams(2000 * (1 - loss))
			es = append(es, e)
		}
		if err := book.Update(func(tx *WriteTx) error { _, err := tx.Put(es...); return err }); err != nil {
			b.Fatal(err)
		}
	}
	for d := range 6 {
		weigh(at(b, fmt.Sprintf("2026-11-%02d 08:00", 11+d)), 0.004*float64(d))
	}
	n := 0
	b.ResetTimer()
	for b.Loop() {
		n++
		weigh(at(b, "2026-11-18 08:00").Add(time.Duration(n)*time.Minute), 0.03)
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(n*lots*each), "ms/wheel")
}

// BenchmarkWeights is one list of 100,000 weights, one a wheel, in one
// transaction: checked, written, every wheel's tasks made again.
func BenchmarkWeights(b *testing.B) {
	book, _, _ := benchBook(b, 1e5)
	defer book.Close()
	var ids []uuid.UUID
	if err := book.View(func(tx *ReadTx) error {
		for s, err := range tx.States() {
			if err != nil {
				return err
			}
			ids = append(ids, s.Wheel)
		}
		return nil
	}); err != nil {
		b.Fatal(err)
	}
	n := 0
	for b.Loop() {
		n++
		x := book.opt.Now().Add(-time.Duration(n) * time.Minute)
		es := make([]wheel.Entry, len(ids))
		for i, id := range ids {
			es[i] = wheel.Entry{ID: newID(b), Subject: id, Kind: wheel.Weighed, At: x, Written: x, By: "Ann", Weight: 1950}
		}
		if err := book.Update(func(tx *WriteTx) error { _, err := tx.Put(es...); return err }); err != nil {
			b.Fatal(err)
		}
	}
}
