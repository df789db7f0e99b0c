package page

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path"
	"regexp"
	"rindkeep/cmd/app"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"
)

// told is a server whose commands answer with one document, and what they were
// asked.
func told(t testing.TB, doc string) (h http.Handler, asked *[][]string) {
	t.Helper()
	asked = new([][]string)
	s, err := New(Options{
		App: &app.App{Now: time.Now},
		Run: func(_ context.Context, args []string) Reply {
			*asked = append(*asked, args)
			return Reply{Doc: []byte(doc)}
		},
		Rev: func() (uint64, error) { return 7, nil },
		Now: func() time.Time { return time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC) }, Log: zerolog.Nop(), Version: "test",
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s.Handler(), asked
}

func got(t testing.TB, h http.Handler, target string, head ...string) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, "http://localhost"+target, nil)
	for i := 0; i < len(head); i += 2 {
		r.Header.Set(head[i], head[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		t.Fatalf("GET %s: status %d: %s", target, w.Code, w.Body)
	}
	return w
}

func init() {
	// Other tests of this package may have it already.
	if flag.Lookup("update") == nil {
		flag.Bool("update", false, "write what is kept in testdata anew")
	}
}

var version = regexp.MustCompile(`/a/[0-9a-f]{16}/`)

func TestTheRoundAsHTML(t *testing.T) {
	doc, err := os.ReadFile("testdata/round/today.json")
	if err != nil {
		t.Fatal(err)
	}
	h, _ := told(t, string(doc))
	html := version.ReplaceAllString(got(t, h, "/").Body.String(), "/a/VERSION/")
	const file = "testdata/round/round.html"
	if f := flag.Lookup("update"); f != nil && f.Value.String() == "true" {
		if err := os.WriteFile(file, []byte(html), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(html, "\n")); diff != "" {
		t.Errorf("%s (-update keeps what it is now):\n%s", file, diff)
	}
}

func TestTheRoundIsAskedForAsOnPaper(t *testing.T) {
	for _, c := range []struct {
		name, target string
		want         []string
	}{
		{"the whole of it", "/", []string{"today", "--together"}},
		{"one room", "/?room=cellar", []string{"today", "--together", "--room=cellar"}},
		{"one job", "/?job=turn", []string{"today", "--together", "--only=turn"}},
		{"what looks like a flag stays a value", "/?room=--json&job=--book%3Dx", []string{"today", "--together", "--room=--json", "--only=--book=x"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			h, asked := told(t, `{"date":"2026-11-25","tasks":[],"totals":{"wheels":0,"tasks":0,"minutes":0}}`)
			got(t, h, c.target)
			if diff := cmp.Diff([][]string{c.want}, *asked); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestADayWithNothingToDoSaysSo(t *testing.T) {
	h, _ := told(t, `{"date":"2026-11-25","alarms":[],"tasks":[],"totals":{"wheels":0,"tasks":0,"minutes":0}}`)
	html := got(t, h, "/").Body.String()
	for _, w := range []string{"nothing to do", `<a href="/makes/new">new make</a>`} {
		if !strings.Contains(html, w) {
			t.Errorf("without %q:\n%s", w, html)
		}
	}
}

// many is a day of n wheels, each due three jobs, twelve to a shelf.
func many(n int) string {
	d := today{Date: "2026-11-25"}
	minutes := 1.5
	for from := 0; from < n; from += 12 {
		var tags []string
		for i := from; i < min(from+12, n); i++ {
			tags = append(tags, fmt.Sprintf("261121A-%03d", i+1))
		}
		for _, job := range []string{"check", "weigh", "turn"} {
			d.Tasks = append(d.Tasks, task{Job: job, Wheels: tags, Place: fmt.Sprintf("cellar/A/%d", from/12+1), Due: "2026-11-25", Round: 1, Rounds: 1, Left: 1, Whole: true, Minutes: &minutes, Why: "every 2 days, last Mon 23 Nov", Note: "dry to the touch all over? weeping? cracks? mould?"})
		}
	}
	d.Totals.Wheels, d.Totals.Tasks = n, len(d.Tasks)
	b, _ := json.Marshal(d)
	return string(b)
}

func TestTheFirstPageIsUnder100kB(t *testing.T) {
	h, _ := told(t, many(500))
	html := got(t, h, "/").Body
	size := got(t, h, "/", "Accept-Encoding", "gzip").Body.Len()
	t.Logf("the page of 500 wheels: %d bytes, %d as it is sent", html.Len(), size)
	files := regexp.MustCompile(`(?:href|src)="(/a/[^"]+)"`).FindAllStringSubmatch(html.String(), -1)
	have := map[string]bool{}
	for len(files) > 0 {
		name := files[0][1]
		files = files[1:]
		if have[name] || path.Ext(name) == ".webmanifest" {
			continue
		}
		have[name] = true
		w := got(t, h, name, "Accept-Encoding", "gzip")
		size += w.Body.Len()
		if path.Ext(name) == ".js" { // what it loads at once
			for _, m := range regexp.MustCompile(`(?m)^import .* from "\./([^"]+)"`).FindAllStringSubmatch(got(t, h, name).Body.String(), -1) {
				files = append(files, []string{"", path.Dir(name) + "/" + m[1]})
			}
		}
	}
	t.Logf("with all it loads: %d bytes in %d files", size, len(have))
	if size > 100_000 {
		t.Errorf("%d bytes", size)
	}
	if len(have) < 8 {
		t.Errorf("only %d files were found: %v", len(have), have)
	}
}

func TestEveryFileNamedIsThere(t *testing.T) {
	a, err := newAssets()
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range a.names {
		b := string(a.byPath[a.url(n)].body)
		if strings.HasPrefix(n, "jsqr/") {
			continue
		}
		for _, m := range regexp.MustCompile(`(?:from |import\(|new URL\()"\./([^"]+)"`).FindAllStringSubmatch(b, -1) {
			if want := path.Join(path.Dir(n), m[1]); a.url(want) == "" {
				t.Errorf("%s loads %s, which is not there", n, want)
			}
		}
	}
	templates, err := embedded.ReadDir("templates")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range templates {
		b, err := embedded.ReadFile("templates/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`asset "([^"]+)"`).FindAllStringSubmatch(string(b), -1) {
			if a.url(m[1]) == "" {
				t.Errorf("%s names %s, which is not there", f.Name(), m[1])
			}
		}
		// What the Content-Security-Policy would refuse.
		for _, no := range []string{"<style", " style=", "javascript:", "<script>", " onclick=", " onsubmit=", " onchange=", "http://", "https://"} {
			if strings.Contains(string(b), no) {
				t.Errorf("%s has %q in it", f.Name(), no)
			}
		}
	}
}

func TestAssetsAreKeptForGoodAndServedSmall(t *testing.T) {
	h, _ := told(t, "{}")
	a, err := newAssets()
	if err != nil {
		t.Fatal(err)
	}
	plain := got(t, h, a.url("queue.js"))
	small := got(t, h, a.url("queue.js"), "Accept-Encoding", "br, gzip;q=0.8")
	none := got(t, h, a.url("queue.js"), "Accept-Encoding", "gzip;q=0")
	type served struct {
		Kind, Cache, Encoding, Vary string
	}
	of := func(w *httptest.ResponseRecorder) served {
		x := w.Header()
		return served{x.Get("Content-Type"), x.Get("Cache-Control"), x.Get("Content-Encoding"), x.Get("Vary")}
	}
	const kind, cache = "text/javascript; charset=utf-8", "public, max-age=31536000, immutable"
	if diff := cmp.Diff([]served{{kind, cache, "", "Accept-Encoding"}, {kind, cache, "gzip", "Accept-Encoding"}, {kind, cache, "", "Accept-Encoding"}}, []served{of(plain), of(small), of(none)}); diff != "" {
		t.Error(diff)
	}
	if small.Body.Len() >= plain.Body.Len()/2 || none.Body.Len() != plain.Body.Len() {
		t.Errorf("%d bytes plain, %d packed, %d where none is taken", plain.Body.Len(), small.Body.Len(), none.Body.Len())
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://localhost/a/0000000000000000/queue.js", nil))
	if w.Code != http.StatusNotFound {
		t.Errorf("another binary's file: status %d", w.Code)
	}
}

func TestTheServiceWorkerNamesThisBinarysFiles(t *testing.T) {
	h, _ := told(t, "{}")
	w := got(t, h, "/sw.js")
	if diff := cmp.Diff([]string{"text/javascript; charset=utf-8", "no-cache"}, []string{w.Header().Get("Content-Type"), w.Header().Get("Cache-Control")}); diff != "" {
		t.Error(diff)
	}
	m := regexp.MustCompile(`(?m)^const version = "([0-9a-f]{16})";\nconst files = (\[.*\]);$`).FindStringSubmatch(w.Body.String())
	if m == nil {
		t.Fatalf("no version or files:\n%.300s", w.Body)
	}
	var files []string
	if err := json.Unmarshal([]byte(m[2]), &files); err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		got(t, h, f)
	}
	for _, n := range []string{"page.css", "round.css", "frame.js", "round.js", "queue.js", "list.js", "weigh.js"} {
		if !slices.Contains(files, "/a/"+m[1]+"/"+n) {
			t.Errorf("%s is not kept for the round without a signal", n)
		}
	}
	if strings.Contains(m[2], "jsqr") || strings.Contains(m[2], "desk") {
		t.Errorf("more is kept than the round needs: %s", m[2])
	}
}

func TestALineKeepsItsNameAsItsWheelsAreDone(t *testing.T) {
	a := task{Job: "turn", Wheels: []string{"A-01", "A-02"}, Place: "cellar/A/1", Due: "2026-11-25", Round: 1, Rounds: 2, Left: 2, Why: "daily"}
	b := a
	b.Wheels, b.Why, b.Whole = []string{"A-02"}, "daily, last Tue 24 Nov", false
	if keyOf(a) != keyOf(b) {
		t.Error("another name with a wheel less")
	}
	for name, change := range map[string]func(*task){
		"another round": func(x *task) { x.Round, x.Left = 2, 1 }, "another job": func(x *task) { x.Job = "wash" }, "another place": func(x *task) { x.Place = "cellar/A/2" },
		"another day due": func(x *task) { x.Due = "2026-11-24" }, "another coat": func(x *task) { x.Coat = "wax" }, "another note": func(x *task) { x.Note = "with brine" },
	} {
		c := a
		change(&c)
		if keyOf(a) == keyOf(c) {
			t.Errorf("%s: the same name", name)
		}
	}
	twice := bodyOf(today{Tasks: []task{a, a}}).Rooms[0].Shelves[0].Cards
	if twice[0].Key == twice[1].Key {
		t.Error("two lines of one name on a page")
	}
}
