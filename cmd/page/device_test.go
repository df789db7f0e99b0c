package page

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
)

func TestADeviceRecordsAsItselfWithinItsReach(t *testing.T) {
	st := newStage(t, beyond) // at 2026-11-25 08:00 UTC
	token, err := st.access.AddDevice("scale-1", st.now)
	if err != nil {
		t.Fatal(err)
	}
	head := with(isJSON, "Authorization", "Bearer "+token)
	// A person goes back as far as they like.
	nora := with(st.person("Nora", "writer"), "Content-Type", "application/json")
	green := `{"wheel":"a","weight_g":1999,"at":"2026-11-21T12:00:00Z"}`
	if r := st.do("POST", "/api/weigh", nora, green); r.StatusCode != 200 {
		t.Errorf("Nora: %d %s", r.StatusCode, saidBy(t, r))
	}
	for _, c := range []struct {
		name, act, body string
		status          int
		says            string
	}{
		{"a weight of now", "weigh", `{"wheel":"a","weight_g":1942}`, 200, `"standing": "on-curve"`},
		{"a weight from 72 hours ago", "weigh", `{"wheel":"a","weight_g":1995,"at":"2026-11-22T08:00:00Z"}`, 200, ""},
		{"a weight from before that", "weigh", `{"wheel":"a","weight_g":1995,"at":"2026-11-22T07:59:59Z"}`, 422,
			"2026-11-22 07:59 is more than 72 hours ago"},
		{"a weight of a date before that", "weigh", `{"wheel":"a","weight_g":1995,"at":"2026-11-21"}`, 422, "too-long-ago"},
		{"a clock two minutes fast", "air", `{"room":"cellar","temp_c":11.5,"rh_pct":86,"at":"2026-11-25T08:02:00Z"}`,
			200, ""},
		{"a clock further ahead", "air", `{"room":"cellar","temp_c":11.5,"rh_pct":86,"at":"2026-11-25T08:02:01Z"}`, 422,
			"in the future"},
		{"old air", "air", `{"room":"cellar","temp_c":11.5,"rh_pct":86,"at":"2026-11-01T08:00:00Z"}`, 422,
			"more than 72 hours ago"},
		{"what a person could confirm", "weigh", `{"wheel":"a","weight_g":2500}`, 422, "a person can record it"},
	} {
		r := st.do("POST", "/api/"+c.act, head, c.body)
		body := saidBy(t, r)
		if r.StatusCode != c.status || !strings.Contains(body, c.says) {
			t.Errorf("%s: %d %s, want %d and %q", c.name, r.StatusCode, body, c.status, c.says)
		}
		if strings.Contains(body, `"sure"`) {
			t.Errorf("%s: a device is offered to be sure: %s", c.name, body)
		}
	}
	r := st.do("GET", "/api/log?kind=weighed", nora, "")
	var log struct{ Entries []struct{ By, At string } }
	if err := json.NewDecoder(r.Body).Decode(&log); err != nil || r.StatusCode != http.StatusOK {
		t.Fatal(r.StatusCode, err)
	}
	var by []string
	for _, e := range log.Entries {
		by = append(by, e.By)
	}
	if got := strings.Join(by, " "); got != "Nora scale-1 scale-1" {
		t.Errorf("weighed by %q", got)
	}
}

// The list says which of the day's rounds a line is for. A tap for one that was recorded
// meanwhile is the same round; a tap for a later one is a round more, however soon.
func TestATapSaysWhichRoundItIsFor(t *testing.T) {
	st := newStage(t) // gouda: turned once a day while it is young
	for _, c := range []struct {
		more           string
		shared, status int
	}{
		{`,"at":"2026-11-25T07:00:00Z","round":1`, 0, 200},
		{`,"at":"2026-11-25T07:00:01Z","round":1`, 1, 200},
		{`,"at":"2026-11-25T07:00:02Z"`, 1, 200},
		{`,"at":"2026-11-25T07:00:03Z","round":2`, 0, 200},
		{`,"at":"2026-11-25T07:00:04Z","round":2`, 1, 200},
		{`,"at":"2026-11-25T07:00:05Z","round":2,"twice":true`, 0, 200},
		{`,"round":0`, 0, 400},
		{`,"round":1.5`, 0, 400},
	} {
		r := st.do("POST", "/api/did", isJSON, `{"job":"turn","wheels":["a"]`+c.more+`}`)
		var doc struct {
			Same []struct{ Wheel string } `json:"same_round"`
		}
		err := json.Unmarshal([]byte(saidBy(t, r)), &doc)
		if err != nil || r.StatusCode != c.status || len(doc.Same) != c.shared {
			t.Errorf("%s: %d, %d shared, %v; want %d, %d", c.more, r.StatusCode, len(doc.Same), err, c.status, c.shared)
		}
	}
}
