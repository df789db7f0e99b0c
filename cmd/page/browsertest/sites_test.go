package browsertest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// faith is how long what goes from site to site may take: over a folder, pages exchange every ten
// seconds, and try more seldom while it's away.
const faith = 5 * time.Minute

// shows opens a page again and again until an expression is true on it.
func (b *tab) shows(path, expr string) {
	b.t.Helper()
	for end := time.Now().Add(faith); ; time.Sleep(500 * time.Millisecond) {
		b.goTo(path)
		if b.comes(expr, 0) == nil {
			return
		}
		if time.Now().After(end) {
			b.t.Fatalf("%s never comes to %s\n%s", path, expr, b.text())
		}
	}
}

// says is an expression: the page says these words.
func says(words string) string {
	return `document.body.textContent.replace(/\s+/g, " ").includes(` + q(words) + `)`
}

// sends fills a form, sends it by its button, and waits for what the page says then.
func (b *tab) sends(form, button, told string, fields map[string]string) {
	b.t.Helper()
	for id, words := range fields {
		b.fill(`document.getElementById(`+q(id)+`)`, words)
	}
	b.press(`document.querySelector(`+q(form)+`)`, button)
	b.until(`document.getElementById("told")?.innerText.includes(` + q(told) + `)`)
}

// Two sites, each with its page and a browser: the link between them goes down, both work on, a
// wheel goes from one to the other, and they contradict each other. When the link is back both
// show all of it, and what is settled at one is settled at the other.
func TestTwoSitesThroughAnOutage(t *testing.T) {
	north, south := demoBook(t), aloneBook(t)
	stick, pocket := filepath.Join(t.TempDir(), "stick"), filepath.Join(t.TempDir(), "pocket")
	if err := os.Mkdir(stick, 0o755); err != nil {
		t.Fatal(err)
	}
	north.run("sites", "found", "north", "--via", stick)
	south.run("sites", "join", strings.TrimSpace(string(north.run("sites", "invite", "south"))))
	south.run("room", "new", "vault", "--temp", "11", "--rh", "92", "--racks", "B:4x8")
	other, err := start("second profile")
	if err != nil {
		t.Fatalf("the second browser doesn't start: %v", err)
	}
	n := open(t, north.serve().addr, desk, "")
	s := newTab(t, other, south.serve().addr, phone, "")
	both := map[string]*tab{"north": n, "south": s}

	n.shows("/sites", `[...document.querySelectorAll("tr")].some((r) => /^south.*joined$/s.test(r.innerText.trim()))`)
	s.shows("/wheels", says("north:"))

	if err := os.Rename(stick, pocket); err != nil {
		t.Fatal(err)
	}
	n.goTo("/makes/new")
	js[any](n, `(() => { document.getElementById("make-variety").value = "edam"; })()`)
	n.sends("main form", "Save", "saved", map[string]string{"make-wheels": "1", "make-place": "drying/C/1"})
	lot := strings.TrimPrefix(js[string](n, `location.pathname`), "/lot/")
	tag := lot + "-01"
	n.goTo("/wheel/" + tag + "#do-move")
	n.sends("#do-move form", "Move", "moved: "+tag, map[string]string{"m-place": "south:"})
	n.goTo("/sites")
	n.until(says("1 wheel from drying to south"))
	n.goTo("/stock")
	n.until(says("1 on the way between sites"))
	n.goTo("/customers")
	n.sends("main form[method=post]", "Save", "customer saved", map[string]string{"cu-name": "Shop", "cu-contact": "456"})

	s.goTo("/sites#receive")
	s.sends("#receive form", "Receive", "received: "+tag, map[string]string{"r-tags": tag, "r-place": "vault/B/1"})
	s.until(says("Received, without data yet") + ` && ` + says(tag+" at vault/B/1"))
	s.goTo("/customers")
	s.sends("main form[method=post]", "Save", "customer saved", map[string]string{"cu-name": "Shop", "cu-contact": "789"})
	for name, b := range both {
		b.shows("/sites", says("No exchange with other sites for"))
		b.until(`/^[1-9].*ago$/s.test([...document.querySelectorAll("[aria-labelledby=ways] tbody td")].slice(-2).map((c) => c.innerText).join(" "))`)
		b.shoot(name + "-outage")
	}

	if err := os.Rename(pocket, stick); err != nil {
		t.Fatal(err)
	}
	script := axeCore(t)
	for name, b := range both {
		b.shows("/sites", says("Customer Shop"))
		b.shoot(name + "-disagreement")
		b.unfold()
		for _, w := range append(js[[]string](b, wide), js[[]string](b, small)...) {
			t.Errorf("%s: %s", name, w)
		}
		b.names(name)
		b.headings(name)
		b.rules(name, script)
		b.goTo("/wheels")
		b.press(`document.querySelector("main .notice.alarm")`, "1 disagreement between sites to settle")
		b.until(`location.pathname === "/sites"`)
	}
	n.shows("/wheel/"+tag, says("at south:vault/B/1"))
	s.shows("/wheel/north:"+tag, says("at vault/B/1"))
	s.goTo("/sites")
	if words := s.text(); strings.Contains(words, "without data") {
		t.Errorf("the data has come, and the page says\n%s", words)
	}

	s.press(`document.querySelector("main")`, "Take north’s instead")
	s.until(`document.getElementById("told")?.innerText.includes("settled")`)
	n.shows("/sites", `!`+says("Customer Shop"))
	for name, b := range both {
		b.goTo("/customers")
		if words := b.text(); !strings.Contains(words, "456") || strings.Contains(words, "disagreement") {
			t.Errorf("settled, the page of %s says\n%s", name, words)
		}
		b.shoot(name + "-settled")
	}
	for _, bk := range []*book{north, south} {
		bk.run("book", "check")
	}
}
