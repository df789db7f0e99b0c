package browsertest

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
)

// shifted sets the clock of a phone, for the pages it opens from now on.
func (b *tab) shifted(by time.Duration) {
	b.t.Helper()
	call(b, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: fmt.Sprintf(`{
		const Right = Date, now = Date.now;
		if (!("clockIs" in globalThis)) globalThis.Date = class extends Right {
			constructor(...a) { super(...(a.length ? a : [now() + clockIs])); }
			static now() { return now() + clockIs; }
		};
		globalThis.clockIs = %d;
	}`, by.Milliseconds())})
}

// The first round on a phone whose clock is wrong: no answer came before the signal
// went, but the page itself said how late it was.
func TestAWrongClockOnAPhonesFirstRound(t *testing.T) {
	for _, c := range []struct {
		by   time.Duration
		says string
	}{
		{-(3*time.Hour + 12*time.Minute), "This phone’s clock is 3 h 12 min slow: rindkeep saves the right time"},
		{50 * time.Hour, "This phone’s clock is 2 days fast: rindkeep saves the right time"},
	} {
		t.Run(c.by.String(), func(t *testing.T) {
			bk := demoBook(t)
			s := bk.serve()
			a := s.air()
			before := bk.log()
			b := open(t, a.url(), phone, "")
			b.expect(noSignal...)
			b.shifted(c.by)
			b.goTo("/")
			b.atHand()
			a.goes(b)
			b.until(`document.getElementById("news").textContent.includes(` + q(c.says) + `)`)
			b.shoot("phone-clock-off")
			from := time.Now()
			line := b.card("turn", "cellar/B/1")
			b.tapUntil(onCard(line, "all"), folded(line))
			to := time.Now()
			// The page that the phone kept is old, and teaches nothing.
			b.reload()
			b.until(`document.getElementById("news").textContent.includes(` + q(c.says) + `)`)
			a.comes(b)
			b.allSent()
			if !js[bool](b, folded(line)) {
				t.Error("sent, the line is open again")
			}
			es := bk.since(before)
			if len(es) != len(line.Wheels) {
				t.Fatalf("the book has %+v", es)
			}
			for _, e := range es {
				at, said := when(t, e.At), when(t, e.Clock)
				if at.Before(from.Add(-2*time.Second)) || at.After(to.Add(2*time.Second)) {
					t.Errorf("tapped from %v to %v, the book says %v", from, to, at)
				}
				if off := said.Sub(at) - c.by; off.Abs() > 3*time.Second {
					t.Errorf("by the phone's clock it was %v, the book says %v", at.Add(c.by), said)
				}
			}
			own := "(phone's clock: " + es[0].Clock[:10]
			if card := string(bk.run("wheel", "show", "--", es[0].Of)); !strings.Contains(strings.Join(strings.Fields(card), " "), own) {
				t.Errorf("the card doesn't say %q:\n%s", own, card)
			}
		})
	}
	// A clock that is about right is not worth a word.
	bk := demoBook(t)
	s := bk.serve()
	b := open(t, s.addr, phone, "")
	b.shifted(-90 * time.Second)
	b.goTo("/")
	line := b.card("turn", "cellar/B/1")
	before := bk.log()
	b.tapUntil(onCard(line, "all"), folded(line))
	b.allSent()
	for _, e := range bk.since(before) {
		if e.Clock != "" {
			t.Errorf("a clock 90 seconds slow was kept: %+v", e)
		}
	}
	if words := b.text(); strings.Contains(words, "clock is") {
		t.Errorf("a clock 90 seconds slow is told of:\n%s", words)
	}
}

// A phone finds its time from a mast between two taps without signal, and its clock jumps
// back two hours. Both entries keep their right times; a reload does not change that.
func TestAClockThatJumpsBackBetweenTwoTaps(t *testing.T) {
	for _, c := range []struct {
		name string
		by   time.Duration // how far off the clock is until then
	}{{"from right to slow", 0}, {"from fast to right", 2 * time.Hour}} {
		t.Run(c.name, func(t *testing.T) {
			bk := demoBook(t)
			a := bk.serve().air()
			before := bk.log()
			b := open(t, a.url(), phone, "")
			b.expect(noSignal...)
			b.shifted(c.by)
			b.goTo("/")
			b.atHand()
			a.goes(b)
			lines := []card{b.card("turn", "cellar/B/1"), b.card("turn", "cellar/C/2")}
			var from, to [2]time.Time
			for i, line := range lines {
				from[i] = time.Now()
				b.tapUntil(onCard(line, "all"), folded(line))
				to[i] = time.Now()
				js[any](b, fmt.Sprintf(`globalThis.clockIs = %d`, (c.by-2*time.Hour).Milliseconds()))
			}
			if c.by == 0 {
				b.says("This phone’s clock is 2 h slow")
			} else {
				b.until(`!document.getElementById("clock")`)
			}
			b.shifted(c.by - 2*time.Hour) // nothing puts it right again
			b.reload()
			a.comes(b)
			b.allSent()
			es := bk.since(before)
			if len(es) != len(lines[0].Wheels)+len(lines[1].Wheels) {
				t.Fatalf("the book has %+v", es)
			}
			for _, e := range es {
				i := 0
				if slices.Contains(lines[1].Wheels, e.Of) {
					i = 1
				}
				at := when(t, e.At)
				if at.Before(from[i].Add(-2*time.Second)) || at.After(to[i].Add(2*time.Second)) || e.Unsure {
					t.Errorf("%s was tapped from %v to %v, the book says %v, unsure: %t", e.did(), from[i], to[i], at, e.Unsure)
				}
			}
		})
	}
}

// The clock was set while the page was closed and no signal had told the time: nobody
// can know which time is right, and the entry says so.
func TestATimeThatNobodyKnowsIsUncertain(t *testing.T) {
	bk := demoBook(t)
	a := bk.serve().air()
	before := bk.log()
	b := open(t, a.url(), phone, "")
	b.expect(noSignal...)
	b.goTo("/")
	b.atHand()
	a.goes(b)
	b.reload()
	line := b.card("turn", "cellar/B/1")
	b.tapUntil(onCard(line, "all"), folded(line))
	b.shifted(-2 * time.Hour)
	b.reload()
	a.comes(b)
	b.allSent()
	b.tap(`document.getElementById("tally")`)
	b.until(isOpen("book"))
	b.until(`document.getElementById("book-list").textContent.includes("Time uncertain: this phone’s clock was changed")`)
	b.shoot("phone-clock-unsure")
	es := bk.since(before)
	for _, e := range es {
		if !e.Unsure || e.Clock == "" {
			t.Errorf("the book takes it for certain: %+v", e)
		}
	}
	if card := string(bk.run("wheel", "show", "--", es[0].Of)); !strings.Contains(card, "(time uncertain: the phone's clock") {
		t.Errorf("the card doesn't say so:\n%s", card)
	}
	bk.run("book", "check")
}
