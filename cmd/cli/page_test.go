package cli

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math/rand/v2"
	network "net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
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

func TestTwoHundredWritersAtOnceLoseNothing(t *testing.T) {
	w := newWorld(t).kept().ticking()
	p := w.page()
	var wg sync.WaitGroup
	var bad atomic.Int64
	for i := range 200 {
		wg.Go(func() {
			b, _ := json.Marshal(obj{"wheel": fmt.Sprintf("261110A-%02d", i%4+1), "text": fmt.Sprint("note ",
				i), "id": uuid.Must(uuid.NewV7()).String()})
			status, doc, err := p.send("note", b)
			if err != nil || status != 200 {
				bad.Add(1)
				t.Errorf("note %d: %d %v %v", i, status, doc, err)
			}
		})
	}
	wg.Wait()
	notes := w.notes()
	for i := range 200 {
		if notes[fmt.Sprint("note ", i)] != 1 {
			t.Errorf("note %d is in the book %d times", i, notes[fmt.Sprint("note ", i)])
		}
	}
	w.sound()
}

// notes counts what notes of wheels say.
func (w *world) notes() map[string]int {
	w.t.Helper()
	var log struct {
		Entries []struct{ Note string }
	}
	w.doc(&log, "log --most 0")
	out := map[string]int{}
	for _, e := range log.Entries {
		out[e.Note]++
	}
	return out
}

// phone sends entries in order until each was acknowledged, as the page in a
// browser does: again after a busy answer, and now and then again although it
// was acknowledged, as when the answer is lost on the way.
func (p *paged) phone(r *rand.Rand, name string, entries [][]byte) error {
	for _, b := range entries {
		for try := 0; ; try++ {
			status, doc, err := p.send("note", b)
			switch {
			case err != nil:
				return err
			case status == 503 && try < 50:
				time.Sleep(time.Duration(r.IntN(50)) * time.Millisecond)
				continue
			case status != 200:
				return fmt.Errorf("%s: %d %v", name, status, doc)
			}
			if try == 0 && r.IntN(4) == 0 {
				continue
			}
			break
		}
	}
	return nil
}

func TestTwentyPhonesSendingARoundAtOnceLoseNothing(t *testing.T) {
	w := newWorld(t).kept().ticking()
	p := w.page()
	const phones, each = 20, 15
	var wg sync.WaitGroup
	for n := range phones {
		var entries [][]byte
		for i := range each {
			b, err := json.Marshal(obj{"wheel": fmt.Sprintf("261110A-%02d", i%4+1), "text": fmt.Sprintf("phone %d entry %d", n,
				i), "id": uuid.Must(uuid.NewV7()).String(), "at": morning.Add(time.Duration(i) * time.Second).Format(time.RFC3339)})
			if err != nil {
				t.Fatal(err)
			}
			entries = append(entries, b)
		}
		wg.Go(func() {
			if err := p.phone(rand.New(rand.NewPCG(1, uint64(n))), fmt.Sprint("phone ", n), entries); err != nil {
				t.Error(err)
			}
		})
	}
	// The command line writes meanwhile, and is not starved.
	for i := range 10 {
		w.must(fmt.Sprintf("wheel note 261110A-01 desk%d", i))
	}
	wg.Wait()
	notes := w.notes()
	for n := range phones {
		for i := range each {
			if s := fmt.Sprintf("phone %d entry %d", n, i); notes[s] != 1 {
				t.Errorf("%q is in the book %d times", s, notes[s])
			}
		}
	}
	for i := range 10 {
		if s := fmt.Sprint("desk", i); notes[s] != 1 {
			t.Errorf("%q is in the book %d times", s, notes[s])
		}
	}
	w.sound()
}

func TestUnderLoadEveryAcknowledgedEntryIsInTheBook(t *testing.T) {
	clients, long := 50, 3*time.Second
	if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
		long = 30 * time.Second
	}
	if testing.Short() {
		long = time.Second
	}
	w := newWorld(t).ticking()
	w.must("room new drying --racks A:8x8")
	w.must("make new --variety cheddar-waxed --wheels 50 --lot L --weight 2100 --place drying/A/1 --at 2026-11-10T17:00 " +
		"--quiet --sure")
	p := w.page()
	type sent struct{ id, what string }
	acked := make([][]sent, clients)
	took := make([][]time.Duration, clients)
	var busy atomic.Int64
	var wg sync.WaitGroup
	until := time.Now().Add(long)
	for c := range clients {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(7, uint64(c)))
			tag := fmt.Sprintf("L-%02d", c+1)
			for i := 0; time.Now().Before(until); i++ {
				id := uuid.Must(uuid.NewV7()).String()
				act, body := "did", obj{"job": "turn", "wheels": []string{tag}, "id": id, "note": id}
				switch r.IntN(10) {
				case 0:
					act, body = "weigh", obj{"wheel": tag, "weight_g": 2080, "sure": true, "id": id, "note": id}
				case 1:
					act, body = "note", obj{"wheel": tag, "text": id, "id": id}
				case 2:
					act, body = "check", obj{"wheels": []string{tag}, "dry_to_touch": "yes", "id": id, "note": id}
				}
				b, _ := json.Marshal(body)
				from := time.Now()
				status, doc, err := p.send(act, b)
				switch {
				case err != nil:
					t.Errorf("%s: %v", act, err)
					return
				case status == 503:
					busy.Add(1)
				case status != 200:
					t.Errorf("%s: %d %v", act, status, doc)
					return
				default:
					acked[c] = append(acked[c], sent{id, act})
					took[c] = append(took[c], time.Since(from))
				}
			}
		})
	}
	wg.Wait()
	var all []time.Duration
	notes := w.notes()
	n := 0
	for c := range acked {
		all = append(all, took[c]...)
		for _, s := range acked[c] {
			n++
			if notes[s.id] != 1 {
				t.Errorf("%s %s was acknowledged and is in the book %d times", s.what, s.id, notes[s.id])
			}
		}
	}
	if n < clients {
		t.Fatalf("only %d entries were acknowledged", n)
	}
	slices.Sort(all)
	t.Logf("%d clients for %v: %d entries acknowledged and found, %.0f a second, p50 %v, p99 %v, worst %v; "+
		"%d told to come back", clients, long, n, float64(n)/long.Seconds(),
		all[len(all)/2].Round(time.Millisecond), all[len(all)*99/100].Round(time.Millisecond), all[len(all)-1].Round(
			time.Millisecond), busy.Load())
	w.sound()
}

func TestABookPutInItsPlaceIsServedWithoutAStop(t *testing.T) {
	w := newWorld(t).kept().ticking()
	back := filepath.Join(w.dir, "back.book")
	w.must("book backup " + back)
	p := w.page()
	p.post("note", obj{"wheel": "261110A-01", "text": "after the backup"})
	if w.notes()["after the backup"] != 1 {
		t.Fatal("the note is not in the book")
	}
	w.must("book restore " + back + " --replace")
	if status, doc := p.post("note", obj{"wheel": "261110A-01", "text": "after the restore"}); status != 200 {
		t.Fatalf("%d %v", status, doc)
	}
	if n := w.notes(); n["after the backup"] != 0 || n["after the restore"] != 1 {
		t.Errorf("the book holds %v", n)
	}
	if err := os.Rename(w.book, w.book+".away"); err != nil {
		t.Fatal(err)
	}
	for act, body := range map[string]obj{"note": {"wheel": "261110A-01", "text": "x"},
		"make": {"variety": "gouda", "wheels": 1, "weight": 2000}} {
		if status, doc := p.post(act, body); status != 503 {
			t.Errorf("%s without a book: %d %v", act, status, doc)
		}
	}
	if _, err := os.Stat(w.book); !errors.Is(err, os.ErrNotExist) {
		t.Error("the page began a new book in its place")
	}
	if err := os.Rename(w.book+".away", w.book); err != nil {
		t.Fatal(err)
	}
	if status, _ := p.get("/api/today"); status != 200 {
		t.Errorf("once it is back: %d", status)
	}
	w.sound()
}

func TestWhoeverIsInterruptedOnTheWayWroteAllOrNothing(t *testing.T) {
	w := newWorld(t).kept().ticking()
	p := w.page()
	r := rand.New(rand.NewPCG(3, 4))
	var acked []string
	for i := range 60 {
		ctx, cancel := context.WithTimeout(t.Context(), time.Duration(r.IntN(12_000))*time.Microsecond)
		b, _ := json.Marshal(obj{"job": "turn", "what": []string{"261110A"}, "note": fmt.Sprint("try ",
			i), "id": uuid.Must(uuid.NewV7()).String()})
		req, err := http.NewRequestWithContext(ctx, "POST", p.url+"/api/did", bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/json")
		if res, err := p.client.Do(req); err == nil {
			if _, err := io.ReadAll(res.Body); err == nil && res.StatusCode == 200 {
				acked = append(acked, fmt.Sprint("try ", i))
			}
			res.Body.Close()
		}
		cancel()
	}
	notes := w.notes()
	for s, n := range notes {
		if strings.HasPrefix(s, "try") && n != 4 {
			t.Errorf("%q is on %d of 4 wheels", s, n)
		}
	}
	for _, s := range acked {
		if notes[s] != 4 {
			t.Errorf("%q was acknowledged and is on %d of 4 wheels", s, notes[s])
		}
	}
	w.sound()
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

// serving is a command line that serves a page until ctx ends.
func (w *world) serving(args ...string) (addr string, stop func() ran) {
	w.t.Helper()
	ctx, cancel := context.WithCancel(w.t.Context())
	port := freePort(w.t)
	e := w.env
	var out, errs bytes.Buffer
	e.Out, e.Err = &out, &errs
	var code int
	var done sync.WaitGroup
	done.Go(func() {
		code = Run(ctx, append([]string{"page", "--listen", "localhost:" + port}, args...), e)
	})
	addr = "http://localhost:" + port
	for deadline := time.Now().Add(10 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		if r, err := http.Get(addr + "/health"); err == nil {
			r.Body.Close()
			break
		}
		if time.Now().After(deadline) {
			cancel()
			done.Wait()
			w.t.Fatalf("it does not answer\n%s%s", out.String(), errs.String())
		}
	}
	return addr, func() ran {
		cancel()
		done.Wait()
		return ran{code, out.String(), errs.String()}
	}
}

func freePort(t testing.TB) string {
	t.Helper()
	l, err := network.Listen("tcp", "localhost:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return strconv.Itoa(l.Addr().(*network.TCPAddr).Port)
}

func TestThePageIsServedUntilItIsInterruptedAndThatIsNoFailure(t *testing.T) {
	w := newWorld(t).kept()
	now := morning.Add(time.Hour)
	w.env.Now = func() time.Time { return now }
	addr, stop := w.serving("--verbose")
	if r, err := http.Get(addr + "/"); err != nil || r.StatusCode != 200 {
		t.Error(r, err)
	}
	taken := strings.TrimPrefix(addr, "http://localhost")
	w.want(exitRefused, `port \d+ is taken\n.*--listen localhost:4871`, "page", "--listen", "localhost"+taken)
	r := stop()
	if r.Code != 0 || !strings.Contains(r.Err, "the page is at "+addr) ||
		!strings.HasSuffix(r.Err, "stopped; every request was finished\n") || !strings.Contains(r.Err, `route="GET /{$}"`) {
		t.Errorf("%+v", r)
	}
}

func TestThePageRefusesToBeServedUnsafely(t *testing.T) {
	w := newWorld(t).kept()
	w.want(exitRefused, `other machines can reach :0, and nobody has a password yet\nhint: .*rindkeep page password NAME`,
		"page", "--listen", ":0")
	w.want(exitUsage, `--listen wants host:port`, "page", "--listen", "localhost")
	w.want(exitUsage, `--listen wants host:port`, "page", "--listen", "localhost:70000")
	w.want(exitRefused, `192\.0\.2\.250 isn't an address of this machine`, "page", "--listen", "192.0.2.250:0")
	w.want(exitUsage, `--cert and --key go together`, "page", "--cert", "x")
	w.want(exitUsage, `not both`, "page", "--cert", "x", "--key", "y", "--tls")
	w.want(exitRefused, `can't use the certificate: x: it is not there`, "page", "--cert", "x", "--key", "y", "--listen",
		"localhost:0")
	w.want(exitUsage, `--name wants a host's name`, "page", "--name", "http://x")
	w.want(exitUsage, `no command "pasword" in rindkeep page\nhint: did you mean rindkeep page password\?`, "page",
		"pasword")
	w.want(exitUsage, `no password was given`, "page", "password", "Nora")
	if err := os.Rename(w.book, w.book+".away"); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"page", "--listen", "localhost:0"}, {"page", "password", "Nora"}, {"page", "people"},
		{"page", "forget", "Nora"}, {"page", "device", "scale"}} {
		w.want(exitNoBook, `no book`, args...)
	}
}

func TestTheDocumentsOfAccessKeepTheirFields(t *testing.T) {
	w := newWorld(t).kept()
	for _, c := range []struct {
		name, stdin string
		args        []string
	}{
		{"page-password", "three wet wheels\n", []string{"page", "password", "Nora"}},
		{"page-device", "", []string{"page", "device", "scale-1"}},
		{"page-people", "", []string{"page", "people"}},
		{"page-forget", "", []string{"page", "forget", "nora"}},
	} {
		w.env.In = strings.NewReader(c.stdin)
		r := w.run(append(c.args, "--json")...)
		var v any
		if err := json.Unmarshal([]byte(r.Out), &v); r.Code != 0 || err != nil {
			t.Fatalf("%q: %+v %v", c.args, r, err)
		}
		golden(t, "json/"+c.name+".txt", strings.Join(shapeOf(v), "\n")+"\n")
	}
}

func TestAPasswordIsAskedTwiceOnATerminal(t *testing.T) {
	for _, c := range []struct {
		name  string
		typed []string
		code  int
		says  string
	}{
		{"the same twice", []string{"three wet wheels", "three wet wheels"}, 0, "the same again"},
		{"not the same", []string{"three wet wheels", "three wet wheals"}, exitRefused,
			"the two don't match; nothing was changed"},
		{"too short", []string{"wheels"}, exitRefused, "too short"},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t).kept()
			w.env.InTTY = true
			w.env.Secret = func(context.Context) (string, error) {
				if len(c.typed) == 0 {
					return "", io.EOF
				}
				s := c.typed[0]
				c.typed = c.typed[1:]
				return s, nil
			}
			r := w.run("page", "password", "Nora")
			if r.Code != c.code || !strings.Contains(r.Err, c.says) || strings.Contains(r.Out+r.Err, "wet") {
				t.Errorf("%+v", r)
			}
			_, err := os.Stat(w.book + ".access")
			if kept := err == nil; kept != (c.code == 0) {
				t.Errorf("kept: %v", kept)
			}
		})
	}
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
