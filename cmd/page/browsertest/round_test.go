package browsertest

import (
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// A job's cautions are on its first card in each room, above the button; what several
// jobs share is said once, whatever part of the list is shown. One that is done needs
// none.
func TestTheRoundCautionsAtThePointOfUse(t *testing.T) {
	bk := demoBook(t)
	b := open(t, bk.serve().addr, phone, "/")
	const shown = `[...document.querySelectorAll("#list .card .caution")].filter((p) => p.checkVisibility()).map((p) => ` +
		`p.closest(".room").dataset.room + " " + p.closest(".card").dataset.job + ": " + p.textContent)`
	is := js[[]string](b, shown)
	if len(is) == 0 || len(is) > 6 || !slices.ContainsFunc(is, func(s string) bool { return strings.HasPrefix(s, "cellar wash: CAUTION: brine and smear ") }) {
		t.Fatalf("cautions: %q", is)
	}
	seen := map[string]bool{}
	for _, s := range is {
		room, words, _ := strings.Cut(s, " ")
		_, words, _ = strings.Cut(words, ": ")
		if seen[room+words] {
			t.Errorf("said twice in one room: %s", s)
		}
		seen[room+words] = true
	}
	b.shoot("phone-cautions")
	b.tap(`document.querySelector("#sift summary")`)
	b.tap(`document.querySelector("#by-job a[data-job=wash]")`)
	if js[int](b, `(`+shown+`).length`) == 0 {
		t.Error("shown alone, a job has no caution")
	}
}

func TestTheWholeRoundByTaps(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before, due := bk.log(), bk.due()
	b := open(t, s.addr, phone, "/")
	if n, _ := b.foot(); n != fmt.Sprintf("0 of %d done", len(b.cards())) {
		t.Errorf("a round not begun says %q", n)
	}
	for {
		b.round(bk)
		b.allSent()
		if !slices.ContainsFunc(b.cards(), func(c card) bool { return !c.Done }) {
			break
		}
	}
	b.shoot("phone-round-done")
	onceEach(t, due, bk.since(before))

	// The last is taken back at once, and once more done. It's said once.
	n := len(bk.since(before))
	js[any](b, `(() => { window.said = []; new MutationObserver(() => said.push(document.getElementById("saying").textContent))`+
		`.observe(document.getElementById("saying"), { childList: true }); })()`)
	b.tap(`document.getElementById("undo")`)
	b.until(`document.querySelector("#list .card:not(.is-done):not(.is-covered)")`)
	var struck []entry
	comes(t, "the undone to be struck", func() bool {
		struck = slices.DeleteFunc(bk.since(before), func(e entry) bool { return !e.Struck })
		return len(struck) > 0
	})
	b.allSent()
	if said := js[[]string](b, `said`); len(said) != 1 || !strings.HasPrefix(said[0], "undone: ") {
		t.Errorf("an undo is told as %q", said)
	}
	for _, e := range struck {
		if e.did() != struck[0].did()[:len(struck[0].did())-len(struck[0].Of)]+e.Of {
			t.Errorf("undo of one tap struck %s and %s", struck[0].did(), e.did())
		}
	}
	b.round(bk)
	b.allSent()
	onceEach(t, due, bk.since(before))
	if have := len(bk.since(before)); have <= n {
		t.Errorf("done again after the undo, the book has %d entries of the round as before", have)
	}

	// A reload shows the same.
	b.reload()
	b.allSent()
	var done, all int
	is, _ := b.foot()
	if _, err := fmt.Sscanf(is, "%d of %d done", &done, &all); err != nil || done != all || all == 0 {
		t.Errorf("the round is done, and after a reload the page says %q", is)
	}
}

// The Back of a phone closes what lies over the list, one after the other, and
// only then leaves it.
func TestBackClosesWhatIsOpenAndStaysOnTheRound(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	b := open(t, s.addr, phone, "/rooms")
	b.goTo("/")
	back := func() { t.Helper(); js[any](b, `(history.back(), 1)`) }
	b.begin(b.card("weigh", "drying/A/2"), "all", "pad")
	back()
	b.until(`!` + isOpen("pad") + ` && location.pathname === "/"`)
	b.tapUntil(`document.getElementById("tally")`, isOpen("book"))
	back()
	b.until(`!` + isOpen("book") + ` && location.pathname === "/"`)
	// Closed by its own button, a panel leaves nothing behind: Back leaves the page.
	b.begin(b.card("check", "drying/A/2"), "other", "hand")
	b.press(`document.getElementById("hand")`, "close")
	b.until(`!` + isOpen("hand") + ` && !history.state`)
	back()
	b.until(`location.pathname === "/rooms"`)
}

func TestTheHandCheckSaysWhatWasFound(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	c := b.card("check", "drying/A/2")
	b.begin(c, "other", "hand")
	b.shoot("phone-hand")
	hand := `document.getElementById("hand")`
	b.press(hand, "all of them")
	b.press(hand, fmt.Sprintf("save for %d wheels", len(c.Wheels)))
	b.until(`!document.getElementById("hand-wrong").hidden`) // nothing was said of them yet
	b.press(hand, "none of them")
	b.press(hand, "all sound")
	b.press(hand, "save")
	b.until(`document.getElementById("hand-wrong").textContent.startsWith("tick the wheels")`)
	// Only the second of them, and it weeps.
	b.tap(`document.querySelectorAll("#hand-picks input")[1]`)
	b.press(hand, "all sound")
	b.tap(`document.querySelector("#hand [data-ask=weeping] [data-say=yes]")`)
	b.fill(`document.getElementById("hand-note")`, "at the foot")
	b.press(hand, "save for 1 wheel")
	b.until(`!document.getElementById("hand").open`)
	b.allSent()
	es := bk.since(before)
	if len(es) == 0 || es[0].did() != "checked "+c.Wheels[1] || es[0].Note != "at the foot" ||
		!strings.Contains(es[0].Detail, "weeping") {
		t.Fatalf("the book has %+v", es)
	}
	for _, e := range es[1:] { // of the same lot
		if e.Kind != "asked" {
			t.Errorf("the book has besides %+v", e)
		}
	}
	// The wheel is off the line, by what the phone did or by what the book then sent.
	b.until(fmt.Sprintf(`[...document.querySelectorAll(".card[data-job=check] .who")].some((x) => `+
		`x.textContent.startsWith("%d of %d left") || x.textContent.includes("-01, -03, -04"))`, len(c.Wheels)-1, len(c.Wheels)))
}

func TestSomeOfALineAreDoneAndOthersPassedOver(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	c := b.card("wash", "cellar/A/2")
	part := `document.getElementById("part")`
	b.begin(c, "other", "part")
	b.shoot("phone-part")
	b.press(part, "none of them")
	b.tap(`document.querySelectorAll("#part-picks input")[0]`)
	b.press(part, "washed: 1 wheel")
	b.until(fmt.Sprintf(`document.querySelector("#c%s .who").textContent.startsWith("%d of %d left")`, c.Key,
		len(c.Wheels)-1, len(c.Wheels)))
	b.begin(c, "other", "part")
	b.press(part, fmt.Sprintf("skip %d wheels", len(c.Wheels)-1))
	b.until(`!document.getElementById("part-wrong").hidden`) // why?
	b.fill(`document.getElementById("part-why")`, "no brine left")
	b.press(part, fmt.Sprintf("skip %d wheels", len(c.Wheels)-1))
	b.until(folded(c))
	b.allSent()
	have := map[string]int{}
	for _, e := range bk.since(before) {
		have[e.Kind]++
		if e.Kind == "skipped" && e.Note != "no brine left" {
			t.Errorf("passed over without the reason: %+v", e)
		}
	}
	if have["did"] != 1 || have["skipped"] != len(c.Wheels)-1 || len(have) != 2 {
		t.Errorf("the book has %v", have)
	}
}

func TestANoteWithItsPicture(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	// A picture larger than any that is sent, made by the browser itself.
	big := js[string](b, `(() => { const c = document.createElement("canvas"); c.width = 3000; c.height = 2000;
		const g = c.getContext("2d"); for (let i = 0; i < 4000; i++) { g.fillStyle = "hsl(" + i * 7 % 360 + " 60% 50%)"; g.fillRect(i * 97 % 3000, i * 61 % 2000, 90, 60); }
		return c.toDataURL("image/png").split(",")[1]; })()`)
	raw, err := base64.StdEncoding.DecodeString(big)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "rind.png")
	if err := os.WriteFile(file, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	w := b.card("weigh", "cellar/A/2")
	b.begin(w, "other", "part")
	part := `document.getElementById("part")`
	b.press(part, "none of them")
	b.tap(`document.querySelectorAll("#part-picks input")[2]`)
	b.upload("#part-photo", file)
	b.until(`document.getElementById("part-photo-said").textContent.startsWith("photo: ")`)
	b.fill(`document.getElementById("part-note")`, "a blue spot")
	b.press(part, "save the note for 1 wheel")
	b.until(`!document.getElementById("part").open`)
	b.allSent()
	es := bk.since(before)
	if len(es) != 1 || es[0].Of != w.Wheels[2] || es[0].Note != "a blue spot" {
		t.Fatalf("the book has %+v", es)
	}
	t.Logf("a picture of %d bytes; the entry says %q", len(raw), es[0].Detail)
	b.goTo("/wheel/" + w.Wheels[2])
	if !strings.Contains(b.text(), "a blue spot") {
		t.Error("the wheel's card does not show the note")
	}
}

// What another does on the command line is on an open page, and the page stays
// where it was.
func TestAnOpenRoundFollowsTheBook(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	b := open(t, s.addr, phone, "/")
	c := b.card("turn", "fridge/F/1")
	b.begin(c, "other", "part") // what is under the thumb stays open
	js[any](b, `(scrollTo(0, document.body.scrollHeight), 1)`)
	from := time.Now()
	bk.run("did", "turn", "cellar/B/1")
	b.until(`[...document.querySelectorAll(".shelf[data-place='cellar/B/1'] .card")].some((c) => c.dataset.job === ` +
		`"turn" && c.classList.contains("is-done"))`)
	t.Logf("another's entry was on the page after %v", time.Since(from))
	if !js[bool](b, `document.getElementById("part").open`) {
		t.Error("the open form was closed by another's entry")
	}
	if _, post := b.foot(); post != "all sent" {
		t.Errorf("nothing was entered here, and the page says %q", post)
	}
}
