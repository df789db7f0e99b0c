package page

import (
	"net/http"
	"strings"
	"time"

	"rindkeep/cmd/app"
	"rindkeep/cmd/page/access"
	"rindkeep/cmd/page/format"
)

// accountRoutes are where people see to their own password and sessions.
func (s *Server) accountRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /account", s.account)
	m.HandleFunc("POST /account/password", s.changePassword)
	m.HandleFunc("POST /account/end", s.endSession)
}

// accountBody is what the page of somebody's account shows.
type accountBody struct {
	Done     string // what was just done: password, session
	WhyOld   string // what was wrong with the old password
	WhyNew   string // and with the new one
	Sessions []sessionRow
}

type sessionRow struct {
	access.Session
	Since, Seen string
}

// ownCookie is the session that a person is logged in with; "": a page without
// passwords.
func (s *Server) ownCookie(r *http.Request) string {
	if s.opt.Access == nil || personOf(r).Name == "" {
		return ""
	}
	c, err := r.Cookie(s.cookieName(r))
	if err != nil {
		return ""
	}
	return c.Value
}

func (s *Server) account(w http.ResponseWriter, r *http.Request) {
	s.accountPage(w, r, http.StatusOK, accountBody{Done: r.URL.Query().Get("done")})
}

func (s *Server) accountPage(w http.ResponseWriter, r *http.Request, status int, b accountBody) {
	cookie := s.ownCookie(r)
	if cookie == "" {
		s.turnAway(w, r, http.StatusNotFound, Refusal{Error: "nobody has to log in here, so nobody has an account",
			Exit: 4, Hint: "give somebody a password: rindkeep page password NAME"})
		return
	}
	zone, err := app.Ask(r.Context(), s.opt.App, app.Caller{}, func(x *app.Session) (*time.Location, error) {
		return x.Zone, nil
	})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	all, err := s.opt.Access.Sessions(cookie, s.opt.Now())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	for _, x := range all {
		b.Sessions = append(b.Sessions, sessionRow{
			x, x.Since.In(zone).Format(format.Minute), x.Seen.In(zone).Format(format.Minute),
		})
	}
	s.show(w, r, status, "account.html", View{Title: "Your account", Here: "account", Body: b})
}

func (s *Server) changePassword(w http.ResponseWriter, r *http.Request) {
	cookie := s.ownCookie(r)
	old, next := r.PostFormValue("old"), r.PostFormValue("new")
	if cookie == "" {
		s.accountPage(w, r, http.StatusNotFound, accountBody{})
		return
	}
	if next != r.PostFormValue("again") {
		s.accountPage(w, r, http.StatusUnprocessableEntity, accountBody{WhyNew: "the two new passwords don't match"})
		return
	}
	name := personOf(r).Name
	if err := access.CheckPassword(name, next); err != nil {
		s.accountPage(w, r, http.StatusUnprocessableEntity, accountBody{WhyNew: err.Error()})
		return
	}
	done := false
	s.guess(w, r, name, "of "+name, func() (right bool, err error) {
		right, err = s.opt.Access.ChangePassword(cookie, old, next, s.opt.Now())
		done = right && err == nil
		return right, err
	}, func(status int, why string) {
		if status == http.StatusUnauthorized {
			status, why = http.StatusUnprocessableEntity, "that isn't your password"
		}
		s.accountPage(w, r, status, accountBody{WhyOld: why})
	})
	if done {
		http.Redirect(w, r, "/account?done=password", http.StatusSeeOther)
	}
}

func (s *Server) endSession(w http.ResponseWriter, r *http.Request) {
	cookie := s.ownCookie(r)
	if cookie == "" {
		s.accountPage(w, r, http.StatusNotFound, accountBody{})
		return
	}
	if _, err := s.opt.Access.EndSession(cookie, r.PostFormValue("session"), s.opt.Now()); err != nil {
		s.fail(w, r, err)
		return
	}
	// One that isn't there has ended before: that's no failure.
	http.Redirect(w, r, "/account?done=session", http.StatusSeeOther)
}

// What browsers and systems write into User-Agent, the more special first: most name
// others besides themselves.
var (
	browsers = [][2]string{{"Edg", "Edge"}, {"OPR/", "Opera"}, {"SamsungBrowser", "Samsung Internet"},
		{"Firefox", "Firefox"}, {"FxiOS", "Firefox"}, {"CriOS", "Chrome"}, {"Chrome", "Chrome"}, {"Safari", "Safari"}}
	systems = [][2]string{{"iPhone", "an iPhone"}, {"iPad", "an iPad"}, {"Android", "Android"}, {"CrOS", "ChromeOS"},
		{"Windows", "Windows"}, {"Macintosh", "a Mac"}, {"Linux", "Linux"}}
)

// deviceOf is what a browser says of itself, in words its person knows it by.
func deviceOf(agent string) string {
	find := func(of [][2]string) string {
		for _, x := range of {
			if strings.Contains(agent, x[0]) {
				return x[1]
			}
		}
		return ""
	}
	browser, system := find(browsers), find(systems)
	switch {
	case browser == "":
		return "unknown browser"
	case system == "":
		return browser
	}
	return browser + " on " + system
}
