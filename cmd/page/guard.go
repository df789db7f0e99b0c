package page

import (
	"context"
	"fmt"
	"net/http"
	"net/netip"
	"net/url"
	"runtime"
	"runtime/debug"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"rindkeep/cmd/page/access"
)

// Everything a request must get past before a page or a command sees it, in the
// order it must: one place, so that no page can forget any of it.

// limits are how large, how long and how much at once.
type limits struct {
	header   time.Duration // to send a request's head
	read     time.Duration // to send all of it
	write    time.Duration // to take the answer
	idle     time.Duration // between two requests
	stop     time.Duration // for running requests, once the server stops
	head     int           // bytes of a request's head
	body     int64         // bytes of its body
	table    int64         // the same where it brings a table
	open     int           // connections at once
	openEach int           // and from one network; a phone opens half a dozen
	commands int           // at once
	waiting  int           // for their turn
	wait     time.Duration // at most, for it
}

func usualLimits() limits {
	return limits{
		header: 10 * time.Second, read: 30 * time.Second, write: time.Minute, idle: 2 * time.Minute, stop: 10 * time.Second,
		head: 16 << 10, body: 1 << 20, table: maxTable*4/3 + 1<<16, open: 2048, openEach: 256,
		commands: max(4, 2*runtime.GOMAXPROCS(0)), waiting: 512, wait: 20 * time.Second,
	}
}

// policy lets a page load what the binary serves and nothing else, run no script
// that is written into it, and be framed by nobody.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; " +
	"connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; frame-ancestors 'none'; " +
	"base-uri 'none'"

// note is what is known of a request as it is answered; it goes to the log.
type note struct {
	pattern string // the route that took it
	person  Person // on loopback without a password nobody in particular, who may write
	rev     uint64 // of the book as the request came
}

type noteKey struct{}

func noteOf(r *http.Request) *note {
	if n, ok := r.Context().Value(noteKey{}).(*note); ok {
		return n
	}
	return &note{person: Person{Role: access.Writer}}
}

// Person is who a request comes from.
type Person = access.Person

// personOf is who the request comes from.
func personOf(r *http.Request) Person { return noteOf(r).person }

// guarded puts the guards before the routes.
func (s *Server) guarded(routes http.Handler) http.Handler {
	h := http.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		routes.ServeHTTP(w, r)
		noteOf(r).pattern = r.Pattern
	}))
	h = s.mayDo(h)
	h = s.isKnown(h)
	h = s.isBounded(h)
	h = s.isOwnSite(h)
	h = s.isOwnName(h)
	h = headers(h)
	return s.watched(h)
}

// watched logs each request, and turns a panic into an answer.
func (s *Server) watched(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		from := s.opt.Now()
		n := &note{}
		if s.opt.Rev != nil && r.Method == http.MethodGet && !strings.HasPrefix(r.URL.Path, "/a/") {
			n.rev, _ = s.opt.Rev()
		}
		rw := &answering{ResponseWriter: w}
		r = r.WithContext(context.WithValue(r.Context(), noteKey{}, n))
		defer func() {
			v := recover()
			if v == http.ErrAbortHandler {
				panic(v)
			}
			if v != nil {
				s.opt.Log.Error().Str("fault", fmt.Sprint(v)).Bytes("stack", debug.Stack()).Msg("fault")
				if rw.status == 0 {
					s.sorry(rw, r)
				}
			}
			e := s.opt.Log.Info()
			if rw.status >= 500 {
				e = s.opt.Log.Warn()
			}
			// No query, no cookie, no token and no body: a log is read by more
			// eyes than a book.
			e.Str("method", r.Method).Str("route", n.pattern).Int("status", rw.status).Int64("ms",
				s.opt.Now().Sub(from).Milliseconds()).
				Str("person", n.person.Name).Str("from", access.Network(s.address(r))).Msg("answered")
		}()
		next.ServeHTTP(rw, r)
	})
}

// answering remembers what was answered.
type answering struct {
	http.ResponseWriter
	status int
}

func (w *answering) WriteHeader(status int) {
	if w.status == 0 && status >= 200 {
		w.status = status
		if status == http.StatusServiceUnavailable && w.Header().Get("Retry-After") == "" {
			w.Header().Set("Retry-After", "2")
		}
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *answering) Write(b []byte) (int, error) {
	if w.status == 0 {
		w.WriteHeader(http.StatusOK)
	}
	return w.ResponseWriter.Write(b)
}

// Unwrap lets http.ResponseController reach what is underneath.
func (w *answering) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// headers are on every answer, refusals too.
func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		// Not no-referrer: with that a browser says Origin: null of our own
		// forms, which then look like another site's.
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=(), payment=(), usb=()")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// isOwnName refuses a request for a host that is not this one: a foreign name
// that somebody made point here would let a foreign page read the book (DNS
// rebinding). An address made of digits cannot be made to point anywhere.
func (s *Server) isOwnName(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := (&url.URL{Host: r.Host}).Hostname()
		if !s.hasName(host) {
			s.turnAway(w, r, http.StatusMisdirectedRequest, Refusal{
				Error: fmt.Sprintf("this page doesn't answer to the name %q", short(host)), Where: "Host", Exit: 1,
				Hint: "use its IP address, or start it with --name and the name you use",
			})
			return
		}
		next.ServeHTTP(w, r)
	})
}

func (s *Server) hasName(host string) bool {
	if _, err := netip.ParseAddr(host); err == nil {
		return true
	}
	host = strings.TrimSuffix(strings.ToLower(host), ".")
	if host == "localhost" {
		return true
	}
	for _, n := range s.opt.Names {
		if host == strings.TrimSuffix(strings.ToLower(n), ".") {
			return true
		}
	}
	return false
}

// isOwnSite refuses what another site makes a browser send.
func (s *Server) isOwnSite(next http.Handler) http.Handler {
	p := http.NewCrossOriginProtection()
	p.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.turnAway(w, r, http.StatusForbidden, Refusal{Error: "another site sent this; nothing was changed", Where: "Origin",
			Exit: 1, Hint: "open this page and do it there"})
	}))
	return p.Handler(next)
}

// isBounded lets no body be larger than any that is meant.
func (s *Server) isBounded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		most := s.limits.body
		if r.URL.Path == "/api/"+importAct {
			most = s.limits.table
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next.ServeHTTP(w, r)
	})
}

// open are the addresses that say nothing of the book: what the log-in page is
// made of, and whether the program is well.
func open(path string) bool {
	switch path {
	case "/login", "/logout", "/health", "/sw.js", "/authority.crt":
		return true
	}
	return strings.HasPrefix(path, "/a/")
}

// ownMatter are the addresses at which people see to what is theirs alone.
func ownMatter(path string) bool { return path == "/units" || strings.HasPrefix(path, "/account") }

// fromProxy says whether a request came through the proxy that is believed.
func (s *Server) fromProxy(r *http.Request) bool {
	ap, err := netip.ParseAddrPort(r.RemoteAddr)
	return err == nil && s.opt.Proxy != "" && ap.Addr().Unmap().String() == s.opt.Proxy
}

// address is where a request comes from: what the proxy added last, where it came
// through one. What comes before that anybody can write.
func (s *Server) address(r *http.Request) string {
	if all := r.Header.Values("X-Forwarded-For"); len(all) > 0 && s.fromProxy(r) {
		last := all[len(all)-1]
		return strings.TrimSpace(last[strings.LastIndexByte(last, ',')+1:])
	}
	return r.RemoteAddr
}

// secure says whether a request is under TLS, as far as the proxy where there's one.
func (s *Server) secure(r *http.Request) bool {
	return r.TLS != nil || s.fromProxy(r) && r.Header.Get("X-Forwarded-Proto") == "https"
}

// isKnown finds who asks, and sends strangers to log in.
func (s *Server) isKnown(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		p, ok, err := s.who(r)
		switch {
		case err != nil:
			s.opt.Log.Error().Err(err).Msg("access")
			s.turnAway(w, r, http.StatusServiceUnavailable,
				Refusal{Error: err.Error(), Exit: 3, Hint: "nobody can log in until that file is repaired"})
		case ok || open(r.URL.Path):
			noteOf(r).person = p
			next.ServeHTTP(w, r)
		case forProgram(r):
			w.Header().Set("WWW-Authenticate", `Bearer realm="rindkeep"`)
			s.say(w, http.StatusUnauthorized, Refusal{Error: "log in first", Exit: 1,
				Hint: "people log in at /login; devices send Authorization: Bearer TOKEN, from rindkeep page device NAME"})
		default:
			to := "/login"
			if r.Method == http.MethodGet && r.URL.Path != "/" {
				to += "?" + url.Values{"next": {r.URL.RequestURI()}}.Encode()
			}
			http.Redirect(w, r, to, http.StatusSeeOther)
		}
	})
}

// who finds who a request comes from; ok is false for a stranger where strangers
// are not answered.
func (s *Server) who(r *http.Request) (p Person, ok bool, err error) {
	a := s.opt.Access
	if a == nil {
		return Person{Role: access.Writer}, true, nil
	}
	if auth := r.Header.Get("Authorization"); auth != "" {
		kind, token, _ := strings.Cut(auth, " ")
		if !strings.EqualFold(kind, "Bearer") {
			return Person{}, false, nil
		}
		return a.ByToken(strings.TrimSpace(token))
	}
	closed, err := s.closed()
	if err != nil {
		return Person{}, false, err
	}
	if c, err := r.Cookie(s.cookieName(r)); err == nil {
		if p, ok, err := a.ByCookie(c.Value, s.opt.Now()); ok || err != nil {
			return p, ok, err
		}
	}
	if closed {
		return Person{}, false, nil
	}
	return Person{Role: access.Writer}, true, nil
}

// closed says whether one must log in: where the page listens beyond this
// machine, and where there is anybody who can. Once closed it stays so, or
// taking the file away would open the page.
func (s *Server) closed() (bool, error) {
	if s.opt.Beyond || s.wasClosed.Load() {
		return true, nil
	}
	has, err := s.opt.Access.HasPeople()
	if has || err != nil {
		s.wasClosed.Store(true)
	}
	return has, err
}

// stillIn says whether who asked, perhaps long ago, would be answered now.
func (s *Server) stillIn(r *http.Request) bool {
	_, ok, err := s.who(r)
	return ok && err == nil
}

// mayDo keeps each role to what it may do. A GET never writes, so to look is to
// get.
func (s *Server) mayDo(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		looks := r.Method == http.MethodGet || r.Method == http.MethodHead
		switch p := personOf(r); {
		case open(r.URL.Path), ownMatter(r.URL.Path) && p.Role != access.Device: // which changes nothing in the book
		case p.Role == access.Device:
			a, ok := actNamed(strings.TrimPrefix(r.URL.Path, "/api/"))
			if !ok || !a.device || r.Method != http.MethodPost {
				s.turnAway(w, r, http.StatusForbidden,
					Refusal{Error: "a device can only send weights and air readings", Exit: 1, Hint: "POST /api/weigh or /api/air"})
				return
			}
		case p.Role != access.Writer && !looks:
			s.turnAway(w, r, http.StatusForbidden, Refusal{Error: fmt.Sprintf("%s has read-only access",
				p.Name), Exit: 1, Hint: "to let them record things, run rindkeep page password NAME --role writer"})
			return
		}
		next.ServeHTTP(w, r)
	})
}

// gate lets so many in at once, lets so many wait, and turns the others away.
type gate struct {
	slots chan struct{}
	here  atomic.Int64 // inside or waiting
	most  int64
	wait  time.Duration
}

func newGate(at, waiting int, wait time.Duration) *gate {
	return &gate{slots: make(chan struct{}, at), most: int64(at + waiting), wait: wait}
}

// enter waits for a turn; leave ends it.
func (g *gate) enter(ctx context.Context) (leave func(), err error) {
	if g.here.Add(1) > g.most {
		g.here.Add(-1)
		return nil, errCrowded
	}
	late := time.NewTimer(g.wait)
	defer late.Stop()
	select {
	case g.slots <- struct{}{}:
		return func() { <-g.slots; g.here.Add(-1) }, nil
	case <-ctx.Done():
		err = ctx.Err()
	case <-late.C:
		err = errCrowded
	}
	g.here.Add(-1)
	return nil, err
}

// seconds is a wait for Retry-After: whole, and at least one.
func seconds(d time.Duration) string {
	return strconv.Itoa(max(1, int((d+time.Second-1)/time.Second)))
}
