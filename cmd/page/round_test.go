package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/page/daylist"
	"rindkeep/cmd/words"
	"rindkeep/schedule"
	"rindkeep/store"
	"rindkeep/wheel"

	"github.com/google/go-cmp/cmp"
)

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

func TestTheRoundIsNarrowedByRoomAndJob(t *testing.T) {
	st := newStage(t)
	for _, c := range []struct {
		name, target string
		status       int
		lines        bool
	}{
		{"the whole of it", "/", 200, true},
		{"one job", "/?job=turn", 200, true},
		{"a room where nothing is", "/?room=cellar", 200, false},
		{"a room that isn't there", "/?room=--json", 404, false},
		{"what looks like a flag stays a value", "/?job=--book%3Dx", 400, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := st.do("GET", c.target, nil, "")
			body := saidBy(t, r)
			if got := strings.Contains(body, `class="card`); r.StatusCode != c.status || got != c.lines {
				t.Errorf("%d, lines: %v\n%s", r.StatusCode, got, body)
			}
		})
	}
}

func TestADayWithNothingToDoSaysSo(t *testing.T) {
	st := newStage(t)
	if err := os.Remove(st.book); err != nil {
		t.Fatal(err)
	}
	if _, err := st.server.opt.App.Create(store.Settings{Zone: "UTC"}); err != nil {
		t.Fatal(err)
	}
	html := got(t, st.h, "/").Body.String()
	for _, w := range []string{"nothing to do", `<a href="/makes/new">new make</a>`} {
		if !strings.Contains(html, w) {
			t.Errorf("without %q:\n%s", w, html)
		}
	}
}

// many is a day of n wheels, each due three jobs, twelve to a shelf.
func many(n int) round.Today {
	l := round.List{Date: day.Of(2026, time.November, 25), Wheels: n}
	for from := 0; from < n; from += 12 {
		var tags []string
		for i := from; i < min(from+12, n); i++ {
			tags = append(tags, fmt.Sprintf("261121A-%03d", i+1))
		}
		for _, job := range []wheel.Job{wheel.Check, wheel.Weigh, wheel.Turn} {
			l.Lines = append(l.Lines, round.Line{
				Job: job, Tags: tags, Place: cave.Place(fmt.Sprintf("cellar/A/%d", from/12+1)), Due: l.Date, Round: 1, Rounds: 1,
				Left:       1,
				WholeShelf: true, Minutes: 1.5, Why: reason.List{schedule.Every{Days: 2}, schedule.LastDone{On: l.Date - 2}},
				Note: "dry to the touch all over? weeping? cracks? mould?",
			})
		}
	}
	return round.Today{Date: l.Date.String(), List: l}
}

func TestTheFirstPageIsUnder100kB(t *testing.T) {
	st := newStage(t)
	h := st.h
	page := func(accept string) *bytes.Buffer {
		w, r := httptest.NewRecorder(), httptest.NewRequest("GET", "http://localhost/", nil)
		r.Header.Set("Accept-Encoding", accept)
		st.server.show(w, r, 200, "round.html",
			View{Title: "The round", Here: "round", Body: daylist.Cards(many(500), words.Printer{})})
		return w.Body
	}
	html, size := page(""), page("gzip").Len()
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
			for _, m := range regexp.MustCompile(`(?m)^import .* from "\./([^"]+)"`).FindAllStringSubmatch(
				got(t, h, name).Body.String(), -1) {
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
		for _, no := range []string{"<style", " style=", "javascript:", "<script>", " onclick=", " onsubmit=", " onchange=",
			"http://", "https://"} {
			if strings.Contains(string(b), no) {
				t.Errorf("%s has %q in it", f.Name(), no)
			}
		}
	}
}

func TestAssetsAreKeptForGoodAndServedSmall(t *testing.T) {
	h := newStage(t).h
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
	if diff := cmp.Diff([]served{{kind, cache, "", "Accept-Encoding"}, {kind, cache, "gzip", "Accept-Encoding"},
		{kind, cache, "", "Accept-Encoding"}}, []served{of(plain), of(small), of(none)}); diff != "" {
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
	h := newStage(t).h
	w := got(t, h, "/sw.js")
	if diff := cmp.Diff([]string{"text/javascript; charset=utf-8", "no-cache"},
		[]string{w.Header().Get("Content-Type"), w.Header().Get("Cache-Control")}); diff != "" {
		t.Error(diff)
	}
	m := regexp.MustCompile(`(?m)^const version = "([0-9a-f]{16})";\nconst files = (\[.*\]);$`).FindStringSubmatch(
		w.Body.String())
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
