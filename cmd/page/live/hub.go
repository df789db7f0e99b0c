// Package live keeps open pages up to date: it hears that the book changed, brings the
// lists that are open up to date once for all who look at them, and tells those whose
// list changed. It knows no book and no HTML.
package live

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Hub tells every open page when the book changes, also when the command line or another
// program changed it. One watcher looks for all pages, and only while there are any.
type Hub struct {
	Rev  func() (uint64, error) // of the book; an error: there's none just now
	Look time.Duration          // how often it's looked at
	Beat time.Duration          // how often a page that hears nothing is told that it's still heard

	// Version brings a list up to date and gives a number that changes with it. ErrLater:
	// it's not its turn yet. After another error the list's pages are told, and find out.
	Version func(list string) (n uint64, err error)
	// StillIn says whether who asked, perhaps long ago, would be answered now.
	StillIn func(*http.Request) bool

	mu       sync.Mutex
	pages    map[*Page]bool
	versions map[string]uint64 // of the lists that are open, as their pages were last told
	last     uint64
	watching bool
	stopped  bool
	done     chan struct{} // closed: the server stops
	nudge    chan struct{}
	watcher  sync.WaitGroup
}

// ErrLater is what Version says of a list that takes long and was looked at just now.
var ErrLater = errors.New("later")

// Page is a page that listens.
type Page struct {
	Who   string    // the person, "" if nobody is logged in
	List  string    // the list it shows; "": another page
	Since time.Time // when it was opened

	changes chan uint64
}

// Most is how many pages may listen at once.
const Most = 256

// New makes a hub that asks rev for the book's revision.
func New(rev func() (uint64, error)) *Hub {
	return &Hub{Rev: rev, Look: 500 * time.Millisecond, Beat: 20 * time.Second, pages: map[*Page]bool{},
		versions: map[string]uint64{}, done: make(chan struct{}), nudge: make(chan struct{}, 1)}
}

// Join adds a page, and says how the book is now; false where there are too many, or the
// server stops.
func (h *Hub) Join(p *Page) (rev uint64, ok bool) {
	now, err := h.Rev()
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.stopped || len(h.pages) >= Most {
		return 0, false
	}
	if err == nil && len(h.pages) == 0 {
		h.last = now // nobody was there to be told of the changes before
	}
	if !h.watching {
		h.watching = true
		h.watcher.Go(h.watch)
	}
	p.changes = make(chan uint64, 1)
	h.pages[p] = true
	if err == nil {
		return now, true
	}
	return h.last, true
}

// Leave takes a page out.
func (h *Hub) Leave(p *Page) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.pages, p)
}

// Pages are those that listen now, the first to come first.
func (h *Hub) Pages() []Page {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := make([]Page, 0, len(h.pages))
	for p := range h.pages {
		out = append(out, *p)
	}
	slices.SortFunc(out, func(a, b Page) int {
		if c := a.Since.Compare(b.Since); c != 0 {
			return c
		}
		return strings.Compare(a.Who+"\x00"+a.List, b.Who+"\x00"+b.List)
	})
	return out
}

// Nudge makes the hub look at once: somebody just wrote.
func (h *Hub) Nudge() {
	select {
	case h.nudge <- struct{}{}:
	default:
	}
}

// Stop lets go of every page.
func (h *Hub) Stop() {
	h.mu.Lock()
	if !h.stopped {
		h.stopped = true
		close(h.done)
	}
	h.mu.Unlock()
	h.watcher.Wait()
}

// watch looks for changes until nobody listens.
func (h *Hub) watch() {
	t := time.NewTicker(h.Look)
	defer t.Stop()
	late := map[string]uint64{} // lists that weren't brought up to date since they were due, and for which revision
	for {
		select {
		case <-h.done:
			return
		case <-h.nudge:
		case <-t.C:
		}
		now, err := h.Rev() // no book just now: it's being replaced
		h.mu.Lock()
		if len(h.pages) == 0 {
			h.watching = false
			clear(h.versions)
			h.mu.Unlock()
			return
		}
		changed := err == nil && now != h.last
		if changed {
			h.last = now
			for p := range h.pages {
				late[p.List] = now
			}
		}
		h.mu.Unlock()
		h.tell(late)
	}
}

// tell tells the pages whose list changed.
func (h *Hub) tell(late map[string]uint64) {
	for list, rev := range late {
		n, err := uint64(0), error(nil)
		if list != "" && h.open(list) {
			n, err = h.Version(list)
		}
		if errors.Is(err, ErrLater) {
			continue
		}
		delete(late, list)
		h.mu.Lock()
		if was, had := h.versions[list]; list == "" || err != nil || !had || was != n {
			for p := range h.pages {
				if p.List == list {
					p.tell(rev)
				}
			}
		}
		h.versions[list] = n
		h.mu.Unlock()
	}
}

// open says whether a page shows a list.
func (h *Hub) open(list string) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	for p := range h.pages {
		if p.List == list {
			return true
		}
	}
	return false
}

func (p *Page) tell(rev uint64) {
	select {
	case <-p.changes: // who was not told yet is told the newest only
	default:
	}
	p.changes <- rev
}

// Serve is the stream of one page, until it goes away; false: there are too many pages.
// ?rev=N, or the Last-Event-ID a browser sends when it comes back, is what the page shows:
// where the book is another by now, it is told at once.
func (h *Hub) Serve(w http.ResponseWriter, r *http.Request, p *Page) bool {
	rev, ok := h.Join(p)
	if !ok {
		return false
	}
	defer h.Leave(p)
	rc := http.NewResponseController(w)
	// A stream outlives the time limits of other answers; what is unsent to a
	// reader that went away is little, and the number of streams is bounded.
	_ = rc.SetReadDeadline(time.Time{})
	_ = rc.SetWriteDeadline(time.Time{})
	head := w.Header()
	head.Set("Content-Type", "text/event-stream")
	head.Set("Cache-Control", "no-store")
	head.Set("X-Accel-Buffering", "no")
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
			return true
		}
	} else if rc.Flush() != nil {
		return true
	}
	t := time.NewTicker(h.Beat)
	defer t.Stop()
	for {
		select {
		case <-h.done:
			return true
		case <-r.Context().Done():
			return true
		case rev := <-p.changes:
			if send(rev) != nil {
				return true
			}
		case <-t.C:
			if !h.StillIn(r) {
				return true
			}
			fmt.Fprint(w, ": still here\n\n")
			if rc.Flush() != nil {
				return true
			}
		}
	}
}
