package page

import (
	"crypto/sha256"
	"net/netip"
	"strings"
	"sync"
	"time"
)

// tries bounds how often a password is guessed, by the name it is guessed for and by
// the address it comes from: a handful at once, then one in so long. A person who gets in
// gives the name all its tries back. What it remembers is bounded.
type tries struct {
	mu   sync.Mutex
	full map[string]time.Time // when a name or an address has all its tries again
}

// A handful at once is for fingers in gloves. A whole creamery may share one address.
const (
	perName    = 6
	perAddress = 20
	everyName  = 10 * time.Second
	everyAddr  = 3 * time.Second
	mostTries  = 4096
)

func newTries() *tries { return &tries{full: map[string]time.Time{}} }

// take takes a try; wait is how long until there is one where there is none, and
// then none is taken.
func (t *tries) take(now time.Time, name, address string) (wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	// The address first: one that has no tries left has no name remembered for
	// it either, or made-up names would push out the one that is guessed for.
	from, of := "from "+network(address), nameKey(name)
	if wait := t.wait(now, from, everyAddr, perAddress); wait > 0 {
		return wait
	}
	if wait := t.wait(now, of, everyName, perName); wait > 0 {
		return wait
	}
	t.spend(now, from, everyAddr)
	t.spend(now, of, everyName)
	return 0
}

// wait is how long until there is a try, where most are given at once and one comes
// back every so often; 0 or less: there is one.
func (t *tries) wait(now time.Time, key string, every time.Duration, most int) time.Duration {
	at, spent := t.full[key]
	if !spent {
		return 0
	}
	return at.Sub(now) - time.Duration(most-1)*every
}

func (t *tries) spend(now time.Time, key string, every time.Duration) {
	if _, known := t.full[key]; !known && len(t.full) >= mostTries {
		t.forget(now)
	}
	from := t.full[key]
	if from.Before(now) {
		from = now
	}
	t.full[key] = from.Add(every)
}

// forget makes room: all that have their tries again go, else the one that has them
// soonest.
func (t *tries) forget(now time.Time) {
	soonest := ""
	for key, at := range t.full {
		if !at.After(now) {
			delete(t.full, key)
		} else if soonest == "" || at.Before(t.full[soonest]) {
			soonest = key
		}
	}
	if len(t.full) >= mostTries {
		delete(t.full, soonest)
	}
}

// right says that a try was no guess.
func (t *tries) right(name string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.full, nameKey(name))
}

// nameKey is short however long a name is guessed for.
func nameKey(name string) string {
	sum := sha256.Sum256([]byte(strings.ToLower(strings.TrimSpace(name))))
	return string(sum[:])
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
