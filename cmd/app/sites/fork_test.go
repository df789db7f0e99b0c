package sites

import (
	"slices"
	"testing"
	"time"
)

// Two computers are one site: each wrote link 1, and another site took the one's where the carriers
// have the other's. It tells them, and gets what it lacks.
func TestAForkIsToldToWhoeverWroteIt(t *testing.T) {
	w := newWorld(t, 3, 3)
	w.links = w.links[:1]
	l, a, b, c := w.links[0], w.sites[0], w.sites[1], w.sites[2]
	w.calm(func() {
		for range 3 {
			w.exchangeAll(w.sites)
		}
		w.double(b)
		other := w.sites[3]
		w.act(other, "make")
		before := *l
		before.kept = slices.Clone(l.kept)
		w.exchangeAll([]*member{other, c}) // what the copy wrote is at c
		*l = before                        // and nowhere else: the carrier was set back
		w.act(b, "make")
		w.act(b, "make")
		w.exchangeAll([]*member{b, a})
		w.settle()
	})
	for _, m := range w.sites {
		if got, want := len(w.facts(m)), len(w.facts(b)); got != want {
			t.Errorf("%s has %d facts, b %d", m.name, got, want)
		}
	}
}

// Two copies of a site's book wrote a room at one instant: the same one stands in every book,
// though its name is another in each.
func TestOfTwoRecordsOfOneInstantTheSameStandsEverywhere(t *testing.T) {
	for seed := range uint64(6) { // the checksums of some are the other way round elsewhere
		w := newWorld(t, seed, 3)
		w.calm(func() {
			for range 3 {
				w.exchangeAll(w.sites)
			}
			w.double(w.sites[1])
			w.now = w.now.Add(time.Hour)
			b, other := w.sites[1], w.sites[3]
			other.off = b.off
			w.act(b, "room")
			w.act(other, "room")
			w.settle()
		})
		want := w.facts(w.sites[0])["room b:cellar"]
		for _, m := range w.sites {
			if got := w.facts(m)["room b:cellar"]; got != want {
				t.Errorf("%s: %s, and %s", m.name, got, want)
			}
		}
	}
}
