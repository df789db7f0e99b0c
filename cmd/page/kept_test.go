package page

import (
	"sync"
	"testing"
	"time"
)

func TestWhatTakesLongIsKeptUntilTheBookChanges(t *testing.T) {
	st := newStage(t)
	ask := func(what string) string {
		t.Helper()
		r := st.do("GET", what, nil, "")
		if r.StatusCode != 200 {
			t.Fatalf("%s: %d", what, r.StatusCode)
		}
		return saidBy(t, r)
	}
	for what, other := range map[string]string{"/api/ahead": "?days=9", "/api/stock": "?on=2026-11-24"} {
		first := ask(what)
		st.ran()
		if again := ask(what); again != first {
			t.Errorf("%s changed:\n%s", what, again)
		}
		asked := st.asked.Load()
		ask(what + other)
		if st.asked.Load() == asked {
			t.Errorf("%s was answered without asking", what+other)
		}
		for change, do := range map[string]func(){
			"the book": func() { st.rev.Add(1) }, "the quarter": func() { st.now = st.now.Add(15 * time.Minute) },
		} {
			ask(what)
			asked = st.asked.Load()
			ask(what)
			same := st.asked.Load() - asked
			do()
			ask(what)
			if after := st.asked.Load() - asked - same; after <= same {
				t.Errorf("%s: asked %d times when kept, %d after %s changed", what, same, after, change)
			}
		}
	}
}

func TestWhatTakesLongKeepsOnlyItselfWaiting(t *testing.T) {
	st := newStage(t, func(_ *Options, l *limits) { l.commands, l.wait = 1, 50*time.Millisecond })
	held, in := make(chan struct{}), make(chan struct{}, 1)
	st.playing(func() { in <- struct{}{}; <-held })
	var done sync.WaitGroup
	done.Go(func() {
		if r := st.do("GET", "/ahead", nil, ""); r.StatusCode != 200 {
			t.Errorf("the days ahead: %d", r.StatusCode)
		}
	})
	<-in
	st.playing(nil)
	if r := st.do("GET", "/stock", nil, ""); r.StatusCode != 503 {
		t.Errorf("another that takes long: %d", r.StatusCode)
	}
	if r := st.do("GET", "/health", nil, ""); r.StatusCode != 200 {
		t.Errorf("health: %d", r.StatusCode)
	}
	if r := st.do("GET", "/", nil, ""); r.StatusCode != 200 {
		t.Errorf("the round: %d", r.StatusCode)
	}
	close(held)
	done.Wait()
}
