package browsertest

import (
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

const (
	secret  = "a long enough secret"
	another = "another long secret"
)

// logIn fills the log-in form and sends it.
func (b *tab) logIn(name, word string) {
	b.t.Helper()
	b.fill(`document.getElementById("name")`, name)
	b.fill(`document.getElementById("password")`, word)
	b.keys("\r")
}

// isIn waits for the round of the person who logged in.
func (b *tab) isIn(name string) {
	b.t.Helper()
	b.until(`document.body.dataset.here === "round" && document.body.dataset.who === ` + q(name))
	b.settled()
}

// isOut waits for the log-in page.
func (b *tab) isOut() { b.t.Helper(); b.until(`document.body.dataset.here === "login"`) }

func TestLogInAndOut(t *testing.T) {
	bk := demoBook(t)
	bk.password("Nora", secret, "writer")
	s := bk.serve()
	a := s.air()
	b := open(t, a.url(), phone, "/")
	b.expect("status of 401")
	b.isOut()
	b.shoot("phone-login")
	b.logIn("Nora", "not her secret at all")
	b.until(`document.querySelector(".wrong")?.textContent.includes("the name or the password is wrong")`)
	b.shoot("phone-login-wrong")
	if v := js[string](b, `document.getElementById("name").value + "/" + document.getElementById("password").value`); v != "Nora/" {
		t.Errorf("after a wrong password the form holds %q", v)
	}
	b.logIn("Nora", secret)
	b.isIn("Nora")
	// But for the numbers of what was entered on the phone.
	if c := js[string](b, `document.cookie`); strings.Contains(c, "; ") || c != "" && !strings.HasPrefix(c, "rindkeep-phone-") {
		t.Errorf("scripts can read the session: %q", c)
	}
	b.atHand()

	// A new start of the server keeps her in.
	b.expect(noSignal...)
	s.stop()
	s.again()
	b.goTo("/stock")
	if who := js[string](b, `document.body.dataset.who`); who != "Nora" {
		t.Errorf("after a new start of the server %q is in", who)
	}

	// Out is out: forward, back, and without signal.
	b.press(`document.querySelector("header")`, "Log out")
	b.isOut()
	b.goTo("/ahead")
	b.isOut()
	lot := bk.lot("drying/B/1")
	js[any](b, `(history.back(), 1)`)
	b.until(`document.readyState === "complete"`)
	if words := b.text(); strings.Contains(words, lot) || strings.Contains(words, "wheel") {
		t.Errorf("logged out, going back shows\n%s", words)
	}
	a.goes(b)
	b.goTo("/")
	if words := b.text(); !strings.Contains(words, "No signal") || strings.Contains(words, lot) {
		t.Errorf("logged out and without signal the page shows\n%s", words)
	}
	b.shoot("phone-out-no-signal")
}

func TestOnesOwnAccount(t *testing.T) {
	bk := demoBook(t)
	bk.password("Nora", secret, "writer")
	s := bk.serve()
	other := s.session("Nora", secret)
	b := open(t, s.addr, phone, "/")
	// The page may ask for news just as its session ends.
	b.expect("status of 422", "status of 401")
	b.logIn("Nora", secret)
	b.isIn("Nora")
	b.tap(`document.querySelector("header .who a")`)
	b.until(`document.body.dataset.here === "account"`)
	b.shoot("phone-account")
	if words := b.text(); !strings.Contains(words, "Chrome on Linux (this one)") || !strings.Contains(words, "unknown browser") {
		t.Errorf("the account shows\n%s", words)
	}
	b.tap(`document.querySelector(".sessions button")`)
	b.until(`document.querySelector(".answer[role=status]")?.textContent.includes("That session has ended")`)
	if status := s.status(other); status != http.StatusUnauthorized {
		t.Errorf("the session that was ended: %d", status)
	}
	other = s.session("Nora", secret)
	change := func(old string) {
		b.fill(`document.getElementById("old")`, old)
		b.fill(`document.getElementById("new")`, another)
		b.fill(`document.getElementById("again")`, another)
		b.keys("\r")
	}
	change("not her secret at all")
	b.until(`document.querySelector("#why-old")?.textContent.includes("that isn't your password")`)
	b.shoot("phone-account-wrong")
	change(secret)
	b.until(`document.querySelector(".answer[role=status]")?.textContent.includes("Your password is changed")`)
	b.shoot("phone-account-changed")
	if status := s.status(other); status != http.StatusUnauthorized {
		t.Errorf("the other session after the password changed: %d", status)
	}
	b.press(`document.querySelector("header")`, "Log out")
	b.isOut()
	b.logIn("Nora", another)
	b.isIn("Nora")
}

// session logs somebody in elsewhere than in the browser.
func (s *served) session(name, word string) *http.Cookie {
	s.t.Helper()
	c := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := c.PostForm("http://"+s.addr+"/login", url.Values{"name": {name}, "password": {word}})
	if err != nil {
		s.t.Fatal(err)
	}
	r.Body.Close()
	if r.StatusCode != http.StatusSeeOther {
		s.t.Fatal(r.Status)
	}
	return r.Cookies()[0]
}

// status is how a session is answered.
func (s *served) status(cookie *http.Cookie) int {
	s.t.Helper()
	q, err := http.NewRequest("GET", "http://"+s.addr+"/api/today", nil)
	if err != nil {
		s.t.Fatal(err)
	}
	q.AddCookie(cookie)
	r, err := http.DefaultClient.Do(q)
	if err != nil {
		s.t.Fatal(err)
	}
	r.Body.Close()
	return r.StatusCode
}

func TestWhoeverMayOnlyLook(t *testing.T) {
	bk := demoBook(t)
	bk.password("Inspector", secret, "reader")
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	b.expect("status of 403")
	b.isOut()
	b.logIn("Inspector", secret)
	b.isIn("Inspector")
	b.shoot("phone-reader")
	for _, p := range bk.places() {
		if p.status != 0 {
			continue
		}
		b.goTo(p.path)
		// Asking, logging out, choosing units and one's own account write nothing into the book.
		if forms := js[[]string](b, `[...document.querySelectorAll("form")].filter((f) => f.method !== "get" && f.id !== "logout" && f.id !== "units" && !f.action.includes("/account/")).map((f) => f.outerHTML)`); len(forms) > 0 {
			t.Errorf("%s has forms for one who may only look: %s", p.path, forms)
		}
	}
	b.goTo("/")
	if n := js[int](b, `document.querySelectorAll("#list button, #any, #undo:not([hidden])").length`); n != 0 {
		t.Errorf("the round has %d buttons for one who may only look\n%s", n, b.text())
	}
	for _, act := range []string{"did", "weigh", "note", "strike", "make", "air"} {
		got := js[string](b, fmt.Sprintf(`fetch("/api/%s", { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" }).then(async (r) => r.status + " " + await r.text())`, act))
		if !strings.HasPrefix(got, "403 ") || !strings.Contains(got, "has read-only access") {
			t.Errorf("%s by one who may only look: %s", act, got)
		}
	}
	if es := bk.since(before); len(es) != 0 {
		t.Errorf("the book has %+v", es)
	}
}

// Another site, and another page on the same machine, make the browser of
// somebody who is logged in send things.
func TestAnotherSiteCanSendNothing(t *testing.T) {
	bk := demoBook(t)
	bk.password("Nora", secret, "writer")
	s := bk.serve()
	before := bk.log()
	tag := bk.lot("cellar/B/1") + "-01"
	other := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		home := "http://" + s.addr
		switch r.URL.Path {
		case "/plain":
			fmt.Fprintf(w, `<body><form method="post" enctype="text/plain" action="%s/api/did"><input name='{"job":"turn","wheels":["%s"],"note":"' value='"}'></form><script>document.forms[0].submit()</script>`, home, tag)
		case "/out":
			fmt.Fprintf(w, `<body><form method="post" action="%s/logout"></form><script>document.forms[0].submit()</script>`, home)
		case "/in":
			fmt.Fprintf(w, `<body><form method="post" action="%s/login"><input name="name" value="Nora"><input name="password" value="%s"></form><script>document.forms[0].submit()</script>`, home, secret)
		default:
			fmt.Fprint(w, `<body>another site`)
		}
	}))
	defer other.Close()
	_, port, _ := net.SplitHostPort(other.Listener.Addr().String())

	b := open(t, s.addr, desk, "/")
	b.expect("foreign host", "status of 403", "CORS", "net::ERR_", "favicon.ico", "frame-ancestors")
	b.isOut()
	b.logIn("Nora", secret)
	b.isIn("Nora")
	// localhost at another port is the same site and gets her cookie; 127.0.0.1
	// is another site.
	for _, from := range []string{"localhost:" + port, "127.0.0.1:" + port} {
		for _, path := range []string{"/plain", "/out", "/in"} {
			b.visit("http://" + from + path)
			b.until(`document.body.innerText.includes("another site sent this") || document.body.dataset.here === "login"`)
			if path == "/plain" && !strings.Contains(b.text(), "another site sent this") && js[string](b, `document.body.dataset.here ?? ""`) != "login" {
				t.Errorf("from %s%s: %s", from, path, b.text())
			}
		}
		b.visit("http://" + from + "/")
		got := js[string](b, fmt.Sprintf(`(async () => {
			const out = [];
			for (const [act, init] of [
				["did", { method: "POST", mode: "no-cors", credentials: "include", body: JSON.stringify({ job: "turn", wheels: ["%[1]s"] }) }],
				["did", { method: "POST", credentials: "include", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ job: "turn", wheels: ["%[1]s"] }) }],
				["today", { credentials: "include" }], ["today", { mode: "no-cors", credentials: "include" }],
			]) {
				try { const r = await fetch("http://%[2]s/api/" + act, init); out.push(r.type + (await r.text()).length); } catch { out.push("refused"); }
			}
			return out.join(" ");
		})()`, tag, s.addr))
		t.Logf("from %s: %s", from, got)
		if strings.Contains(got, "basic") || strings.Contains(got, "cors") {
			t.Errorf("%s reads the book: %s", from, got)
		}
		framed := js[bool](b, fmt.Sprintf(`new Promise((yes) => { const f = document.createElement("iframe"); f.src = "http://%s/stock"; f.onload = () => { try { yes(!!f.contentDocument && f.contentDocument.body.innerText.includes("Stock")); } catch { yes(false); } }; document.body.append(f); })`, s.addr))
		if framed {
			t.Errorf("%s frames the page", from)
		}
	}
	if es := bk.since(before); len(es) != 0 {
		t.Errorf("the book has %+v", es)
	}
	b.goTo("/")
	b.isIn("Nora")
}
