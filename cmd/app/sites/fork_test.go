package sites

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store"
	"rindkeep/wheel"
)

// doubled lets sites exchange until each has heard of all, and has two computers be the second one. The
// other computer is the last of the world's sites.
func (w *world) doubled() (other *member) {
	for range 3 {
		w.exchangeAll(w.sites)
	}
	w.double(w.sites[1])
	return w.sites[len(w.sites)-1]
}

// Two computers are one site: each wrote link 1, and another site took the one's where the carriers
// have the other's. It tells them, and gets what it lacks.
func TestAForkIsToldToWhoeverWroteIt(t *testing.T) {
	w := newWorld(t, 3, 3)
	w.links = w.links[:1]
	l, a, b, c := w.links[0], w.sites[0], w.sites[1], w.sites[2]
	w.calm(func() {
		other := w.doubled()
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

// Two computers are one site, one of them is lost, and what it wrote is in one book of another site,
// which took it first. The other books get it from there, and so does one that joins later.
func TestWhatALostComputerWroteComesFromWhoeverTookIt(t *testing.T) {
	for _, longer := range []bool{false, true} { // than what the other wrote
		w := newWorld(t, 3, 3)
		w.links, w.hasty = w.links[:1], false
		l, a, b, c := w.links[0], w.sites[0], w.sites[1], w.sites[2]
		w.calm(func() {
			lost := w.doubled()
			w.act(lost, "make")
			if longer {
				w.act(lost, "customer")
				w.act(lost, "make")
			}
			wrote := w.facts(lost)
			before := slices.Clone(l.kept)
			w.exchangeAll([]*member{lost, c})
			l.kept, w.sites = before, w.sites[:3]
			w.act(b, "make")
			w.act(b, "make")
			w.exchangeAll([]*member{b, a})
			w.settle()
			l.kept = nil // and c's book is lost too
			w.sites = w.sites[:2]
			w.join(w.member("d"), a)
			w.settle()
			for _, m := range w.sites {
				have := w.facts(m)
				for k := range wrote {
					if kind, _, _ := strings.Cut(k, " "); have[k] == "" && (kind == "make" || kind == "wheel") {
						t.Errorf("longer %v: %s lacks %s", longer, m.name, k)
					}
				}
				w.check(m)
			}
		})
	}
}

// The same over real carriers, which a book reads only from where it has got to.
func TestABranchComesOverEveryCarrier(t *testing.T) {
	for name, over := range map[string]func(*world) post{"folder": (*world).folder, "server": (*world).server} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t, 3, 3)
			b, c := w.sites[1], w.sites[2]
			w.calm(func() { w.exchangeAll(slices.Concat(w.sites, w.sites)) })
			p := over(w)
			round := func() (out []Exchanged) {
				for _, m := range w.sites {
					d, err := Exchange(t.Context(), m.App, keys.Open(m.Book), p.open(m))
					w.must(err)
					out = append(out, d)
				}
				return out
			}
			round()
			round()
			w.double(b)
			lost := w.sites[3]
			for range 3 { // c takes a longer branch
				w.act(lost, "make")
				w.act(lost, "make")
				w.calm(func() { w.exchangeAll([]*member{lost, c}) })
			}
			wrote := w.facts(lost)
			w.sites = w.sites[:3]
			w.act(b, "make")
			for range 4 {
				round()
			}
			for i, d := range round() {
				if len(d.Held)+len(d.Taken)+d.Sent+d.Relayed > 0 {
					t.Errorf("%s doesn't come to rest: %+v", w.sites[i].name, d)
				}
			}
			for _, m := range w.sites {
				have := w.facts(m)
				for k := range wrote {
					if kind, _, _ := strings.Cut(k, " "); have[k] == "" && (kind == "make" || kind == "wheel") {
						t.Errorf("%s lacks %s", m.name, k)
					}
				}
				w.check(m)
			}
		})
	}
}

// Two computers are one site, and one of them is lost before anybody took what it left on a stick. The
// others take it from there, unless the site was revoked: a thief could have dated it back.
func TestWhatALostComputerLeftOnAStickIsTaken(t *testing.T) {
	for _, revoked := range []bool{false, true} {
		w := newWorld(t, 3, 3)
		w.links = w.links[:1]
		l, a, b := w.links[0], w.sites[0], w.sites[1]
		w.calm(func() {
			lost := w.doubled()
			w.act(lost, "make")
			wrote := w.facts(lost)
			before := slices.Clone(l.kept)
			w.exchange(lost, l)
			stick := l.kept
			l.kept, w.sites = before, w.sites[:3]
			w.act(b, "make")
			w.act(b, "make")
			w.exchangeAll([]*member{b, a})
			w.settle()
			if revoked {
				_, err := Revoke(w.t.Context(), a.App, app.Caller{}, RevokeQuery{Name: b.name, Why: "stolen"})
				w.must(err)
				w.sites = slices.DeleteFunc(w.sites, func(m *member) bool { return m == b })
				w.settle()
			}
			others := w.facts(a)
			for _, e := range stick {
				of := l.of(e.site, e.epoch)
				of.raws = append(of.raws, e.raws...)
			}
			for range 3 {
				w.exchangeAll(w.sites)
			}
			for _, m := range w.sites {
				have, news := w.facts(m), 0
				for k := range wrote {
					if kind, _, _ := strings.Cut(k, " "); kind == "make" && others[k] == "" {
						if news++; (have[k] == "") != revoked {
							t.Errorf("revoked %v: %s has of %s: %q", revoked, m.name, k, have[k])
						}
					}
				}
				if news != 1 {
					t.Errorf("the lost computer has %d makes that the others lack", news)
				}
				w.check(m)
			}
		})
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

// Two computers that are one site received a wheel before its data, and each moved it at its own
// time under the identity that follows from that: the same move counts in every book, and all
// list one disagreement and the time of the latest entry that counts.
func TestOfTwoEntriesOfOneIdentityTheSameCountsEverywhere(t *testing.T) {
	for seed := range uint64(6) {
		w := newWorld(t, seed, 3)
		w.calm(func() {
			for range 3 {
				w.exchangeAll(w.sites)
			}
			b := w.sites[1]
			w.act(b, "make")
			w.double(b)
			w.now = w.now.Add(2 * time.Hour)
			id, at := w.id(), w.now.Add(-time.Hour)
			for i, m := range []*member{w.sites[3], b} { // the later one comes first
				book, err := store.Open(m.Book, store.Write, store.Options{Now: m.Now})
				w.must(err)
				w.must(book.Update(func(tx *store.WriteTx) error {
					here, err := tx.WheelsAt("cellar")
					w.must(err)
					_, err = tx.Put(wheel.Entry{
						ID: id, Subject: here[0].Wheel, Kind: wheel.Moved, Place: "cellar/A/1", Written: at,
						At: at.Add(-time.Duration(i) * time.Second),
					})
					return err
				}))
				w.must(book.Close())
				w.exchangeAll([]*member{m, w.sites[0]})
			}
			w.settle()
		})
		want := w.facts(w.sites[0])
		for _, m := range w.sites {
			if d := cmp.Diff(want, w.facts(m)); d != "" {
				t.Errorf("%s differs from a:\n%s", m.name, d)
			}
			w.check(m)
		}
	}
}
