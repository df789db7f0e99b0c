package page

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rindkeep/cmd/page/access"
)

var tlsState = &tls.ConnectionState{}

// served is a stage's server on a port of its own; stop ends it and says whether
// all was finished.
func (st *stage) served(certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)) (addr string,
	stop func() bool) {
	st.t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		st.t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	var whole bool
	var done sync.WaitGroup
	done.Go(func() {
		w, err := st.server.Serve(ctx, l, certificate)
		if err != nil {
			st.t.Error(err)
		}
		whole = w
	})
	stop = func() bool { cancel(); done.Wait(); return whole }
	st.t.Cleanup(func() { stop() })
	return l.Addr().String(), stop
}

// alone is a client that shares no connection with others.
func alone(t testing.TB) *http.Client {
	tr := &http.Transport{}
	t.Cleanup(tr.CloseIdleConnections)
	return &http.Client{Transport: tr, Timeout: 30 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func quick(_ *Options, l *limits) {
	l.header, l.read, l.write = 300*time.Millisecond, 600*time.Millisecond, 10*time.Second
	l.idle, l.stop = time.Second, 5*time.Second
}

func TestSlowAndBrokenRequestsEnd(t *testing.T) {
	st := newStage(t, quick)
	addr, _ := st.served(nil)
	head := "POST /api/did HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
	for _, c := range []struct {
		name, send string
		want       string // how the answer begins; "": none
	}{
		{"nothing is ever sent", "", ""},
		{"a head that never ends", head, ""},
		{"a body that never ends", head + "Content-Length: 100\r\n\r\n{\"job\"", "HTTP/1.1 400"},
		{"a body that breaks off in chunks", head + "Transfer-Encoding: chunked\r\n\r\n5\r\n{\"job\r\n", "HTTP/1.1 400"},
		{"no HTTP", "rindkeep, hello\r\n\r\n", "HTTP/1.1 400"},
		{"no host", "GET /api/today HTTP/1.1\r\n\r\n", "HTTP/1.1 400"},
		{"two hosts", "GET /api/today HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n", "HTTP/1.1 400"},
		{"a length and chunks both", head + "Content-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
			"HTTP/1.1 400"},
		{"two lengths", head + "Content-Length: 3\r\nContent-Length: 4\r\n\r\n{}x", "HTTP/1.1 400"},
		{"a length below nothing", head + "Content-Length: -1\r\n\r\n", "HTTP/1.1 400"},
		{"a head too large", "GET /api/today HTTP/1.1\r\nHost: localhost\r\nX: " + strings.Repeat("x", 64<<10) + "\r\n\r\n",
			"HTTP/1.1 431"},
		{"a larger body than is said to be taken", head + "Content-Length: 99999999\r\n\r\n" + strings.Repeat(" ", 2<<20),
			"HTTP/1.1 413"},
		{"a method of one's own", "TURN /api/did HTTP/1.1\r\nHost: localhost\r\n\r\n", "HTTP/1.1 405"},
		{"a path out of the folder", "GET /a/../../../etc/passwd HTTP/1.1\r\nHost: localhost\r\n\r\n", "HTTP/1.1 307"},
		{"a path out of the folder, hidden", "GET /a/..%2f..%2fetc%2fpasswd HTTP/1.1\r\nHost: localhost\r\n\r\n",
			"HTTP/1.1 404"},
		{"a whole address for another host", "GET http://evil.example/api/today HTTP/1.1\r\nHost: localhost\r\n\r\n",
			"HTTP/1.1 421"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			conn, err := net.Dial("tcp", addr)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			_ = conn.SetDeadline(time.Now().Add(10 * time.Second))
			go func() { _, _ = io.WriteString(conn, c.send) }() // may be cut off
			b, err := io.ReadAll(conn)
			var ne net.Error
			if errors.As(err, &ne) && ne.Timeout() {
				t.Errorf("after 10 seconds it is still open; it said %.200q", b)
			}
			if c.want == "" && len(b) > 0 && !bytes.HasPrefix(b, []byte("HTTP/1.1 408")) || !bytes.HasPrefix(b, []byte(c.want)) {
				t.Errorf("it says %.200q, want %q", b, c.want)
			}
		})
	}
}

func TestOthersAreAnsweredWhileSlowOnesDawdle(t *testing.T) {
	st := newStage(t, quick)
	addr, _ := st.served(nil)
	for range 200 {
		conn, err := net.Dial("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		_, _ = io.WriteString(conn, "POST /api/did HTTP/1.1\r\nHost: localhost\r\n")
	}
	r, err := alone(t).Get("http://" + addr + "/api/today")
	if err != nil || r.StatusCode != 200 {
		t.Fatal(r, err)
	}
	r.Body.Close()
}

func TestAStopFinishesWhatRunsAndLeavesNothingRunning(t *testing.T) {
	before := runtime.NumGoroutine()
	st := newStage(t)
	running, goOn := make(chan struct{}), make(chan struct{})
	var once sync.Once
	st.playing(func() { once.Do(func() { close(running); <-goOn }) })
	addr, stop := st.served(nil)
	c := alone(t)
	// Pages that listen, one that is asked just now.
	var pages []io.Closer
	for range 5 {
		r, err := c.Get("http://" + addr + "/live")
		if err != nil {
			t.Fatal(err)
		}
		pages = append(pages, r.Body)
	}
	got := make(chan string, 1)
	go func() {
		r, err := c.Post("http://"+addr+"/api/did", "application/json", strings.NewReader(turn))
		if err != nil {
			got <- err.Error()
			return
		}
		b, _ := io.ReadAll(r.Body)
		r.Body.Close()
		got <- fmt.Sprint(r.StatusCode, " ", string(b))
	}()
	<-running
	stopped := make(chan bool, 1)
	go func() { stopped <- stop() }()
	for deadline := time.Now().Add(5 * time.Second); ; {
		conn, err := net.Dial("tcp", addr)
		if err != nil {
			break // nothing new is taken
		}
		conn.Close()
		if time.Now().After(deadline) {
			t.Fatal("after 5 seconds it still takes connections")
		}
		time.Sleep(time.Millisecond)
	}
	close(goOn)
	if g := <-got; !strings.Contains(g, `"rindkeep/did/1"`) || !strings.HasPrefix(g, "200") {
		t.Errorf("what ran was answered %s", g)
	}
	if !<-stopped {
		t.Error("the stop says that something was broken off")
	}
	for _, p := range pages {
		p.Close()
	}
	c.CloseIdleConnections()
	for deadline := time.Now().Add(5 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		if n := runtime.NumGoroutine(); n <= before {
			break
		} else if time.Now().After(deadline) {
			buf := make([]byte, 1<<20)
			t.Fatalf("%d goroutines, %d before:\n%s", n, before, buf[:runtime.Stack(buf, true)])
		}
	}
}

func TestAStopDoesNotWaitForEver(t *testing.T) {
	st := newStage(t, func(_ *Options, l *limits) { l.stop = 50 * time.Millisecond })
	running, goOn := make(chan struct{}), make(chan struct{})
	defer close(goOn)
	var once sync.Once
	st.playing(func() { once.Do(func() { close(running); <-goOn }) })
	addr, stop := st.served(nil)
	go func() {
		if r, err := alone(t).Post("http://"+addr+"/api/did", "application/json", strings.NewReader(turn)); err == nil {
			r.Body.Close()
		}
	}()
	<-running
	if stop() {
		t.Error("it says that all was finished")
	}
}

// listen reads the stream of changes.
func listen(t testing.TB, c *http.Client, url string, head map[string]string) (next func() string) {
	t.Helper()
	req, err := http.NewRequest("GET", url, nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, v := range head {
		req.Header.Set(k, v)
	}
	r, err := c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	if r.StatusCode != 200 || r.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("%d %v", r.StatusCode, r.Header)
	}
	t.Cleanup(func() { r.Body.Close() })
	sc := bufio.NewScanner(r.Body)
	return func() string {
		var event []string
		for sc.Scan() {
			switch l := sc.Text(); {
			case l == "" && len(event) > 0:
				return strings.Join(event, "|")
			case l == "", strings.HasPrefix(l, ":"), strings.HasPrefix(l, "retry:"):
			default:
				event = append(event, l)
			}
		}
		return "end"
	}
}

func TestOpenPagesHearOfChanges(t *testing.T) {
	st := newStage(t)
	st.server.live.Look = 5 * time.Millisecond
	var looks atomic.Int64
	st.server.live.Rev = func() (uint64, error) {
		looks.Add(1)
		if st.rev.Load() == 99 {
			return 0, errors.New("no book just now")
		}
		return st.rev.Load(), nil
	}
	st.rev.Store(7)
	addr, stop := st.served(nil)
	c := alone(t)
	at := "http://" + addr + "/live"
	same, behind, back := listen(t, c, at+"?rev=7", nil), listen(t, c, at+"?rev=5", nil), listen(t, c, at,
		map[string]string{"Last-Event-ID": "6"})
	const seven, eight = `event: change|id: 7|data: {"rev": 7}`, `event: change|id: 8|data: {"rev": 8}`
	for name, next := range map[string]func() string{"a page that is behind": behind, "a page that comes back": back} {
		if got := next(); got != seven {
			t.Errorf("%s hears %q", name, got)
		}
	}
	st.rev.Store(99)
	time.Sleep(20 * time.Millisecond)
	st.rev.Store(8)
	for name, next := range map[string]func() string{"a page that is up to date": same, "a page that was behind": behind,
		"a page that came back": back} {
		if got := next(); got != eight {
			t.Errorf("%s hears %q", name, got)
		}
	}
	stop()
	if got := same(); got != "end" {
		t.Errorf("after the stop it hears %q", got)
	}
	n := looks.Load()
	time.Sleep(30 * time.Millisecond)
	if looks.Load() != n {
		t.Error("it looks on though nobody listens")
	}
}

func TestAnOpenPageOutlivesTheTimeLimitsOfOtherAnswers(t *testing.T) {
	c, err := access.NewCertificate(filepath.Join(t.TempDir(), "x.tls"), []string{"localhost", "127.0.0.1"}, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	for name, over := range map[string]bool{"in clear": false, "over TLS": true} {
		t.Run(name, func(t *testing.T) {
			st := newStage(t, func(_ *Options, l *limits) {
				l.header, l.read, l.write = 100*time.Millisecond, 150*time.Millisecond, 200*time.Millisecond
			})
			st.server.live.Look = 5 * time.Millisecond
			cl, scheme := alone(t), "http"
			certificate := c.For
			if over {
				scheme = "https"
				roots := x509.NewCertPool()
				a, err := x509.ParseCertificate(c.Authority())
				if err != nil {
					t.Fatal(err)
				}
				roots.AddCert(a)
				cl.Transport = &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}, ForceAttemptHTTP2: true}
			} else {
				certificate = nil
			}
			addr, _ := st.served(certificate)
			next := listen(t, cl, scheme+"://"+addr+"/live", nil)
			time.Sleep(600 * time.Millisecond)
			st.rev.Store(3)
			if got := next(); got != `event: change|id: 3|data: {"rev": 3}` {
				t.Errorf("it hears %q", got)
			}
		})
	}
}

func TestAPersonForgottenHearsNoMore(t *testing.T) {
	st := newStage(t)
	head := st.person("Nora", access.Writer)
	r, err := http.NewRequest("GET", "http://localhost/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Cookie", head["Cookie"])
	if !st.server.stillIn(r) {
		t.Error("she is out before")
	}
	if _, _, err := st.access.Forget("Nora"); err != nil {
		t.Fatal(err)
	}
	if st.server.stillIn(r) {
		t.Error("she is in still")
	}
}

func TestHealthIsOfTheBookAndNamesNoFile(t *testing.T) {
	st := newStage(t, beyond)
	if r := st.do("GET", "/health", nil, ""); r.StatusCode != 200 || saidBy(t, r) != `{"status":"ok"}`+"\n" {
		t.Error(r.StatusCode)
	}
	if err := os.Remove(st.book); err != nil {
		t.Fatal(err)
	}
	st.ran()
	if r := st.do("GET", "/health", nil, ""); r.StatusCode != 200 || st.ran() {
		t.Error("it asks the book each time")
	}
	st.now = st.now.Add(healthKept)
	r := st.do("GET", "/health", nil, "")
	var said Refusal
	if err := json.NewDecoder(r.Body).Decode(&said); err != nil || r.StatusCode != 503 ||
		!reflect.DeepEqual(said, Refusal{Error: "the book can't be opened", Exit: 5}) {
		t.Errorf("%d %+v %v", r.StatusCode, said, err)
	}
}

func TestOverTLSItSpeaksHTTP2AndTheCookieIsSecure(t *testing.T) {
	c, err := access.NewCertificate(filepath.Join(t.TempDir(), "x.tls"), []string{"localhost", "127.0.0.1"}, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	st := newStage(t, func(o *Options, _ *limits) { o.Authority = c.Authority })
	st.person("Nora", access.Writer)
	addr, _ := st.served(c.For)
	roots := x509.NewCertPool()
	a, err := x509.ParseCertificate(c.Authority())
	if err != nil {
		t.Fatal(err)
	}
	roots.AddCert(a)
	cl := alone(t)
	tr, ok := cl.Transport.(*http.Transport)
	if !ok {
		t.Fatal("no transport")
	}
	tr.TLSClientConfig, tr.ForceAttemptHTTP2 = &tls.Config{RootCAs: roots}, true
	r, err := cl.Post("https://"+addr+"/login", "application/x-www-form-urlencoded",
		strings.NewReader("name=Nora&password="+strings.ReplaceAll(secret, " ", "+")))
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	if r.ProtoMajor != 2 || r.StatusCode != 303 || len(r.Cookies()) != 2 || !r.Cookies()[0].Secure ||
		!strings.HasPrefix(r.Cookies()[0].Name, "__Host-") {
		t.Errorf("%s %d %v", r.Proto, r.StatusCode, r.Cookies())
	}
	if r, err = cl.Get("https://" + addr + "/authority.crt"); err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if b, err := io.ReadAll(r.Body); err != nil || !bytes.Equal(b, c.Authority()) {
		t.Error("the authority is not handed out", err)
	}
}
