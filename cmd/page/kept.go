package page

import (
	"sync"
	"time"
)

// keeper remembers answers that take long to work out, until the book changes or a
// quarter of an hour is over: at midnight another day begins, everywhere at a full quarter.
type keeper struct {
	mu      sync.Mutex
	rev     uint64
	quarter time.Time
	answers map[string]any
}

// mostKept bounds what a reader may have kept by asking for one thing in many ways.
const mostKept = 16

// kept is the answer to a question from before, or a new one. The key is all it
// depends on besides the book and the time.
func kept[R any](c *call, key string, ask func() (R, error)) (R, error) {
	if c.s.opt.Rev == nil {
		return ask()
	}
	rev, err := c.s.opt.Rev()
	if err != nil {
		return ask() // no book just now: asking says so
	}
	k, quarter := &c.s.kept, c.s.opt.Now().Truncate(15*time.Minute)
	k.mu.Lock()
	if k.rev != rev || !k.quarter.Equal(quarter) || len(k.answers) >= mostKept {
		k.rev, k.quarter, k.answers = rev, quarter, map[string]any{}
	}
	was, ok := k.answers[key].(R)
	k.mu.Unlock()
	if ok {
		return was, nil
	}
	r, err := ask()
	if err != nil {
		return r, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.rev == rev && k.quarter.Equal(quarter) {
		k.answers[key] = r
	}
	return r, nil
}
