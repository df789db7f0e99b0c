package carrier

import (
	"context"
	"sync"
	"time"
)

// Loop exchanges over one carrier again and again, for a program that goes on running.
type Loop struct {
	Place    string // the carrier, as a person knows it
	Open     func(context.Context) (Carrier, error)
	Exchange func(context.Context, Carrier) error
	// Rev is the book's revision: where it rises, there is something to send.
	Rev func() (uint64, error)
	Now func() time.Time

	// Rest is the least time between two exchanges.
	Rest time.Duration

	mu    sync.Mutex
	state State
}

const (
	lookEvery = 250 * time.Millisecond // at the book's revision: our choice
	mostPause = 15 * time.Second       // between two tries while the carrier is away: our choice
)

// State is how the exchange over one carrier stands.
type State struct {
	Last  time.Time // when all was exchanged; zero: not yet
	Since time.Time // when it began to fail; zero: it doesn't
	Err   error     // why, where it fails
}

// State is how it stands now.
func (l *Loop) State() State {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.state
}

// note keeps how a try ended.
func (l *Loop) note(err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch now := l.Now(); {
	case err == nil:
		l.state = State{Last: now}
	case l.state.Err == nil:
		l.state.Since = now
		fallthrough
	default:
		l.state.Err = err
	}
}

// Run exchanges until ctx ends: at once, and then whenever the carrier or the book may have
// something new. While it fails, it tries more and more seldom.
func (l *Loop) Run(ctx context.Context) {
	var c Carrier
	defer func() {
		if c != nil {
			_ = c.Close()
		}
	}()
	for pause := l.Rest; ctx.Err() == nil; {
		rev, err := l.Rev()
		if err == nil && c == nil {
			c, err = l.Open(ctx)
		}
		if err == nil {
			err = l.Exchange(ctx, c)
		}
		if ctx.Err() != nil {
			return
		}
		l.note(err)
		if err == nil {
			pause = l.Rest
			l.wait(ctx, c, rev)
			continue
		}
		sleep(ctx, pause)
		pause = min(2*pause, max(mostPause, l.Rest))
	}
}

// wait returns when the carrier or the book may have something new, but not before a rest.
func (l *Loop) wait(ctx context.Context, c Carrier, rev uint64) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	came := make(chan struct{})
	go func() {
		defer close(came)
		_ = c.Wait(ctx)
	}()
	defer func() {
		cancel()
		<-came // the carrier is for one at a time
	}()
	sleep(ctx, l.Rest)
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for {
		if now, err := l.Rev(); err != nil || now != rev {
			return
		}
		select {
		case <-look.C:
		case <-came:
			return
		case <-ctx.Done():
			return
		}
	}
}

func sleep(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}
