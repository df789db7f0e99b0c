package cli

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"image"
	"image/jpeg"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cmd/cli/pages"
	"rindkeep/cmd/page"
)

// paged is the page of a world's book, served.
type paged struct {
	*world
	url    string
	client *http.Client
}

// ticking makes the world's clock go on a millisecond with every look, no matter who
// looks.
func (w *world) ticking() *world {
	var n atomic.Int64
	w.env.Now = func() time.Time { return morning.Add(time.Hour + time.Duration(n.Add(1))*time.Millisecond) }
	return w
}

func (w *world) page() *paged {
	w.t.Helper()
	s, err := page.New(pages.Options(w.book, w.env))
	if err != nil {
		w.t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	w.t.Cleanup(func() { s.Close(); srv.Close() })
	tr := &http.Transport{MaxIdleConnsPerHost: 256}
	w.t.Cleanup(tr.CloseIdleConnections)
	return &paged{w, srv.URL, &http.Client{Transport: tr, Timeout: time.Minute}}
}

// post does an act and gives the status and the document.
func (p *paged) post(act string, body any) (int, map[string]any) {
	p.t.Helper()
	b, err := json.Marshal(body)
	if err != nil {
		p.t.Fatal(err)
	}
	status, doc, err := p.send(act, b)
	if err != nil {
		p.t.Fatal(err)
	}
	return status, doc
}

func (p *paged) send(act string, b []byte) (int, map[string]any, error) {
	r, err := p.client.Post(p.url+"/api/"+act, "application/json", bytes.NewReader(b))
	if err != nil {
		return 0, nil, err
	}
	defer r.Body.Close()
	var doc map[string]any
	if err := json.NewDecoder(r.Body).Decode(&doc); err != nil {
		return r.StatusCode, nil, err
	}
	return r.StatusCode, doc, nil
}

func (p *paged) get(path string) (int, string) {
	p.t.Helper()
	r, err := p.client.Get(p.url + path)
	if err != nil {
		p.t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	return r.StatusCode, string(b)
}

// obj is a JSON object.
type obj = map[string]any

func TestThePagesDocumentsAreTheCommands(t *testing.T) {
	w := newWorld(t).kept()
	w.env.Now = func() time.Time { return morning }
	w.must("air log drying 12C 85%")
	w.must("customer new Shop")
	p := w.page()
	for path, line := range map[string]string{
		"/api/today": "today", "/api/today?on=tomorrow&only=turn": "today --on tomorrow --only turn", "/api/dry": "dry",
		"/api/dry/261110A-01":                   "dry 261110A-01",
		"/api/curve/261110A-01?days=30":         "curve 261110A-01 --days 30",
		"/api/wheels?what=261110A&stage=drying": "wheel list 261110A --stage drying",
		"/api/wheels/261110A-01?history=2":      "wheel show 261110A-01 --history 2",
		"/api/lots?most=1":                      "make list --most 1", "/api/lots/261110A": "make show 261110A",
		"/api/rooms":        "room list",
		"/api/rooms/drying": "room show drying", "/api/rooms/drying/air?days=3": "air show drying --days 3",
		"/api/ahead?days=5": "ahead --days 5", "/api/trace/261110A-01": "trace 261110A-01",
		"/api/trace?room=drying&from=2026-11-10&to=2026-11-20": "trace --room drying --from 2026-11-10 --to 2026-11-20",
		"/api/stock": "stock", "/api/customers": "customer list", "/api/customers/Shop": "customer show Shop",
		"/api/varieties": "variety list", "/api/plans": "plan list", "/api/log?what=261110A-01": "log 261110A-01 --most 200",
	} {
		status, got := p.get(path)
		if want := w.must(line + " --json"); status != 200 || got != want {
			t.Errorf("GET %s: %d\n%.300s\nand rindkeep %s --json\n%.300s", path, status, got, line, want)
		}
	}
	for path, want := range map[string]int{"/api/wheels/261110A-09": 404, "/api/lots/none": 404, "/api/rooms/none": 404,
		"/api/today?on=never": 400, "/api/trace": 400, "/health": 200} {
		if status, got := p.get(path); status != want {
			t.Errorf("GET %s: %d %s", path, status, got)
		}
	}
	// A GET writes nothing, whatever it asks for.
	before := w.must("book info --json")
	for _, path := range []string{"/api/today", "/api/wheels", "/", "/wheels", "/rooms", "/ahead", "/makes", "/makes/new",
		"/trace", "/stock", "/login", "/logout", "/api/did", "/api/strike?entry=last&why=x"} {
		p.get(path)
	}
	same(t, "the book after it was looked at", w.must("book info --json"), before)
}

func TestEveryActIsInTheBookOnceHoweverOftenItIsSent(t *testing.T) {
	w := newWorld(t).kept().ticking()
	w.must("room new cellar --racks A:2x8")
	p := w.page()
	var small bytes.Buffer
	if err := jpeg.Encode(&small, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	photo := base64.StdEncoding.EncodeToString(small.Bytes())
	for _, c := range []struct {
		act  string
		body obj
	}{
		{"did", obj{"job": "turn", "wheels": []string{"261110A-01", "261110A-02"}}},
		{"skip", obj{"job": "turn", "what": []string{"drying/A/1"}, "why": "soft"}},
		{"weigh", obj{"wheel": "261110A-01", "weight": "2010"}},
		{"weigh", obj{"wheel": "261110A-02", "weight_g": 2005.5}},
		{"check", obj{"wheels": []string{"261110A-01"}, "dry_to_touch": "yes", "cracks": "no"}},
		{"coat", obj{"wheels": []string{"261110A-02"}, "coat": "wax", "before": "2004", "after": 2050}},
		{"move", obj{"wheels": []string{"261110A-03"}, "place": "cellar/A/1"}},
		{"note", obj{"wheel": "261110A-01", "text": "small crack, filled"}},
		{"note", obj{"wheel": "261110A-01", "text": "with a picture", "photo": photo}},
		{"note", obj{"lot": "261110A", "text": "slow acid"}},
		{"taste", obj{"wheel": "261110A-04", "scores": obj{"flavour": 4, "texture": 5}, "faults": []string{"crumbly"}}},
		{"hold", obj{"wheels": []string{"261110A-03"}, "why": "for the Corner Shop", "kind": "reserved"}},
		{"release", obj{"wheels": []string{"261110A-03"}, "why": "clear"}},
		{"send", obj{"wheels": []string{"261110A-04"}, "to": "Shop", "weight": "2.03kg", "override": "sample"}},
		{"lost", obj{"wheels": []string{"261110A-03"}, "why": "dropped"}},
		{"make", obj{"variety": "gouda", "wheels": 2, "weights": []any{2100, "2.09kg"}, "place": "drying"}},
		{"air", obj{"room": "drying", "temp_c": 12.5, "rh_pct": 84}},
		{"customer", obj{"name": "The Corner Shop", "contact": "Mary"}},
	} {
		id, err := uuid.NewV7()
		if err != nil {
			t.Fatal(err)
		}
		c.body["id"], c.body["by"], c.body["at"] = id.String(), "Orla", "2026-11-25T09:00:00Z"
		status, doc := p.post(c.act, c.body)
		if status != 200 {
			t.Errorf("%s %v: %d %v", c.act, c.body, status, doc)
			continue
		}
		log, air := w.must("log --most 0"), w.must("air show drying")
		status, doc = p.post(c.act, c.body)
		if schema := doc["schema"]; status != 200 || schema != "rindkeep/known/1" && c.act != "air" && c.act != "customer" {
			t.Errorf("%s sent again: %d %v", c.act, status, doc)
		}
		if w.must("log --most 0") != log || w.must("air show drying") != air {
			t.Errorf("%s sent again is in the book twice", c.act)
		}
		if c.act != "air" && c.act != "customer" && !strings.Contains(log, "Orla") {
			t.Errorf("%s is not Orla's", c.act)
		}
	}
	// What was sent under one identity is struck as one, and once.
	id := uuid.Must(uuid.NewV7()).String()
	p.post("did", obj{"job": "brush", "wheels": []string{"261110A-01", "261110A-02"}, "id": id})
	strike := obj{"entry": id, "why": "slip", "id": uuid.Must(uuid.NewV7()).String()}
	if status, doc := p.post("strike", strike); status != 200 || len(doc["struck"].([]any)) != 2 {
		t.Errorf("strike: %d %v", status, doc)
	}
	if status, doc := p.post("strike", strike); status != 200 || doc["schema"] != "rindkeep/known/1" {
		t.Errorf("strike sent again: %d %v", status, doc)
	}
	if status, doc := p.post("note", obj{"wheel": "261110A-01", "text": "x", "photo": "aGFsbG8="}); status != 422 ||
		doc["where"] != "photo" || doc["error"] != "that isn't a photo: send a JPEG, PNG or WebP picture" {
		t.Errorf("what is no picture: %d %v", status, doc)
	}
	// The picture comes back as it was sent.
	var log struct {
		Entries []struct{ ID, Note string }
	}
	w.doc(&log, "log 261110A-01 --most 0")
	found := false
	for _, e := range log.Entries {
		if e.Note == "with a picture" {
			found = true
			if status, got := p.get("/photo/" + e.ID); status != 200 || got != small.String() {
				t.Errorf("the picture: %d, %d bytes", status, len(got))
			}
		}
	}
	if !found {
		t.Errorf("no note with a picture among %+v", log.Entries)
	}
	w.sound()
}

func TestADoubtfulWeightIsAskedAboutThenRecorded(t *testing.T) {
	w := newWorld(t).kept().ticking()
	p := w.page()
	b := obj{"wheel": "261110A-01", "weight": "1500"}
	status, doc := p.post("weigh", b)
	if status != 422 || doc["sure"] != true || doc["where"] != "261110A-01" ||
		!strings.Contains(doc["error"].(string), "looks wrong") {
		t.Errorf("%d %v", status, doc)
	}
	b["sure"] = true
	if status, doc = p.post("weigh", b); status != 200 {
		t.Errorf("sure: %d %v", status, doc)
	}
	if status, doc = p.post("weigh", obj{"wheel": "261110A-1", "weight": "1500"}); status != 404 ||
		!strings.Contains(doc["hint"].(string), "261110A-01") {
		t.Errorf("a tag mistyped: %d %v", status, doc)
	}
}

func FuzzAPI(f *testing.F) {
	w := newWorld(f).kept().ticking()
	w.must("room new cellar --racks A:2x8")
	s, err := page.New(pages.Options(w.book, w.env))
	if err != nil {
		f.Fatal(err)
	}
	h := s.Handler()
	for _, c := range [][3]string{
		{"POST", "/api/did",
			`{"job":"turn","wheels":["261110A-01"],"at":"2026-11-25T08:00:00Z","id":"01a212d7-2dba-796f-b6c8-34d6aa000007"}`},
		{"POST", "/api/weigh", `{"wheel":"261110A-01","weight_g":2010,"sure":true}`},
		{"POST", "/api/weigh", `{"wheel":"261110A-01","weight":"4lb5oz"}`},
		{"POST", "/api/check", `{"wheels":["261110A-01"],"dry_to_touch":"yes","gas":"no"}`},
		{"POST", "/api/coat", `{"wheels":["261110A-01"],"coat":"wax","before":1905,"after":"1948"}`},
		{"POST", "/api/move", `{"wheels":["261110A-01"],"place":"cellar/A/1"}`},
		{"POST", "/api/note", `{"wheel":"261110A-01","text":"x","photo":"/9j/2wBDAA=="}`},
		{"POST", "/api/taste", `{"wheel":"261110A-01","scores":{"flavour":4},"faults":["bitter"]}`},
		{"POST", "/api/send", `{"wheels":["261110A-02"],"to":"Shop","weight":"1kg","part":true,"override":"x"}`},
		{"POST", "/api/strike", `{"entry":"01a212d7-2dba-796f-b6c8-34d6aa000007","why":"x"}`},
		{"POST", "/api/air", `{"room":"drying","temp_c":12.5,"rh_pct":84}`},
		{"POST", "/api/make", `{"variety":"gouda","wheels":1,"weight":2100,"place":"drying/A/1","shape":"sphere"}`},
		{"POST", "/api/customer", `{"name":"Shop","contact":"x"}`},
		{"GET", "/api/log?what=261110A&most=3", ``},
		{"GET", "/api/wheels/261110A-01?history=0", ``},
		{"GET", "/api/dry/..%2f", ``},
		{"PUT", "/api/today", `x`},
		{"GET", "/wheel/261110A-01", ``},
		{"GET", "/trace?what=261110A", ``},
		{"GET", "/live?rev=x", ``},
	} {
		f.Add(c[0], c[1], c[2])
	}
	n := 0
	f.Fuzz(func(t *testing.T, method, path, body string) {
		if !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "/live") {
			return // a stream does not end
		}
		u, err := url.ParseRequestURI(path)
		if err != nil || strings.ContainsAny(method, " \t\r\n") {
			return
		}
		r, err := http.NewRequest(method, "http://localhost", strings.NewReader(body))
		if err != nil {
			return
		}
		r.URL.Path, r.URL.RawPath, r.URL.RawQuery = u.Path, u.RawPath, u.RawQuery
		r.RequestURI, r.RemoteAddr = path, "127.0.0.1:1"
		r.Header.Set("Content-Type", "application/json")
		rec := httptest.NewRecorder()
		h.ServeHTTP(rec, r)
		switch rec.Code {
		case 200, 206, 301, 303, 304, 307, 308, 400, 404, 405, 413, 415, 422, 403:
		default:
			t.Fatalf("%s %q %q: %d %s", method, path, body, rec.Code, rec.Body)
		}
		if strings.HasPrefix(u.Path, "/api/") && rec.Code != 307 && rec.Code != 301 && method != "HEAD" &&
			!json.Valid(rec.Body.Bytes()) {
			t.Fatalf("%s %q %q: answered %d with no JSON: %q", method, path, body, rec.Code, rec.Body)
		}
		if n++; n%200 == 0 {
			at := *w
			at.t = t
			at.sound()
		}
	})
}

func TestTheAPIIsPrintedFromWhatAnswers(t *testing.T) {
	w := newWorld(t)
	out := w.must("page api")
	for _, s := range []string{"/api/today", "/api/rooms/{room}/air", "/api/weigh", "weight_g", "* room",
		"rindkeep/known/1", "/live", "/health"} {
		if !strings.Contains(out, s) {
			t.Errorf("it does not tell of %s", s)
		}
	}
	if out != page.API() {
		t.Error("it prints something else than the page's own list")
	}
}
