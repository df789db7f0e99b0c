package browsertest

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// crowdedBook has two rooms with more to do than one page shows of a whole book.
func crowdedBook(t *testing.T) *book {
	t.Helper()
	b := newBook(t)
	b.run("demo", "--book", b.path, "--quiet", "--wheels", "8000")
	return b
}

const (
	tiles  = `[...document.querySelectorAll("#list .tiles a")]`
	rooms  = `[...new Set([...document.querySelectorAll("#list .card")].map((c) => c.closest(".room").dataset.room))].join()`
	chosen = `document.getElementById("chosen")?.innerText ?? ""`
)

// tile taps what a list consists of, by the beginning of its name.
func (b *tab) tile(name string) {
	b.t.Helper()
	find := tiles + `.find((a) => a.innerText.startsWith(` + q(name) + `))`
	b.tapUntil(find, `!`+find)
	b.settled()
}

// kept waits for what the browser keeps of a list to be as it should.
func (b *tab) kept(path string, is func(html string) bool) {
	b.t.Helper()
	comes(b.t, "the copy of "+path, func() bool {
		return is(js[string](b, `(async () => (await (await (await caches.open("rindkeep-round")).match(`+q(path)+`))?.text()) ?? "")()`))
	})
}

func TestAPhoneKeepsTheRoomItChose(t *testing.T) {
	bk := crowdedBook(t)
	s := bk.serve()
	a := s.air()
	before := bk.log()
	b := open(t, a.url(), phone, "/")
	b.expect(noSignal...)
	script := axeCore(t)
	look := func(name string) {
		t.Helper()
		b.shoot("phone-" + name)
		if script != "" {
			// Shelves out of sight have no height of their own yet, and lie over each other.
			js[any](b, `(document.querySelectorAll(".shelf").forEach((x) => { x.style.contentVisibility = "visible"; }), 1)`)
			b.rules(name, script)
		}
	}
	if n := js[int](b, tiles+`.length`); n != 2 {
		t.Fatalf("%d rooms to choose from\n%s", n, b.text())
	}
	look("rooms-to-choose")
	b.tile("bay-1")
	if got := js[string](b, rooms); got != "bay-1" {
		t.Fatalf("of bay-1 the page shows %q", got)
	}
	if n := len(b.cards()); n < 60 || n > 200 {
		t.Errorf("%d cards", n)
	}
	if got := js[string](b, chosen); !strings.Contains(got, "Only bay-1") {
		t.Errorf("it says %q", got)
	}
	look("one-room")

	// The desk knows where that phone is.
	d := open(t, s.addr, desk, "/who")
	d.until(`[...document.querySelectorAll("tbody tr")].some((r) => r.innerText.includes("Only bay-1"))`)
	d.shoot("desk-who")
	d.goTo("/?rooms")
	d.until(tiles + `.some((a) => a.innerText.startsWith("bay-1") && a.innerText.includes("open: not logged in"))`)

	// It stays: for the address of the round itself, and without signal.
	b.goTo("/")
	if got := js[string](b, rooms); got != "bay-1" {
		t.Fatalf("opened again the page shows %q", got)
	}
	b.atHand()
	b.kept("/?room=bay-1", func(html string) bool { return html != "" })
	a.goes(b)
	b.goTo("/")
	if got := js[string](b, rooms); got != "bay-1" {
		t.Fatalf("without signal the page shows %q", got)
	}
	i := slices.IndexFunc(b.cards(), func(c card) bool { return c.Kind == "did" && !c.Done })
	c := b.cards()[i]
	b.tapUntil(onCard(c, "all"), folded(c))
	b.visit("http://" + a.url() + "/?room=bay-2")
	b.until(`document.body.innerText.includes("This list is not kept on this phone")`)
	b.goTo("/?room=bay-1")
	if !js[bool](b, folded(c)) {
		t.Error("what was done without signal is open again")
	}
	a.comes(b)
	b.allSent()
	if n := len(bk.since(before)); n != len(c.Wheels) {
		t.Errorf("the book has %d of %d", n, len(c.Wheels))
	}

	// It is undone by one tap, for good.
	b.press(`document.getElementById("chosen")`, "Everything due today")
	b.until(tiles + `.length === 2`)
	b.settled()
	if words := js[string](b, tiles+`[0].innerText`); !strings.Contains(words, " % done") {
		t.Errorf("how far the room is isn't said: %q", words)
	}
	b.goTo("/")
	if n := js[int](b, tiles+`.length`); n != 2 {
		t.Errorf("after it was undone there are %d rooms to choose from", n)
	}
}

func TestAShareOfTheDayIsChosenAndUndone(t *testing.T) {
	bk := crowdedBook(t)
	s := bk.serve()
	b := open(t, s.addr, phone, "/")
	b.tap(`document.querySelector("#split summary")`)
	b.fill(`document.getElementById("people")`, "2")
	b.press(`document.getElementById("split")`, "Show the parts")
	b.until(tiles + `.length === 2 && location.search === "?share=2"`)
	b.settled()
	b.shoot("phone-parts")
	if script := axeCore(t); script != "" {
		b.rules("parts", script)
	}
	b.tile("Part 2 of 2")
	mine := b.cards()
	if len(mine) < 20 || len(mine) > 200 {
		t.Fatalf("the second part has %d cards", len(mine))
	}
	b.goTo("/")
	if got := js[string](b, chosen); !strings.Contains(got, "Only part 2 of 2") {
		t.Errorf("opened again it says %q", got)
	}
	// Work is done, and the parts stay as they are.
	done := 0
	for _, c := range mine {
		if c.Kind == "did" && done < 5 {
			b.tapUntil(onCard(c, "all"), folded(c))
			done++
		}
	}
	b.allSent()
	b.goTo("/")
	for _, c := range b.cards() {
		if !slices.ContainsFunc(mine, func(m card) bool { return m.Place == c.Place }) {
			t.Errorf("%s at %s wasn't in the part before", c.Job, c.Place)
		}
	}
	b.press(`document.getElementById("chosen")`, "Everything due today")
	b.until(tiles + `.length === 2 && !document.getElementById("chosen")`)
}

// What one phone enters comes to the others that show it, and to no others, as the shelf
// that changed.
func TestAChangeArrivesAsAChange(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	a := s.air()
	one := open(t, s.addr, phone, "/")
	two := open(t, a.url(), phone, "/")
	elsewhere := open(t, s.addr, phone, "/?room=fridge")
	two.atHand()
	for _, b := range []*tab{two, elsewhere} {
		b.until(`document.getElementById("post").textContent === "all sent"`)
		js[any](b, `document.querySelectorAll("#list .card").forEach((c) => { c.before = true; })`)
	}
	time.Sleep(time.Second) // until what they ask for by themselves is through
	two.requests()
	elsewhere.requests()
	a.bytes()
	c := one.card("turn", "cellar/B/1")
	one.tapUntil(onCard(c, "all"), folded(c))
	two.until(folded(c))
	if n := a.bytes(); n > 4000 {
		t.Errorf("the change took %d bytes", n)
	}
	if n := js[int](two, `[...document.querySelectorAll("#list .card")].filter((c) => !c.before).length`); n > 1 {
		t.Errorf("%d cards are new", n)
	}
	for name, want := range map[*tab]int{two: 1, elsewhere: 0} {
		n := 0
		for _, r := range name.requests() {
			if strings.Contains(r.url, "/?r") { // /?rooms or /?room=
				n++
			}
		}
		if n != want {
			t.Errorf("a phone asked %d times for its list, want %d", n, want)
		}
	}
	// The copy that opens without signal knows of it too.
	two.kept("/", func(html string) bool { return !strings.Contains(html, c.Key) })
	two.expect(noSignal...)
	a.goes(two)
	two.goTo("/")
	if js[bool](two, `!!document.getElementById("c`+c.Key+`")`) {
		t.Error("reloaded without signal, the list has what another did before")
	}
	if n := len(two.cards()); n < 10 {
		t.Errorf("reloaded without signal, the list has %d cards", n)
	}
}
