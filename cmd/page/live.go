package page

import (
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"
)

// live tells open pages that the book changed, no matter who changed it. One watcher
// looks for all of them, and only while there are any.
type live struct {
	rev  func() (uint64, error)
	look time.Duration // how often

	mu       sync.Mutex
	pages    map[chan uint64]bool
	last     uint64
	watching bool
	stopped  bool
	done     chan struct{} // closed: the server stops
	watcher  sync.WaitGroup
}

// mostLive is how many pages may listen at once.
const mostLive = 256

// beat is how often a page that hears nothing is told that it is still heard.
const beat = 20 * time.Second

func newLive(rev func() (uint64, error)) *live {
	return &live{rev: rev, look: 500 * time.Millisecond, pages: map[chan uint64]bool{}, done: make(chan struct{})}
}

// join adds a page, and says how the book is now; nil where there are too many,
// or the server stops.
func (l *live) join() (changes chan uint64, rev uint64) {
	now, err := l.rev()
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.stopped || len(l.pages) >= mostLive {
		return nil, 0
	}
	if err == nil {
		l.saw(now)
	}
	if !l.watching {
		l.watching = true
		l.watcher.Go(l.watch)
	}
	c := make(chan uint64, 1)
	l.pages[c] = true
	return c, l.last
}

// saw takes note of how the book is, and tells the pages where that is new.
func (l *live) saw(rev uint64) {
	if rev == l.last {
		return
	}
	l.last = rev
	for c := range l.pages {
		select {
		case <-c: // who was not told yet is told the newest only
		default:
		}
		c <- rev
	}
}

func (l *live) leave(c chan uint64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.pages, c)
}

// stop lets go of every page.
func (l *live) stop() {
	l.mu.Lock()
	if !l.stopped {
		l.stopped = true
		close(l.done)
	}
	l.mu.Unlock()
	l.watcher.Wait()
}

// watch looks for changes until nobody listens.
func (l *live) watch() {
	t := time.NewTicker(l.look)
	defer t.Stop()
	for {
		select {
		case <-l.done:
			return
		case <-t.C:
		}
		now, err := l.rev() // no book just now: it is being replaced
		l.mu.Lock()
		if len(l.pages) == 0 {
			l.watching = false
			l.mu.Unlock()
			return
		}
		if err == nil {
			l.saw(now)
		}
		l.mu.Unlock()
	}
}

// serveLive is the stream of one page. ?rev=N, or the Last-Event-ID a browser
// sends when it comes back, is what the page shows: where the book is another by
// now, it is told at once.
func (s *Server) serveLive(w http.ResponseWriter, r *http.Request) {
	c, rev := s.live.join()
	if c == nil {
		s.refuse(w, r, errPages)
		return
	}
	defer s.live.leave(c)
	rc := http.NewResponseController(w)
	// A stream outlives the time limits of other answers; what is unsent to a
	// reader that went away is little, and the number of streams is bounded.
	_ = rc.SetReadDeadline(time.Time{})
	_ = rc.SetWriteDeadline(time.Time{})
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no")
	w.WriteHeader(http.StatusOK)
	send := func(rev uint64) error {
		fmt.Fprintf(w, "event: change\nid: %d\ndata: {\"rev\": %d}\n\n", rev, rev)
		return rc.Flush()
	}
	seen := r.Header.Get("Last-Event-ID")
	if seen == "" {
		seen = r.URL.Query().Get("rev")
	}
	fmt.Fprint(w, "retry: 3000\n: listening\n\n")
	if n, err := strconv.ParseUint(seen, 10, 64); err == nil && n != rev {
		if send(rev) != nil {
			return
		}
	} else if rc.Flush() != nil {
		return
	}
	t := time.NewTicker(beat)
	defer t.Stop()
	for {
		select {
		case <-s.live.done:
			return
		case <-r.Context().Done():
			return
		case rev := <-c:
			if send(rev) != nil {
				return
			}
		case <-t.C:
			if !s.stillIn(r) {
				return
			}
			fmt.Fprint(w, ": still here\n\n")
			if rc.Flush() != nil {
				return
			}
		}
	}
}
