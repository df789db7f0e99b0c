package carrier

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// still is a carrier to which nothing comes until it's told so.
type still struct {
	Carrier
	news   chan struct{}
	closed atomic.Bool
}

func (s *still) Wait(ctx context.Context) error {
	select {
	case <-s.news:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s *still) Close() error {
	s.closed.Store(true)
	return nil
}

func TestTheLoopExchangesWhenSomethingIsNew(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := &still{news: make(chan struct{})}
		var rev, exchanges atomic.Uint64
		l := &Loop{
			Open:     func(context.Context) (Carrier, error) { return c, nil },
			Exchange: func(context.Context, Carrier) error { exchanges.Add(1); return nil },
			Rev:      func() (uint64, error) { return rev.Load(), nil },
			Now:      time.Now, Rest: time.Second,
		}
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() { l.Run(ctx); close(ended) }()
		expect := func(n uint64, after time.Duration, when string) {
			t.Helper()
			time.Sleep(after)
			synctest.Wait()
			if got := exchanges.Load(); got != n {
				t.Errorf("%s: %d exchanges, want %d", when, got, n)
			}
		}
		expect(1, 0, "at once")
		expect(1, time.Hour, "nothing new")
		rev.Add(1)
		expect(2, lookEvery, "the book changed")
		c.news <- struct{}{}
		expect(2, time.Second/2, "news before a rest is over")
		expect(3, time.Second, "news")
		if s := l.State(); s.Err != nil || !s.Since.IsZero() || time.Since(s.Last) > 2*time.Second {
			t.Errorf("%+v", s)
		}
		cancel()
		<-ended
		if !c.closed.Load() {
			t.Error("the carrier stays open")
		}
	})
}

func TestTheLoopTriesMoreSeldomWhileItFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := &still{news: make(chan struct{})}
		var exchanges atomic.Int64
		var back atomic.Bool
		away := Trouble{Kind: Away, Place: "a stick"}
		began := time.Now()
		l := &Loop{
			Open: func(context.Context) (Carrier, error) {
				if time.Since(began) < 5*time.Second {
					return nil, away
				}
				return c, nil
			},
			Exchange: func(context.Context, Carrier) error {
				exchanges.Add(1)
				if back.Load() {
					return nil
				}
				return away
			},
			Rev: func() (uint64, error) { return 0, nil }, Now: time.Now, Rest: time.Second,
		}
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() { l.Run(ctx); close(ended) }()
		time.Sleep(time.Hour)
		synctest.Wait()
		if n := exchanges.Load(); n < 200 || n > 250 {
			t.Errorf("%d tries in an hour", n)
		}
		if s := l.State(); !errors.Is(s.Err, Away) || !s.Since.Equal(began) || !s.Last.IsZero() {
			t.Errorf("%+v", s)
		}
		back.Store(true)
		time.Sleep(mostPause)
		synctest.Wait()
		if s := l.State(); s.Err != nil || s.Last.IsZero() {
			t.Errorf("it's back: %+v", s)
		}
		cancel()
		<-ended
	})
}
