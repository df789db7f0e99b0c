package browsertest

import (
	"fmt"
	"testing"
)

// tabTo presses the tab key until the focus is on an element, and looks whether
// the focus can be seen wherever it goes.
func (b *tab) tabTo(el string) {
	b.t.Helper()
	for range 150 {
		b.keys("\t")
		if js[bool](b, `document.activeElement === (`+el+`)`) {
			return
		}
		if lost := js[string](b, `(() => { const e = document.activeElement; if (!e || e === document.body) return ""; const s = getComputedStyle(e), r = e.getBoundingClientRect();
			return s.outlineStyle === "none" || parseFloat(s.outlineWidth) < 2 ? "no outline: " + e.outerHTML.slice(0, 150) : r.bottom < 0 || r.top > innerHeight ? "out of sight: " + e.outerHTML.slice(0, 150) : ""; })()`); lost != "" {
			b.t.Errorf("the focus cannot be seen, %s", lost)
		}
	}
	b.t.Fatalf("the tab key does not lead to %s\n%s", el, b.text())
}

func TestTheKeyboardAloneWillDo(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, desk, "/")
	b.dark(false) // and nothing moves
	c := b.card("turn", "drying/A/1")
	b.tabTo(onCard(c, "all"))
	b.keys("\r")
	b.until(folded(c))
	if js[bool](b, `document.activeElement === document.body`) {
		t.Error("done by the keyboard, the focus is nowhere")
	}
	b.allSent()

	w := b.card("weigh", "drying/A/2")
	b.tabTo(onCard(w, "all"))
	b.keys("\r")
	b.until(isOpen("pad"))
	tag := w.Wheels[0]
	g := bk.likely(tag)
	b.keys(fmt.Sprint(g) + "7\b")
	b.keys("\r")
	b.until(answered + `.includes("DRY ENOUGH")`)
	b.keys("\x1b")
	b.until(`!document.querySelector("dialog[open]")`)
	// The focus is back on the list.
	b.until(`!!document.activeElement.closest(".card")`)
	b.allSent()
	n := map[string]int{}
	for _, e := range bk.since(before) {
		n[e.did()]++
	}
	want := map[string]int{"weighed " + tag: 1}
	for _, x := range c.Wheels {
		want["turned "+x] = 1
	}
	if fmt.Sprint(n) != fmt.Sprint(want) {
		t.Errorf("the book has %v, want %v", n, want)
	}

	// The first stop of every page leads past the navigation.
	b.goTo("/rooms")
	b.keys("\t")
	if !js[bool](b, `document.activeElement.classList.contains("skip")`) {
		t.Error("the first stop of the tab key is not the way past the navigation")
	}
	b.keys("\r")
	b.keys("\t")
	if !js[bool](b, `!!document.activeElement.closest("main")`) {
		t.Error("past the navigation the focus is not in the page itself")
	}
}
