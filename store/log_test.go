package store

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/store/history"
	"rindkeep/wheel"
)

// logFarm has two lots whose entries interleave, two at one instant, and one
// that was withdrawn.
func logFarm(t *testing.T) (f *farm, ws []wheel.Wheel) {
	f = newFarm(t)
	_, a := f.lot("261110A", "2026-11-10", 2, "cellar")
	_, b := f.lot("261111A", "2026-11-11", 2, "cellar")
	ws = append(a, b...)
	for d := 12; d <= 16; d++ {
		for i, w := range ws {
			e := f.did(w.ID, wheel.Turn, fmt.Sprintf("2026-11-%d %02d:00", d, 20-3*i))
			e.By = []string{"Ann", "Ben"}[d%2]
			f.put(e)
		}
	}
	late, early := f.weighed(ws[0].ID, "2026-11-17 08:00", 2000), f.weighed(ws[3].ID, "2026-11-17 08:00", 2000)
	late.Written = late.Written.Add(time.Hour)
	f.put(late)
	f.put(early)
	strike := f.entry(ws[3].ID, wheel.Struck, "2026-11-18 08:00")
	strike.Target = early.ID
	f.put(strike)
	return f, ws
}

func (f *farm) logged(q history.Query) (out []string, total int) {
	f.t.Helper()
	f.view(func(tx *ReadTx) (err error) {
		total, err = tx.Log(context.Background(), q, func(e history.Logged, n int) error {
			if out == nil {
				total = n
			} else if total != n {
				f.t.Errorf("told of %d entries and then of %d", total, n)
			}
			s := e.At.In(dublin).Format("02 15:04 ") + tx.NameOf(e.Subject) + " " + e.Word()
			if e.Struck {
				s += " struck"
			}
			out = append(out, s)
			return nil
		})
		return err
	})
	return out, total
}

func TestTheLogIsInTheOrderThingsHappenedHoweverFewAreSortedAtOnce(t *testing.T) {
	f, ws := logFarm(t)
	tail := []string{
		"16 11:00 261111A-02 turned", "16 14:00 261111A-01 turned", "16 17:00 261110A-02 turned",
		"16 20:00 261110A-01 turned",
		"17 08:00 261111A-02 weighed struck", "17 08:00 261110A-01 weighed", "18 08:00 261111A-02 struck",
	}
	var whole []string
	for _, slice := range []int{1, 2, 3, 7, 0} {
		all, total := f.logged(history.Query{Together: slice})
		if total != 23 || len(all) != 23 {
			t.Fatalf("%d at once: %d entries of %d, want 23", slice, len(all), total)
		}
		if whole == nil {
			whole = all
		}
		if d := cmp.Diff(whole, all); d != "" {
			t.Errorf("%d at once: another order (-one +these)\n%s", slice, d)
		}
		if d := cmp.Diff(tail, all[16:]); d != "" {
			t.Errorf("%d at once: the last seven (-want +got)\n%s", slice, d)
		}
		for most := 1; most <= 24; most++ {
			got, total := f.logged(history.Query{Most: most, Together: slice})
			if d := cmp.Diff(whole[max(0, 23-most):], got); d != "" || total != 23 {
				t.Errorf("%d at once, the newest %d of %d (-want +got)\n%s", slice, most, total, d)
			}
		}
	}
	for _, c := range []struct {
		name string
		q    history.Query
		want []string
	}{
		{"of one wheel", history.Query{Subjects: []uuid.UUID{ws[3].ID}, From: at(t, "2026-11-16 00:00")},
			[]string{tail[0], tail[4], tail[6]}},
		{"of no wheel", history.Query{Subjects: []uuid.UUID{}}, nil},
		{"between two instants, the later one left out",
			history.Query{From: at(t, "2026-11-16 14:00"), To: at(t, "2026-11-16 20:00")}, tail[1:3]},
		{"what was withdrawn", history.Query{Match: func(e history.Logged) bool { return e.Struck }}, tail[4:5]},
	} {
		got, total := f.logged(c.q)
		if d := cmp.Diff(c.want, got); d != "" || total != len(c.want) {
			t.Errorf("the log %s, %d in all (-want +got)\n%s", c.name, total, d)
		}
	}
}

func TestTheLogStopsWhenToldTo(t *testing.T) {
	f, _ := logFarm(t)
	enough := errors.New("enough")
	n := 0
	err := f.book.View(func(tx *ReadTx) error {
		_, err := tx.Log(context.Background(), history.Query{}, func(history.Logged, int) error {
			if n++; n == 3 {
				return enough
			}
			return nil
		})
		return err
	})
	if !errors.Is(err, enough) || n != 3 {
		t.Errorf("stopped after %d with %v", n, err)
	}
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	err = f.book.View(func(tx *ReadTx) error {
		_, err := tx.Log(gone, history.Query{}, func(history.Logged, int) error {
			t.Error("an entry after the end")
			return nil
		})
		return err
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
}
