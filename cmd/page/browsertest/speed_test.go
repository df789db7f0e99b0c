package browsertest

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"
)

// Figures are logged and never judged: the machine of a test has its own pace.
// What does not depend on it, bytes and requests, is judged.

const mostBytes = 100_000

func TestTheFirstPageAfterLogIn(t *testing.T) {
	for _, wheels := range []int{0, 3000} {
		t.Run(fmt.Sprintf("with %d wheels", wheels), func(t *testing.T) {
			bk := newBook(t)
			args := []string{"demo", "--book", bk.path, "--quiet"}
			if wheels > 0 {
				args = append(args, "--wheels", fmt.Sprint(wheels))
			}
			bk.run(args...)
			bk.password("Nora", secret, "writer")
			s := bk.serve("--verbose", "--log-format", "json")
			a := s.air()
			b := open(t, a.url(), phone, "/login")
			b.until(`performance.getEntriesByType("resource").some((e) => e.name.endsWith("/weigh.js"))`)
			// The worker of the log-in page has what it keeps.
			b.until(`navigator.serviceWorker.controller`)
			cold, before := a.bytes(), len(s.said.all())
			b.logIn("Nora", secret)
			b.isIn("Nora")
			b.until(`performance.getEntriesByType("navigation")[0].loadEventEnd > 0`)
			warm := a.bytes()
			var routes []string
			for _, l := range s.said.all()[before:] {
				var r struct{ Message, Route string }
				if json.Unmarshal([]byte(l), &r) == nil && r.Message == "answered" {
					routes = append(routes, r.Route)
				}
			}
			t.Logf("the log-in page with all it loads: %d bytes; the round after it: %d bytes, %v", cold, warm, routes)
			if warm > mostBytes || warm < 2000 {
				t.Errorf("the round takes %d bytes", warm)
			}
			// One document, and the form's answer that leads to it. The rest is
			// there already; the picture of the tab a browser asks for as it likes,
			// and once the round is there, the phone tells what it has and asks what is
			// known of the wheels to weigh.
			routes = slices.DeleteFunc(routes, func(r string) bool {
				return r == "GET /a/" || r == "POST /phone" || r == "GET /before"
			})
			if want := []string{"POST /login", "GET /{$}"}; !slices.Equal(routes, want) {
				t.Errorf("asked for %v, want %v", routes, want)
			}
		})
	}
}

func TestFiveHundredWheelsOnOneRound(t *testing.T) {
	bk := aloneBook(t)
	bk.run("demo", "--book", bk.path, "--quiet", "--wheels", "3000")
	s := bk.serve()
	b := open(t, s.addr, phone, "/")
	wheels := js[int](b,
		`new Set([...document.querySelectorAll("#list .card")].flatMap((c) => JSON.parse(c.dataset.wheels))).size`)
	if wheels < 500 {
		t.Fatalf("the round has %d wheels only", wheels)
	}
	// From the tap, as the system stamped it, to the frame after it is on the
	// screen.
	js[any](b, `(() => { window.took = []; addEventListener("click", (ev) => { requestAnimationFrame(() => { const c = `+
		`new MessageChannel(); c.port1.onmessage = () => took.push(performance.now() - ev.timeStamp); `+
		`c.port2.postMessage(0); }); }, true); })()`)
	lines := slices.DeleteFunc(b.cards(), func(c card) bool { return c.Kind != "did" })
	for _, c := range lines[:min(30, len(lines))] {
		b.tapUntil(onCard(c, "all"), folded(c))
	}
	took := js[[]float64](b, `took.sort((x, y) => x - y)`)
	if len(took) < 20 {
		t.Fatalf("only %d taps were timed", len(took))
	}
	t.Logf("%d wheels, %d lines: from tap to painted, of %d taps, in ms: median %.0f, 95 %% within %.0f, worst %.0f",
		wheels, len(b.cards()), len(took), took[len(took)/2], took[len(took)*95/100], took[len(took)-1])
	b.allSent()
}
