package sites

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/store/archive"
	"rindkeep/store/bundle"
	"rindkeep/store/disagree"
	"rindkeep/store/history"
	"rindkeep/store/sites"
	"rindkeep/wheel"
)

// facts are all facts of a book with every site's names spelt out, and what follows from them.
func (w *world) facts(m *member) map[string]string {
	w.t.Helper()
	out := map[string]string{}
	put := func(key string, v any) {
		b, err := json.Marshal(v)
		w.must(err)
		out[key] = string(b)
	}
	full := func(s string) string {
		if s == "" || strings.Contains(s, ":") {
			return s
		}
		return m.name + ":" + s
	}
	b, err := store.Open(m.Book, store.Read, store.Options{Now: m.Now})
	w.must(err)
	defer b.Close()
	w.must(b.View(func(t *store.ReadTx) error {
		for mk, err := range t.AllMakes() {
			w.must(err)
			mk.Lot = full(mk.Lot)
			put("make "+mk.ID.String(), mk)
		}
		for x, err := range t.EachWheel() {
			w.must(err)
			x.Tag, x.Place = full(x.Tag), cave.Place(full(string(x.Place)))
			put("wheel "+x.ID.String(), x)
		}
		for s, err := range t.States() {
			w.must(err)
			put("state "+s.Wheel.String(), []any{full(s.Tag), full(string(s.Place)), s.Plan, s.Gone, s.Last, s.Entries})
		}
		w.must(t.EachLogged(w.t.Context(), history.Query{}, func(l history.Logged) error {
			l.Tag, l.Place = full(l.Tag), cave.Place(full(string(l.Place)))
			put("entry "+l.ID.String(), l)
			return nil
		}))
		rooms, err := t.Rooms()
		w.must(err)
		for _, r := range rooms {
			name := full(r.Name)
			w.must(t.EachReading(r.Name, start, start.AddDate(1, 0, 0), func(a cave.Reading) bool {
				put("air "+name+" "+a.At.String(), a)
				return true
			}))
			r.Name = name
			put("room "+name, r)
		}
		customers, err := t.Customers()
		w.must(err)
		for _, c := range customers {
			put("customer "+c.Name, c)
		}
		plans, err := t.Plans()
		w.must(err)
		for _, p := range plans {
			if t.OwnPlan(p.Name) {
				put("plan "+p.Name, p.Text)
			}
		}
		ds, err := disagree.List(t)
		w.must(err)
		for _, d := range ds {
			switch d.Kind { // some depend on what's at hand, on the reader's clock or on whose word is still to come
			case disagree.SameTag, disagree.ClockAhead, disagree.Kind(wheel.NeverSent):
			case disagree.ClaimWaits, disagree.ClaimUnknown, disagree.ClaimUnclear:
				put("claim "+d.ID.String(), d.Name)
			default:
				put("disagreement "+d.ID.String(), []any{d.Kind, d.Stands.Site, d.Other.Site})
			}
		}
		return nil
	}))
	return out
}

func (w *world) check(m *member) {
	w.t.Helper()
	b, err := store.Open(m.Book, store.Write, store.Options{Now: m.Now})
	w.must(err)
	defer b.Close()
	found, err := b.Check(w.t.Context(), nil)
	w.must(err)
	for _, f := range found {
		w.t.Errorf("%s: %+v", m.name, f)
	}
	w.must(b.View(func(t *store.ReadTx) error { w.follow(m, t); return nil }))
}

// follow proves, otherwise than the book does, that the links which it took of each epoch are one
// chain: where two copies of a book wrote, only one's are among them.
func (w *world) follow(m *member, t *store.ReadTx) {
	w.t.Helper()
	heads, err := t.Heads()
	w.must(err)
	for _, h := range heads[min(1, len(heads)):] {
		n, sum := uint64(0), [32]byte{}
		for raw := range t.Bundles(h.Site, h.Epoch, 0) {
			b, _, err := bundle.Open(raw)
			w.must(err)
			links, err := sites.Unpack(b.Payload)
			w.must(err)
			at := b.Before
			for i := range links {
				if was := b.First + uint64(i) - 1; was == n && n > 0 && at != sum {
					w.t.Errorf("%s: what it took of %s after link %d follows from another", m.name, h.Name, n)
				}
				at = links[i].Follow(at, b.First+uint64(i))
			}
			n, sum = b.Last, at
		}
		if n != h.Number || sum != h.Hash {
			w.t.Errorf("%s: it has %d links of %s, and says %d", m.name, n, h.Name, h.Number)
		}
	}
}

// converge lets everything through, and proves that all books agree.
func (w *world) converge() {
	w.t.Helper()
	w.now = w.now.Add(time.Hour)
	for _, m := range w.sites {
		w.act(m, "make") // nobody was ever kept from working
	}
	want := map[string]bool{}
	for _, m := range w.sites {
		w.check(m)
		if m.alone {
			continue
		}
		for k := range w.facts(m) {
			// What another site settled isn't open any more.
			want[k] = want[k] || !strings.HasPrefix(k, "claim ") && !strings.HasPrefix(k, "disagreement ")
		}
	}
	w.calm(w.settle)
	first := w.facts(w.sites[0])
	for k, stays := range want {
		if stays && first[k] == "" {
			w.t.Errorf("%s was in a book and vanished", k)
		}
	}
	for _, m := range w.sites {
		if m.alone {
			w.gone(m, first)
		} else if d := cmp.Diff(first, w.facts(m)); d != "" {
			w.t.Errorf("%s differs from %s:\n%.3000s", m.name, w.sites[0].name, d)
		}
		w.check(m)
	}
	if w.t.Failed() {
		return
	}
	m := w.sites[w.rnd.IntN(len(w.sites))]
	w.rebuild(m)
	w.export(m)
}

// export has a book written out and read into a new one, and proves that the same comes of it.
func (w *world) export(m *member) {
	w.t.Helper()
	var out bytes.Buffer
	b, err := store.Open(m.Book, store.Read, store.Options{Now: m.Now})
	w.must(err)
	_, err = archive.Export(w.t.Context(), b, &out, nil)
	w.must(errors.Join(err, b.Close()))
	again := &member{App: &app.App{Book: m.Book + ".again", Now: m.Now}, name: m.name}
	_, found, err := archive.Import(w.t.Context(), again.Book, &out, store.Options{Now: m.Now}, nil)
	w.must(err)
	if d := cmp.Diff(w.facts(m), w.facts(again)); d != "" || len(found) > 0 {
		w.t.Errorf("%s exported and imported: %v\n%.3000s", m.name, found, d)
	}
	w.check(again)
}

// rebuild has a book derive all again, and proves that the same comes of it.
func (w *world) rebuild(m *member) {
	w.t.Helper()
	was := w.facts(m)
	b, err := store.Open(m.Book, store.Write, store.Options{Now: m.Now})
	w.must(err)
	w.must(b.Rebuild(w.t.Context()))
	w.must(b.Close())
	if d := cmp.Diff(was, w.facts(m)); d != "" {
		w.t.Errorf("%s rebuilt:\n%.3000s", m.name, d)
	}
	w.check(m)
}

// settle lets all exchange until nothing moves any more, and proves that it ends so. Of two
// computers that signed one link, the carriers keep what they took first, and name the other. Putting
// what a carrier has already moves nothing.
func (w *world) settle() {
	var moves []string
	held := w.held()
	for range 12 {
		moves = nil
		for _, m := range w.sites {
			if m.alone { // who leaves again sends what a carrier has lost since
				w.part(m)
			}
			for _, l := range w.links {
				d := w.exchange(m, l)
				was := held
				if held = w.held(); held != was || len(d.Taken)+len(d.Held) > 0 || d.Older {
					moves = append(moves, fmt.Sprintf("%s: %+v", m.name, d))
				}
			}
		}
		if len(moves) == 0 {
			return
		}
	}
	w.t.Errorf("they don't come to rest:\n%s", strings.Join(moves, "\n"))
}

// held is how many different bundles the carriers have.
func (w *world) held() (n int) {
	for _, l := range w.links {
		seen := map[string]bool{}
		for _, e := range l.kept {
			for _, raw := range e.raws {
				seen[string(raw)] = true
			}
		}
		n += len(seen)
	}
	return n
}
