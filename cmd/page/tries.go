package page

import (
	"container/list"
	"crypto/sha256"
	"net/netip"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// tries bounds how often a password is guessed at, by the name guessed for and
// by the address it comes from. Who gets in has the name's tries anew. What it
// remembers is bounded; the longest unused is forgotten first.
type tries struct {
	mu    sync.Mutex
	most  int
	order *list.List // newest in front
	of    map[string]*list.Element
}

type tried struct {
	key string
	lim *rate.Limiter
}

// How often: a handful at once for fingers in gloves, then one in so long. A
// whole creamery may share one address.
const (
	perName    = 6
	perAddress = 20
	everyName  = 10 * time.Second
	everyAddr  = 3 * time.Second
	mostTries  = 4096
)

func newTries() *tries {
	return &tries{most: mostTries, order: list.New(), of: map[string]*list.Element{}}
}

// take takes a try; wait is how long until there is one where there is none, and
// then none is taken.
func (t *tries) take(now time.Time, name, address string) (wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	// The address first: one that has no tries left has no name remembered for
	// it either, or made-up names would push out the one that is guessed for.
	from := t.limiter("from "+network(address), everyAddr, perAddress)
	if wait := untilOne(from, now); wait > 0 {
		return wait
	}
	of := t.limiter(nameKey(name), everyName, perName)
	if wait := untilOne(of, now); wait > 0 {
		return wait
	}
	from.AllowN(now, 1)
	of.AllowN(now, 1)
	return 0
}

// untilOne is how long until the limiter has a try.
func untilOne(l *rate.Limiter, now time.Time) time.Duration {
	have := l.TokensAt(now)
	if have >= 1 {
		return 0
	}
	return time.Duration((1 - have) / float64(l.Limit()) * float64(time.Second))
}

// right says that a try was no guess.
func (t *tries) right(name string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if e := t.of[nameKey(name)]; e != nil {
		delete(t.of, nameKey(name))
		t.order.Remove(e)
	}
}

// nameKey is short however long a name is guessed for.
func nameKey(name string) string {
	sum := sha256.Sum256([]byte(strings.ToLower(strings.TrimSpace(name))))
	return string(sum[:])
}

func (t *tries) limiter(key string, every time.Duration, burst int) *rate.Limiter {
	if e := t.of[key]; e != nil {
		t.order.MoveToFront(e)
		return e.Value.(tried).lim
	}
	if t.order.Len() >= t.most {
		last := t.order.Back()
		delete(t.of, last.Value.(tried).key)
		t.order.Remove(last)
	}
	l := rate.NewLimiter(rate.Every(every), burst)
	t.of[key] = t.order.PushFront(tried{key, l})
	return l
}

// network is the address as far as one person can change it at will: an IPv6
// host has a whole /64 to itself.
func network(address string) string {
	ap, err := netip.ParseAddrPort(address)
	if err != nil {
		return "unknown"
	}
	ip := ap.Addr().Unmap()
	if ip.Is6() {
		if p, err := ip.WithZone("").Prefix(64); err == nil {
			return p.String()
		}
	}
	return ip.String()
}
