package access

import (
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

const secret = "three wet wheels"

var (
	now   = time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	cheap = Cost{Passes: 1, KiB: 8, Threads: 1}
)

// newList is a list of nobody, with passwords that are quick to check.
func newList(t testing.TB) *List {
	a := Open(filepath.Join(t.TempDir(), "cave.book.access"), nil)
	a.Cost = cheap
	return a
}

// The answers of the reference implementation's program (argon2 20171227, as
// Debian packages it): printf PASSWORD | argon2 SALT -id -t PASSES -m LOG2KIB -p
// THREADS -l 32 -r. The RFC's own vector has a secret and associated data, which
// x/crypto does not take.
func TestArgon2idGivesTheKnownAnswers(t *testing.T) {
	for _, c := range []struct {
		password, salt string
		cost           Cost
		want           string
	}{
		{"three wet wheels", "somesaltsomesalt", Usual, "d0a42d850d1430574ea2e20abb62aee5ae41ded5a24312032faf8e34b4a1858e"},
		{"password", "somesalt", Cost{2, 64 * 1024, 1}, "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"},
		{"password", "somesalt", Cost{2, 256, 2}, "6d093c501fd5999645e0ea3bf620d7b8be7fd2db59c20d9fff9539da2bf57037"},
	} {
		if got := hex.EncodeToString(derive(c.password, []byte(c.salt), c.cost, 32)); got != c.want {
			t.Errorf("%+v: %s", c, got)
		}
	}
}

func TestAPasswordIsKeptAsItsHashWithItsCost(t *testing.T) {
	a := Open(filepath.Join(t.TempDir(), "x.access"), nil)
	if a.Cost != (Cost{3, 64 * 1024, 4}) {
		t.Errorf("a new password costs %+v, not the second option of RFC 9106", a.Cost)
	}
	h := hashed("Käse im Keller", Usual)
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
		"$argon2id$v=16$m=8,t=1,p=1$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA", "$argon2id$v=19$m=8,t=0,p=1$AAAAA" +
			"AAAAAA$AAAAAAAAAAAAAAAAAAAAAA", "$argon2id$v=19$m=99999999,t=1,p=1$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA",
		"$argon2id$v" +
			"=19$m=8,t=1,p=1$AAAAAAAAAAA$AA", "$argon2id$v=19$m=8,t=1,p=0$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA"} {
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
	a := newList(t)
	if _, err := a.SetPassword("Nora", Writer, secret, now); err != nil {
		t.Fatal(err)
	}
	token, err := a.AddDevice("scale-1", now)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(a.path)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(b), secret) || strings.Contains(string(b), token) ||
		strings.Contains(string(b), token[len(tokenPrefix):]) {
		t.Errorf("the file holds a secret:\n%s", b)
	}
	info, err := os.Stat(a.path)
	if err != nil || filepath.Separator == '/' && info.Mode().Perm() != 0o600 {
		t.Errorf("its mode is %v, %v", info.Mode(), err)
	}
	if OpenToOthers(a.Path()) {
		t.Error("it is said to be open to others")
	}
	copied := filepath.Join(t.TempDir(), "copied")
	if err := os.WriteFile(copied, b, 0o640); err != nil {
		t.Fatal(err)
	}
	if filepath.Separator == '/' && !OpenToOthers(copied) {
		t.Error("a copy that others can read is not said to be")
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(a.path), ".*")); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
	if len(token) < len(tokenPrefix)+43 {
		t.Errorf("a token of %d characters holds no 256 bits", len(token))
	}
}

func TestAnUnknownNameCostsAsMuchAsAWrongPassword(t *testing.T) {
	a := newList(t)
	a.Cost = Cost{Passes: 2, KiB: 64, Threads: 3}
	if _, err := a.SetPassword("Nora", Writer, secret, now); err != nil {
		t.Fatal(err)
	}
	a.Cost = Usual // of new passwords: not what those kept cost
	var spent []Cost
	a.is = func(h hash, password string) bool { spent = append(spent, h.cost); return h.is(password) }
	for _, name := range []string{"Nora", "Norb", ""} {
		if _, ok, err := a.LogIn(name, "not those words", "a phone", now); ok || err != nil {
			t.Fatal(ok, err)
		}
	}
	want := Cost{Passes: 2, KiB: 64, Threads: 3}
	if !slices.Equal(spent, []Cost{want, want, want}) {
		t.Errorf("spent %+v, want the same each time", spent)
	}
	// Nor does the password that stands for nobody's let anybody in.
	a.is = func(hash, string) bool { return true }
	if _, ok, _ := a.LogIn("Norb", "not those words", "a phone", now); ok {
		t.Error("nobody is in")
	}
}

func TestPeopleAndDevicesAreGivenAndTakenByName(t *testing.T) {
	a := newList(t)
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
		_, err := a.SetPassword(p.name, p.role, secret, now)
		must(err)
	}
	_, err := a.AddDevice("scale-1", now)
	must(err)
	for _, name := range []string{"SCALE-1", "Nora"} {
		if _, err := a.AddDevice(name, now); err == nil {
			t.Errorf("a second %s is a device", name)
		}
	}
	if _, err := a.SetPassword("scale-1", Writer, secret, now); err == nil {
		t.Error("a device has a password")
	}
	got, err := a.Known()
	must(err)
	want := []Known{{"Nora", Reader, now}, {"Insp", Reader, now}, {"scale-1", Device, now}}
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
			if _, err := Open(path, alone).AddDevice(fmt.Sprint("scale-", i), time.Now()); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	got, err := Open(path, alone).Known()
	if err != nil || len(got) != 20 {
		t.Errorf("%d are known, want 20; %v", len(got), err)
	}
}

func TestPeopleSeeAndEndTheirOwnSessions(t *testing.T) {
	a := newList(t)
	for _, name := range []string{"Nora", "Bram"} {
		if _, err := a.SetPassword(name, Writer, secret, now); err != nil {
			t.Fatal(err)
		}
	}
	in := func(name, device string, at time.Time) string {
		t.Helper()
		cookie, ok, err := a.LogIn(name, secret, device, at)
		if !ok || err != nil {
			t.Fatal(ok, err)
		}
		return cookie
	}
	phone, other := in("Nora", "a phone", now), in("Bram", "a phone", now)
	desk := in("nora", "a desk", now.Add(time.Minute))
	later := now.Add(2 * time.Hour)
	if _, ok, err := a.ByCookie(phone, later); !ok || err != nil {
		t.Fatal(ok, err)
	}
	seen := func(cookie string) (out []string) {
		t.Helper()
		all, err := a.Sessions(cookie, later)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range all {
			out = append(out, fmt.Sprint(s.Device, " ", s.Since.Sub(now), " ", s.Seen.Sub(now), " ", s.Here))
		}
		return out
	}
	if got, want := seen(desk), []string{"a phone 0s 2h0m0s false", "a desk 1m0s 1m0s true"}; !slices.Equal(got, want) {
		t.Errorf("Nora sees %q, want %q", got, want)
	}
	all, _ := a.Sessions(desk, later)
	if ok, err := a.EndSession(other, all[0].ID, later); ok || err != nil {
		t.Errorf("Bram ends a session of Nora's: %v, %v", ok, err)
	}
	if ok, err := a.EndSession(desk, all[0].ID, later); !ok || err != nil {
		t.Error(ok, err)
	}
	if _, ok, _ := a.ByCookie(phone, later); ok {
		t.Error("a session that was ended goes on")
	}
	for range mostSessions + 3 {
		in("Nora", "a robot", later)
	}
	if n := len(seen(in("Nora", "a phone", later))); n != mostSessions {
		t.Errorf("%d sessions are kept of one person, want %d", n, mostSessions)
	}
	if _, ok, _ := a.ByCookie(other, later); !ok {
		t.Error("Nora's many sessions push out Bram's")
	}
}

func TestAPersonChangesTheirOwnPassword(t *testing.T) {
	a := newList(t)
	if _, err := a.SetPassword("Nora", Reader, secret, now); err != nil {
		t.Fatal(err)
	}
	one, _, _ := a.LogIn("Nora", secret, "a phone", now)
	two, _, _ := a.LogIn("Nora", secret, "a desk", now)
	if right, err := a.ChangePassword(one, "not those words", "other words now", now); right || err != nil {
		t.Errorf("with a wrong old one: %v, %v", right, err)
	}
	if _, err := a.ChangePassword(one, secret, "short", now); err == nil {
		t.Error("a short one is taken")
	}
	if right, err := a.ChangePassword(one, secret, "other words now", now); !right || err != nil {
		t.Fatal(right, err)
	}
	if p, ok, _ := a.ByCookie(one, now); !ok || p.Role != Reader {
		t.Errorf("who changed it is out, or has another role: %+v", p)
	}
	if _, ok, _ := a.ByCookie(two, now); ok {
		t.Error("the other session goes on")
	}
	for word, want := range map[string]bool{secret: false, "other words now": true} {
		if _, ok, _ := a.LogIn("Nora", word, "a phone", now); ok != want {
			t.Errorf("%q lets in: %v", word, ok)
		}
	}
}

// A file written before sessions were kept has none: its people log in again.
func TestAFileWithoutSessionsIsReadAndKeepsItsPeople(t *testing.T) {
	a := newList(t)
	h := hashed(secret, cheap).String()
	old := fmt.Sprintf(`{"version":1,"key":"%s","people":[{"name":"Nora","role":"writer","password":%q,`+
		`"stamp":"00","since":"2026-01-01T00:00:00Z"}],"devices":[],"ended":[{"session":"00",`+
		`"until":"2026-12-01T00:00:00Z"}]}`, strings.Repeat("AAAA", 11), h)
	if err := os.WriteFile(a.path, []byte(old), 0o600); err != nil {
		t.Fatal(err)
	}
	cookie, ok, err := a.LogIn("Nora", secret, "a phone", now)
	if !ok || err != nil {
		t.Fatal(ok, err)
	}
	if p, ok, err := a.ByCookie(cookie, now); !ok || err != nil || p.Role != Writer {
		t.Error(p, ok, err)
	}
}

func FuzzCookie(f *testing.F) {
	a := Open(filepath.Join(f.TempDir(), "x.access"), nil)
	a.Cost = cheap
	if _, err := a.SetPassword("Nora", Writer, secret, now); err != nil {
		f.Fatal(err)
	}
	good, ok, err := a.LogIn("Nora", secret, "a phone", now)
	if !ok || err != nil {
		f.Fatal(ok, err)
	}
	f.Add(good)
	f.Add("")
	f.Add(".")
	f.Add(strings.ToLower(good))
	f.Fuzz(func(t *testing.T, cookie string) {
		if _, ok, err := a.ByCookie(cookie, now); err != nil || ok != (cookie == good) {
			t.Errorf("%q: in %v, %v", cookie, ok, err)
		}
		if cookie != good && a.Trusts(cookie, "Nora") != "" {
			t.Errorf("%q is taken for a browser that's known", cookie)
		}
	})
}
