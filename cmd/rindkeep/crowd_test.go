package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/wheel"
)

// TestACrowdAtOneBookIsServed has people write and read at once, without a pause. Nobody is
// turned away, and all that was acknowledged is in the book. How long they waited is told,
// not judged: it's the machine's too. RINDKEEP_CROWD sets the seconds.
func TestACrowdAtOneBookIsServed(t *testing.T) { crowd(t, false) }

// TestACrowdAtOneBookIsServedWhileLongWorkGoesOn has people write and read while tables of
// wheels come in, the book is checked, the days ahead are worked out and all wheels that wait
// are judged, over and over. Here they pause up to a second between two entries, as people do.
func TestACrowdAtOneBookIsServedWhileLongWorkGoesOn(t *testing.T) { crowd(t, true) }

func crowd(t *testing.T, longWork bool) {
	seconds := setting("RINDKEEP_CROWD", 3, 60)
	writers, readers, table := 10, 5, 1200
	if seconds >= 60 {
		writers, readers, table = 50, 20, 4000
	}
	const wheels = 8
	c := newCave(t).filled(wheels)
	ctx, stop := context.WithTimeout(t.Context(), time.Duration(seconds)*time.Second)
	defer stop()
	a := &app.App{Book: c.book, Now: time.Now}
	var all sync.WaitGroup
	var mu sync.Mutex
	var acknowledged []uuid.UUID
	waits := map[string][]time.Duration{}
	over := func() bool { return ctx.Err() != nil }
	breathe := func() {
		if longWork {
			time.Sleep(time.Duration(rand.Int64N(int64(time.Second))))
		}
	}
	waited := func(who string, began time.Time) {
		mu.Lock()
		defer mu.Unlock()
		waits[who] = append(waits[who], time.Since(began))
	}
	from := time.Now().AddDate(0, 0, -5)
	for i := range writers {
		all.Go(func() {
			for n := 0; !over(); n++ {
				breathe()
				id := uuid.New()
				at := from.Add(time.Duration(n*writers+i) * time.Second).Format("2006-01-02T15:04:05")
				q := round.Job{Job: wheel.Turn, What: []string{fmt.Sprintf("big-%02d", n%wheels+1)}, Twice: true}
				began := time.Now()
				if _, err := round.Did(context.Background(), a, app.Caller{ID: id.String(), At: at}, q); err != nil {
					t.Errorf("writer %d: %v", i, err)
					return
				}
				waited("write", began)
				mu.Lock()
				acknowledged = append(acknowledged, id)
				mu.Unlock()
			}
		})
	}
	for i := range readers {
		all.Go(func() {
			for !over() {
				breathe()
				began := time.Now()
				if _, err := app.Ask(context.Background(), a, app.Caller{}, func(s *app.Session) (int, error) {
					due, err := s.Tx.Due(day.At(began, s.Zone))
					return len(due), err
				}); err != nil {
					t.Errorf("reader %d: %v", i, err)
					return
				}
				waited("read", began)
			}
		})
	}
	work := func(args func(n int) []string) {
		all.Go(func() {
			for n := 0; !over(); n++ {
				began, line := time.Now(), args(n)
				if out, err := c.command(line...).CombinedOutput(); err != nil {
					t.Errorf("rindkeep %q: %v\n%s", line, err, out)
					return
				}
				waited(line[0], began)
			}
		})
	}
	loaded := 0
	if longWork {
		work(func(n int) []string {
			name := filepath.Join(c.dir, fmt.Sprintf("t%d.csv", n))
			loaded++
			if err := os.WriteFile(name, wheelTable(n, table), 0o600); err != nil {
				t.Error(err)
			}
			return []string{"book", "import", name, "--map", "--quiet"}
		})
		work(func(int) []string { return []string{"ahead", "--days", "30"} })
		work(func(int) []string { return []string{"dry", "all", "--most", "20"} })
		all.Go(func() {
			for !over() {
				c.sound()
			}
		})
	}
	all.Wait()
	c.sound()
	for who, w := range waits {
		slices.Sort(w)
		t.Logf("%-6s %6d times, median %v, 99 in 100 %v, longest %v", who, len(w), w[len(w)/2].Round(time.Millisecond),
			w[len(w)*99/100].Round(time.Millisecond), w[len(w)-1].Round(time.Millisecond))
	}
	if _, err := app.Ask(t.Context(), a, app.Caller{}, func(s *app.Session) (int, error) {
		for _, id := range acknowledged {
			if es, err := s.Tx.EntriesByCommand(app.SharedBy(id)); err != nil || len(es) != 1 {
				t.Errorf("%d entries of %s: %v", len(es), id, err)
			}
		}
		n, err := s.Tx.Counts()
		if want := wheels + loaded*table; err == nil && n.Wheels != want {
			t.Errorf("%d wheels, want %d", n.Wheels, want)
		}
		return 0, err
	}); err != nil {
		t.Error(err)
	}
}

// wheelTable is a table of wheels with their weights, forty to a lot.
func wheelTable(nth, wheels int) []byte {
	var b bytes.Buffer
	fmt.Fprintln(&b, "tag,lot,variety,made,place,green weight g,weight g,date weighed")
	day := func(ago int) string { return time.Now().AddDate(0, 0, -ago).Format("2006-01-02") }
	for i := range wheels {
		lot := fmt.Sprintf("T%d-%03d", nth, i/40)
		fmt.Fprintf(&b, "%s-%02d,%s,cheddar-waxed,%s,drying,%d,%d,%s\n", lot, i%40+1, lot, day(10+i/40),
			2100+i%40, 2040+i%40, day(2))
	}
	return b.Bytes()
}
