package access

import (
	"crypto/sha256"
	"net/netip"
	"strings"
	"sync"
	"time"
)

// Tries bounds how often a password is guessed: a handful at once, then one in so long.
// It counts by name and network together, so that one who guesses slows down nobody
// elsewhere, and by network, for one who tries many names. A browser that its person has
// logged in with before counts by itself, so that somebody who shares their address slows them
// down neither. What it remembers is bounded.
type Tries struct {
	mu   sync.Mutex
	full map[string]time.Time // when a key has all its tries again
}

// How many tries there are at once, how soon one comes back, and how long one is kept
// waiting. A handful at once is for fingers in gloves. A whole creamery may share one address.
const (
	PerName     = 6
	perNetwork  = 20
	EveryName   = 10 * time.Second
	everyNet    = 3 * time.Second
	LongestWait = 10 * time.Second // for a try that is kept waiting; one that would wait longer is refused
	mostTries   = 4096
)

// NewTries remembers nothing yet.
func NewTries() *Tries { return &Tries{full: map[string]time.Time{}} }

// Try is one at a password: what it counts by, how long it has to wait, and how many
// came just before it.
type Try struct {
	Wait   time.Duration
	Before int

	key string
}

// Take takes a try at a name's password from an address, or from a browser that is known
// ("": it isn't); ok is false where it would wait too long, and then none is taken.
func (t *Tries) Take(now time.Time, name, address, browser string) (y Try, ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	net := "from " + Network(address)
	y.key = net + nameKey(name)
	if browser != "" {
		y.key = "browser " + browser
	} else {
		y.Wait = t.wait(now, net, everyNet, perNetwork)
	}
	y.Wait = max(y.Wait, t.wait(now, y.key, EveryName, PerName), 0)
	if y.Wait > LongestWait {
		return y, false
	}
	if left := t.full[y.key].Sub(now); left > 0 {
		y.Before = int((left + EveryName - 1) / EveryName)
	}
	t.spend(now, y.key, EveryName)
	if browser == "" {
		t.spend(now, net, everyNet)
	}
	return y, true
}

// wait is how long until there is a try, where most are given at once and one comes
// back every so often; 0 or less: there is one.
func (t *Tries) wait(now time.Time, key string, every time.Duration, most int) time.Duration {
	at, spent := t.full[key]
	if !spent {
		return 0
	}
	return at.Sub(now) - time.Duration(most-1)*every
}

func (t *Tries) spend(now time.Time, key string, every time.Duration) {
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
func (t *Tries) forget(now time.Time) {
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

// Right says that a try was no guess: its key has all its tries back.
func (t *Tries) Right(y Try) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.full, y.key)
}

// nameKey is short however long a name is guessed for.
func nameKey(name string) string {
	sum := sha256.Sum256([]byte(strings.ToLower(strings.TrimSpace(name))))
	return string(sum[:])
}

// Network is the address as far as one person can change it at will: an IPv6 site has
// up to a /48 to itself (RFC 6177).
func Network(address string) string {
	ip, err := netip.ParseAddr(address)
	if ap, aperr := netip.ParseAddrPort(address); aperr == nil {
		ip, err = ap.Addr(), nil
	}
	if err != nil {
		return "unknown"
	}
	if ip = ip.Unmap(); ip.Is6() {
		if p, err := ip.WithZone("").Prefix(48); err == nil {
			return p.String()
		}
	}
	return ip.String()
}
