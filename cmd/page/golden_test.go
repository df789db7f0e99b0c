package page_test

import (
	"flag"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// marks are what differs from run to run: the identities of entries.
var marks = regexp.MustCompile(`(<code>|<option value=")[0-9a-f]{6}(</code>|">)`)

func TestThePagesOfTheDemoBookAreAsTheyWere(t *testing.T) {
	d := demo(t)
	d.must("customer", "new", "The Corner Shop", "--contact=shop@example.com")
	d.must("wheel", "send", "260910A-02", "--to=The Corner Shop", "--weight=2010")
	d.must("taste", "260730A-02", "--flavour=4", "--texture=5", "--fault=crumbly", "--core=12g", "--at=08:00")
	d.must("wheel", "hold", "260730A", "--why=test pending", "--at=08:05")
	for _, at := range []string{"2026-11-22 08:00", "2026-11-23 08:00", "2026-11-24 08:00"} {
		d.must("air", "log", "cellar", "11.4C", "84%", "--at="+at)
	}
	d.must("air", "log", "cellar", "12.1C", "79%")
	d.must("make", "log", "261122A", "acidity", "--ph=6.45", "--stage=renneting", "--at=2026-11-22T09:10")
	d.must("make", "log", "261122A", "acidity", "--ph=5.3", "--stage=milling", "--at=2026-11-22T14:20")
	for _, p := range []struct{ name, path string }{
		{"wheels", "/wheels"},
		{"wheels-lot", "/wheels?find=261121A"},
		{"wheels-some", "/wheels?room=cellar&stage=ripening&find=2611*"},
		{"who", "/who"},
		{"wheel-drying", "/wheel/261121A-01"},
		{"wheel-held", "/wheel/260730A-02"},
		{"wheel-gone", "/wheel/260910A-02"},
		{"lot", "/lot/261122A"},
		{"rooms", "/rooms"},
		{"room", "/room/cellar?volume=90&air-change=0.5"},
		{"ahead", "/ahead?days=5"},
		{"makes", "/makes"},
		{"makenew", "/makes/new"},
		{"start", "/start"},
		{"receive", "/makes/receive"},
		{"takeover", "/makes/take-over"},
		{"roomnew", "/rooms/new"},
		{"import", "/import"},
		{"kinds", "/kinds"},
		{"kind", "/kind/tomme"},
		{"plan", "/plan/waxed-hard"},
		{"trace", "/trace?what=260910A-02"},
		{"trace-ask", "/trace"},
		{"stock", "/stock"},
		{"held", "/held"},
		{"customers", "/customers"},
		{"find", "/find?words=cheddar"},
		{"find-notes", "/find?words=test+PENDING"},
		{"log", "/log?person=nora&from=2026-11-24"},
		{"print", "/print?what=261121A"},
	} {
		t.Run(p.name, func(t *testing.T) {
			status, got := d.page(p.path)
			if status != http.StatusOK {
				t.Fatalf("status %d", status)
			}
			golden(t, p.name, marks.ReplaceAllString(got, "${1}……${2}"))
		})
	}
}

func TestTheRoundAsHTML(t *testing.T) {
	b, err := io.ReadAll(demo(t).get("/").Body)
	if err != nil {
		t.Fatal(err)
	}
	html := have.ReplaceAllString(version.ReplaceAllString(string(b), "/a/VERSION/"), `data-have="HAVE"`)
	golden(t, "../round/round", html)
}

func init() {
	// Other tests of this package may have it already.
	if flag.Lookup("update") == nil {
		flag.Bool("update", false, "rewrite what is kept in testdata")
	}
}

// golden compares with what is kept in testdata/desk, or with -update keeps it.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", "desk", name+".html")
	if f := flag.Lookup("update"); f != nil && f.Value.String() == "true" {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); diff != "" {
		t.Errorf("%s (-update keeps what it is now):\n%s", file, diff)
	}
}
