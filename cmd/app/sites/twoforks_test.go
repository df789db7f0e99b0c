package sites

import (
	"slices"
	"testing"
)

// Two sites were two computers each, and each of them found the other's second branch on a stick that
// nobody else read. Neither tells for ever of what the other tells.
func TestTwoSitesThatAreTwoComputersEachComeToRest(t *testing.T) {
	w := newWorld(t, 3, 3)
	w.links = w.links[:1]
	l, b, c := w.links[0], w.sites[1], w.sites[2]
	w.calm(func() {
		w.settle()
		before := slices.Clone(l.kept)
		for i := range before {
			before[i].raws = slices.Clone(before[i].raws)
		}
		sticks := map[*member]*memory{}
		for _, m := range []*member{b, c} {
			w.twin = ""
			w.double(m)
			lost := w.sites[3]
			w.sites = w.sites[:3]
			w.act(lost, "make")
			stick := &memory{rnd: l.rnd}
			for _, e := range before {
				e.raws = slices.Clone(e.raws)
				stick.kept = append(stick.kept, e)
			}
			w.exchange(lost, stick)
			sticks[m] = stick
			w.act(m, "make")
			w.act(m, "make")
		}
		w.settle()
		w.exchange(c, sticks[b])
		w.exchange(b, sticks[c])
		w.settle()
	})
	for _, m := range w.sites {
		w.check(m)
	}
}
