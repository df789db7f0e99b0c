package browsertest

import (
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/storage"
)

// clears empties a phone's storage, as a browser short of space does, or a person who
// tidies up.
func (b *tab) clears(types string) {
	b.t.Helper()
	b.visit("about:blank")
	call(b, storage.ClearDataForOrigin, storage.ClearDataForOriginParams{Origin: "http://" + b.home, StorageTypes: types})
}

// says waits until the news on the page has the words.
func (b *tab) says(words string) {
	b.t.Helper()
	b.until(`document.getElementById("news").textContent.includes(` + q(words) + `)`)
}

// A round without signal, and the browser throws the storage away before it's sent. The
// cookie stays, so the phone knows how many entries there were, and when.
func TestClearedStorageIsToldOf(t *testing.T) {
	bk := demoBook(t)
	bk.password("Nora", "a long enough secret", "writer")
	s := bk.serve()
	a := s.air()
	before := bk.log()
	b := open(t, a.url(), phone, "/login")
	b.expect(append(noSignal, "status of 4")...)
	b.logIn("Nora", "a long enough secret")
	b.isIn("Nora")
	b.atHand()
	// What the browser promised is said before the round.
	b.until(`/^This browser (keeps your entries on this phone until|may delete unsent entries if)/.test(document.getElementById("keeps").textContent)`)
	b.shoot("phone-keeps")
	sent := b.card("turn", "cellar/B/1")
	b.tapUntil(onCard(sent, "all"), folded(sent))
	b.allSent()
	a.goes(b)
	const lost = 4
	var cs []card
	for _, c := range b.cards() {
		if c.Kind == "did" && !c.Done && len(cs) < lost {
			cs = append(cs, c)
		}
	}
	for _, c := range cs {
		b.tapUntil(onCard(c, "all"), folded(c))
	}
	b.until(fmt.Sprintf(`document.getElementById("post").textContent === "%d saved on this phone: no signal"`, lost))
	b.clears("indexeddb,local_storage,cache_storage,service_workers")
	a.comes(b)
	b.goTo("/")
	b.says("4 entries never reached the book. They were entered by Nora on this phone on ")
	b.says("its storage was cleared before they were sent")
	b.shoot("phone-cleared")
	if es := bk.since(before); len(es) != len(sent.Wheels) {
		t.Errorf("the book has %d entries, want those of the one job that was sent", len(es))
	}
	// It's said until the person has seen to it, also after more was entered.
	c := b.card("turn", "cellar/C/2")
	b.tapUntil(onCard(c, "all"), folded(c))
	b.allSent()
	b.reload()
	b.says("4 entries never reached the book")
	b.press(`document.getElementById("news")`, "Done, don’t show this again")
	b.until(`!document.querySelector(".missing")`)
	b.reload()
	b.until(`!document.getElementById("keeps").hidden`)
	js[any](b, `new Promise((yes) => navigator.locks.request("rindkeep-send", yes))`)
	if js[bool](b, `!!document.querySelector(".missing")`) {
		t.Error("told again after the person had seen to it")
	}

	// One the book refuses waits on the phone, and the server knows its number. Then all
	// is cleared, cookies too: the next person to log in hears of the old phone's entry.
	gone := c.Wheels[0]
	d := b.card("rub", "cellar/C/2")
	a.goes(b)
	bk.run("wheel", "lost", gone, "--why", "it fell")
	b.tapUntil(onCard(d, "all"), folded(d))
	a.comes(b)
	b.until(`document.getElementById("post").textContent === "1 needs you"`)
	b.reload() // and so tells the server
	js[any](b, `new Promise((yes) => navigator.locks.request("rindkeep-send", yes))`)
	b.clears("all")
	b.goTo("/login")
	b.logIn("Nora", "a long enough secret")
	b.isIn("Nora")
	b.says("1 entry never reached the book. It was entered by Nora on another phone of yours on ")
	b.shoot("phone-other-phone")
	bk.run("book", "check")
}
