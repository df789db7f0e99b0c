package browsertest

import "testing"

// The hand that holds the phone lies over the edge of what is open.
func TestAThumbOnTheEdgeOfThePadKeepsIt(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	b := open(t, s.addr, phone, "/")
	b.begin(b.card("weigh", "drying/A/2"), "all", "pad")
	b.keys("19")
	const shown = `document.getElementById("pad-figure").textContent`
	b.until(shown + ` === "19"`)
	for _, y := range []float64{120, 400, 700} {
		const left = 2
		b.tapAt(left, y)
	}
	b.keys("4")
	b.until(shown + ` === "194"`)
	b.until(isOpen("pad"))
	// On the desk there is room beside it, and a tap there closes it.
	d := open(t, s.addr, desk, "/")
	d.begin(d.card("weigh", "drying/A/2"), "all", "pad")
	d.tapAt(5, 300)
	d.until(`!` + isOpen("pad"))
}

// One page stays open as Nora's while Bram logs in beside it on the same phone.
func TestAPageLeftOpenWritesNothingUnderAnothersName(t *testing.T) {
	bk := demoBook(t)
	bk.password("Nora", "a long enough secret", "writer")
	bk.password("Bram", "another long secret", "writer")
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/login")
	const slow = "preloaded using link preload" // the log-in page stood longer than the browser likes
	b.expect("status of 401", slow)
	b.logIn("Nora", "a long enough secret")
	b.isIn("Nora")
	o := b.second("/stock")
	o.expect("status of 401", slow)
	o.press(`document.querySelector("header")`, "Log out")
	o.isOut()
	o.logIn("Bram", "another long secret")
	o.isIn("Bram")
	c := b.card("turn", "cellar/B/1")
	b.tapUntil(onCard(c, "all"), folded(c))
	b.until(`document.getElementById("post").textContent === "log in to send 1"`)
	if es := bk.since(before); len(es) != 0 {
		t.Errorf("Nora's tap while Bram is logged in: the book has %+v", es)
	}
}
