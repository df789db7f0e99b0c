package page

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/sites"
	"rindkeep/cmd/page/access"
)

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

func TestEveryDocumentIsReadAndChangesNothing(t *testing.T) {
	st := newStage(t)
	if r := st.do("POST", "/api/customer", isJSON, `{"name":"Shop"}`); r.StatusCode != 200 {
		t.Fatal(saidBy(t, r))
	}
	shared := sites.FoundQuery{Name: "north"}
	if _, err := sites.Found(t.Context(), st.server.opt.App, app.Caller{}, shared); err != nil {
		t.Fatal(err)
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
