package access

import (
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"
)

func TestGuessingIsSlowedByNameAndNetworkTogether(t *testing.T) {
	now := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	n := NewTries()
	take := func(at time.Time, name, address string) time.Duration {
		y, ok := n.Take(at, name, address, "")
		if ok == (y.Wait > LongestWait) {
			t.Fatalf("a wait of %v is taken: %v", y.Wait, ok)
		}
		return y.Wait
	}
	for i := range PerName {
		if w := take(now, "Nora", "192.0.2.1:1"); w > 0 {
			t.Fatalf("try %d waits %v", i, w)
		}
	}
	for _, c := range []struct {
		after         time.Duration
		name, address string
		want          time.Duration
	}{
		{0, " nORA ", "192.0.2.1:2", EveryName},
		{0, "Nora", "192.0.2.1:1", 2 * EveryName},
		{0, "Nora", "198.51.100.1:1", 0},
		{0, "Bram", "192.0.2.1:1", 0},
		{2 * EveryName, "Nora", "192.0.2.1:1", 0},
	} {
		if w := take(now.Add(c.after), c.name, c.address); w != c.want {
			t.Errorf("%s from %s after %v waits %v, want %v", c.name, c.address, c.after, w, c.want)
		}
	}
	n = NewTries()
	for i := range perNetwork {
		if w := take(now, fmt.Sprint("name", i), fmt.Sprintf("[2001:db8:0:%x::1]:1", i)); w > 0 {
			t.Fatalf("try %d from one network waits %v", i, w)
		}
	}
	if w := take(now, "another", "[2001:db8::ffff]:9"); w != everyNet {
		t.Errorf("one more from the network waits %v", w)
	}
	if w := take(now, "another", "[2001:db8:1::1]:9"); w > 0 {
		t.Errorf("from the network beside it: %v", w)
	}
	if y, ok := n.Take(now, "another", "[2001:db8::ffff]:9", "known"); !ok || y.Wait > 0 {
		t.Errorf("from a browser that's known in that network: %v, %v", y, ok)
	}
	y, _ := n.Take(now, "Nora", "192.0.2.1:1", "")
	if z, _ := n.Take(now, "Nora", "192.0.2.1:1", ""); y.Before != 0 || z.Before != 1 {
		t.Errorf("%d and %d tries came before", y.Before, z.Before)
	}
	n.Right(y)
	if z, _ := n.Take(now, "Nora", "192.0.2.1:1", ""); z.Before != 0 {
		t.Errorf("after a right one %d are remembered", z.Before)
	}
}

func TestWhatIsRememberedOfTriesIsBounded(t *testing.T) {
	now := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	n := NewTries()
	for range PerName + 1 {
		n.Take(now, "Nora", "203.0.113.9:1", "")
	}
	for i := range 3 * mostTries {
		n.Take(now.Add(time.Duration(i)*time.Millisecond), strings.Repeat("n", 1000)+fmt.Sprint(i),
			fmt.Sprintf("10.%d.%d.%d:1", i>>16&255, i>>8&255, i&255), "")
	}
	if len(n.full) > mostTries {
		t.Errorf("%d are remembered, want at most %d", len(n.full), mostTries)
	}
	if y, _ := n.Take(now.Add(3*mostTries*time.Millisecond), "Nora", "203.0.113.9:1", ""); y.Wait <= 0 {
		t.Error("many addresses make one that guessed most forgotten")
	}
	if y, ok := n.Take(now.Add(time.Minute), "Nora", "198.51.100.1:1", ""); !ok || y.Wait > 0 {
		t.Errorf("meanwhile somebody elsewhere waits %v", y.Wait)
	}
}

// Guesses from many addresses fill the queue; somebody who comes once goes first.
func TestACrowdOfGuessesDoesNotHoldUpOneWhoComesOnce(t *testing.T) {
	q := NewTurns(1, 8)
	end := q.Take(t.Context(), 0, time.Minute)
	var first sync.WaitGroup
	order := make(chan int, 20)
	line := func(rank int) {
		first.Go(func() {
			end := q.Take(t.Context(), rank, time.Minute)
			if end == nil {
				order <- -rank
				return
			}
			order <- rank
			end()
		})
	}
	waiting := func(n int) {
		for {
			q.mu.Lock()
			l := len(q.queue)
			q.mu.Unlock()
			if l == n {
				return
			}
			time.Sleep(time.Millisecond)
		}
	}
	for i := range 8 {
		line(5)
		waiting(i + 1)
	}
	line(1) // the queue is full: one that tried more makes room
	if got := <-order; got != -5 {
		t.Fatalf("turned away is rank %d", got)
	}
	line(7) // and this one finds none
	if got := <-order; got != -7 {
		t.Fatalf("turned away is rank %d", got)
	}
	if q.Take(t.Context(), 2, time.Millisecond) != nil {
		t.Error("a turn came though none was free")
	}
	waiting(7) // it left, and had made another leave
	end()
	if got := <-order; got != -5 {
		t.Fatalf("the one that made room is rank %d", got)
	}
	if got := <-order; got != 1 {
		t.Errorf("first comes rank %d", got)
	}
	first.Wait()
	if q.free != 1 || len(q.queue) != 0 {
		t.Errorf("in the end %d are free and %d wait", q.free, len(q.queue))
	}
}
