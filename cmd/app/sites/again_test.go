package sites

import (
	"testing"
)

// What a site wrote before its book was lost counts for those who hear of it later too, no
// matter which site had let it in.
func TestASiteThatJoinsAgainKeepsWhatItWroteBefore(t *testing.T) {
	for _, heard := range []bool{true, false} { // whether the first site had heard that it joined
		w := newWorld(t, 3, 2)
		a, b := w.sites[0], w.sites[1]
		w.calm(func() { w.exchangeAll([]*member{a, b, a, b}) })
		c := w.member("c")
		w.calm(func() {
			w.join(c, b)
			w.act(c, "make")
			w.exchangeAll([]*member{b, c, b, c})
			if heard {
				w.exchangeAll([]*member{a})
			}
		})
		for _, l := range w.links { // b has what c wrote last, and no carrier any more
			l.kept = l.kept[:0]
		}
		w.hasty = false
		w.lose(c)
		w.now = w.now.Add(1)
		d := w.member("d") // it hears of all this late
		w.calm(func() {
			w.join(d, a)
			w.settle()
		})
		if got, want := len(w.facts(d)), len(w.facts(b)); got != want || want == 0 {
			t.Errorf("heard %v: d has %d facts, b %d", heard, got, want)
		}
	}
}
