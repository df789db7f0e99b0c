package page

import (
	"context"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"rindkeep/cmd/page/access"
)

func TestPeopleSeeToTheirOwnAccount(t *testing.T) {
	st := newStage(t)
	if r := st.do("GET", "/account", nil, ""); r.StatusCode != 404 {
		t.Errorf("without passwords: %d", r.StatusCode)
	}
	one := st.person("Inspector", access.Reader) // who changes nothing in the book
	const phone = "Mozilla/5.0 (Linux; Android 15) AppleWebKit/537.36 (KHTML, like Gecko) " +
		"Chrome/140.0 Mobile Safari/537.36"
	r := st.logIn("192.0.2.8:1", "Inspector", secret, "User-Agent", phone)
	two := map[string]string{"Cookie": r.Cookies()[0].Name + "=" + r.Cookies()[0].Value}
	st.now = st.now.Add(2 * time.Hour)
	page := saidBy(t, st.do("GET", "/account", one, ""))
	for _, want := range []string{"Chrome on Android", "Wed 25 Nov 2026 08:00", "(this one)", "Wed 25 Nov 2026 10:00"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page doesn't have %q\n%s", want, page)
		}
	}
	send := func(head map[string]string, to string, form url.Values) (int, string) {
		t.Helper()
		r := st.do("POST", to, with(head, "Content-Type", "application/x-www-form-urlencoded"), form.Encode())
		return r.StatusCode, saidBy(t, r)
	}
	ids := regexp.MustCompile(`name="session" value="(\w+)"`).FindAllStringSubmatch(page, -1)
	if len(ids) != 1 {
		t.Fatalf("%d sessions can be ended, want the other one", len(ids))
	}
	nora := st.person("Nora", access.Writer)
	if status, _ := send(nora, "/account/end", url.Values{"session": {ids[0][1]}}); status != 303 {
		t.Error(status)
	}
	if r := st.do("GET", "/api/today", two, ""); r.StatusCode != 200 {
		t.Errorf("Nora ended a session of Inspector's: %d", r.StatusCode)
	}
	if status, _ := send(one, "/account/end", url.Values{"session": {ids[0][1]}}); status != 303 {
		t.Error(status)
	}
	if r := st.do("GET", "/api/today", two, ""); r.StatusCode != 401 {
		t.Errorf("a session that was ended: %d", r.StatusCode)
	}

	two = st.cookieOf("Inspector")
	const next = "other words now"
	for _, c := range []struct{ old, new, again, says string }{
		{secret, next, "other words", "the two new passwords don&#39;t match"},
		{secret, "short", "short", "too short"},
		{"not those words", next, next, "that isn&#39;t your password"},
	} {
		form := url.Values{"old": {c.old}, "new": {c.new}, "again": {c.again}}
		status, got := send(one, "/account/password", form)
		if status != 422 || !strings.Contains(got, c.says) || strings.Contains(got, next) {
			t.Errorf("%+v: %d\n%s", c, status, got)
		}
	}
	form := url.Values{"old": {secret}, "new": {next}, "again": {next}}
	if status, got := send(one, "/account/password", form); status != 303 {
		t.Fatalf("%d\n%s", status, got)
	}
	if r := st.do("GET", "/api/today", one, ""); r.StatusCode != 200 {
		t.Errorf("who changed it: %d", r.StatusCode)
	}
	if r := st.do("GET", "/api/today", two, ""); r.StatusCode != 401 {
		t.Errorf("the other session: %d", r.StatusCode)
	}

	// The old password isn't guessed here any faster than at the log-in.
	st.server.pause = func(context.Context, time.Duration) error { return nil }
	status, guess := 0, url.Values{"old": {"not those words"}, "new": {secret}, "again": {secret}}
	for range access.PerName + 2 {
		status, _ = send(one, "/account/password", guess)
	}
	if status != http.StatusTooManyRequests {
		t.Errorf("after many guesses: %d", status)
	}
}

func TestADeviceIsNamedAsItsPersonKnowsIt(t *testing.T) {
	for agent, want := range map[string]string{
		"(iPhone; CPU iPhone OS 18_0 like Mac OS X) Version/18.0 Mobile/15E148 Safari/604.1": "Safari on an iPhone",
		"(Windows NT 10.0; Win64; x64) Chrome/140.0 Safari/537.36 Edg/140.0":                 "Edge on Windows",
		"(Linux; Android 15) SamsungBrowser/28.0 Chrome/130.0 Mobile Safari/537.36":          "Samsung Internet on Android",
		"(X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0":                         "Firefox on Linux",
		"": "unknown browser",
	} {
		if got := deviceOf(agent); got != want {
			t.Errorf("%s: %q, want %q", agent, got, want)
		}
	}
}
