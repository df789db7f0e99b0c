package page

import (
	"net"
	"sync"
	"time"

	"rindkeep/cmd/page/access"
)

// crowd is a listener that lets no more connections in than there is room for:
// in all, and from one network, so that one machine that opens them and says
// nothing leaves room for the others. From this machine itself, where a proxy
// for all may run, only the first counts.
type crowd struct {
	net.Listener
	most, each int
	now        func() time.Time
	turned     func(from string) // called now and then, where one was turned away

	mu   sync.Mutex
	all  int
	of   map[string]int // by network
	said time.Time
}

func newCrowd(l net.Listener, most, each int, now func() time.Time, turned func(from string)) *crowd {
	return &crowd{Listener: l, most: most, each: each, now: now, turned: turned, of: map[string]int{}}
}

// Accept gives the next connection there is room for; others are closed.
func (c *crowd) Accept() (net.Conn, error) {
	for {
		conn, err := c.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := access.Network(conn.RemoteAddr().String())
		if c.enter(from, isLoopback(conn.RemoteAddr())) {
			return &counted{Conn: conn, leave: sync.OnceFunc(func() { c.leave(from) })}, nil
		}
		_ = conn.Close()
	}
}

func isLoopback(a net.Addr) bool {
	tcp, ok := a.(*net.TCPAddr)
	return ok && tcp.IP.IsLoopback()
}

func (c *crowd) enter(from string, own bool) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.all >= c.most || !own && c.of[from] >= c.each {
		if now := c.now(); now.Sub(c.said) > time.Minute {
			c.said = now
			c.turned(from)
		}
		return false
	}
	c.all++
	c.of[from]++
	return true
}

func (c *crowd) leave(from string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.all--
	if c.of[from]--; c.of[from] == 0 {
		delete(c.of, from)
	}
}

// counted is a connection that makes room as it closes.
type counted struct {
	net.Conn
	leave func()
}

func (c *counted) Close() error {
	c.leave()
	return c.Conn.Close()
}
