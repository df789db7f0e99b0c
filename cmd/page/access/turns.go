package access

import (
	"context"
	"slices"
	"sync"
	"time"
)

// Turns lets a few passwords be looked at at once. The others wait, and those who
// have tried least lately go first: a crowd of guesses doesn't hold up somebody who comes once.
type Turns struct {
	mu    sync.Mutex
	free  int
	most  int // that wait
	queue []*waiter
}

type waiter struct {
	rank int
	got  chan bool // whether it may begin
}

// NewTurns has so many turns at once, for which so many wait at most.
func NewTurns(at, waiting int) *Turns { return &Turns{free: at, most: waiting} }

// Take waits for a turn, at most so long; end ends it, and is nil where there was none.
// The lower the rank, the sooner.
func (t *Turns) Take(ctx context.Context, rank int, wait time.Duration) (end func()) {
	me := &waiter{rank, make(chan bool, 1)}
	t.mu.Lock()
	if t.free > 0 {
		t.free--
		me.got <- true
	} else if t.queue = append(t.queue, me); len(t.queue) > t.most {
		t.drop()
	}
	t.mu.Unlock()
	ctx, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	got := false
	select {
	case got = <-me.got:
	case <-ctx.Done():
		got = t.leave(me)
	}
	if !got {
		return nil
	}
	return t.end
}

// leave takes one out of the queue; got is true if its turn came meanwhile.
func (t *Turns) leave(me *waiter) (got bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if i := slices.Index(t.queue, me); i >= 0 {
		t.queue = slices.Delete(t.queue, i, i+1)
		return false
	}
	return <-me.got
}

// drop turns away the last of the highest rank.
func (t *Turns) drop() {
	worst := 0
	for i, w := range t.queue {
		if w.rank >= t.queue[worst].rank {
			worst = i
		}
	}
	t.queue[worst].got <- false
	t.queue = slices.Delete(t.queue, worst, worst+1)
}

// end gives a turn to the first of the lowest rank.
func (t *Turns) end() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.queue) == 0 {
		t.free++
		return
	}
	best := 0
	for i, w := range t.queue {
		if w.rank < t.queue[best].rank {
			best = i
		}
	}
	t.queue[best].got <- true
	t.queue = slices.Delete(t.queue, best, best+1)
}
