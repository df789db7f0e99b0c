package browsertest

import (
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
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

const (
	allRules = `runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]`
	contrast = `runOnly: { type: "rule", values: ["color-contrast"] }`
)

// unfold opens what is folded: it is as much of a page as the rest.
func (b *tab) unfold() {
	b.t.Helper()
	js[any](b, `(document.querySelectorAll("main details").forEach((d) => { d.open = true; }), 1)`)
}

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
