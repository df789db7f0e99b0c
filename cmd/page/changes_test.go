package page_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

func TestAPageThatHasAListGetsWhatChanged(t *testing.T) {
	d := demo(t)
	ask := func(have string) string {
		t.Helper()
		r := httptest.NewRequest("GET", "http://localhost:4870/?rooms", nil)
		r.Header.Set("X-Round", have)
		w := httptest.NewRecorder()
		d.h.ServeHTTP(w, r)
		if w.Code != http.StatusOK {
			t.Fatal(w.Body)
		}
		return w.Body.String()
	}
	state := func(html string) string {
		_, after, _ := strings.Cut(html, `data-have="`)
		have, _, _ := strings.Cut(after, `"`)
		return have
	}
	all := ask("none")
	if strings.Contains(all, "data-same") || strings.Count(all, `class="card`) < 10 || strings.Contains(all, "<dialog") {
		t.Errorf("to who has nothing:\n%s", all)
	}
	none := ask(state(all))
	if strings.Contains(none, `class="card`) || state(none) != state(all) {
		t.Errorf("nothing changed:\n%s", none)
	}
	d.must("did", "turn", "cellar/B/1")
	some := ask(state(all))
	if n := strings.Count(some, "<h3>"); n != 1 || !strings.Contains(some, `data-place="cellar/B/1"><h3>`) {
		t.Errorf("one shelf changed, %d came:\n%s", n, some)
	}
	if state(some) == state(all) {
		t.Error("the list is named as before")
	}
}

func TestWhoIsWhereAndHowFarEachRoomIs(t *testing.T) {
	d := demo(t)
	row := func(name string) string {
		t.Helper()
		status, html := d.page("/who")
		if status != http.StatusOK {
			t.Fatalf("status %d: %s", status, html)
		}
		for r := range strings.SplitSeq(html, "<tr>") {
			if strings.Contains(r, ">"+name+"<") {
				return r
			}
		}
		t.Fatalf("no row of %s:\n%s", name, html)
		return ""
	}
	before := row("cellar")
	if !strings.Contains(before, `<td class="n">0</td><td class="n">0</td>`) {
		t.Errorf("nothing was done yet: %s", before)
	}
	d.must("did", "turn", "cellar/B/1")
	if got := row("Nora"); !strings.Contains(got, "<td>turned at cellar/B/1, 08:10</td>") {
		t.Errorf("Nora: %s", got)
	}
	after := row("cellar")
	if after == before || strings.Contains(after, `<td class="n">0</td>`) {
		t.Errorf("before %s\nafter %s", before, after)
	}
	d.must("strike", "last", "--why=wrong shelf")
	if again := row("cellar"); again != before {
		t.Errorf("cancelled: %s\nbefore: %s", again, before)
	}
}
