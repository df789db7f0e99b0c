package sites

import (
	"errors"
	"slices"
	"testing"
	"time"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/wheels"
	"rindkeep/store"
	"rindkeep/store/disagree"
	"rindkeep/wheel"
)

// silences are how it may be that a site is never heard of again.
var silences = map[string]func(w *world, first, m *member){
	"it left": func(w *world, first, m *member) {
		w.leave(m)
		w.exchangeAll([]*member{first})
	},
	"it was revoked": func(w *world, first, m *member) {
		_, err := Revoke(w.t.Context(), first.App, app.Caller{}, RevokeQuery{Name: m.name, Why: "stolen"})
		w.must(err)
	},
	"it joined again in a new epoch": func(w *world, first, m *member) {
		w.hasty = false
		w.lose(m)
		w.exchangeAll([]*member{first})
	},
}

// kindsAt are the kinds of what a computer lists as open, with the wheels that wait for data.
func (w *world) kindsAt(m *member) (kinds []string, waits int) {
	w.t.Helper()
	l, err := List(w.t.Context(), m.App, app.Caller{})
	w.must(err)
	for _, d := range l.Disagreements {
		kinds = append(kinds, d.Kind)
	}
	return kinds, len(l.Early)
}

// A wheel that was received before its data waits for those sites only that may still tell of it.
func TestAClaimWaitsForNobodyWhoIsGone(t *testing.T) {
	for why, silence := range silences {
		t.Run(why, func(t *testing.T) {
			w := newWorld(t, 3, 3)
			a, b, c := w.sites[0], w.sites[1], w.sites[2]
			w.calm(func() {
				w.exchangeAll(slices.Concat(w.sites, w.sites))
				w.act(a, "room")
				silence(w, a, c)
			})
			w.now = w.now.Add(3 * time.Hour) // clocks are off by less
			_, err := wheels.Receive(t.Context(), a.App, app.Caller{}, wheels.NewPlace{
				What: []string{"nobody-01"}, Place: "cellar", Sure: true,
			})
			w.must(err)
			if kinds, waits := w.kindsAt(a); waits != 1 {
				t.Errorf("before anybody was heard of: %v, %d wait", kinds, waits)
			}
			w.now = w.now.Add(3 * time.Hour)
			w.act(b, "room")
			if !c.alone {
				w.act(c, "room")
			}
			w.calm(func() { w.exchangeAll(slices.Concat(w.sites, w.sites)) })
			if kinds, waits := w.kindsAt(a); waits != 0 || !slices.Contains(kinds, string(disagree.ClaimUnknown)) {
				t.Errorf("after all were heard of: %v, %d wait", kinds, waits)
			}
		})
	}
}

// That nobody sent a wheel is known of a site that's gone too.
func TestAWheelOfASiteThatIsGoneWasNeverSent(t *testing.T) {
	for why, silence := range silences {
		t.Run(why, func(t *testing.T) {
			w := newWorld(t, 3, 3)
			a, c := w.sites[0], w.sites[2]
			w.act(c, "make")
			var tag string
			x, err := store.Open(c.Book, store.Read, store.Options{Now: c.Now})
			w.must(err)
			w.must(errors.Join(x.View(func(t *store.ReadTx) error {
				for s, err := range t.States() {
					if w.must(err); s.Place.Site() == "" {
						tag = s.Tag
					}
				}
				return nil
			}), x.Close()))
			w.calm(func() {
				w.exchangeAll(slices.Concat(w.sites, w.sites))
				w.act(a, "room")
				silence(w, a, c)
			})
			w.now = w.now.Add(3 * time.Hour)
			_, err = wheels.Receive(t.Context(), a.App, app.Caller{}, wheels.NewPlace{
				What: []string{c.name + ":" + tag}, Place: "cellar", Sure: true,
			})
			w.must(err)
			w.now = w.now.Add(3 * time.Hour)
			if !c.alone {
				w.act(c, "room")
			}
			w.calm(func() { w.exchangeAll(slices.Concat(w.sites, w.sites)) })
			if kinds, _ := w.kindsAt(a); !slices.Contains(kinds, string(wheel.NeverSent)) {
				t.Errorf("listed: %v", kinds)
			}
		})
	}
}
