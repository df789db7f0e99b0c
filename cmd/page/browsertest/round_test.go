package browsertest

import (
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// card is a line of the list on the page, as it stands.
type card struct {
	Key    string   `json:"key"`
	Kind   string   `json:"kind"`
	Job    string   `json:"job"`
	Place  string   `json:"place"`
	Wheels []string `json:"wheels"`
	Done   bool     `json:"done"`
	Words  string   `json:"words"`
}

// cards are the lines of the list on the page, in its order.
func (b *tab) cards() []card {
	b.t.Helper()
	return js[[]card](b, `[...document.querySelectorAll("#list .card:not(.is-covered)")].map((li) => ({
		key: li.dataset.key, kind: li.dataset.kind, job: li.dataset.job, place: li.closest(".shelf").dataset.place,
		wheels: JSON.parse(li.dataset.wheels), done: li.classList.contains("is-done"), words: li.querySelector(".what").textContent.trim() }))`)
}

// card is the line for a job at a place, for these wheels among others.
func (b *tab) card(job, place string, of ...string) card {
	b.t.Helper()
	for _, c := range b.cards() {
		if c.Job == job && c.Place == place && !c.Done &&
			!slices.ContainsFunc(of, func(tag string) bool { return !slices.Contains(c.Wheels, tag) }) {
			return c
		}
	}
	b.t.Fatalf("no %s at %s to be done\n%s", job, place, b.text())
	return card{}
}

// onCard is a button of a line that is still to be done.
func onCard(c card, act string) string {
	return fmt.Sprintf(`document.querySelector("#c%s:not(.is-done) [data-do=%s]")`, c.Key, act)
}

// isOpen says that a form lies open over the list.
func isOpen(id string) string { return `document.getElementById("` + id + `").open` }

// begin taps a button of a line that opens a form.
func (b *tab) begin(c card, act, form string) { b.t.Helper(); b.tapUntil(onCard(c, act), isOpen(form)) }

// foot is what the bar at the foot says: how many are done, and how the sending
// stands.
func (b *tab) foot() (count, post string) {
	b.t.Helper()
	return js[string](b, `document.getElementById("count").textContent`), js[string](b,
		`document.getElementById("post").textContent`)
}

// allSent waits until the book has everything.
func (b *tab) allSent() {
	b.t.Helper()
	b.until(`document.getElementById("post").textContent === "all sent"`)
}

// onPad types a weight on the pad's own keys.
func (b *tab) onPad(figures string) {
	b.t.Helper()
	for _, k := range figures {
		b.tap(fmt.Sprintf(`document.querySelector("#pad [data-key='%c']")`, k))
	}
}

const answered = `!document.getElementById("pad-answer").hidden && document.getElementById("pad-answer").textContent`

// weighLine opens the pad for a line and weighs all of its wheels, with the
// keyboard: a phone's pad is tried elsewhere.
func (b *tab) weighLine(bk *book, c card) {
	b.t.Helper()
	b.begin(c, "all", "pad")
	for range c.Wheels {
		tag := js[string](b, `document.getElementById("pad-tag").value`)
		b.keys(fmt.Sprint(bk.likely(tag)))
		b.keys("\r")
		b.until(answered + `.startsWith(` + q(tag) + `)`)
	}
	b.until(`document.getElementById("pad-where").textContent === "that was the last one"`)
	b.press(`document.getElementById("pad")`, "close")
}

// folded says that a line is done.
func folded(c card) string {
	return fmt.Sprintf(`(document.getElementById("c%s")?.matches(".is-done, .is-covered") ?? true)`, c.Key)
}

// do does one line, whatever it is.
func (b *tab) do(bk *book, c card) {
	b.t.Helper()
	switch c.Kind {
	case "weigh":
		b.weighLine(bk, c)
	case "coat":
		b.begin(c, "all", "coat")
		b.tap(`document.getElementById("coat-all")`)
		b.until(folded(c))
	default:
		b.tapUntil(onCard(c, "all"), folded(c))
	}
}

// round does every line of the day, and what comes of doing it.
func (b *tab) round(bk *book) {
	b.t.Helper()
	for range 60 {
		cs := b.cards()
		i := slices.IndexFunc(cs, func(c card) bool { return !c.Done })
		if i < 0 {
			return
		}
		b.do(bk, cs[i])
	}
	b.t.Fatalf("the round has no end\n%s", b.text())
}

// did is an entry as a job on a wheel.
func (e entry) did() string {
	switch e.Kind {
	case "weighed", "checked", "coated":
		return e.Kind + " " + e.Of
	}
	return e.What + " " + e.Of
}

// past says what a job is once done, as the log says it.
var past = map[string]string{"turn": "turned", "weigh": "weighed", "check": "checked", "coat": "coated",
	"wash": "washed", "rub": "rubbed", "brush": "brushed"}

// due is what the day's list has for each wheel, as the log will say it.
func (b *book) due() []string {
	b.t.Helper()
	var doc struct {
		Tasks []struct {
			Job    string
			Wheels []string
		}
	}
	b.read(&doc, "today")
	var out []string
	for _, k := range doc.Tasks {
		for _, w := range k.Wheels {
			if past[k.Job] == "" {
				b.t.Fatalf("no word for %s", k.Job)
			}
			out = append(out, past[k.Job]+" "+w)
		}
	}
	return out
}

// onceEach fails unless the entries are all that was due, each once, and
// besides only what became due by doing it: the coat.
func onceEach(t *testing.T, due []string, es []entry) {
	t.Helper()
	n := map[string]int{}
	for _, e := range es {
		if !e.Struck && e.Kind != "struck" {
			n[e.did()]++
		}
	}
	for _, d := range due {
		if n[d] != 1 {
			t.Errorf("%s is in the book %d times, want once", d, n[d])
		}
		delete(n, d)
	}
	for d, k := range n {
		if k != 1 || !strings.HasPrefix(d, "coated ") {
			t.Errorf("%s is in the book %d times, and was not due", d, k)
		}
	}
}

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

// Somebody new weighs a wheel, learns that it is dry enough, and waxes it.
func TestAWheelIsWeighedFoundDryAndWaxed(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	place := "drying/A/2"
	tag := bk.lot(place) + "-01"
	if c := b.card("weigh", place); c.Wheels[0] != tag {
		t.Fatalf("the demo has %v there", c.Wheels)
	}
	g := bk.likely(tag)
	b.begin(b.card("weigh", place), "all", "pad")
	b.until(`document.getElementById("pad-tag").value === ` + q(tag))
	b.shoot("phone-pad")
	b.onPad(fmt.Sprint(g))
	if v := js[string](b, `document.getElementById("pad-figure").textContent`); v != fmt.Sprint(g) {
		t.Errorf("typed %d, the pad shows %q", g, v)
	}
	b.press(`document.getElementById("pad")`, "save")
	b.until(answered + `.includes("DRY ENOUGH")`)
	b.shoot("phone-pad-answer")
	answer := js[string](b, `document.getElementById("pad-answer").innerText`)
	for _, word := range []string{tag, fmt.Sprintf("%d g",
		g), "loss ", "on its curve", "dry enough to coat? DRY ENOUGH", "coat it by"} {
		if !strings.Contains(answer, word) {
			t.Errorf("the answer does not say %q:\n%s", word, answer)
		}
	}
	if next := js[string](b, `document.getElementById("pad-tag").value`); next == tag || next == "" {
		t.Errorf("weighed, the pad stays at %q", next)
	}
	b.press(`document.getElementById("pad")`, "close")

	b.allSent()
	// What was weighed makes it a line apart; before that comes, "all" is the others too.
	b.until(`[...document.querySelectorAll(".card[data-job=coat]")].some((c) => c.dataset.wheels === ` +
		q(`["`+tag+`"]`) + `)`)
	b.begin(b.card("coat", place, tag), "all", "coat")
	b.shoot("phone-coat")
	if !strings.Contains(js[string](b, `document.getElementById("coat").innerText`), "hot wax burns") {
		t.Error("no caution at the wax")
	}
	b.tap(`document.getElementById("coat-before")`)
	b.keys(fmt.Sprint(g))
	b.tap(`document.getElementById("coat-after")`)
	b.keys(fmt.Sprint(g + 40))
	b.tap(`document.getElementById("coat-keep")`)
	b.until(`!` + isOpen("coat") + ` || document.getElementById("coat-before").value === ""`)
	if js[bool](b, isOpen("coat")) { // there are more wheels in the line
		b.press(`document.getElementById("coat")`, "close")
	}
	b.allSent()
	b.until(`[...document.querySelectorAll(".card[data-job=coat] .who")].some((x) => x.textContent.endsWith("40 g of ` +
		`wax"))`)
	var doc struct {
		Stage string   `json:"stage"`
		Coat  *float64 `json:"coat_g"`
	}
	bk.read(&doc, "wheel", "show", "--", tag)
	if doc.Coat == nil || *doc.Coat != 40 || doc.Stage == "drying" {
		t.Errorf("waxed with 40 g, the book says %+v", doc)
	}
	var kinds []string
	for _, e := range bk.since(before) {
		kinds = append(kinds, e.did())
	}
	if want := []string{"weighed " + tag, "coated " + tag}; !slices.Equal(kinds, want) {
		t.Errorf("the book has %v, want %v", kinds, want)
	}
}

// Before a weight is typed the pad says what the wheel weighed last and what is expected
// now, also without signal; what the scale says then is within it.
func TestThePadSaysWhatIsExpected(t *testing.T) {
	bk := demoBook(t)
	a := bk.serve().air()
	b := open(t, a.url(), phone, "/")
	b.expect(noSignal...)
	b.atHand()
	c := b.card("weigh", "drying/A/1")
	b.until(`(localStorage.getItem("rindkeep.before") ?? "").includes(` + q(c.Wheels[0]) + `)`)
	a.goes(b)
	b.reload()
	b.begin(c, "all", "pad")
	says := js[string](b, `document.getElementById("pad-before").textContent`)
	m := regexp.MustCompile(`^last (\d+) g on \d+ \w+; now probably (\d+) g to (\d+) g$`).FindStringSubmatch(says)
	if m == nil {
		t.Fatalf("the pad says %q", says)
	}
	b.shoot("phone-pad-before")
	last, _ := strconv.Atoi(m[1])
	low, _ := strconv.Atoi(m[2])
	high, _ := strconv.Atoi(m[3])
	if is := bk.likely(c.Wheels[0]); low > high || high > last || float64(is) < 0.97*float64(low) || float64(is) > 1.03*float64(high) {
		t.Errorf("it says %q, the wheel weighs %v", says, is)
	}
}

func TestADoubtfulWeightIsAskedBack(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	b.expect("status of 422")
	tag := bk.lot("drying/A/2") + "-01"
	heavy := bk.likely(tag) + 180
	weigh := func() {
		t.Helper()
		b.keys(fmt.Sprint(heavy))
		b.keys("\r")
		b.until(answered + `.includes("looks wrong")`)
	}
	b.begin(b.card("weigh", "drying/A/2"), "all", "pad")
	b.until(`document.getElementById("pad-tag").value === ` + q(tag))
	weigh()
	b.until(`document.getElementById("pad-tag").value === ` + q(tag)) // it was on the next, and is back
	b.shoot("phone-pad-doubt")
	if n := len(bk.since(before)); n != 0 {
		t.Errorf("a doubtful weight is in the book before anybody said it is right: %d entries", n)
	}
	// Weigh again: the wheel is there once more and nothing is kept.
	b.press(`document.getElementById("pad-answer")`, "weigh again")
	b.until(`document.getElementById("pad-tag").value === ` + q(tag) + ` && document.getElementById("pad-answer").hidden`)
	if n := len(bk.since(before)); n != 0 {
		t.Errorf("to be weighed again, it is in the book: %d entries", n)
	}
	weigh()
	b.press(`document.getElementById("pad-answer")`, "It’s right")
	b.until(answered + `.includes("DOUBTFUL")`)
	b.until(`document.getElementById("pad-tag").value !== ` + q(tag)) // and goes on to the next
	b.allSent()
	es := bk.since(before)
	if len(es) != 1 || es[0].Of != tag || es[0].Weight == nil || *es[0].Weight != float64(heavy) {
		t.Errorf("said to be right, the book has %+v", es)
	}
}

// A corrected figure typed at once is the refused wheel's, and takes the place of
// what was refused.
func TestAFigureTypedAfterADoubtIsTheSameWheels(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	b.expect("status of 422")
	tag := bk.lot("drying/A/2") + "-01"
	g := bk.likely(tag)
	b.begin(b.card("weigh", "drying/A/2"), "all", "pad")
	b.until(`document.getElementById("pad-tag").value === ` + q(tag))
	b.keys(fmt.Sprint(g + 180))
	b.keys("\r")
	b.until(answered + `.includes("looks wrong")`)
	b.keys(fmt.Sprint(g))
	b.keys("\r")
	b.until(answered + `.includes("on its curve")`)
	b.until(`document.getElementById("pad-tag").value !== ` + q(tag))
	b.allSent()
	es := bk.since(before)
	if len(es) != 1 || es[0].Of != tag || es[0].Weight == nil || *es[0].Weight != float64(g) {
		t.Errorf("the book has %+v", es)
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

func TestAnyWheelIsWeighedByItsTag(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	b.expect("status of 404")
	lot := bk.lot("cellar/C/2")
	tag := lot + "-03" // not to be weighed today
	g := bk.likely(tag)
	b.tap(`document.getElementById("any")`)
	b.until(`document.getElementById("pad").open && document.activeElement.id === "pad-tag"`)
	b.keys(lot + "-99\r")
	b.keys(fmt.Sprint(g))
	b.press(`document.getElementById("pad")`, "save")
	b.until(answered + `.includes(` + q(lot+"-99") + `) && document.querySelector("#pad-answer button")`)
	b.press(`document.getElementById("pad-answer")`, "delete")
	b.press(`document.getElementById("ask")`, "Delete")
	b.until(`!document.getElementById("ask").open && document.getElementById("pad-answer").hidden`)
	b.tap(`document.getElementById("pad-tag")`)
	b.fill(`document.getElementById("pad-tag")`, tag)
	b.until(`document.getElementById("pad-where").textContent === "not on today's list"`)
	b.keys("\r")
	b.onPad(fmt.Sprint(g))
	b.press(`document.getElementById("pad")`, "save")
	b.until(answered + `.includes(` + q(tag) + `)`)
	b.allSent()
	es := bk.since(before)
	if len(es) != 1 || es[0].Of != tag || es[0].Weight == nil || *es[0].Weight != float64(g) {
		t.Errorf("the book has %+v", es)
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
