package page

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/page/access"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"github.com/rs/zerolog"
)

// cheap makes passwords quick to check: what they cost is tested by itself.
var cheap = access.Cost{Passes: 1, KiB: 8, Threads: 1}

// stage is a server of a small book, with a clock that is set. Whatever asks the
// book looks at the App's clock: that is how it is counted, and where a test gets
// in between.
type stage struct {
	t      testing.TB
	server *Server
	h      http.Handler
	access *access.List
	book   string
	now    time.Time
	rev    atomic.Uint64
	log    bytes.Buffer

	asked atomic.Int64
	mu    sync.Mutex
	play  func() // runs as the book is asked, in its transaction
}

// bookOfTwo is a book of one lot with the wheels a and 261121A-01, made once.
var bookOfTwo = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "rindkeep-page-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path, now := filepath.Join(dir, "cave.book"), time.Date(2026, 11, 21, 8, 0, 0, 0, time.UTC)
	b, err := store.Create(path, store.Settings{Created: now, Zone: "UTC"}, store.Options{})
	if err != nil {
		return nil, err
	}
	v, _ := variety.Find("gouda")
	id := func(n byte) uuid.UUID { return uuid.UUID{6: 0x70, 8: 0x80, 15: n} }
	err = b.Update(func(tx *store.WriteTx) error {
		cellar := cave.Room{
			ID: id(4), Name: "cellar", Temp: 12, RH: 0.85, TempLow: 8, TempHigh: 14, RHLow: 0.75, RHHigh: 0.95,
			Movement: air.Gentle, Written: now,
		}
		if err := tx.PutRoom(cellar); err != nil {
			return err
		}
		m := wheel.Make{ID: id(1), Lot: "261121A", Date: day.At(now, time.UTC), Variety: v.Name, Written: now}
		m.Start = wheel.Composition{Moisture: 0.38, MoistureSD: 0.015, Fat: 0.32, Salt: 0.018, PH: 5.2}
		if err := tx.PutMake(m); err != nil {
			return err
		}
		w := wheel.Wheel{ID: id(2), Make: m.ID, Number: 1, Tag: "261121A-01", Plan: v.Plan, Shape: v.Shape, Since: now,
			Written: now}
		w2 := w
		w2.ID, w2.Number, w2.Tag = id(3), 2, "a"
		return tx.AddWheels([]wheel.Wheel{w, w2})
	})
	if err := errors.Join(err, b.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func newStage(t testing.TB, change ...func(*Options, *limits)) *stage {
	t.Helper()
	book, err := bookOfTwo()
	if err != nil {
		t.Fatal(err)
	}
	st := &stage{t: t, now: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC), book: filepath.Join(t.TempDir(), "cave.book")}
	if err := os.WriteFile(st.book, book, 0o600); err != nil {
		t.Fatal(err)
	}
	st.access = access.Open(st.book+".access", nil)
	st.access.Cost = cheap
	clock := func() time.Time {
		st.asked.Add(1)
		st.mu.Lock()
		play := st.play
		st.mu.Unlock()
		if play != nil {
			play()
		}
		return st.now
	}
	o := Options{
		App:    &app.App{Book: st.book, Now: clock, Log: zerolog.Nop()},
		Access: st.access, Rev: func() (uint64, error) { return st.rev.Load(), nil },
		Now: func() time.Time { return st.now }, Log: zerolog.New(zerolog.SyncWriter(&st.log)),
	}
	l := usualLimits()
	for _, c := range change {
		c(&o, &l)
	}
	s, err := newServer(o, l)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	st.server, st.h = s, s.Handler()
	return st
}

func beyond(o *Options, _ *limits) { o.Beyond = true }

// ran says whether the book was asked for anything, and forgets it.
func (st *stage) ran() bool { return st.asked.Swap(0) > 0 }

// playing sets what happens as the book is asked; nil: nothing.
func (st *stage) playing(fn func()) {
	st.mu.Lock()
	defer st.mu.Unlock()
	st.play = fn
}

// request is a request in short: its head in lines, then its body.
func (st *stage) do(method, target string, head map[string]string, body string) *http.Response {
	st.t.Helper()
	r := httptest.NewRequest(method, "http://localhost:4870"+target, strings.NewReader(body))
	r.RemoteAddr = "192.0.2.7:50000"
	for k, v := range head {
		switch k {
		case "Host":
			r.Host = v
			continue
		case "from":
			r.RemoteAddr = v
			continue
		}
		r.Header.Set(k, v)
	}
	w := httptest.NewRecorder()
	st.h.ServeHTTP(w, r)
	return w.Result()
}

func saidBy(t testing.TB, r *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

var isJSON = map[string]string{"Content-Type": "application/json"}

func with(base map[string]string, more ...string) map[string]string {
	out := map[string]string{}
	for k, v := range base {
		out[k] = v
	}
	for i := 0; i < len(more); i += 2 {
		out[more[i]] = more[i+1]
	}
	return out
}

const (
	secret = "three wet wheels"
	turn   = `{"job":"turn","wheels":["261121A-01"]}`
)

// person lets somebody in and gives the head of their requests.
func (st *stage) person(name string, role access.Role) map[string]string {
	st.t.Helper()
	if _, err := st.access.SetPassword(name, role, secret, st.now); err != nil {
		st.t.Fatal(err)
	}
	return st.cookieOf(name)
}

func (st *stage) cookieOf(name string) map[string]string {
	st.t.Helper()
	r := st.do("POST", "/login", map[string]string{"Content-Type": "application/x-www-form-urlencoded"},
		url.Values{"name": {name}, "password": {secret}}.Encode())
	if r.StatusCode != http.StatusSeeOther || len(r.Cookies()) != 2 {
		st.t.Fatalf("log-in of %s: %d\n%s", name, r.StatusCode, saidBy(st.t, r))
	}
	c := r.Cookies()[0]
	return map[string]string{"Cookie": c.Name + "=" + c.Value}
}

func TestEveryGuardAnswersWithItsStatus(t *testing.T) {
	st := newStage(t, beyond, func(o *Options, _ *limits) { o.Names = []string{"Cave.example"} })
	writer, reader := st.person("Nora", access.Writer), st.person("Inspector", access.Reader)
	token, err := st.access.AddDevice("scale-1", st.now)
	if err != nil {
		t.Fatal(err)
	}
	device := map[string]string{"Authorization": "Bearer " + token}
	large := `{"job":"` + strings.Repeat("x", 1<<20) + `"}`
	for _, c := range []struct {
		name         string
		method, path string
		head         map[string]string
		body         string
		status       int
		says         string // in the body
		runs         bool   // the book was asked
	}{
		{"a stranger at a page is sent to log in", "GET", "/wheels?find=x", nil, "", 303, "", false},
		{"a stranger at the API is told to", "GET", "/api/today", nil, "", 401, "log in first", false},
		{"a stranger writes nothing", "POST", "/api/did", isJSON, turn, 401, "log in first", false},
		{"a stranger hears nothing", "GET", "/live", nil, "", 401, "log in first", false},
		{"a stranger sees the log-in", "GET", "/login", nil, "", 200, "Password", false},
		{"anybody may ask for its health", "GET", "/health", nil, "", 200, `{"status":"ok"}`, true},
		{"a writer reads", "GET", "/api/today", writer, "", 200, "{", true},
		{"a writer writes", "POST", "/api/did", with(isJSON, "Cookie", writer["Cookie"]), turn, 200, `"rindkeep/did/1"`,
			true},
		{"a writer writes under no other's name", "POST", "/api/did", with(isJSON, "Cookie", writer["Cookie"]),
			`{"job":"turn","wheels":["a"],"by":"Bram"}`, 401, "Nora is logged in here, not Bram; nothing was saved", false},
		{"a device weighs under no person's name", "POST", "/api/weigh",
			with(isJSON, "Authorization", device["Authorization"]), `{"wheel":"a","weight_g":1942,"by":"Bram"}`, 403,
			"scale-1 is a device and records only as itself, not as Bram", false},
		{"a device may say its own name", "POST", "/api/weigh", with(isJSON, "Authorization", device["Authorization"]),
			`{"wheel":"a","weight_g":1942,"by":"Scale-1"}`, 200, "{", true},
		{"a device is never sure", "POST", "/api/weigh", with(isJSON, "Authorization", device["Authorization"]),
			`{"wheel":"a","weight_g":1942,"sure":true}`, 403, "a device can't be sure", false},
		{"a reader reads", "GET", "/api/today", reader, "", 200, "{", true},
		{"a reader writes nothing", "POST", "/api/did", with(isJSON, "Cookie", reader["Cookie"]), turn, 403,
			"Inspector has read-only access", false},
		{"a reader deletes nothing", "DELETE", "/api/today", reader, "", 403, "Inspector has read-only access", false},
		{"a device weighs", "POST", "/api/weigh", with(isJSON, "Authorization", device["Authorization"]),
			`{"wheel":"a","weight_g":1942}`, 200, "{", true},
		{"a device notes air", "POST", "/api/air", with(isJSON, "Authorization", device["Authorization"]),
			`{"room":"cellar","temp_c":-1.5,"rh_pct":86}`, 200, `"rindkeep/air-log/1"`, true},
		{"a device turns nothing", "POST", "/api/did", with(isJSON, "Authorization", device["Authorization"]), turn, 403,
			"a device can only send", false},
		{"a device reads nothing", "GET", "/api/today", device, "", 403, "a device can only send", false},
		{"a device sees no page", "GET", "/wheels", device, "", 403, "a device can only send", false},
		{"a token that is none", "POST", "/api/weigh", with(isJSON, "Authorization", "Bearer "+token+"x"), `{}`, 401,
			"log in first", false},
		{"a token of another kind", "POST", "/api/weigh", with(isJSON, "Authorization", "Basic "+token), `{}`, 401,
			"log in first", false},
		{"a bad token is not made good by a cookie", "GET", "/api/today", with(writer, "Authorization", "Bearer x"), "", 401,
			"log in first", false},
		{"a cookie that was changed", "GET", "/api/today", map[string]string{"Cookie": writer["Cookie"] + "x"}, "", 401,
			"log in first", false},
		{"a foreign name for this host", "GET", "/api/today", with(writer, "Host", "evil.example:4870"), "", 421,
			"answer to the name", false},
		{"no name for this host", "GET", "/api/today", with(writer, "Host", ""), "", 421, "answer to the name", false},
		{"localhost as part of a name", "GET", "/api/today", with(writer, "Host", "localhost.evil.example"), "", 421,
			"answer to the name", false},
		{"the name it was given", "GET", "/api/today", with(writer, "Host", "cave.EXAMPLE.:4870"), "", 200, "{", true},
		{"an address in digits", "GET", "/api/today", with(writer, "Host", "192.0.2.9:4870"), "", 200, "{", true},
		{"an address of the newer kind", "GET", "/api/today", with(writer, "Host", "[fd00::2]:4870"), "", 200, "{", true},
		{"another site's form", "POST", "/api/did", with(isJSON, "Cookie", writer["Cookie"], "Origin", "http://evil.example"),
			turn, 403, "another site", false},
		{"another site's script, as the browser says", "POST", "/api/did",
			with(isJSON, "Cookie", writer["Cookie"], "Sec-Fetch-Site", "cross-site"), turn, 403, "another site", false},
		{"another port's form", "POST", "/api/did",
			with(isJSON, "Cookie", writer["Cookie"], "Origin", "http://localhost:4871"), turn, 403, "another site", false},
		{"a form of nowhere", "POST", "/api/did", with(isJSON, "Cookie", writer["Cookie"], "Origin", "null"), turn, 403,
			"another site", false},
		{"the page's own script", "POST", "/api/did", with(isJSON, "Cookie", writer["Cookie"], "Origin",
			"http://localhost:4870", "Sec-Fetch-Site", "same-origin"), turn, 200, `"rindkeep/did/1"`, true},
		{"another site's log-in", "POST", "/login", map[string]string{"Origin": "http://evil.example",
			"Content-Type": "application/x-www-form-urlencoded"}, "name=Nora&password=" + secret, 403, "another site", false},
		{"no JSON by its type", "POST", "/api/did", writer, turn, 415, "application/json", false},
		{"a form sent to the API", "POST", "/api/did", with(writer, "Content-Type", "application/x-www-form-urlencoded"),
			"job=turn", 415, "application/json", false},
		{"JSON with a charset", "POST", "/api/did", with(writer, "Content-Type", "application/json; charset=utf-8"), turn,
			200, `"rindkeep/did/1"`, true},
		{"too large a body", "POST", "/api/did", with(isJSON, "Cookie", writer["Cookie"]), large, 413, "too large", false},
		{"too large a log-in", "POST", "/login", map[string]string{"Content-Type": "application/x-www-form-urlencoded"},
			"name=" + strings.Repeat("x", 20_000), 413, "read the request", false},
		{"no such act", "POST", "/api/burn", with(isJSON, "Cookie", writer["Cookie"]), `{}`, 404, "no address /api/burn",
			false},
		{"an act that is looked at", "GET", "/api/did", writer, "", 405, "takes POST", false},
		{"a document that is written", "POST", "/api/today", with(isJSON, "Cookie", writer["Cookie"]), `{}`, 405,
			"takes GET or HEAD", false},
		{"a page that is written", "POST", "/wheels", writer, "", 405, "nothing can be sent", false},
		{"no such page", "GET", "/nowhere", writer, "", 404, "no page at /nowhere", false},
		{"a query that is not known", "GET", "/api/today?svg=/tmp/x", writer, "", 400, "doesn't take", false},
		{"a query that names a great deal", "GET", "/api/wheels?what=a" + strings.Repeat("&what=a", mostAsked), reader, "",
			400, "what lists 101 names", false},
		{"a query twice", "GET", "/api/today?room=a&room=b", writer, "", 400, "twice", false},
		{"a query that is broken", "GET", "/api/today?room=%zz", writer, "", 400, "can't read", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			st.ran()
			r := st.do(c.method, c.path, c.head, c.body)
			got := saidBy(t, r)
			if r.StatusCode != c.status || !strings.Contains(got, c.says) {
				t.Errorf("%s %s: %d, want %d and %q\n%.400s", c.method, c.path, r.StatusCode, c.status, c.says, got)
			}
			if ran := st.ran(); ran != c.runs {
				t.Errorf("the book was asked: %v", ran)
			}
			for k, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Content-Security-Policy": policy,
				"Referrer-Policy": "same-origin", "Cache-Control": "no-store"} {
				if r.Header.Get(k) != want {
					t.Errorf("%s is %q", k, r.Header.Get(k))
				}
			}
			if strings.HasPrefix(c.path, "/api/") && r.StatusCode >= 400 {
				var said Refusal
				if err := json.Unmarshal([]byte(got), &said); err != nil || said.Error == "" || said.Exit == 0 {
					t.Errorf("the refusal is %q: %v", got, err)
				}
			}
		})
	}
	for _, word := range []string{secret, token, "Bearer", writer["Cookie"][20:], "find=x"} {
		if strings.Contains(st.log.String(), word) {
			t.Errorf("the log holds %q", word)
		}
	}
	if !strings.Contains(st.log.String(), `"route":"POST /api/did","status":200,"ms":0,"person":"Nora"`) {
		t.Errorf("the log does not tell of an answer:\n%s", st.log.String())
	}
}

func TestAPageWithoutPeopleIsOpenOnThisMachineAndClosesForGood(t *testing.T) {
	st := newStage(t)
	if r := st.do("POST", "/api/did", isJSON, turn); r.StatusCode != 200 {
		t.Fatalf("without people: %d", r.StatusCode)
	}
	head := st.person("Nora", "")
	if r := st.do("POST", "/api/did", isJSON, turn); r.StatusCode != 401 {
		t.Errorf("once there is somebody: %d", r.StatusCode)
	}
	if r := st.do("POST", "/api/did", with(isJSON, "Cookie", head["Cookie"]), turn); r.StatusCode != 200 {
		t.Errorf("of that somebody: %d", r.StatusCode)
	}
	if _, ok, err := st.access.Forget("nora"); !ok || err != nil {
		t.Fatal(ok, err)
	}
	for _, h := range []map[string]string{nil, head} {
		if r := st.do("POST", "/api/did", with(isJSON, "Cookie", h["Cookie"]), turn); r.StatusCode != 401 {
			t.Errorf("once all are forgotten: %d", r.StatusCode)
		}
	}
	st = newStage(t, beyond)
	if r := st.do("GET", "/api/today", nil, ""); r.StatusCode != 401 {
		t.Errorf("beyond this machine, without people: %d", r.StatusCode)
	}
	if got := saidBy(t, st.do("GET", "/login", nil, "")); !strings.Contains(got, "Nobody can log in yet") ||
		strings.Contains(got, "<form") {
		t.Errorf("the log-in says\n%s", got)
	}
}

func TestWhatCannotBeUnderstoodIsRefusedByName(t *testing.T) {
	st := newStage(t)
	for _, c := range []struct{ name, act, body, where, says string }{
		{"nothing", "did", ``, "", "empty"},
		{"no JSON", "did", `{job`, "", "isn't JSON"},
		{"JSON that breaks off", "did", `{"job":"turn"`, "", "isn't JSON"},
		{"a list", "did", `[1]`, "", "isn't a JSON object"},
		{"two objects", "did", turn + turn, "", "comes after"},
		{"rubbish behind", "did", turn + "x", "", "comes after"},
		{"not UTF-8", "did", "{\"job\":\"\xff\"}", "", "UTF-8"},
		{"a field twice", "did", `{"job":"turn","job":"brush"}`, "job", "twice"},
		{"a field twice in a field", "taste", `{"wheel":"a","scores":{"flavour":1,"flavour":5}}`, "scores.flavour", "twice"},
		{"a field unknown", "did", `{"job":"turn","wheels":["a"],"books":"x"}`, "books", "no field"},
		{"a field in other letters", "did", `{"Job":"turn","wheels":["a"]}`, "job", "missing"},
		{"a field of another act", "weigh", `{"wheel":"a","weight":"1","job":"turn"}`, "job", "no field"},
		{"a field missing", "did", `{"wheels":["a"]}`, "job", "missing"},
		{"a field null", "did", `{"job":null,"wheels":["a"]}`, "job", "missing"},
		{"no wheels", "did", `{"job":"turn"}`, "wheels", "missing"},
		{"an empty list of wheels", "did", `{"job":"turn","wheels":[]}`, "wheels", "missing"},
		{"wheels that are a number", "did", `{"job":"turn","wheels":7}`, "wheels", "must be a list"},
		{"a wheel that is an object", "did", `{"job":"turn","wheels":[{}]}`, "wheels", "must be a list"},
		{"text that is a number", "did", `{"job":7,"wheels":["a"]}`, "job", "must be text"},
		{"a number that is text", "air", `{"room":"c","temp_c":"12","rh_pct":80}`, "temp_c", "must be a number"},
		{"a number beyond all", "air", `{"room":"c","temp_c":1e400,"rh_pct":80}`, "temp_c", "out of range"},
		{"yes in another language", "check", `{"wheels":["a"],"gas":"ja"}`, "gas", `"yes" or "no"`},
		{"sure in words", "weigh", `{"wheel":"a","weight":"1","sure":"yes"}`, "sure", "true or false"},
		{"two weights", "weigh", `{"wheel":"a","weight":"1","weight_g":1}`, "weight", "not both"},
		{"no weight", "weigh", `{"wheel":"a"}`, "weight", "missing"},
		{"a note on both", "note", `{"wheel":"a","lot":"b","text":"x"}`, "wheel", "not both"},
		{"a score unknown", "taste", `{"wheel":"a","scores":{"smell":4}}`, "scores.smell", "no score"},
		{"the last entry", "strike", `{"entry":"Last","why":"x"}`, "entry", "somebody else's"},
		{"a photo that is no base64", "note", `{"wheel":"a","text":"x","photo":"*"}`, "photo", "isn't base64"},
		{"a photo too large", "note", `{"wheel":"a","text":"x","photo":"` + strings.Repeat("AAAA", 233_334) + `"}`, "photo",
			"too large"},
		{"nested too deep", "did", `{"job":` + strings.Repeat("[", 50) + strings.Repeat("]", 50) + `}`, "job", "nested"},
		{"nested beyond all", "did", strings.Repeat("[", 400_000), "", "nested"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := st.do("POST", "/api/"+c.act, isJSON, c.body)
			var said Refusal
			if err := json.Unmarshal([]byte(saidBy(t, r)), &said); err != nil {
				t.Fatal(err)
			}
			if r.StatusCode != 400 || said.Where != c.where || !strings.Contains(said.Error, c.says) || said.Exit != 2 {
				t.Errorf("%d %+v, want 400 at %q: %q", r.StatusCode, said, c.where, c.says)
			}
		})
	}
	if st.ran() {
		t.Error("the book was asked")
	}
}

func TestEveryDocumentIsReadAndChangesNothing(t *testing.T) {
	st := newStage(t)
	if r := st.do("POST", "/api/customer", isJSON, `{"name":"Shop"}`); r.StatusCode != 200 {
		t.Fatal(saidBy(t, r))
	}
	before, err := os.ReadFile(st.book)
	if err != nil {
		t.Fatal(err)
	}
	names := strings.NewReplacer("{tag}", "261121A-01", "{lot}", "261121A", "{room}", "cellar", "{what}", "261121A",
		"{name}", "Shop")
	for _, d := range documents {
		path := "/api/" + names.Replace(d.path)
		switch d.path {
		case "trace":
			path += "?what=261121A"
		case "find":
			path += "?words=261121A"
		}
		if r := st.do("GET", path, nil, ""); r.StatusCode != 200 {
			t.Errorf("GET %s: %d %s", path, r.StatusCode, saidBy(t, r))
		}
		if strings.Contains(d.path, "{") {
			path := "/api/" + regexp.MustCompile(`\{.*?\}`).ReplaceAllString(d.path, "--book=%2Fx")
			if r := st.do("GET", path, nil, ""); r.StatusCode != 404 && r.StatusCode != 422 && d.ask != nil {
				t.Errorf("GET %s: %d %s", path, r.StatusCode, saidBy(t, r))
			}
		}
	}
	after, err := os.ReadFile(st.book)
	if err != nil || !bytes.Equal(before, after) {
		t.Errorf("the book was changed: %v", err)
	}
}

func TestAPictureIsAskedForAgainByWhoeverComesAfter(t *testing.T) {
	st := newStage(t)
	nora := st.person("Nora", access.Writer)
	note := `{"wheel":"a","text":"x","photo":"` + photo() + `","id":"01a212d7-2dba-796f-b6c8-34d6aa000007"}`
	if r := st.do("POST", "/api/note", with(nora, "Content-Type", "application/json"), note); r.StatusCode != 200 {
		t.Fatal(saidBy(t, r))
	}
	const path = "/photo/01a212d7-2dba-796f-b6c8-34d6aa000007"
	jpeg, _ := base64.StdEncoding.DecodeString(photo())
	r := st.do("GET", path, nora, "")
	tag := r.Header.Get("ETag")
	if got := saidBy(t, r); r.StatusCode != 200 || got != string(jpeg) || r.Header.Get("Content-Type") != "image/jpeg" ||
		r.Header.Get("Cache-Control") != "private, no-cache" {
		t.Errorf("%d %v %q", r.StatusCode, r.Header, got)
	}
	if r := st.do("GET", path, with(nora, "If-None-Match", tag), ""); tag == "" || r.StatusCode != 304 ||
		saidBy(t, r) != "" {
		t.Errorf("asked again by the same: %d", r.StatusCode)
	}
	if r := st.do("GET", path, map[string]string{"If-None-Match": tag}, ""); r.StatusCode != 303 {
		t.Errorf("asked again by a stranger: %d", r.StatusCode)
	}
}

func TestEachKindOfRefusalHasItsStatusAndExitCode(t *testing.T) {
	st := newStage(t)
	for _, c := range []struct {
		name   string
		err    error
		status int
		want   Refusal
	}{
		{"a doubt", app.Unsure(reason.Missing{What: "why"}).Of("a"), 422,
			Refusal{Error: "say why", Where: "a", Hint: "if it is right, confirm it", Exit: 1, Sure: true, Code: "missing",
				Figures: []byte(`{"what":"why"}`)}},
		{"misuse", app.Misuse("job", reason.Flat("odd")), 400, Refusal{Error: "odd", Where: "job", Exit: 2, Code: "odd"}},
		{"a field badRequest", badRequestf("wheel", "which?"), 400,
			Refusal{Error: "which?", Where: "wheel", Exit: 2, Hint: listed}},
		{"what is not there", store.NotFound{Thing: "lot", Name: "x", Near: []string{"y"}}, 404,
			Refusal{Error: `no lot "x"`, Exit: 4, Hint: "did you mean y?", Code: "not-found",
				Figures: []byte(`{"thing":"lot","name":"x","near":["y"]}`)}},
		{"a busy book", bookfile.ErrBusy, 503,
			Refusal{Error: bookfile.ErrBusy.Error(), Exit: 3, Hint: "try again in a moment"}},
		{"a crowd", errCrowded, 503, Refusal{Error: errCrowded.Error(), Exit: 3, Hint: "try again in a moment"}},
		{"no book", bookfile.ErrNoBook, 503, Refusal{Error: bookfile.ErrNoBook.Error(), Exit: 5}},
		{"a caller that went away", context.Canceled, 503, Refusal{Error: "interrupted; nothing was half-saved", Exit: 130}},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := httptest.NewRecorder()
			st.server.answer(&answering{ResponseWriter: w}, httptest.NewRequest("POST", "/api/did", nil), nil, c.err)
			var got Refusal
			if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != c.status {
				t.Errorf("%d %s, %v", w.Code, w.Body, err)
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Error(d)
			}
			if after := w.Header().Get("Retry-After"); after != "" != (c.status == 503) {
				t.Errorf("Retry-After %q", after)
			}
		})
	}
}

func TestAFaultIsAnsweredLoggedAndLetsTheServerLive(t *testing.T) {
	st := newStage(t)
	st.playing(func() { panic("a wheel fell over") })
	if r := st.do("POST", "/api/did", isJSON, turn); r.StatusCode != 500 || !strings.Contains(saidBy(t, r), "hit a bug") {
		t.Errorf("%d", r.StatusCode)
	}
	if !strings.Contains(st.log.String(), "a wheel fell over") || !strings.Contains(st.log.String(), "guard_test.go") {
		t.Errorf("the log:\n%s", st.log.String())
	}
	st.playing(nil)
	// As often as commands may run at once: none of them kept its place.
	for range usualLimits().commands + 1 {
		if r := st.do("POST", "/api/did", isJSON, turn); r.StatusCode != 200 {
			t.Fatalf("afterwards: %d", r.StatusCode)
		}
	}
}

func TestMoreThanCanBeDoneAtOnceIsToldToComeBack(t *testing.T) {
	st := newStage(t, func(_ *Options, l *limits) { l.commands, l.waiting, l.wait = 2, 3, 50*time.Millisecond })
	held := make(chan struct{})
	st.playing(func() { <-held })
	var done sync.WaitGroup
	var ok, busy atomic.Int64
	for range 10 {
		done.Go(func() {
			switch r := st.do("POST", "/api/did", isJSON, turn); {
			case r.StatusCode == 200:
				ok.Add(1)
			case r.StatusCode == 503 && r.Header.Get("Retry-After") != "":
				busy.Add(1)
			default:
				t.Errorf("%d", r.StatusCode)
			}
		})
	}
	for deadline := time.Now().Add(10 * time.Second); busy.Load() < 8 && time.Now().Before(deadline); {
		time.Sleep(time.Millisecond)
	}
	close(held)
	done.Wait()
	if ok.Load() != 2 || busy.Load() != 8 {
		t.Errorf("%d were done and %d sent away, of 10 where 2 fit", ok.Load(), busy.Load())
	}
}

func TestWithoutAccessThatCanBeReadNobodyIsLetIn(t *testing.T) {
	for _, broken := range []string{"", "{", `{"version":9}`, `{"version":1,"key":"AA=="}`,
		`{"version":1,"key":"` + base64.StdEncoding.EncodeToString(make([]byte, 32)) +
			`","people":[{"name":"x","role":"king","password":"` +
			"$argon2id$v=19$m=8,t=1,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA" + `"}]}`} {
		st := newStage(t)
		if err := os.WriteFile(st.access.Path(), []byte(broken), 0o600); err != nil {
			t.Fatal(err)
		}
		r := st.do("POST", "/api/did", isJSON, turn)
		if got := saidBy(t, r); r.StatusCode != 503 || !strings.Contains(got, "cave.book.access") {
			t.Errorf("with %q: %d %s", broken, r.StatusCode, got)
		}
		if st.ran() {
			t.Errorf("with %q the book was asked", broken)
		}
	}
}
