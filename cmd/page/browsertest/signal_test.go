package browsertest

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// noSignal are the browser's words for a request that got nowhere.
var noSignal = []string{"net::ERR_", "An unknown error occurred when fetching the script",
	"Failed to load resource: the server responded with a status of 503"}

// goes takes the signal away from a phone, or gives it back.
func (a *air) goes(b *tab) {
	b.t.Helper()
	a.cut()
	b.onLine(false)
}

func (a *air) comes(b *tab) {
	b.t.Helper()
	a.mend()
	b.onLine(true)
}

// atHand waits until the browser keeps the round: then it opens without signal.
func (b *tab) atHand() {
	b.t.Helper()
	b.until(`navigator.serviceWorker.controller`)
	for end := time.Now().Add(patience); !js[bool](b,
		`(async () => !!(await (await caches.open("rindkeep-round")).match("/")))()`); {
		if time.Now().After(end) {
			b.t.Fatal("the round is not kept")
		}
		time.Sleep(15 * time.Millisecond)
	}
}

// tapped is what one line of the round was entered as, and when.
type tapped struct {
	card     card
	from, to time.Time
}

func TestAWholeRoundWithoutSignal(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	a := s.air()
	before, due := bk.log(), bk.due()
	b := open(t, a.url(), phone, "/")
	b.expect(noSignal...)
	b.atHand()
	a.goes(b)

	var taps []tapped
	lines := b.cards()
	for i, c := range lines {
		if i == len(lines)/2 {
			// The phone was put away, and the page loads again.
			was, _ := b.foot()
			b.reload()
			if is, _ := b.foot(); is != was {
				t.Errorf("reloaded without signal the round says %q, before %q", is, was)
			}
		}
		from := time.Now()
		b.do(bk, c)
		taps = append(taps, tapped{c, from, time.Now()})
	}
	if n, post := b.foot(); n != fmt.Sprintf("%d of %d done",
		len(lines), len(lines)) || !strings.HasSuffix(post, "saved on this phone: no signal") {
		t.Errorf("done without signal, the round says %q, %q", n, post)
	}
	b.shoot("phone-no-signal")
	b.tap(`document.getElementById("tally")`)
	b.until(isOpen("book"))
	b.shoot("phone-no-signal-entries")
	if words := b.text(); !strings.Contains(words, "you can reload without a signal") {
		t.Errorf("the page does not say what keeps the entries:\n%s", words)
	}
	b.press(`document.getElementById("book")`, "close")
	if es := bk.since(before); len(es) != 0 {
		t.Fatalf("leave out signal, the book has %+v", es)
	}
	b.requests()

	back := time.Now()
	a.comes(b)
	b.allSent()
	es := bk.since(before)
	onceEach(t, due, es)
	// The times are those of the taps.
	for _, tp := range taps {
		for _, w := range tp.card.Wheels {
			i := slices.IndexFunc(es, func(e entry) bool { return e.did() == past[tp.card.Job]+" "+w })
			if i < 0 {
				continue // said above
			}
			at, written := when(t, es[i].At), when(t, es[i].Written)
			if at.Before(tp.from.Add(-2*time.Second)) || at.After(tp.to.Add(2*time.Second)) {
				t.Errorf("%s was tapped from %v to %v, the book says %v", es[i].did(), tp.from.UTC(), tp.to.UTC(), at)
			}
			if written.Before(back.Add(-2 * time.Second)) {
				t.Errorf("%s was written at %v, before there was a signal at %v", es[i].did(), written, back.UTC())
			}
		}
	}
	// They were sent in order, once each.
	var order []string
	sent := map[string]int{}
	for _, r := range b.requests() {
		if !strings.Contains(r.url, "/api/") {
			continue
		}
		var body struct{ ID, At string }
		if err := json.Unmarshal([]byte(r.body), &body); err != nil {
			t.Fatalf("%s was sent %q", r.url, r.body)
		}
		order = append(order, body.ID)
		sent[body.ID]++
	}
	if len(order) < len(lines) {
		t.Errorf("%d were sent for %d lines", len(order), len(lines))
	}
	if !slices.IsSorted(order) {
		t.Errorf("sent out of order: %v", order)
	}
	for id, n := range sent {
		if n != 1 {
			t.Errorf("%s was sent %d times with a good signal", id, n)
		}
	}
	b.reload()
	b.allSent()
	if have := bk.since(before); len(have) != len(es) {
		t.Errorf("a reload afterwards wrote %d more", len(have)-len(es))
	}
}

func when(t *testing.T, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func TestATapOutlivesThePageThatClosesAtOnce(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	a := s.air()
	before := bk.log()
	b := open(t, a.url(), phone, "/")
	b.expect(noSignal...)
	b.atHand()
	a.goes(b)
	want := 0
	for i, place := range []string{"cellar/A/2", "cellar/B/1", "cellar/C/2", "fridge/F/1"} {
		if i%2 == 0 {
			// The browser's database is busy with something else, so that the
			// entry cannot get in before the page is gone.
			js[any](b, `new Promise((yes) => { const q = indexedDB.open("rindkeep"); q.onsuccess = () => {
				const s = q.result.transaction("entries", "readwrite").objectStore("entries");
				const on = () => { s.count().onsuccess = on; yes(1); }; on(); }; })`)
		}
		c := b.card("turn", place)
		js[any](b, `(window.isOld = true, `+onCard(c, "all")+`.click(), setTimeout(() => location.reload()), 1)`)
		b.until(`!window.isOld`)
		b.settled()
		if !js[bool](b, folded(c)) {
			t.Errorf("%s at %s is not done any more", c.Job, place)
		}
		want += len(c.Wheels)
	}
	a.comes(b)
	b.allSent()
	if have := len(bk.since(before)); have != want {
		t.Errorf("the book has %d of %d", have, want)
	}
}

// The server really is away, the phone's signal is good, and no event tells the
// page when it is back.
func TestTheServerIsAwayForAWhile(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	b.expect(noSignal...)
	s.stop()
	c := b.card("turn", "cellar/B/1")
	b.tapUntil(onCard(c, "all"), folded(c))
	r := b.card("rub", "cellar/B/1")
	b.tapUntil(onCard(r, "all"), folded(r))
	// One is taken back before it was ever sent.
	b.tap(`document.getElementById("undo")`)
	b.until(`!document.getElementById("c` + r.Key + `").matches(".is-done")`)
	b.until(`document.getElementById("post").textContent === "1 saved on this phone: no signal"`)
	s.again()
	b.allSent()
	es := bk.since(before)
	if len(es) != len(c.Wheels) {
		t.Errorf("the book has %d entries, want the turn of %d wheels: %+v", len(es), len(c.Wheels), es)
	}
	for _, e := range es {
		if e.What != "turned" || e.Struck {
			t.Errorf("the book has %+v", e)
		}
	}
}

// The book wrote it down, and the answer got lost on the way back.
func TestALostAnswerCostsNothing(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	a := s.air()
	before := bk.log()
	b := open(t, a.url(), phone, "/")
	b.expect(noSignal...)
	c := b.card("turn", "cellar/B/1")
	a.setDeaf(true)
	b.tapUntil(onCard(c, "all"), folded(c))
	comes(t, "the book to have it", func() bool { return len(bk.since(before)) > 0 })
	if _, post := b.foot(); post == "all sent" {
		t.Error("no answer came, and the page says all is sent")
	}
	a.goes(b)
	a.setDeaf(false)
	// Taken back meanwhile: the book may have it, so it is struck there.
	other := b.card("turn", "cellar/C/2")
	b.tapUntil(onCard(other, "all"), folded(other))
	a.comes(b)
	b.allSent()
	n := map[string]int{}
	for _, e := range bk.since(before) {
		n[e.did()]++
	}
	if len(n) != len(c.Wheels)+len(other.Wheels) {
		t.Errorf("the book has %v", n)
	}
	for d, k := range n {
		if k != 1 {
			t.Errorf("%s is in the book %d times", d, k)
		}
	}
}

// Two wheels are written off on one phone, while another, without signal, still has
// them on its list.
func TestTwoPhonesOnOneWheel(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	a := s.air()
	one := open(t, a.url(), phone, "/")
	one.expect(append(noSignal, "status of 422", "status of 404")...)
	two := open(t, s.addr, phone, "/")
	one.atHand()
	a.goes(one)

	// The second phone, with signal, writes two wheels off.
	gone := bk.lot("cellar/B/1") + "-03"
	also := bk.lot("cellar/B/1") + "-04"
	for _, tag := range []string{gone, also} {
		two.goTo("/wheel/" + tag)
		two.press(`document.querySelector("main")`, "Lost")
		two.fill(`document.getElementById("l-why")`, "it fell")
		two.press(`document.querySelector("form[action='/api/lost']")`, "Write it off")
		two.until(`document.getElementById("told")`)
	}
	before := bk.log()

	c := one.card("turn", "cellar/B/1")
	one.tapUntil(onCard(c, "all"), folded(c))
	w := one.card("weigh", "drying/A/2")
	one.weighLine(bk, w)
	a.comes(one)
	// What the book refuses is shown and kept; what came after it goes on.
	one.until(`document.getElementById("post").textContent === "1 needs you"`)
	one.tap(`document.getElementById("tally")`)
	one.until(isOpen("book"))
	one.shoot("phone-two-phones")
	if words := one.text(); !strings.Contains(words, gone) || !strings.Contains(words, "-04") {
		t.Errorf("the refusal does not name the wheels:\n%s", words)
	}
	one.press(`document.getElementById("book")`, "close")
	one.reload()
	one.until(`document.getElementById("post").textContent === "1 needs you"`)
	// The phone sends one entry after the other; the last may still be on its way.
	weighed := 0
	for range 100 {
		weighed = 0
		for _, e := range bk.since(before) {
			if e.Kind == "weighed" {
				weighed++
			}
		}
		if weighed == len(w.Wheels) {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	if weighed != len(w.Wheels) {
		t.Errorf("after the refused one %d of %d weights arrived", weighed, len(w.Wheels))
	}
	one.tap(`document.getElementById("tally")`)
	one.press(`document.getElementById("book-aside")`, "leave out "+gone+", -04") // both at once
	one.allSent()
	turned := map[string]bool{}
	for _, e := range bk.since(before) {
		if e.What == "turned" {
			turned[e.Of] = true
		}
	}
	for _, tag := range c.Wheels {
		if turned[tag] != (tag != gone && tag != also) {
			t.Errorf("turned without those that are gone: %s turned in the book: %v", tag, turned[tag])
		}
	}
}

// Two phones weigh the same wheel: both weights are in the book.
func TestTwoPhonesWeighTheSameWheel(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	tag := bk.lot("drying/A/2") + "-01"
	g := bk.likely(tag)
	phones := []*tab{open(t, s.addr, phone, "/"), open(t, s.addr, phone, "/")}
	for _, b := range phones {
		b.begin(b.card("weigh", "drying/A/2"), "all", "pad")
		b.keys(fmt.Sprint(g))
	}
	for i, b := range phones {
		b.keys("\r")
		_ = i
	}
	for _, b := range phones {
		b.until(answered + `.includes(` + q(tag) + `) && !document.getElementById("pad-answer").textContent.includes("…")`)
		b.allSent()
	}
	es := bk.since(before)
	by := map[string]int{}
	for _, e := range es {
		if e.did() != "weighed "+tag || *e.Weight != float64(g) {
			t.Errorf("the book has %+v", e)
		}
		by[e.ID]++
	}
	if len(by) == 0 {
		t.Error("neither weight is in the book")
	}
	// The other's list knows of it.
	for _, b := range phones {
		b.press(`document.getElementById("pad")`, "close")
		b.until(`[...document.querySelectorAll(".shelf[data-place='drying/A/2'] .card[data-job=weigh] .who")].every((w) ` +
			`=> w.textContent.includes("-02 to -04"))`)
	}
	t.Logf("two phones, one wheel, the same weight: %d in the book", len(es))
}

// Entries of one person are not sent under another's name.
func TestWhoeverLogsInNextSendsNothingOfTheOneBefore(t *testing.T) {
	bk := demoBook(t)
	bk.password("Nora", "a long enough secret", "writer")
	bk.password("Bram", "another long secret", "writer")
	s := bk.serve()
	a := s.air()
	before := bk.log()
	b := open(t, a.url(), phone, "/login")
	b.expect(append(noSignal, "status of 401")...)
	b.logIn("Nora", "a long enough secret")
	b.atHand()
	a.goes(b)
	c := b.card("turn", "cellar/B/1")
	b.tapUntil(onCard(c, "all"), folded(c))
	b.until(`document.getElementById("post").textContent === "1 saved on this phone: no signal"`)
	// Her password is changed meanwhile: her session is void.
	bk.password("Nora", "a new secret, as long", "writer")
	a.comes(b)
	b.until(`document.getElementById("post").textContent === "log in to send 1"`)
	b.shoot("phone-log-in-to-send")
	b.goTo("/login")
	b.logIn("Bram", "another long secret")
	b.until(`document.body.dataset.who === "Bram"`)
	r := b.card("turn", "cellar/C/2")
	b.tapUntil(onCard(r, "all"), folded(r))
	b.allSent()
	for _, e := range bk.since(before) {
		if e.By != "Bram" || !slices.Contains(r.Wheels, e.Of) {
			t.Errorf("while Bram is logged in, the book has %+v", e)
		}
	}
	b.tap(`document.getElementById("tally")`)
	b.until(`document.getElementById("book-others").innerText.includes("1 saved here for Nora")`)
	b.press(`document.getElementById("book")`, "close")
	b.press(`document.querySelector("header")`, "Log out")
	b.until(`document.body.dataset.here === "login"`)
	b.logIn("Nora", "a new secret, as long")
	b.until(`document.body.dataset.who === "Nora"`)
	b.allSent()
	comes(t, "Nora's turn in the book", func() bool {
		n := 0
		for _, e := range bk.since(before) {
			if e.By == "Nora" && slices.Contains(c.Wheels, e.Of) {
				n++
			}
		}
		return n == len(c.Wheels)
	})
}
