package store

import (
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/bookfile"
	"rindkeep/wheel"
)

func TestABookInUseIsWaitedForAndThenGivenUp(t *testing.T) {
	f := newFarm(t)
	f.book.Close()
	for _, c := range []struct {
		held string
		mode Mode
		busy bool
	}{
		{"hold-write", Read, true}, {"hold-write", Write, true}, {"hold-read", Write, true}, {"hold-read", Read, false},
	} {
		p := start(t, c.held, f.path)
		p.line(t)
		from := time.Now()
		b, err := Open(f.path, c.mode, Options{Wait: 200 * time.Millisecond})
		waited := time.Since(from)
		if !c.busy {
			if err != nil {
				t.Errorf("a second reader: %v", err)
			} else {
				b.Close()
			}
		} else {
			wantIs(t, err, bookfile.ErrBusy, "book-in-use "+strconv.Quote(f.path)+" (waited 0.2 s)")
			if waited < 150*time.Millisecond || waited > 2*time.Second {
				t.Errorf("waited %v", waited)
			}
			// The wait that was left behind must not keep the book.
			go func() { time.Sleep(20 * time.Millisecond); p.in.Close() }()
			b, err := Open(f.path, c.mode, Options{})
			if err != nil {
				t.Errorf("once it is free: %v", err)
			} else {
				b.Close()
			}
		}
		p.finish(t)
	}
}

func TestNobodyStarvesBesideAProcessThatOpensWithoutAPause(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("this system has no queue")
	}
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 20, "cellar")
	f.book.Close()
	for _, c := range []struct {
		others []string
		mode   Mode
	}{
		{[]string{"churn-read"}, Write}, {[]string{"churn-read", "churn-read"}, Write}, {[]string{"churn-write"}, Read},
		{[]string{"churn-write"}, Write},
	} {
		var ps []*process
		for _, role := range c.others {
			p := start(t, role, f.path)
			p.line(t)
			ps = append(ps, p)
		}
		var waits []time.Duration
		for range setting("RINDKEEP_TURNS", 40, 400) {
			from := time.Now()
			b, err := Open(f.path, c.mode, Options{})
			if err != nil {
				t.Fatal(err)
			}
			waits = append(waits, time.Since(from))
			b.Close()
			time.Sleep(time.Millisecond)
		}
		slices.Sort(waits)
		median, worst := waits[len(waits)/2], waits[len(waits)-1]
		var turns []string
		for _, p := range ps {
			turns = append(turns, p.finish(t))
		}
		t.Logf("%v beside us, we open to %s: median %v, worst %v; they had %s turns", c.others, map[Mode]string{Read: "read",
			Write: "write"}[c.mode], median.Round(time.Microsecond), worst.Round(time.Microsecond), strings.Join(turns, " and "))
		if median > 100*time.Millisecond || worst > 3*time.Second {
			t.Errorf("a median of %v and a worst of %v is no fair turn", median, worst)
		}
	}
}

func TestAKillAtAnyMomentLosesNothingThatWasAcknowledged(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 30, "cellar")
	f.lot("261121A", "2026-11-21", 10, "fridge")
	f.book.Close()
	acknowledged := map[uuid.UUID]bool{}
	kills := setting("RINDKEEP_KILLS", 25, 200)
	for n := range kills {
		p := start(t, "write", f.path)
		within := 60 // ms: while it starts, opens the book, or writes
		if n%2 == 0 {
			acknowledged[uuid.MustParse(p.line(t))] = true
			within = 25 // while it writes
		}
		time.AfterFunc(time.Duration(rand.IntN(within*1000))*time.Microsecond, func() { p.cmd.Process.Kill() })
		for p.out.Scan() {
			if id, err := uuid.Parse(p.out.Text()); err == nil && len(p.out.Text()) == 36 {
				acknowledged[id] = true
			}
		}
		var exit *exec.ExitError
		if err := p.cmd.Wait(); !errors.As(err, &exit) || exit.Exited() {
			t.Fatalf("the writer was not killed but ended: %v", err)
		}
		b, err := Open(f.path, Read, Options{Now: childNow})
		if err != nil {
			t.Fatal(err)
		}
		wantClean(t, b)
		if err := b.View(func(tx *ReadTx) error {
			for id := range acknowledged {
				if _, err := tx.EntryByID(id); err != nil {
					return err
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		b.Close()
	}
	t.Logf("%d kills, %d entries acknowledged, all there", kills, len(acknowledged))
	if len(acknowledged) < kills/2 {
		t.Errorf("%d entries in %d lives: the writer was hardly at work", len(acknowledged), kills)
	}
	rest, err := os.ReadDir(filepath.Dir(f.path))
	if err != nil || len(rest) != 2 {
		t.Errorf("the folder holds more than the book and its queue: %v", rest)
	}
}

func TestAFullDiskLosesNothingThatWasAcknowledged(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("this system cannot make a file full")
	}
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 30, "cellar")
	f.book.Close()
	p := start(t, "fill", f.path)
	var said string
	var acknowledged []uuid.UUID
	for p.out.Scan() {
		if id, err := uuid.Parse(p.out.Text()); err == nil {
			acknowledged = append(acknowledged, id)
			continue
		}
		said = p.out.Text()
	}
	if err := p.cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	if want := "disk-full " + strconv.Quote(f.path) + " write: "; !strings.HasPrefix(said, want) {
		t.Errorf("got %q, want %q", said, want)
	}
	f.open(Write)
	f.clean()
	f.view(func(tx *ReadTx) error {
		for _, id := range acknowledged {
			if _, err := tx.EntryByID(id); err != nil {
				return err
			}
		}
		return nil
	})
	if len(acknowledged) == 0 {
		t.Error("nothing was written before the disk was full")
	}
	f.put(f.did(firstWheel(f), wheel.Turn, "2026-11-24 08:00")) // and there is room again
	f.clean()
}

func firstWheel(f *farm) (id uuid.UUID) {
	f.view(func(tx *ReadTx) error {
		for w, err := range tx.EachWheel() {
			id = w.ID
			return err
		}
		return nil
	})
	return id
}

func TestTwoMakersOfOneBookMakeOne(t *testing.T) {
	path := filepath.Join(t.TempDir(), "cave.book")
	results := make(chan error, 8)
	for range cap(results) {
		go func() {
			b, err := Create(path, testSettings(), Options{})
			if err == nil {
				err = b.Close()
			}
			results <- err
		}()
	}
	made := 0
	for range cap(results) {
		switch err := <-results; {
		case err == nil:
			made++
		case !errors.Is(err, bookfile.ErrExists):
			t.Error(err)
		}
	}
	if made != 1 {
		t.Errorf("%d books were made", made)
	}
	left, _ := os.ReadDir(filepath.Dir(path))
	for _, x := range left {
		if x.Name() != "cave.book" && x.Name() != ".cave.book.queue" {
			t.Errorf("%s was left behind", x.Name())
		}
	}
}
