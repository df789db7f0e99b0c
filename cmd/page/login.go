package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"rindkeep/cmd/page/access"
)

// mostGuesses is how many passwords are looked at at once: each takes 64 MiB.
const mostGuesses = 2

// guessTurn is how long one waits for a turn, at most: with access.LongestWait it's less than a
// connection is given for its answer.
const guessTurn = 45 * time.Second

func (s *Server) loginRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /login", s.askLogin)
	m.HandleFunc("POST /login", s.login)
	m.HandleFunc("POST /logout", s.logout)
}

// loginBody is what the log-in page shows.
type loginBody struct {
	Next   string
	Name   string
	Why    string // what was wrong with the last try
	Nobody bool   // there is nobody who could log in
	Plain  bool   // the password would cross the network for all to read
}

func (s *Server) loginPage(w http.ResponseWriter, r *http.Request, status int, b loginBody) {
	if s.opt.Access != nil {
		has, err := s.opt.Access.HasPeople()
		b.Nobody = err == nil && !has
	}
	b.Plain = !s.secure(r) && s.opt.Beyond
	s.show(w, r, status, "login.html", View{Title: "Log in", Here: "login", Body: b})
}

func (s *Server) askLogin(w http.ResponseWriter, r *http.Request) {
	next := within(r.URL.Query().Get("next"))
	if p := personOf(r); p.Role == access.Writer || p.Role == access.Reader {
		http.Redirect(w, r, next, http.StatusSeeOther)
		return
	}
	s.loginPage(w, r, http.StatusOK, loginBody{Next: next})
}

func (s *Server) login(w http.ResponseWriter, r *http.Request) {
	a := s.opt.Access
	if a == nil {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, 16<<10)
	if err := r.ParseForm(); err != nil {
		status := http.StatusBadRequest
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			status = http.StatusRequestEntityTooLarge
		}
		s.loginPage(w, r, status, loginBody{Why: "can't read the request"})
		return
	}
	name, password := strings.TrimSpace(r.PostForm.Get("name")), r.PostForm.Get("password")
	b := loginBody{Next: within(r.PostForm.Get("next")), Name: short(name)}
	var cookie string
	ok := false
	s.guess(w, r, name, s.knownBrowser(r, name), func() (right bool, err error) {
		cookie, ok, err = a.LogIn(name, password, deviceOf(r.UserAgent()), s.opt.Now())
		return ok, err
	}, func(status int, why string) {
		b.Why = why
		s.loginPage(w, r, status, b)
	})
	if !ok {
		return
	}
	http.SetCookie(w, s.cookie(r, cookie))
	if s.knownBrowser(r, name) == "" {
		if trust, err := a.Trust(name); err == nil {
			c := s.cookie(r, trust)
			c.Name, c.MaxAge = s.trustName(r), int(trustedFor/time.Second)
			http.SetCookie(w, c)
		}
	}
	http.Redirect(w, r, b.Next, http.StatusSeeOther)
}

// trustedFor is how long a browser stays known as one that somebody has logged in with.
const trustedFor = 365 * 24 * time.Hour

// knownBrowser is the browser the request comes from, if that person logged in with it
// before; else "".
func (s *Server) knownBrowser(r *http.Request, name string) string {
	c, err := r.Cookie(s.trustName(r))
	if err != nil {
		return ""
	}
	return s.opt.Access.Trusts(c.Value, name)
}

func (s *Server) trustName(r *http.Request) string { return s.cookieName(r) + "-known" }

// guess tries a person's password when it's its turn. refuse is called if there isn't a
// turn, or the password isn't right.
func (s *Server) guess(w http.ResponseWriter, r *http.Request, name, browser string,
	look func() (right bool, err error), refuse func(status int, why string)) {
	y, ok := s.tries.Take(s.opt.Now(), name, s.address(r), browser)
	if !ok {
		w.Header().Set("Retry-After", seconds(y.Wait))
		refuse(http.StatusTooManyRequests,
			fmt.Sprintf("too many tries from here; wait %s seconds", seconds(y.Wait)))
		return
	}
	if s.pause(r.Context(), y.Wait) != nil {
		return // nobody waits for the answer any more
	}
	rank := y.Before
	if browser != "" {
		rank -= access.PerName
	}
	end := s.guesses.Take(r.Context(), rank, guessTurn)
	if end == nil {
		refuse(http.StatusServiceUnavailable, "too many people are logging in; try again in a moment")
		return
	}
	defer end()
	right, err := look()
	switch {
	case err != nil:
		s.opt.Log.Error().Err(err).Msg("access")
		refuse(http.StatusServiceUnavailable, err.Error())
	case !right:
		s.opt.Log.Warn().Str("from", access.Network(s.address(r))).Msg("log-in refused")
		refuse(http.StatusUnauthorized, "the name or the password is wrong")
	default:
		s.tries.Right(y)
	}
}

// pauseFor waits.
func pauseFor(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return nil
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s *Server) logout(w http.ResponseWriter, r *http.Request) {
	if s.opt.Access == nil {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	gone := s.cookie(r, "")
	gone.MaxAge = -1
	http.SetCookie(w, gone)
	if c, err := r.Cookie(s.cookieName(r)); err == nil {
		if err := s.opt.Access.LogOut(c.Value, s.opt.Now()); err != nil {
			// This browser is out, its cookie is not void: that must be said.
			s.fail(w, r, fmt.Errorf("log out: %w", err))
			return
		}
	}
	http.Redirect(w, r, "/login", http.StatusSeeOther)
}

// cookieName under TLS has the prefix that makes a browser hold it to this host
// and to TLS.
func (s *Server) cookieName(r *http.Request) string {
	name := s.opt.Access.CookieName()
	if s.secure(r) {
		return "__Host-" + name
	}
	return name
}

func (s *Server) cookie(r *http.Request, value string) *http.Cookie {
	return &http.Cookie{
		Name: s.cookieName(r), Value: value, Path: "/", MaxAge: int(access.SessionLimit / time.Second),
		HttpOnly: true, Secure: s.secure(r), SameSite: http.SameSiteStrictMode,
	}
}

// within is a place on this page to go on to, and the round for any other.
func within(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.Scheme != "" || u.Host != "" || u.Opaque != "" || !strings.HasPrefix(next, "/") ||
		strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n\t") ||
		strings.HasPrefix(next, "/login") || strings.HasPrefix(next, "/api/") {
		return "/"
	}
	return next
}
