package page

import (
	"context"
	"encoding/json"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/bookfile"
	"rindkeep/store/refusal"

	"github.com/google/go-cmp/cmp"
)

func TestWhatCannotBeUnderstoodIsRefusedByName(t *testing.T) {
	st := newStage(t)
	for _, c := range []struct{ name, act, body, where, says string }{
		{"nothing", "did", ``, "", "empty"},
		{"no JSON", "did", `{job`, "", "isn't JSON"},
		{"JSON that breaks off", "did", `{"job":"turn"`, "", "isn't JSON"},
		{"a list", "did", `[1]`, "", "isn't a JSON object"},
		{"two objects", "did", turn + turn, "", "comes after"},
		{"rubbish behind", "did", turn + "x", "", "comes after"},
		{"not UTF-8", "did", "{\"job\":\"\xff\"}", "", "UTF-8"},
		{"a field twice", "did", `{"job":"turn","job":"brush"}`, "job", "twice"},
		{"a field twice in a field", "taste", `{"wheel":"a","scores":{"flavour":1,"flavour":5}}`, "scores.flavour", "twice"},
		{"a field unknown", "did", `{"job":"turn","wheels":["a"],"books":"x"}`, "books", "no field"},
		{"a field in other letters", "did", `{"Job":"turn","wheels":["a"]}`, "job", "missing"},
		{"a field of another act", "weigh", `{"wheel":"a","weight":"1","job":"turn"}`, "job", "no field"},
		{"a field missing", "did", `{"wheels":["a"]}`, "job", "missing"},
		{"a field null", "did", `{"job":null,"wheels":["a"]}`, "job", "missing"},
		{"no wheels", "did", `{"job":"turn"}`, "wheels", "missing"},
		{"an empty list of wheels", "did", `{"job":"turn","wheels":[]}`, "wheels", "missing"},
		{"wheels that are a number", "did", `{"job":"turn","wheels":7}`, "wheels", "must be a list"},
		{"a wheel that is an object", "did", `{"job":"turn","wheels":[{}]}`, "wheels", "must be a list"},
		{"text that is a number", "did", `{"job":7,"wheels":["a"]}`, "job", "must be text"},
		{"a number that is text", "air", `{"room":"c","temp_c":"12","rh_pct":80}`, "temp_c", "must be a number"},
		{"a number beyond all", "air", `{"room":"c","temp_c":1e400,"rh_pct":80}`, "temp_c", "out of range"},
		{"yes in another language", "check", `{"wheels":["a"],"gas":"ja"}`, "gas", `"yes" or "no"`},
		{"sure in words", "weigh", `{"wheel":"a","weight":"1","sure":"yes"}`, "sure", "true or false"},
		{"two weights", "weigh", `{"wheel":"a","weight":"1","weight_g":1}`, "weight", "not both"},
		{"no weight", "weigh", `{"wheel":"a"}`, "weight", "missing"},
		{"a note on both", "note", `{"wheel":"a","lot":"b","text":"x"}`, "wheel", "not both"},
		{"a score unknown", "taste", `{"wheel":"a","scores":{"smell":4}}`, "scores.smell", "no score"},
		{"the last entry", "strike", `{"entry":"Last","why":"x"}`, "entry", "somebody else's"},
		{"a photo that is no base64", "note", `{"wheel":"a","text":"x","photo":"*"}`, "photo", "isn't base64"},
		{"a photo too large", "note", `{"wheel":"a","text":"x","photo":"` + strings.Repeat("AAAA", 233_334) + `"}`, "photo",
			"too large"},
		{"nested too deep", "did", `{"job":` + strings.Repeat("[", 50) + strings.Repeat("]", 50) + `}`, "job", "nested"},
		{"nested beyond all", "did", strings.Repeat("[", 400_000), "", "nested"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := st.do("POST", "/api/"+c.act, isJSON, c.body)
			var said Refusal
			if err := json.Unmarshal([]byte(saidBy(t, r)), &said); err != nil {
				t.Fatal(err)
			}
			if r.StatusCode != 400 || said.Where != c.where || !strings.Contains(said.Error, c.says) || said.Exit != 2 {
				t.Errorf("%d %+v, want 400 at %q: %q", r.StatusCode, said, c.where, c.says)
			}
		})
	}
	if st.ran() {
		t.Error("the book was asked")
	}
}

func TestEachKindOfRefusalHasItsStatusAndExitCode(t *testing.T) {
	st := newStage(t)
	for _, c := range []struct {
		name   string
		err    error
		status int
		want   Refusal
	}{
		{"a doubt", app.Unsure(reason.Missing{What: "why"}).Of("a"), 422,
			Refusal{Error: "say why", Where: "a", Hint: "if it is right, confirm it", Exit: 1, Sure: true, Code: "missing",
				Figures: []byte(`{"what":"why"}`)}},
		{"misuse", app.Misuse("job", reason.Flat("odd")), 400, Refusal{Error: "odd", Where: "job", Exit: 2, Code: "odd"}},
		{"a field badRequest", badRequestf("wheel", "which?"), 400,
			Refusal{Error: "which?", Where: "wheel", Exit: 2, Hint: listed}},
		{"what is not there", refusal.NotFound{Thing: "lot", Name: "x", Near: []string{"y"}}, 404,
			Refusal{Error: `no lot "x"`, Exit: 4, Hint: "did you mean y?", Code: "not-found",
				Figures: []byte(`{"thing":"lot","name":"x","near":["y"]}`)}},
		{"a busy book", bookfile.ErrBusy, 503,
			Refusal{Error: bookfile.ErrBusy.Error(), Exit: 3, Hint: "try again in a moment"}},
		{"a crowd", errCrowded, 503, Refusal{Error: errCrowded.Error(), Exit: 3, Hint: "try again in a moment"}},
		{"no book", bookfile.ErrNoBook, 503, Refusal{Error: bookfile.ErrNoBook.Error(), Exit: 5}},
		{"a caller that went away", context.Canceled, 503, Refusal{Error: "interrupted; nothing was half-saved", Exit: 130}},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := httptest.NewRecorder()
			st.server.answer(&answering{ResponseWriter: w}, httptest.NewRequest("POST", "/api/did", nil), nil, c.err)
			var got Refusal
			if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != c.status {
				t.Errorf("%d %s, %v", w.Code, w.Body, err)
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Error(d)
			}
			if after := w.Header().Get("Retry-After"); after != "" != (c.status == 503) {
				t.Errorf("Retry-After %q", after)
			}
		})
	}
}

func TestAFaultIsAnsweredLoggedAndLetsTheServerLive(t *testing.T) {
	st := newStage(t)
	st.playing(func() { panic("a wheel fell over") })
	if r := st.do("POST", "/api/did", isJSON, turn); r.StatusCode != 500 || !strings.Contains(saidBy(t, r), "hit a bug") {
		t.Errorf("%d", r.StatusCode)
	}
	if !strings.Contains(st.log.String(), "a wheel fell over") || !strings.Contains(st.log.String(), "refuse_test.go") {
		t.Errorf("the log:\n%s", st.log.String())
	}
	st.playing(nil)
	// As often as commands may run at once: none of them kept its place.
	for range usualLimits().commands + 1 {
		if r := st.do("POST", "/api/did", isJSON, turn); r.StatusCode != 200 {
			t.Fatalf("afterwards: %d", r.StatusCode)
		}
	}
}

func TestMoreThanCanBeDoneAtOnceIsToldToComeBack(t *testing.T) {
	st := newStage(t, func(_ *Options, l *limits) { l.commands, l.waiting, l.wait = 2, 3, 50*time.Millisecond })
	held := make(chan struct{})
	st.playing(func() { <-held })
	var done sync.WaitGroup
	var ok, busy atomic.Int64
	for range 10 {
		done.Go(func() {
			switch r := st.do("POST", "/api/did", isJSON, turn); {
			case r.StatusCode == 200:
				ok.Add(1)
			case r.StatusCode == 503 && r.Header.Get("Retry-After") != "":
				busy.Add(1)
			default:
				t.Errorf("%d", r.StatusCode)
			}
		})
	}
	for deadline := time.Now().Add(10 * time.Second); busy.Load() < 8 && time.Now().Before(deadline); {
		time.Sleep(time.Millisecond)
	}
	close(held)
	done.Wait()
	if ok.Load() != 2 || busy.Load() != 8 {
		t.Errorf("%d were done and %d sent away, of 10 where 2 fit", ok.Load(), busy.Load())
	}
}
