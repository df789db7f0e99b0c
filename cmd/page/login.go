package page

import (
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
	b.Plain = r.TLS == nil && s.opt.Beyond
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
	now := s.opt.Now()
	if wait := s.tries.take(now, name, r.RemoteAddr); wait > 0 {
		w.Header().Set("Retry-After", seconds(wait))
		b.Why = fmt.Sprintf("too many tries; wait %s seconds", seconds(wait))
		s.loginPage(w, r, http.StatusTooManyRequests, b)
		return
	}
	leave, err := s.guesses.enter(r.Context())
	if err != nil {
		b.Why = "too many people are logging in; try again in a moment"
		s.loginPage(w, r, http.StatusServiceUnavailable, b)
		return
	}
	defer leave()
	cookie, ok, err := a.LogIn(name, password, now)
	switch {
	case err != nil:
		s.opt.Log.Error().Err(err).Msg("access")
		b.Why = err.Error()
		s.loginPage(w, r, http.StatusServiceUnavailable, b)
	case !ok:
		s.opt.Log.Warn().Str("from", network(r.RemoteAddr)).Msg("log-in refused")
		b.Why = "the name or the password is wrong"
		s.loginPage(w, r, http.StatusUnauthorized, b)
	default:
		s.tries.right(name)
		http.SetCookie(w, s.cookie(r, cookie))
		http.Redirect(w, r, b.Next, http.StatusSeeOther)
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
	if r.TLS != nil {
		return "__Host-" + name
	}
	return name
}

func (s *Server) cookie(r *http.Request, value string) *http.Cookie {
	return &http.Cookie{
		Name: s.cookieName(r), Value: value, Path: "/", MaxAge: int(access.SessionLimit / time.Second),
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode,
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
