package page

import (
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// inside is a value of a JSON document: "wheels.0" is the first of its wheels.
func inside(doc any, path string) any {
	for _, k := range strings.Split(path, ".") {
		switch d := doc.(type) {
		case map[string]any:
			doc = d[k]
		case []any:
			if n, err := strconv.Atoi(k); err == nil && n < len(d) {
				doc = d[n]
				continue
			}
			return nil
		default:
			return nil
		}
	}
	return doc
}

func TestWhatIsSentIsWhatIsRecorded(t *testing.T) {
	for _, c := range []struct {
		name, act, body string
		want            map[string]any
	}{
		{"a make", "make", `{"variety":"gouda","wheels":2,"weights":[2100,"2.1kg"],"litres":"40","curd":"5kg","salt_rate":"1.8%",
			"set_aside":"200g","set_aside_for":"lab","moisture":41.5,"diameter":"18cm","height":"9cm","place":"cellar/A/1","date":"2026-11-24"}`,
			map[string]any{
				"schema": "rindkeep/make-new/1", "wheels.1": "261124A-02", "make.by": "Nora", "make.milk_l": 40.0, "make.curd_g": 5000.0,
				"make.salt_rate_pct": 1.8, "make.set_aside_g": 200.0, "make.set_aside_for": "lab", "make.start_moisture_pct": 41.5,
				"make.start_measured": true, "make.date": "2026-11-24",
			}},
		{"a make of one weight", "make", `{"variety":"gouda","wheels":"3","weight":"2kg"}`, map[string]any{"make.wheels": 3.0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := newStage(t)
			r := st.do("POST", "/api/"+c.act, with(isJSON, "Cookie", st.person("Nora", Writer)["Cookie"]), c.body)
			said := saidBy(t, r)
			var doc any
			if err := json.Unmarshal([]byte(said), &doc); r.StatusCode != http.StatusOK || err != nil {
				t.Fatalf("%d %s", r.StatusCode, said)
			}
			for path, want := range c.want {
				if d := cmp.Diff(want, inside(doc, path)); d != "" {
					t.Errorf("%s (-want +got):\n%s", path, d)
				}
			}
		})
	}
}
