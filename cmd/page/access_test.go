package page

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// The answers of the reference implementation's program (argon2 20171227, as
// Debian packages it): printf PASSWORD | argon2 SALT -id -t PASSES -m LOG2KIB -p
// THREADS -l 32 -r. The RFC's own vector has a secret and associated data, which
// x/crypto does not take.
func TestArgon2idGivesTheKnownAnswers(t *testing.T) {
	for _, c := range []struct {
		password, salt string
		cost           cost
		want           string
	}{
		{"three wet wheels", "somesaltsomesalt", usual, "d0a42d850d1430574ea2e20abb62aee5ae41ded5a24312032faf8e34b4a1858e"},
		{"password", "somesalt", cost{2, 64 * 1024, 1}, "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"},
		{"password", "somesalt", cost{2, 256, 2}, "6d093c501fd5999645e0ea3bf620d7b8be7fd2db59c20d9fff9539da2bf57037"},
	} {
		if got := hex.EncodeToString(derive(c.password, []byte(c.salt), c.cost, 32)); got != c.want {
			t.Errorf("%+v: %s", c, got)
		}
	}
}

func TestAPasswordIsKeptAsItsHashWithItsCost(t *testing.T) {
	a := AccessOf(filepath.Join(t.TempDir(), "x.access"), nil)
	if a.cost != (cost{3, 64 * 1024, 4}) {
		t.Errorf("a new password costs %+v, not the second option of RFC 9106", a.cost)
	}
	h := hashed("Käse im Keller", usual)
	back, err := parseHash(h.String())
	if err != nil || !strings.HasPrefix(h.String(), "$argon2id$v=19$m=65536,t=3,p=4$") {
		t.Fatalf("%s: %v", h, err)
	}
	for word, want := range map[string]bool{"Käse im Keller": true, "Ka\u0308se im Keller": true, "käse im keller": false,
		"Käse im Keller ": false, "": false} {
		if back.is(word) != want {
			t.Errorf("%q is taken for the password: %v", word, !want)
		}
	}
	if one, other := hashed("Käse im Keller", cheap), hashed("Käse im Keller", cheap); one.String() == other.String() {
		t.Error("two hashes of one password are the same: no salt")
	}
	for _, bad := range []string{"", "x", "$argon2i$v=19$m=8,t=1,p=1$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA",
		"$argon2id$v=16$m=8,t=1,p=1$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA", "$argon2id$v=19$m=8,t=0,p=1$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA", "$argon2id$v=19$m=99999999,t=1,p=1$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA", "$argon2id$v=19$m=8,t=1,p=1$AAAAAAAAAAA$AA", "$argon2id$v=19$m=8,t=1,p=0$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA"} {
		if _, err := parseHash(bad); err == nil {
			t.Errorf("%q is taken for a hash", bad)
		}
	}
}

func TestANewPasswordMustBeLong(t *testing.T) {
	for word, good := range map[string]bool{
		"three wet wheels": true, "zwölf Zeichen": true, strings.Repeat("ab", 100): true,
		"eleven char": false, "": false, strings.Repeat("ab", 101): false, "aaaaaaaaaaaaaaaa": false,
		strings.Repeat("é", 16): false, "Nora12345678": false, "tab\tin the middle": false, "broken \xff bytes here": false,
	} {
		if err := CheckPassword("Nora", word); (err == nil) != good {
			t.Errorf("%q: %v", word, err)
		}
	}
}

func TestTheFileIsItsOwnersAloneAndHoldsNoSecretInClear(t *testing.T) {
	st := newStage(t)
	st.person("Nora", Writer)
	token, err := st.access.AddDevice("scale-1", st.now)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(st.access.path)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(b), secret) || strings.Contains(string(b), token) ||
		strings.Contains(string(b), token[len(tokenPrefix):]) {
		t.Errorf("the file holds a secret:\n%s", b)
	}
	info, err := os.Stat(st.access.path)
	if err != nil || filepath.Separator == '/' && info.Mode().Perm() != 0o600 {
		t.Errorf("its mode is %v, %v", info.Mode(), err)
	}
	if OpenToOthers(st.access.Path()) {
		t.Error("it is said to be open to others")
	}
	copied := filepath.Join(t.TempDir(), "copied")
	if err := os.WriteFile(copied, b, 0o640); err != nil {
		t.Fatal(err)
	}
	if filepath.Separator == '/' && !OpenToOthers(copied) {
		t.Error("a copy that others can read is not said to be")
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(st.access.path), ".*")); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
	if len(token) < len(tokenPrefix)+43 {
		t.Errorf("a token of %d characters holds no 256 bits", len(token))
	}
}

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
			_, _ = st.access.SetPassword("Nora", Writer, secret, st.now)
		}, false}}},
		{"somebody else forgotten", []step{{"other", func(st *stage) {
			_, _ = st.access.SetPassword("Bram", Writer, secret, st.now)
			_, _, _ = st.access.Forget("Bram")
		}, true}}},
		{"the server started anew", []step{{"anew", func(st *stage) {
			a := AccessOf(st.access.path, nil)
			s, err := newServer(Options{App: st.server.opt.App, Access: a, Now: st.server.opt.Now, Rev: st.server.opt.Rev,
				Log: st.server.opt.Log}, usualLimits())
			if err != nil {
				st.t.Fatal(err)
			}
			st.h = s.Handler()
		}, true}}},
		{"the file made anew", []step{{"anew", func(st *stage) {
			_ = os.Remove(st.access.path)
			_, _ = st.access.SetPassword("Nora", Writer, secret, st.now)
		}, false}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := newStage(t)
			head := st.person("Nora", Writer)
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
	head, other := st.person("Nora", Writer), st.cookieOf("Nora")
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
	// What was logged out of is remembered no longer than it could be used.
	st.now = st.now.Add(totalLimit)
	if r := st.do("POST", "/logout", st.cookieOf("Nora"), ""); r.StatusCode != 303 {
		t.Fatal(r.StatusCode)
	}
	k, err := readSecrets(st.access.path)
	if err != nil || len(k.Ended) != 1 {
		t.Errorf("%d sessions are remembered as ended, %v", len(k.Ended), err)
	}
}

func TestTheCookieIsHeldAsTightAsABrowserCan(t *testing.T) {
	st := newStage(t)
	st.person("Nora", Writer)
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
	other := AccessOf(filepath.Join(t.TempDir(), "other.book.access"), nil)
	if other.cookieName() == st.access.cookieName() {
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
	st.person("Nora", Writer)
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

func TestAnUnknownNameCostsAsMuchAsAWrongPassword(t *testing.T) {
	st := newStage(t)
	st.access.cost = cost{passes: 2, kib: 64, threads: 3}
	st.person("Nora", Writer)
	st.access.cost = usual // of new passwords: not what those kept cost
	var spent []cost
	st.access.is = func(h hash, password string) bool { spent = append(spent, h.cost); return h.is(password) }
	for _, name := range []string{"Nora", "Norb", ""} {
		if _, ok, err := st.access.logIn(name, "not those words", st.now); ok || err != nil {
			t.Fatal(ok, err)
		}
	}
	want := cost{passes: 2, kib: 64, threads: 3}
	if !slices.Equal(spent, []cost{want, want, want}) {
		t.Errorf("spent %+v, want the same each time", spent)
	}
	// Nor does the password that stands for nobody's let anybody in.
	st.access.is = func(hash, string) bool { return true }
	if _, ok, _ := st.access.logIn("Norb", "not those words", st.now); ok {
		t.Error("nobody is in")
	}
}

func TestGuessingIsSlowedByNameAndByAddress(t *testing.T) {
	now := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	n := newTries()
	for i := range perName {
		if w := n.take(now, "Nora", fmt.Sprintf("192.0.2.%d:1", i)); w > 0 {
			t.Fatalf("try %d waits %v", i, w)
		}
	}
	if w := n.take(now, " nORA ", "198.51.100.1:1"); w <= 0 || w > everyName {
		t.Errorf("one more for the name waits %v", w)
	}
	if w := n.take(now.Add(everyName), "Nora", "198.51.100.1:1"); w > 0 {
		t.Errorf("after a while it waits %v", w)
	}
	n.right("nora")
	if w := n.take(now.Add(everyName), "Nora", "198.51.100.1:1"); w > 0 {
		t.Errorf("after a right one it waits %v", w)
	}
	n = newTries()
	for i := range perAddress {
		if w := n.take(now, fmt.Sprint("name", i), fmt.Sprintf("[2001:db8::%x]:1", i+1)); w > 0 {
			t.Fatalf("try %d from one network waits %v", i, w)
		}
	}
	if w := n.take(now, "another", "[2001:db8::ffff]:9"); w <= 0 || w > everyAddr {
		t.Errorf("one more from the network waits %v", w)
	}
	if w := n.take(now, "another", "[2001:db8:0:1::1]:9"); w > 0 {
		t.Errorf("from the network beside it: %v", w)
	}
	for i := range 3 * mostTries {
		n.take(now.Add(time.Duration(i)*time.Millisecond), strings.Repeat("n", 1000)+fmt.Sprint(i),
			fmt.Sprintf("10.%d.%d.%d:1", i>>16&255, i>>8&255, i&255))
	}
	if len(n.full) > mostTries {
		t.Errorf("%d are remembered, want at most %d", len(n.full), mostTries)
	}
	n.take(now.Add(time.Hour), "one more", "192.0.2.1:1")
	n.take(now.Add(2*time.Hour), "Nora", "192.0.2.2:1")
	if len(n.full) > mostTries {
		t.Errorf("%d are remembered, want at most %d", len(n.full), mostTries)
	}
	n = newTries()
	for i := range perName {
		n.take(now, "Nora", fmt.Sprintf("192.0.2.%d:1", i))
	}
	for i := range 2 * mostTries {
		n.take(now, fmt.Sprint("made up ", i), "203.0.113.1:1")
	}
	if w := n.take(now, "Nora", "198.51.100.1:1"); w <= 0 {
		t.Error("made-up names from one address make the tries for a name forgotten")
	}
}

func TestTooManyTriesAreToldToWaitAndTheRightPasswordToo(t *testing.T) {
	st := newStage(t)
	st.person("Nora", Writer)
	try := func(password string) *http.Response {
		return st.do("POST", "/login", map[string]string{"Content-Type": "application/x-www-form-urlencoded"},
			url.Values{"name": {"Nora"}, "password": {password}}.Encode())
	}
	for range perName {
		if r := try("not those words"); r.StatusCode != 401 {
			t.Fatal(r.StatusCode)
		}
	}
	r := try(secret)
	if got := saidBy(t, r); r.StatusCode != 429 || r.Header.Get("Retry-After") != "10" ||
		!strings.Contains(got, "wait 10 seconds") {
		t.Errorf("%d, Retry-After %q\n%s", r.StatusCode, r.Header.Get("Retry-After"), got)
	}
	st.now = st.now.Add(10 * time.Second)
	if r := try(secret); r.StatusCode != 303 {
		t.Errorf("after the wait: %d", r.StatusCode)
	}
}

func TestPeopleAndDevicesAreGivenAndTakenByName(t *testing.T) {
	st := newStage(t)
	a := st.access
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, p := range []struct {
		name string
		role Role
	}{{"Nora", ""}, {"Insp", Reader}, {"nora", Reader}, {"insp", ""}} {
		_, err := a.SetPassword(p.name, p.role, secret, st.now)
		must(err)
	}
	_, err := a.AddDevice("scale-1", st.now)
	must(err)
	for _, name := range []string{"SCALE-1", "Nora"} {
		if _, err := a.AddDevice(name, st.now); err == nil {
			t.Errorf("a second %s is a device", name)
		}
	}
	if _, err := a.SetPassword("scale-1", Writer, secret, st.now); err == nil {
		t.Error("a device has a password")
	}
	got, err := a.Known()
	must(err)
	want := []Known{{"Nora", Reader, st.now}, {"Insp", Reader, st.now}, {"scale-1", Device, st.now}}
	if b1, b2 := fmt.Sprint(got), fmt.Sprint(want); b1 != b2 {
		t.Errorf("known are %v, want %v", b1, b2)
	}
	if was, ok, err := a.Forget("Scale-1"); err != nil || !ok || was.Role != Device {
		t.Error(was, ok, err)
	}
	if _, ok, err := a.Forget("nobody"); err != nil || ok {
		t.Error(ok, err)
	}
}

func TestManyChangesOfAccessAtOnceLoseNone(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "x.access")
	var one sync.Mutex
	alone := func(fn func() error) error { one.Lock(); defer one.Unlock(); return fn() }
	var wg sync.WaitGroup
	for i := range 20 {
		wg.Go(func() {
			if _, err := AccessOf(path, alone).AddDevice(fmt.Sprint("scale-", i), time.Now()); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	got, err := AccessOf(path, alone).Known()
	if err != nil || len(got) != 20 {
		t.Errorf("%d are known, want 20; %v", len(got), err)
	}
}

func FuzzCookie(f *testing.F) {
	a := AccessOf(filepath.Join(f.TempDir(), "x.access"), nil)
	a.cost = cheap
	now := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	if _, err := a.SetPassword("Nora", Writer, secret, now); err != nil {
		f.Fatal(err)
	}
	good, ok, err := a.logIn("Nora", secret, now)
	if !ok || err != nil {
		f.Fatal(ok, err)
	}
	f.Add(good)
	f.Add("")
	f.Add(".")
	f.Add(strings.ToLower(good))
	f.Fuzz(func(t *testing.T, cookie string) {
		_, _, ok, err := a.byCookie(cookie, now)
		if err != nil || ok != (cookie == good) {
			// The same bytes in another spelling of base64 would be a copy of
			// the session, no other.
			k, _ := a.now()
			if s, opened := k.opened(cookie); err != nil || !opened || s.Name != "Nora" {
				t.Errorf("%q: in %v, %v", cookie, ok, err)
			}
		}
	})
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
