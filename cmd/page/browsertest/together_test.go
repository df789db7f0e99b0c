package browsertest

import (
	"strings"
	"testing"
)

// Two phones without signal on one round: both say that all were turned, and that is
// one round, unless one of them says that it was done twice.
func TestTwoPhonesDoOneRound(t *testing.T) {
	bk := demoBook(t)
	bk.password("Nora", "a long enough secret", "writer")
	bk.password("Bram", "another long secret", "writer")
	s := bk.serve()
	before := bk.log()
	var airs []*air
	var phones []*tab
	for _, p := range [][2]string{{"Nora", "a long enough secret"}, {"Bram", "another long secret"}} {
		a := s.air()
		b := open(t, a.url(), phone, "/login")
		b.expect(noSignal...)
		b.logIn(p[0], p[1])
		b.atHand()
		airs, phones = append(airs, a), append(phones, b)
	}
	nora, bram := phones[0], phones[1]
	// A job that comes twice a day, and one that comes weekly.
	daily, weekly := nora.card("turn", "drying/A/2"), nora.card("turn", "cellar/B/1")
	for i, b := range phones {
		airs[i].goes(b)
		for _, c := range []card{daily, weekly} {
			b.tapUntil(onCard(c, "all"), folded(c))
		}
	}
	rounds := func() (n, shared int) {
		for _, e := range bk.since(before) {
			switch {
			case e.Struck || e.What != "turned":
			case e.Round != "":
				shared++
			default:
				n++
			}
		}
		return n, shared
	}
	want := len(daily.Wheels) + len(weekly.Wheels)
	airs[0].comes(nora)
	nora.allSent()
	airs[1].comes(bram)
	bram.allSent()
	if n, shared := rounds(); n != want || shared != want {
		t.Fatalf("%d wheels were turned by two people: the book counts %d and shares %d", want, n, shared)
	}
	bram.until(`document.getElementById("together")?.textContent.startsWith("2 jobs were recorded already by somebody else")`)
	bram.shoot("phone-together")
	if words := js[string](bram, `document.getElementById("c`+weekly.Key+`").textContent`); !strings.Contains(words,
		"recorded already by Nora at ") {
		t.Errorf("the card says %q", words)
	}
	bram.press(`document.getElementById("together")`, "Look at them")
	bram.until(isOpen("book"))
	if words := bram.text(); strings.Count(words, "recorded already by Nora at ") != 2 {
		t.Errorf("the page doesn't say who recorded the round:\n%s", words)
	}
	bram.shoot("phone-together-entries")
	// The weekly one really was done twice.
	bram.tap(`[...document.querySelectorAll("#book-list button")].find((x) => x.ariaLabel?.startsWith("Done twice") && x.ariaLabel.includes(` +
		q(weekly.Wheels[0][:7]) + `))`)
	bram.allSent()
	comes(t, "a round more in the book", func() bool {
		n, shared := rounds()
		return n == want+len(weekly.Wheels) && shared == len(daily.Wheels)
	})
	bram.press(`document.getElementById("book")`, "close")
	// The day's second round is still on everybody's list, and counts.
	const evening = `document.querySelector(".shelf[data-place='drying/A/2'] .card[data-job=turn][data-round='2'].is-later [data-do=all]")`
	bram.until(evening)
	bram.tap(evening)
	bram.allSent()
	comes(t, "the second round in the book", func() bool {
		n, shared := rounds()
		return n == want+len(weekly.Wheels)+len(daily.Wheels) && shared == len(daily.Wheels)
	})
}
