package sites

import (
	"crypto/sha256"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cmd/carrier/keys"
	"rindkeep/store/bundle"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/sites"
)

// A thief of a site's key puts branches of its epoch on a carrier that no honest program wrote, or that
// are too large to pass on. The sites go on exchanging what they write, and come to rest.
func TestABranchThatNoBookCanHaveWrittenHoldsNothingUp(t *testing.T) {
	fact := func(bucket string, key, v []byte) []sites.Fact {
		return []sites.Fact{{Code: layout.Codes[bucket], Key: key, Value: v}}
	}
	noise := make([]byte, bundle.MostRaw-2000)
	r := rand.NewChaCha8([32]byte{})
	_, _ = r.Read(noise)
	photo := sha256.Sum256(noise)
	for name, bad := range map[string]struct {
		facts []sites.Fact
		head  func(*bundle.Bundle)
	}{
		"a fact that can't be read":  {facts: fact(layout.Makes, make([]byte, 16), []byte("{"))},
		"a fact of a newer program":  {facts: []sites.Fact{{Code: 0x2f, Key: []byte("k"), Value: []byte("v")}}},
		"as large as can be":         {facts: fact(layout.Photos, photo[:], pack.Sealed(noise))},
		"a branch under another key": {facts: fact(layout.Branches, make([]byte, 72), pack.Sealed([]byte("x")))},
		"fewer links than it says":   {head: func(b *bundle.Bundle) { b.Last += 5 }},
		"another last link":          {head: func(b *bundle.Bundle) { b.After[31]++ }},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t, 3, 3)
			w.links = w.links[:1]
			l, a, b, c := w.links[0], w.sites[0], w.sites[1], w.sites[2]
			w.act(b, "make")
			w.act(b, "turn")
			w.calm(w.settle)
			own := w.own(b)
			key, err := keys.Open(b.Book).Key(own.Epoch)
			w.must(err)
			var of bundle.Bundle
			for _, raw := range l.of(own.Site, own.Epoch).raws {
				if x, _, err := bundle.Open(raw); err == nil && x.First > of.First {
					of = x
				}
			}
			links, err := sites.Unpack(of.Payload)
			w.must(err)
			for _, n := range []int{len(links), 1} { // of an epoch that begins with it, too
				x, links := of, slices.Clone(links[:n])
				link := &links[n-1]
				if link.Ms++; bad.facts != nil {
					link.Facts = bad.facts
				}
				x.Last, x.After, x.Payload = x.First+uint64(n)-1, x.Before, sites.Pack(links)
				for i, l := range links {
					x.After = l.Follow(x.After, x.First+uint64(i))
				}
				if bad.head != nil {
					bad.head(&x)
				}
				raw, err := bundle.Seal(key.Key, x)
				w.must(err)
				e := l.of(own.Site, own.Epoch)
				e.raws = append(e.raws, raw)
			}
			w.sites = []*member{a, c}
			for _, m := range w.sites {
				w.act(m, "make")
			}
			w.calm(func() {
				for range 4 {
					w.exchangeAll(w.sites)
				}
				was := w.held()
				w.exchangeAll(w.sites)
				if now := w.held(); now != was {
					t.Errorf("they go on writing: %d bundles, and then %d", was, now)
				}
			})
			if d := cmp.Diff(w.facts(a), w.facts(c)); d != "" {
				t.Error(d)
			}
			for _, m := range w.sites {
				w.check(m)
			}
		})
	}
}
