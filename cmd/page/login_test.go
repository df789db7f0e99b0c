package page

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rindkeep/cmd/page/access"
)

func TestASessionEndsWhenItShould(t *testing.T) {
	type step struct {
		name string
		do   func(st *stage)
		in   bool
	}
	after := func(d time.Duration) func(*stage) { return func(st *stage) { st.now = st.now.Add(d) } }
	for _, c := range []struct {
		name  string
		steps []step
	}{
		{"used daily, after thirty days", func() (out []step) {
			for i := range 30 {
				out = append(out, step{fmt.Sprintf("day %d", i+1), after(24 * time.Hour), i < 29})
			}
			return out
		}()},
		{"not used for a week",
			[]step{{"six days", after(6 * 24 * time.Hour), true}, {"seven more", after(7 * 24 * time.Hour), false}}},
		{"another password", []step{{"other words",
			func(st *stage) { _, _ = st.access.SetPassword("Nora", "", "other words now", st.now) }, false}}},
		{"the person forgotten", []step{{"forgotten", func(st *stage) { _, _, _ = st.access.Forget("Nora") }, false}}},
		{"forgotten and let in again", []step{{"again", func(st *stage) {
			_, _, _ = st.access.Forget("Nora")
			_, _ = st.access.SetPassword("Nora", access.Writer, secret, st.now)
		}, false}}},
		{"somebody else forgotten", []step{{"other", func(st *stage) {
			_, _ = st.access.SetPassword("Bram", access.Writer, secret, st.now)
			_, _, _ = st.access.Forget("Bram")
		}, true}}},
		{"the server restarted", []step{{"restarted", func(st *stage) {
			a := access.Open(st.access.Path(), nil)
			s, err := newServer(Options{App: st.server.opt.App, Access: a, Now: st.server.opt.Now, Rev: st.server.opt.Rev,
				Log: st.server.opt.Log}, usualLimits())
			if err != nil {
				st.t.Fatal(err)
			}
			st.h = s.Handler()
		}, true}}},
		{"the file replaced", []step{{"replaced", func(st *stage) {
			_ = os.Remove(st.access.Path())
			_, _ = st.access.SetPassword("Nora", access.Writer, secret, st.now)
		}, false}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := newStage(t)
			head := st.person("Nora", access.Writer)
			for _, s := range c.steps {
				s.do(st)
				r := st.do("GET", "/api/today", head, "")
				if in := r.StatusCode == 200; in != s.in {
					t.Fatalf("%s: %d, want in: %v", s.name, r.StatusCode, s.in)
				}
				for _, k := range r.Cookies() {
					head = map[string]string{"Cookie": k.Name + "=" + k.Value}
				}
			}
		})
	}
}

func TestLogOutEndsTheSessionEverywhere(t *testing.T) {
	st := newStage(t)
	head, other := st.person("Nora", access.Writer), st.cookieOf("Nora")
	r := st.do("POST", "/logout", head, "")
	if r.StatusCode != 303 || len(r.Cookies()) != 1 || r.Cookies()[0].MaxAge >= 0 {
		t.Errorf("%d %v", r.StatusCode, r.Cookies())
	}
	if r := st.do("GET", "/api/today", head, ""); r.StatusCode != 401 {
		t.Errorf("a copy of its cookie: %d", r.StatusCode)
	}
	if r := st.do("GET", "/api/today", other, ""); r.StatusCode != 200 {
		t.Errorf("the other phone: %d", r.StatusCode)
	}
	if r := st.do("POST", "/logout", head, ""); r.StatusCode != 303 {
		t.Errorf("once more: %d", r.StatusCode)
	}
	// A session is remembered no longer than it could be used.
	st.now = st.now.Add(access.SessionLimit)
	st.cookieOf("Nora")
	kept, err := os.ReadFile(st.access.Path())
	if n := strings.Count(string(kept), `"cookie_sha256"`); err != nil || n != 1 {
		t.Errorf("%d sessions are remembered, %v", n, err)
	}
}

func TestTheCookieIsHeldAsTightAsABrowserCan(t *testing.T) {
	st := newStage(t)
	st.person("Nora", access.Writer)
	form := url.Values{"name": {"nora"}, "password": {secret}, "next": {"/wheel/a%20b?x=1"}}.Encode()
	r := st.do("POST", "/login", map[string]string{"Content-Type": "application/x-www-form-urlencoded"}, form)
	c := r.Cookies()[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" || c.Secure ||
		strings.HasPrefix(c.Name, "__Host-") || c.MaxAge != 30*24*3600 {
		t.Errorf("in clear: %v", c)
	}
	if r.Header.Get("Location") != "/wheel/a%20b?x=1" {
		t.Errorf("goes on to %q", r.Header.Get("Location"))
	}
	if s := st.server.cookie(&http.Request{TLS: tlsState}, "x"); !s.Secure || !strings.HasPrefix(s.Name, "__Host-") ||
		!s.HttpOnly || s.Path != "/" || s.Domain != "" {
		t.Errorf("under TLS: %v", s)
	}
	other := access.Open(filepath.Join(t.TempDir(), "other.book.access"), nil)
	if other.CookieName() == st.access.CookieName() {
		t.Error("two books on one machine share a cookie")
	}
}

func TestAfterLogInOneStaysOnThePage(t *testing.T) {
	for next, want := range map[string]string{
		"": "/", "/": "/", "/wheel/x": "/wheel/x", "/trace?what=a&b": "/trace?what=a&b",
		"//evil.example": "/", "https://evil.example/": "/", "/\\evil.example": "/", "evil": "/", "javascript:alert(1)": "/",
		"/\nx": "/", "/login?next=/": "/", "/api/today": "/", "/%zz": "/",
	} {
		if got := within(next); got != want {
			t.Errorf("%q: %q, want %q", next, got, want)
		}
	}
}

func TestAWrongLogInSaysNoMoreThanThat(t *testing.T) {
	st := newStage(t)
	st.person("Nora", access.Writer)
	var pages []string
	for _, who := range []string{"Nora", "Norb"} {
		r := st.do("POST", "/login", map[string]string{"Content-Type": "application/x-www-form-urlencoded"},
			url.Values{"name": {who}, "password": {"not those words"}}.Encode())
		page := strings.ReplaceAll(saidBy(t, r), who, "NAME")
		if r.StatusCode != 401 || len(r.Cookies()) > 0 || !strings.Contains(page, "the name or the password is wrong") ||
			strings.Contains(page, "not those words") {
			t.Errorf("%s: %d\n%s", who, r.StatusCode, page)
		}
		pages = append(pages, page)
	}
	if pages[0] != pages[1] {
		t.Errorf("a name that is known is answered otherwise:\n%s\n%s", pages[0], pages[1])
	}
}

// logIn tries a password from an address.
func (st *stage) logIn(from, name, password string, head ...string) *http.Response {
	st.t.Helper()
	h := with(map[string]string{"Content-Type": "application/x-www-form-urlencoded", "from": from}, head...)
	return st.do("POST", "/login", h, url.Values{"name": {name}, "password": {password}}.Encode())
}

func TestNobodyLocksAnybodyOut(t *testing.T) {
	st := newStage(t, func(o *Options, _ *limits) { o.Proxy = "127.0.0.1" })
	st.person("Nora", access.Writer)
	var waited time.Duration
	st.server.pause = func(_ context.Context, d time.Duration) error { waited += d; return nil }
	st.now = st.now.Add(time.Hour)
	known := st.logIn("192.0.2.1:1", "Nora", secret).Cookies()
	for range access.PerName + 1 {
		if r := st.logIn("192.0.2.66:1", "Nora", "not those words"); r.StatusCode != 401 {
			t.Fatal(r.StatusCode)
		}
	}
	if waited != access.EveryName {
		t.Errorf("who guesses is kept waiting for %v", waited)
	}
	r := st.logIn("192.0.2.66:1", "Nora", secret)
	if got := saidBy(t, r); r.StatusCode != 429 || r.Header.Get("Retry-After") != "20" ||
		!strings.Contains(got, "wait 20 seconds") {
		t.Errorf("%d, Retry-After %q\n%s", r.StatusCode, r.Header.Get("Retry-After"), got)
	}
	waited = 0
	var trust string
	for _, c := range known {
		if strings.HasSuffix(c.Name, "-known") {
			trust = c.Name + "=" + c.Value
		}
	}
	for _, c := range []struct {
		name, from string
		head       []string
		status     int
	}{
		{"from another address", "198.51.100.9:1", nil, 303},
		{"from the same address, with a browser that's known", "192.0.2.66:2", []string{"Cookie", trust}, 303},
		{"with a made-up cookie", "192.0.2.66:2", []string{"Cookie", trust + "0"}, 429},
		{"through the proxy, from another address", "127.0.0.1:9",
			[]string{"X-Forwarded-For", "192.0.2.66, 203.0.113.5"}, 303},
		{"through the proxy, from where it's guessed", "127.0.0.1:9", []string{"X-Forwarded-For", "198.51.100.8, 192.0.2.66"},
			429},
		{"with a made-up header, past the proxy", "192.0.2.66:2", []string{"X-Forwarded-For", "203.0.113.6"}, 429},
	} {
		if r := st.logIn(c.from, "nora", secret, c.head...); r.StatusCode != c.status {
			t.Errorf("%s: %d, want %d", c.name, r.StatusCode, c.status)
		}
	}
	if waited > 0 {
		t.Errorf("somebody waits %v for another's guesses", waited)
	}
	st.now = st.now.Add(2 * access.EveryName)
	if r := st.logIn("192.0.2.66:1", "Nora", secret); r.StatusCode != 303 {
		t.Errorf("after the wait: %d", r.StatusCode)
	}
}

func FuzzObject(f *testing.F) {
	for _, s := range []string{turn, `{}`, `{"a":{"b":[1,2.5e3,null,true]}}`, `{"a":1,"a":2}`, "{\"a\":\"\xff\"}",
		`{"a":1}x`, "[]", "\"\\ud800\""} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		o, err := object(body)
		if err != nil {
			return
		}
		// Whatever is understood, a plain reader understands the same way.
		var want map[string]any
		if err := json.Unmarshal(body, &want); err != nil {
			t.Fatalf("%q is understood, and is no JSON: %v", body, err)
		}
		if len(want) != len(o) {
			t.Fatalf("%q: %d names, want %d", body, len(o), len(want))
		}
	})
}
