package page

import (
	"bytes"
	"io"
	"net"
	"strings"
	"testing"
	"time"
)

func TestOneMachineCannotTakeAllConnections(t *testing.T) {
	said := ""
	c := newCrowd(nil, 6, 3, time.Now, func(from string) { said += from + "\n" })
	for i, x := range []struct {
		from string
		own  bool
		in   bool
	}{
		{"192.0.2.1", false, true}, {"192.0.2.1", false, true}, {"192.0.2.1", false, true},
		{"192.0.2.1", false, false}, // its share
		{"192.0.2.2", false, true},
		{"127.0.0.1", true, true}, {"127.0.0.1", true, true},
		{"127.0.0.1", true, false}, // all
		{"192.0.2.3", false, false},
	} {
		if in := c.enter(x.from, x.own); in != x.in {
			t.Errorf("connection %d from %s is in: %v", i+1, x.from, in)
		}
	}
	if said != "192.0.2.1\n" {
		t.Errorf("once a minute it is said who was turned away, not %q", said)
	}
	for _, from := range []string{"192.0.2.1", "192.0.2.1", "192.0.2.1", "192.0.2.2", "127.0.0.1", "127.0.0.1"} {
		c.leave(from)
	}
	if c.all != 0 || len(c.of) != 0 {
		t.Errorf("once all are gone %d and %v are remembered", c.all, c.of)
	}
}

func TestConnectionsBeyondTheMostAreClosedUntilOthersGo(t *testing.T) {
	st := newStage(t, func(_ *Options, l *limits) { l.open = 3 })
	addr, stop := st.served(nil)
	dial := func() net.Conn {
		t.Helper()
		c, err := net.DialTimeout("tcp", addr, 5*time.Second)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		_ = c.SetDeadline(time.Now().Add(20 * time.Second))
		return c
	}
	ask := func(c net.Conn) string {
		_, _ = io.WriteString(c, "GET /health HTTP/1.1\r\nHost: localhost\r\n\r\n")
		b := make([]byte, 12)
		n, _ := io.ReadFull(c, b)
		return string(b[:n])
	}
	var in []net.Conn
	for range 3 {
		c := dial()
		if got := ask(c); got != "HTTP/1.1 200" {
			t.Fatalf("with room: %q", got)
		}
		in = append(in, c)
	}
	if got := ask(dial()); got != "" {
		t.Errorf("beyond the most: %q", got)
	}
	in[0].Close()
	for end := time.Now().Add(20 * time.Second); ; {
		got := ask(dial())
		if got == "HTTP/1.1 200" {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("after one has gone: %q", got)
		}
	}
	stop()
	if n := bytes.Count(st.log.Bytes(), []byte("too many connections")); n != 1 ||
		!strings.Contains(st.log.String(), `"from":"127.0.0.1"`) {
		t.Errorf("said %d times:\n%s", n, st.log.String())
	}
}
