// Package browsertest tries the page as people meet it: the program itself,
// served, in a real browser, at the size of a phone and of a desk.
//
// It needs Chromium, and the npm package axe-core in the folder
// RINDKEEP_NODE_MODULES names. With RINDKEEP_BROWSER_SHOTS naming a folder,
// pictures of all pages are left there to look at.
package browsertest

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// patience is how long anything may take that a test waits for. Slow machines
// are no failure.
const patience = 20 * time.Second

// one is what tests share: the program, built once, and a browser.
var one struct {
	dir     string
	program func() (string, error)
	browser func() (context.Context, error)
	mu      sync.Mutex
	stop    []func()
}

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "rindkeep-browser")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	one.dir = dir
	one.program = sync.OnceValues(build)
	one.browser = sync.OnceValues(func() (context.Context, error) { return start("profile") })
	code := m.Run()
	for _, f := range one.stop {
		f()
	}
	_ = os.RemoveAll(dir)
	os.Exit(code)
}

// build makes the program as it is handed out.
func build() (string, error) {
	name := filepath.Join(one.dir, "rindkeep")
	if runtime.GOOS == "windows" {
		name += ".exe"
	}
	if out, err := exec.Command("go", "build", "-o", name, "rindkeep/cmd/rindkeep").CombinedOutput(); err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, out)
	}
	return name, nil
}

// chromium is the browser found on this machine, "" where there is none.
func chromium() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			return p
		}
	}
	return ""
}

// start starts a browser. It knows no host but this machine, and asks
// nobody else anything.
func start(profile string) (context.Context, error) {
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium()), chromedp.DisableGPU, chromedp.UserDataDir(filepath.Join(one.dir, profile)),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-domain-reliability", true), chromedp.Flag("no-pings", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1"),
		chromedp.Flag("use-fake-ui-for-media-stream", true),
		chromedp.Env("TZ="+zone()), chromedp.WindowSize(1280, 900),
	)
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, stop := chromedp.NewContext(alloc)
	one.mu.Lock()
	defer one.mu.Unlock()
	one.stop = append(one.stop, stop, stopAlloc)
	return ctx, chromedp.Do(ctx)
}

// need ends a test in a plain line where something it needs is missing, and
// fails it where nothing may be missing.
func need(t *testing.T, there bool, what string) {
	t.Helper()
	if there {
		return
	}
	if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
		t.Fatalf("%s is missing", what)
	}
	t.Skipf("%s is missing: nothing was tried in a browser", what)
}

// zone is one in which it is about ten in the morning now, so that a day does
// not end in the midst of a test, and the day's work still lies ahead.
func zone() string {
	h := 10 - time.Now().UTC().Hour()
	if h < -12 {
		h += 24
	}
	// POSIX counts the hours westward.
	return fmt.Sprintf("Etc/GMT%+d", -h)
}

// book is a book on this machine and the program that keeps it.
type book struct {
	t       *testing.T
	path    string
	program string
}

// newBook is an empty place for a book. Tests wait for the page more than they
// work, so they run beside each other.
func newBook(t *testing.T) *book {
	t.Helper()
	t.Parallel()
	return aloneBook(t)
}

// aloneBook is one for a test whose figures the others would spoil.
func aloneBook(t *testing.T) *book {
	t.Helper()
	if testing.Short() {
		t.Skip("-short: nothing was tried in a browser")
	}
	need(t, chromium() != "", "chromium")
	p, err := one.program()
	if err != nil {
		t.Fatal(err)
	}
	return &book{t, filepath.Join(t.TempDir(), "cave.book"), p}
}

// demoBook is a book of the invented creamery.
func demoBook(t *testing.T) *book {
	t.Helper()
	b := newBook(t)
	b.run("demo", "--book", b.path, "--quiet")
	return b
}

// lot is the demo's lot at a place; its code follows from the day it was made.
func (b *book) lot(place string) string {
	b.t.Helper()
	var doc struct{ Wheels []struct{ Lot string } }
	b.read(&doc, "wheel", "list", "--", place)
	return doc.Wheels[0].Lot
}

func (b *book) command(args ...string) *exec.Cmd {
	c := exec.Command(b.program, args...)
	c.Env = append(os.Environ(), "TZ="+zone(), "RINDKEEP_BOOK="+b.path, "RINDKEEP_BY=Nora")
	return c
}

// run runs a command that must succeed.
func (b *book) run(args ...string) []byte { b.t.Helper(); return b.tell("", args...) }

// tell runs a command with something on its standard input.
func (b *book) tell(in string, args ...string) []byte {
	b.t.Helper()
	c := b.command(args...)
	c.Stdin = strings.NewReader(in)
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Run(); err != nil {
		b.t.Fatalf("rindkeep %s: %v\n%s", strings.Join(args, " "), err, errs.Bytes())
	}
	return out.Bytes()
}

// read runs a command and decodes its document.
func (b *book) read(doc any, args ...string) {
	b.t.Helper()
	if err := json.Unmarshal(b.run(append([]string{"--json"}, args...)...), doc); err != nil {
		b.t.Fatalf("rindkeep %s: %v", strings.Join(args, " "), err)
	}
}

// password lets a person in.
func (b *book) password(name, word, role string) {
	b.t.Helper()
	b.tell(word+"\n", "page", "password", name, "--role", role)
}

// entry is one line of the book's log.
type entry struct {
	Of      string   `json:"of"`
	Kind    string   `json:"kind"`
	ID      string   `json:"id"`
	Job     string   `json:"job"`
	What    string   `json:"what"`
	At      string   `json:"at"`
	Written string   `json:"written"`
	Clock   string   `json:"clock"`
	Unsure  bool     `json:"unsure"`
	By      string   `json:"by"`
	Weight  *float64 `json:"weight_g"`
	Detail  string   `json:"detail"`
	Note    string   `json:"note"`
	Struck  bool     `json:"struck"`
	Round   string   `json:"same_round_as"`
}

// log is all that was written down.
func (b *book) log() []entry {
	b.t.Helper()
	var doc struct{ Entries []entry }
	b.read(&doc, "log")
	return doc.Entries
}

// since is what was written after a log was taken, in the order of the log.
func (b *book) since(before []entry) []entry {
	b.t.Helper()
	had := map[string]bool{}
	for _, e := range before {
		had[e.ID] = true
	}
	var out []entry
	for _, e := range b.log() {
		if !had[e.ID] {
			out = append(out, e)
		}
	}
	return out
}

// likely is the weight of today that a wheel's own curve gives it, in grams.
func (b *book) likely(tag string) int {
	b.t.Helper()
	var wheel struct {
		Green float64  `json:"green_weight_g"`
		Coat  *float64 `json:"coat_g"`
	}
	b.read(&wheel, "wheel", "show", "--", tag)
	type point struct {
		Day  float64
		Loss struct{ Best float64 } `json:"loss_pct"`
	}
	var curve struct {
		Began time.Time
		Own   []point
	}
	b.read(&curve, "curve", "--", tag)
	day := time.Since(curve.Began).Hours() / 24
	for i := 1; i < len(curve.Own); i++ {
		p, n := curve.Own[i-1], curve.Own[i]
		if p.Day <= day && day <= n.Day {
			loss := p.Loss.Best + (n.Loss.Best-p.Loss.Best)*(day-p.Day)/(n.Day-p.Day)
			g := wheel.Green * (1 - loss/100)
			if wheel.Coat != nil {
				g += *wheel.Coat
			}
			return int(g + 0.5)
		}
	}
	b.t.Fatalf("%s has no curve at day %.1f", tag, day)
	return 0
}

// served is a book being served.
type served struct {
	*book
	addr string
	cmd  *exec.Cmd
	said *said // what it printed
	over chan struct{}
}

// said is lines of a program that runs.
type said struct {
	mu    sync.Mutex
	lines []string
}

func (s *said) add(l string) { s.mu.Lock(); s.lines = append(s.lines, l); s.mu.Unlock() }

func (s *said) all() []string { s.mu.Lock(); defer s.mu.Unlock(); return slices.Clone(s.lines) }

func (s *said) String() string { return strings.Join(s.all(), "\n") }

// serve serves the book on a free port.
func (b *book) serve(more ...string) *served {
	b.t.Helper()
	s := &served{book: b}
	s.start("localhost:0", more...)
	b.t.Cleanup(s.stop)
	return s
}

func (s *served) start(listen string, more ...string) {
	s.t.Helper()
	s.cmd = s.command(append([]string{"page", "--listen", listen}, more...)...)
	r, w := io.Pipe()
	s.said, s.over = &said{}, make(chan struct{})
	s.cmd.Stderr = w
	if err := s.cmd.Start(); err != nil {
		s.t.Fatal(err)
	}
	at := make(chan string, 1)
	go func() {
		for l := bufio.NewScanner(r); l.Scan(); {
			s.said.add(l.Text())
			if _, url, ok := strings.Cut(l.Text(), "the page is at "); ok {
				at <- strings.TrimPrefix(url, "http://")
			}
		}
	}()
	go func() {
		_ = s.cmd.Wait()
		w.Close()
		close(s.over)
	}()
	select {
	case s.addr = <-at:
	case <-s.over:
		s.t.Fatalf("the page ended at once:\n%s", s.said)
	case <-time.After(patience):
		s.t.Fatal("the page does not come up")
	}
}

// stop ends the server as a person at the terminal does.
func (s *served) stop() {
	if s.cmd == nil {
		return
	}
	if err := s.cmd.Process.Signal(os.Interrupt); err != nil {
		_ = s.cmd.Process.Kill()
	}
	select {
	case <-s.over:
	case <-time.After(patience):
		_ = s.cmd.Process.Kill()
		s.t.Error("the page does not end when it is told to")
	}
	s.cmd = nil
}

// again restarts it where it was.
func (s *served) again(more ...string) {
	s.t.Helper()
	s.start(s.addr, more...)
}

// air is the way between phone and server. Cut, it is a cellar without signal,
// for pages and service workers alike.
type air struct {
	t    *testing.T
	addr string
	to   string

	mu    sync.Mutex
	l     net.Listener
	conns map[net.Conn]bool
	deaf  bool // what is sent gets through, and no answer comes back
	down  int  // bytes of answers that came through
}

// over puts an air between a phone and a server.
func (s *served) air() *air {
	s.t.Helper()
	a := &air{t: s.t, addr: "127.0.0.1:0", to: s.addr, conns: map[net.Conn]bool{}}
	a.mend()
	s.t.Cleanup(a.cut)
	return a
}

func (a *air) mend() {
	a.t.Helper()
	l, err := net.Listen("tcp", a.addr)
	if err != nil {
		a.t.Fatal(err)
	}
	a.addr = l.Addr().String()
	a.mu.Lock()
	a.l = l
	a.mu.Unlock()
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go a.carry(c)
		}
	}()
}

// url is what the phone opens: localhost is a secure context, an address is not.
func (a *air) url() string {
	_, port, _ := net.SplitHostPort(a.addr)
	return "localhost:" + port
}

func (a *air) carry(c net.Conn) {
	d, err := net.Dial("tcp", a.to)
	if err != nil {
		c.Close()
		return
	}
	a.mu.Lock()
	if a.l == nil {
		c.Close()
		d.Close()
	}
	a.conns[c], a.conns[d] = true, true
	a.mu.Unlock()
	var both sync.WaitGroup
	both.Go(func() { _, _ = io.Copy(d, c); d.Close() })
	both.Go(func() { _, _ = io.Copy(ear{a, c}, d); c.Close() })
	both.Wait()
	a.mu.Lock()
	delete(a.conns, c)
	delete(a.conns, d)
	a.mu.Unlock()
}

func (a *air) cut() {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.l != nil {
		a.l.Close()
		a.l = nil
	}
	for c := range a.conns {
		c.Close()
	}
}

// ear is where answers reach the phone, unless it is deaf.
type ear struct {
	a *air
	c net.Conn
}

func (e ear) Write(p []byte) (int, error) {
	e.a.mu.Lock()
	deaf := e.a.deaf
	e.a.down += len(p)
	e.a.mu.Unlock()
	if deaf {
		return len(p), nil
	}
	return e.c.Write(p)
}

// bytes are those of the answers that came through since it was last asked.
func (a *air) bytes() int {
	a.mu.Lock()
	defer a.mu.Unlock()
	n := a.down
	a.down = 0
	return n
}

func (a *air) setDeaf(on bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.deaf = on
}

// comes waits for what the book must come to.
func comes(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !holds(); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited in vain for %s", what)
		}
	}
}

var errLate = errors.New("it does not come")
