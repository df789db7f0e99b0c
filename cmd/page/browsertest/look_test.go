package browsertest

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// place is a page of the book that lookBook makes.
type place struct {
	name   string
	path   string
	status int // of a page that refuses
}

// places are its pages; drying is the young edam, spoilt the tomme of which one
// is held and one gone.
func (b *book) places() []place {
	b.t.Helper()
	drying, spoilt := b.lot("drying/A/2"), b.lot("cellar/B/1")
	return []place{
		{"round", "/", 0},
		{"round-narrow", "/?room=cellar&job=turn", 0},
		{"wheels", "/wheels", 0},
		{"wheels-lot", "/wheels?find=" + b.lot("cellar/A/2"), 0},
		{"wheels-room", "/wheels?find=cellar", 0},
		{"wheels-some", "/wheels?room=drying&stage=drying", 0},
		{"who", "/who", 0},
		{"wheels-none", "/wheels?find=nothing", 404},
		{"wheel", "/wheel/" + drying + "-01", 0},
		{"wheel-held", "/wheel/" + spoilt + "-02", 0},
		{"wheel-gone", "/wheel/" + spoilt + "-03", 0},
		{"lot", "/lot/" + drying, 0},
		{"rooms", "/rooms", 0},
		{"room", "/room/cellar", 0},
		{"ahead", "/ahead", 0},
		{"makes", "/makes", 0},
		{"make-new", "/makes/new", 0},
		{"start", "/start", 0},
		{"receive", "/makes/receive", 0},
		{"take-over", "/makes/take-over", 0},
		{"room-new", "/rooms/new", 0},
		{"import", "/import", 0},
		{"kinds", "/kinds", 0},
		{"kind", "/kind/tomme", 0},
		{"plan", "/plan/waxed-hard", 0},
		{"trace", "/trace", 0},
		{"trace-lot", "/trace?what=" + b.lot("cellar/C/2"), 0},
		{"stock", "/stock", 0},
		{"customers", "/customers", 0},
		{"find", "/find?words=word", 0},
		{"find-kind", "/find?words=edam", 0},
		{"log", "/log", 0},
		{"log-none", "/log?person=Nobody&what=" + drying, 0},
		{"print", "/print?what=" + drying, 0},
		{"account", "/account", 0},
		{"refused", "/wheel/" + drying + "-99", 404},
		{"nowhere", "/nowhere", 404},
	}
}

// lookBook is the demo's book with something of everything in it.
func lookBook(t *testing.T) *book {
	t.Helper()
	bk := demoBook(t)
	bk.run("customer", "new", "Corner Shop", "--contact", "01 234 5678")
	spoilt := bk.lot("cellar/B/1")
	bk.run("wheel", "hold", spoilt+"-02", "--why", "a test is out")
	bk.run("wheel", "lost", spoilt+"-03", "--why", "it fell")
	bk.run("wheel", "send", bk.lot("cellar/C/2")+"-01", "--to", "Corner Shop", "--override", "a sample for the laboratory")
	bk.run("wheel", "note", bk.lot("drying/A/2")+"-01", "a word about it")
	return bk
}

// looker is somebody logged in who looks at everything.
func looker(t *testing.T, sz size) (*book, *tab) {
	t.Helper()
	bk := lookBook(t)
	bk.password("Nora", secret, "writer")
	s := bk.serve()
	b := open(t, s.addr, sz, "/login")
	b.expect("status of 404")
	b.logIn("Nora", secret)
	b.isIn("Nora")
	return bk, b
}

// eachForm opens what opens over the round, one after the other.
func (b *tab) eachForm(do func(name string)) {
	b.t.Helper()
	b.goTo("/")
	b.tap(`document.querySelector("#sift summary")`)
	do("sift")
	b.tap(`document.querySelector("#sift summary")`)
	forms := []struct {
		id   string
		open func()
	}{
		{"pad", func() { b.begin(b.card("weigh", "drying/A/1"), "all", "pad") }},
		{"part", func() { b.begin(b.card("turn", "drying/A/1"), "other", "part") }},
		{"hand", func() { b.begin(b.card("check", "drying/A/1"), "other", "hand") }},
		{"coat", func() { b.begin(b.card("coat", "drying/A/2"), "all", "coat") }},
		{"book", func() { b.tapUntil(`document.getElementById("tally")`, isOpen("book")) }},
	}
	for _, f := range forms {
		f.open()
		do(f.id)
		if f.id == "pad" {
			b.tapUntil(`document.getElementById("pad-scan")`, isOpen("scan"))
			do("scan")
			b.press(`document.getElementById("scan")`, "close")
		}
		b.press(`document.getElementById("`+f.id+`")`, "close")
		b.until(`!document.querySelector("dialog[open]")`)
	}
}

// eachPage goes through all pages, and the forms of the round.
func (b *tab) eachPage(bk *book, do func(name string)) {
	b.t.Helper()
	for _, p := range bk.places() {
		b.goTo(p.path)
		do(p.name)
	}
	b.eachForm(func(name string) { b.t.Helper(); do("round-" + name) })
}

// axe is what axe-core finds on a page that breaks the rules of WCAG 2.2 AA.
func (b *tab) axe(script, only string) []string {
	b.t.Helper()
	js[any](b, script+"\n;1")
	return js[[]string](b, `axe.run(document, { resultTypes: ["violations"], `+only+` }).then((r) => r.violations.flatMap((v) => v.nodes.map((n) =>
		v.id + ": " + n.target.join(" ") + ": " + [...n.any, ...n.all, ...n.none].map((c) => c.message).join("; "))))`)
}

// axeCore is the script that knows the rules; "" where it is missing.
func axeCore(t *testing.T) string {
	t.Helper()
	script, err := os.ReadFile(filepath.Join(os.Getenv("RINDKEEP_NODE_MODULES"), "axe-core", "axe.min.js"))
	if err != nil && os.Getenv("RINDKEEP_TEST_ALL") == "1" {
		t.Fatal("axe-core is missing")
	}
	return string(script)
}

const (
	allRules = `runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]`
	contrast = `runOnly: { type: "rule", values: ["color-contrast"] }`
)

// rules looks for what breaks the rules of accessibility, in light and dark.
func (b *tab) rules(name, script string) {
	b.t.Helper()
	if script == "" {
		return
	}
	for _, look := range []struct {
		dark bool
		only string
	}{{false, allRules}, {true, contrast}} { // in the dark, nothing else can differ
		b.dark(look.dark)
		for _, v := range b.axe(script, look.only) {
			b.t.Errorf("%s, dark %v: %s", name, look.dark, v)
		}
	}
	b.dark(false)
}

// rulesBite fails where the checks check nothing.
func (b *tab) rulesBite(script string) {
	b.t.Helper()
	if script == "" {
		b.t.Skip("axe-core is missing: all but the rules of accessibility was tried")
	}
	js[any](b, `(document.body.append(document.createElement("button")), 1)`)
	if len(b.axe(script, allRules)) == 0 {
		b.t.Error("a button without a name is not found: the checks check nothing")
	}
}

// unfold opens what is folded: it is as much of a page as the rest.
func (b *tab) unfold() {
	b.t.Helper()
	js[any](b, `(document.querySelectorAll("main details").forEach((d) => { d.open = true; }), 1)`)
}

// wide are the elements that stick out of the page, or of a form over it, and
// do not scroll in a box of their own.
const wide = `(() => {
	const root = document.querySelector("dialog[open]") ?? document.documentElement, w = document.documentElement.clientWidth, out = [];
	if (root.scrollWidth > root.clientWidth) out.push("the page scrolls sideways: " + root.scrollWidth + " in " + root.clientWidth);
	const boxed = (e) => { for (let p = e.parentElement; p && p !== root; p = p.parentElement) if (/auto|scroll|hidden|clip/.test(getComputedStyle(p).overflowX)) return true; return false; };
	for (const e of root.querySelectorAll("*")) {
		if (!e.checkVisibility({ contentVisibilityAuto: true, visibilityProperty: true })) continue;
		const r = e.getBoundingClientRect();
		if (r.width && (r.right > w + 1 || r.left < -1) && !boxed(e) && !e.closest(".said, .skip")) out.push(e.outerHTML.slice(0, 120));
	}
	return out.slice(0, 5);
})()`

// small are targets a gloved thumb would miss: 44 px on the pages, and 56 on the
// round. Links within running text are excused, as WCAG does.
const small = `(() => {
	const out = [], least = document.body.dataset.here === "round" ? 55 : 43;
	const root = document.querySelector("dialog[open]") ?? document.body;
	for (const e of root.querySelectorAll("button, a[href], summary, input:not([type=hidden]), select, textarea")) {
		if (!e.checkVisibility({ contentVisibilityAuto: true, visibilityProperty: true }) || e.closest(".skip, .said")) continue;
		const t = e.matches("input[type=checkbox], input[type=radio]") ? e.closest("label") ?? e : e;
		const r = t.getBoundingClientRect();
		const text = e.matches("a:not(.button)") && getComputedStyle(e).display === "inline";
		const want = e.closest(".top, .day, .notice") ? 43 : least;
		if (!text && r.height < want) out.push(Math.round(r.width) + "x" + Math.round(r.height) + " " + e.outerHTML.slice(0, 100));
	}
	return out.slice(0, 5);
})()`

func TestEveryPageOnThePhone(t *testing.T) {
	script := axeCore(t)
	bk, b := looker(t, phone)
	b.dark(false)
	named := 0
	b.eachPage(bk, func(name string) {
		b.shoot("phone-" + name)
		b.unfold()
		for _, w := range js[[]string](b, wide) {
			t.Errorf("%s: %s", name, w)
		}
		for _, s := range js[[]string](b, small) {
			t.Errorf("%s: too small to meet: %s", name, s)
		}
		named += b.names(name)
		b.headings(name)
		b.rules(name, script)
	})
	if named < 500 {
		t.Errorf("only %d were looked at for their names", named)
	}
	b.rulesBite(script)
}

// As a person sets it in the browser: 200 %.
func TestEveryPageInLargeText(t *testing.T) {
	bk, b := looker(t, phone)
	call(b, page.SetFontSizes, page.SetFontSizesParams{FontSizes: &page.FontSizes{Standard: 32, Fixed: 26}})
	b.eachPage(bk, func(name string) {
		for _, w := range js[[]string](b, wide) {
			t.Errorf("%s: %s", name, w)
		}
		b.shoot("large-" + name)
	})
}

func TestEveryPageOnTheDesk(t *testing.T) {
	script := axeCore(t)
	bk, b := looker(t, desk)
	b.eachPage(bk, func(name string) {
		b.dark(true)
		b.shoot("desk-" + name)
		b.unfold()
		for _, w := range js[[]string](b, wide) {
			t.Errorf("%s: %s", name, w)
		}
		b.rules(name, script)
	})
	b.rulesBite(script)
}

// interactive are the roles a person does something with.
var interactive = []string{"button", "link", "textbox", "searchbox", "combobox", "checkbox", "radio", "spinbutton",
	"listbox", "switch", "tab", "menuitem", "slider", "Date", "DisclosureTriangle", "image", "img", "region", "dialog",
	"navigation"}

// names looks whether a screen reader has a name for everything, and counts
// what it looked at.
func (b *tab) names(page string) (seen int) {
	b.t.Helper()
	buttons := map[string]int{}
	for _, n := range call(b, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{}).Nodes {
		role := words(n.Role)
		if n.Ignored || !slices.Contains(interactive, role) {
			continue
		}
		seen++
		called := words(n.Name)
		if strings.TrimSpace(called) == "" {
			b.t.Errorf("%s: a %s has no name: %s", page, role, b.html(n.BackendDOMNodeID))
		}
		if role == "button" {
			buttons[called]++
		}
	}
	if page == "round" {
		for called, n := range buttons {
			if n > 1 {
				b.t.Errorf("%d buttons of the round are called %q", n, called)
			}
		}
	}
	return seen
}

// headings looks whether a page has a title, a language, and headings that
// leave out no order.
func (b *tab) headings(page string) {
	b.t.Helper()
	if js[string](b, `document.documentElement.lang`) != "en" || js[string](b, `document.title`) == "" {
		b.t.Errorf("%s has no language or no title", page)
	}
	if js[bool](b, `!!document.querySelector("dialog[open]")`) {
		return // it lies over the page, with a heading of its own
	}
	hs := js[[]int](b,
		`[...document.querySelectorAll("h1, h2, h3, h4")].filter((h) => h.checkVisibility()).map((h) => +h.tagName[1])`)
	if len(hs) == 0 || hs[0] != 1 || slices.Contains(hs[1:], 1) {
		b.t.Errorf("%s has headings of the orders %v", page, hs)
	}
	for i := 1; i < len(hs); i++ {
		if hs[i] > hs[i-1]+1 {
			b.t.Errorf("%s has headings of the orders %v", page, hs)
		}
	}
}

func words(v *accessibility.Value) string {
	if v == nil {
		return ""
	}
	var s string
	_ = json.Unmarshal(v.Value, &s)
	return s
}

func (b *tab) html(id cdp.BackendNodeID) string {
	r, err := chromedp.Call(b.ctx, dom.GetOuterHTML, dom.GetOuterHTMLParams{BackendNodeID: id})
	if err != nil {
		return err.Error()
	}
	return r.OuterHTML
}

// Wherever a form refuses, the words are there and the field is marked.
func TestTheDeskWritesAndRefuses(t *testing.T) {
	bk := lookBook(t)
	s := bk.serve()
	before := bk.log()
	tag := bk.lot("drying/A/2") + "-02"
	b := open(t, s.addr, desk, "/wheel/"+tag)
	b.expect("status of 422")
	g := bk.likely(tag)
	b.fill(`document.getElementById("w-weight")`, fmt.Sprint(g+180))
	b.press(`document.querySelector("form[action='/api/weigh']")`, "Weigh")
	b.until(`document.querySelector("form[action='/api/weigh'] .came .wrong")?.textContent.includes("looks wrong")`)
	b.shoot("desk-wheel-doubt")
	if n := len(bk.since(before)); n != 0 {
		t.Errorf("refused, the book has %d entries", n)
	}
	b.fill(`document.getElementById("w-weight")`, fmt.Sprint(g))
	b.press(`document.querySelector("form[action='/api/weigh']")`, "Weigh")
	b.until(`document.getElementById("told")?.innerText.includes("dry enough to coat? DRY ENOUGH")`)
	b.shoot("desk-wheel-told")
	if es := bk.since(before); len(es) != 1 || *es[0].Weight != float64(g) {
		t.Errorf("the book has %+v", es)
	}
	b.press(`document.getElementById("told")`, "Undo")
	b.until(`document.getElementById("told")?.innerText.includes("undone")`)
	for _, e := range bk.since(before) {
		if e.Kind == "weighed" && !e.Struck {
			t.Errorf("taken back, the book has %+v", e)
		}
	}

	b.goTo("/makes/new")
	js[any](b, `(() => { document.getElementById("make-variety").value = "edam"; })()`)
	b.fill(`document.getElementById("make-wheels")`, "3")
	b.fill(`document.getElementById("make-weights")`, "1801, 1822, 1795")
	b.fill(`document.getElementById("make-place")`, "drying/C/1")
	b.press(`document.querySelector("main form")`, "Save")
	b.until(`location.pathname.startsWith("/lot/") && document.getElementById("told")`)
	b.shoot("desk-lot-new")
	if words := b.text(); !strings.Contains(words, "1801") || !strings.Contains(words, "drying/C/1") {
		t.Errorf("the new lot's page shows\n%s", words)
	}

	b.goTo("/room/cellar")
	b.fill(`document.getElementById("a-temp")`, "12,1")
	b.fill(`document.getElementById("a-rh")`, "86")
	b.press(`document.querySelector("form[action='/api/air']")`, "Save")
	b.until(`document.getElementById("told")`)
	var air struct {
		Days []struct{ Readings int }
	}
	bk.read(&air, "air", "show", "cellar")
	if n := len(air.Days); n == 0 || air.Days[n-1].Readings == 0 {
		t.Errorf("a reading was noted, the book has %+v", air)
	}
}

// What an act notes and cautions about stands on the page after it.
func TestWhatAnActNotesIsShownAfterIt(t *testing.T) {
	bk := lookBook(t)
	bk.run("law", "follow", "US")
	s := bk.serve()
	tag := bk.lot("drying/A/2") + "-02"
	b := open(t, s.addr, phone, "/wheel/"+tag)
	told := func(act string, words ...string) {
		t.Helper()
		b.until(`document.getElementById("told")`)
		got := js[string](b, `document.getElementById("told").innerText`)
		for _, w := range words {
			if !strings.Contains(got, w) {
				t.Errorf("after %s the page doesn't show %q:\n%s", act, w, got)
			}
		}
		b.shoot("phone-told-" + act)
	}
	send := func(act, set string) {
		t.Helper()
		b.until(`!document.getElementById("told") && document.documentElement.classList.contains("js") && document.readyState === "complete"`)
		js[any](b, fmt.Sprintf(`(() => { const f = document.querySelector("form[action='/api/%[1]s']"); f.closest("details").open = true; %[2]s; f.requestSubmit(); })()`, act, set))
	}
	send("check", `f.elements.mites.value = "yes"`)
	told("check", "brush or wash off mould and mites", "CAUTION: mite and mould dust")
	b.goTo("/wheel/" + tag)
	send("coat", `f.elements.coat.value = "wax"`)
	told("coat", "early: "+tag, "CAUTION: hot wax burns skin")
	b.goTo("/wheel/" + tag)
	send("send", `f.elements.to.value = "Somebody"; f.elements.override.value = "a sample for the laboratory"`)
	told("send", "CAUTION: food for sale")
}

// Every page is in the navigation, and on a phone a day's bars aren't cut.
func TestThePartsOfTheBookAreAtHandAndBarsAreWhole(t *testing.T) {
	bk := lookBook(t)
	s := bk.serve()
	b := open(t, s.addr, size{"narrow", 390, 800, true}, "/ahead")
	if cut := js[string](b, `[...document.querySelectorAll("svg.load")].filter((x) => x.checkVisibility() && x.getBoundingClientRect().right > innerWidth).length + " of " + document.querySelectorAll("svg.load").length`); !strings.HasPrefix(cut, "0 of ") || cut == "0 of 0" {
		t.Errorf("%s bars are cut", cut)
	}
	for _, at := range []string{"Stock", "Held", "Customers", "Ahead"} {
		if at != "Ahead" {
			b.press(`document.querySelector(".top nav")`, "More")
		}
		b.press(`document.querySelector(".top nav")`, at)
		b.until(`document.querySelector(".top nav [aria-current]")?.textContent.trim() === ` + q(at))
	}
}

// A make is corrected on its page: only what was changed is sent, an emptied field
// too, and it can be undone; so can its removal.
func TestAMakeIsCorrectedAndRemovedOnItsPage(t *testing.T) {
	bk := lookBook(t)
	s := bk.serve()
	lot := bk.lot("drying/A/2")
	show := func() (d struct {
		Make struct {
			Date   string
			SoldAs string  `json:"sold_as"`
			Litres float64 `json:"milk_l"`
			Wheels int
		}
		Corrections []struct {
			Why     string
			Removed bool
			Changes []struct{ Field string }
		}
	}) {
		bk.read(&d, "make", "show", lot)
		return d
	}
	was := show()
	b := open(t, s.addr, desk, "/lot/"+lot)
	b.expect("status of 422", "status of 400")
	form := `document.querySelector("form[action='/api/correct']")`
	correct := func(fields map[string]string) {
		b.press(`document.querySelector("main")`, "Correct the make")
		js[any](b, `(`+form+`.querySelectorAll("details").forEach((d) => { d.open = true; }), 1)`)
		for id, words := range fields {
			b.fill(`document.getElementById("correct-`+id+`")`, words)
		}
		b.press(form, "Correct")
	}
	correct(map[string]string{"sold_as": "Fell Cheddar", "why": "misread"})
	b.until(`document.getElementById("told")?.innerText.includes("corrected")`)
	d := show()
	if d.Make.SoldAs != "Fell Cheddar" || len(d.Corrections) != 1 || len(d.Corrections[0].Changes) != 1 {
		t.Errorf("corrected, it is %+v", d)
	}
	if words := b.text(); !strings.Contains(words, "Fell Cheddar") || !strings.Contains(words, "misread") {
		t.Errorf("the lot's page shows\n%s", words)
	}
	b.shoot("desk-lot-corrected")
	correct(map[string]string{"sold_as": "", "litres": "31", "why": "no such name"})
	b.until(`document.querySelector("main").innerText.includes("no such name")`)
	if d := show(); d.Make.SoldAs != "" || d.Make.Litres != 31 || len(d.Corrections) != 2 {
		t.Errorf("corrected once more, it is %+v", d)
	}
	b.press(`document.getElementById("told")`, "Undo")
	b.until(`document.getElementById("told")?.innerText.includes("undone")`)
	if d := show(); d.Make.SoldAs != "Fell Cheddar" || d.Make.Litres != was.Make.Litres || len(d.Corrections) != 1 {
		t.Errorf("undone, it is %+v", d)
	}

	b.press(`document.querySelector("main")`, "Remove the make")
	b.fill(`document.getElementById("v-why")`, "entered twice")
	b.press(`document.querySelector("form[action='/api/void']")`, "Remove lot "+lot)
	b.until(`document.querySelector("form[action='/api/void'] .came .wrong")?.textContent.includes("looked after")`)
	b.press(`document.querySelector("form[action='/api/void']")`, "It’s right")
	b.until(`document.querySelector("main").innerText.includes("This make was removed as a mistake")`)
	b.shoot("desk-lot-removed")
	if d := show(); len(d.Corrections) != 2 || !d.Corrections[1].Removed {
		t.Errorf("removed, it is %+v", d)
	}
	b.press(`document.getElementById("told")`, "Undo")
	b.until(`document.getElementById("told")?.innerText.includes("undone")`)
	if d := show(); len(d.Corrections) != 1 {
		t.Errorf("the removal undone, it is %+v", d)
	}
}

// A table cut off at the edge of a phone says that it goes on, until its end is
// in sight; one with room says nothing.
func TestATableBecomesCardsOnAPhoneOrSaysThereIsMore(t *testing.T) {
	bk := lookBook(t)
	s := bk.serve()
	for _, path := range []string{"/stock", "/rooms", "/makes", "/wheel/" + bk.lot("drying/A/2") + "-01"} {
		p := open(t, s.addr, phone, path)
		p.until(`document.querySelector(".cards td")?.checkVisibility() && getComputedStyle(document.querySelector(".cards td[data-head]"), "::before").content.length > 3`)
		if js[bool](p, `[...document.querySelectorAll(".wide")].some((e) => e.scrollWidth > e.clientWidth + 4)`) {
			t.Errorf("%s: a table is wider than the phone", path)
		}
		p.shoot("phone-cards" + strings.ReplaceAll(path, "/", "-"))
		b := open(t, s.addr, size{"tablet", 500, 800, true}, path)
		const box = `[...document.querySelectorAll(".wide")].find((e) => e.scrollWidth > e.clientWidth + 4)`
		const words = box + `.previousElementSibling`
		b.until(words + `.checkVisibility() && ` + words + `.textContent.startsWith("more to the right")`)
		js[any](b, `(`+box+`.scrollLeft = 9999, 1)`)
		b.until(words + `.textContent.endsWith("more to the left")`)
		d := open(t, s.addr, desk, path)
		d.until(`document.querySelector(".wide").previousElementSibling.matches(".more")`)
		if js[bool](d, `[...document.querySelectorAll(".more")].some((e) => e.checkVisibility())`) {
			t.Errorf("%s has room for its tables on a desk, and says there is more", path)
		}
	}
}
