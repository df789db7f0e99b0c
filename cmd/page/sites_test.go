package page_test

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// A book without sites shows nothing of them. One with sites lists what is on the way and what
// they disagree about, on a page that every other page links to, and settles it there.
func TestThePageOfSites(t *testing.T) {
	d := demo(t)
	if status, _ := d.page("/sites"); status != http.StatusUnprocessableEntity {
		t.Errorf("without sites the page of sites is answered with %d", status)
	}
	all := func(path string) string {
		var b bytes.Buffer
		if _, err := b.ReadFrom(d.get(path).Body); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if strings.Contains(all("/wheels"), "/sites") {
		t.Error("a book without sites links to them")
	}

	dir := t.TempDir()
	south := desk{t: t, book: filepath.Join(dir, "south.book"), env: d.env}
	south.env.Now = func() time.Time { return d.env.Now().Add(time.Minute) }
	d.must("sites", "found", "north", "--via="+dir)
	var invitation strings.Builder
	invites := *d
	invites.env.Out = &invitation
	invites.must("sites", "invite", "south")
	d.must("sites", "exchange")
	south.must("sites", "join", strings.TrimSpace(invitation.String()))
	south.must("sites", "exchange")
	d.must("sites", "exchange")
	d.must("customer", "new", "Shop", "--contact=456")
	south.must("customer", "new", "Shop", "--contact=789")
	d.must("wheel", "move", "261113A-02", "261113A-03", "south:")
	for range 2 {
		d.must("sites", "exchange")
		south.must("sites", "exchange")
	}
	for path, wants := range map[string][]string{
		"/wheels": {`<a href="/sites">Sites</a>`, `<a href="/sites">1 disagreement between sites to settle</a>`},
		"/":       {`<a href="/sites">1 disagreement between sites to settle</a>`},
		"/sites": {"This book is north’s; 2 sites share it", "2 wheels from cellar to south</strong>",
			"(contact 456) doesn&#39;t", "Keep south’s", "Take north’s instead"},
		"/wheel/261113A-04": {`<option value="south:">`},
	} {
		got := all(path)
		for _, want := range wants {
			if !strings.Contains(got, want) {
				t.Errorf("%s lacks %q:\n%s", path, want, got)
			}
		}
	}
	code := regexp.MustCompile(`name="code" value="([0-9a-f]{6})"`).FindStringSubmatch(all("/sites"))[1]
	for _, c := range []struct{ act, body, says string }{
		{"settle", `{"code":"` + code + `","other":true}`, "customer Shop was changed at two sites"},
		{"receive", `{"wheels":["250101B-07"],"place":"cellar/A/1"}`, `"250101B-07"`},
	} {
		r := httptest.NewRequest(http.MethodPost, "/api/sites-"+c.act, strings.NewReader(c.body))
		r.Host = "localhost:4870"
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		if d.h.ServeHTTP(w, r); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s is answered with %d %s", c.act, w.Code, w.Body)
		}
	}
	if got := all("/customers") + all("/sites"); !strings.Contains(got, "<td>456</td>") ||
		strings.Contains(got, "was changed at two sites") || !strings.Contains(got, "no site has such a wheel") {
		t.Errorf("settled and received, the pages show\n%s", got)
	}
}
