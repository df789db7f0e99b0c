package sites

import (
	"errors"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/wheels"
	"rindkeep/store"
)

// receive has a site receive a wheel of another by the tag on it, whether it has heard of it or not.
func (w *world) receive(m *member) {
	w.t.Helper()
	o := w.sites[w.rnd.IntN(len(w.sites))]
	tag := ""
	b, err := store.Open(o.Book, store.Read, store.Options{Now: o.Now})
	w.must(err)
	w.must(errors.Join(b.View(func(t *store.ReadTx) error {
		for s, err := range t.States() {
			if w.must(err); s.Here() && w.rnd.IntN(3) == 0 && tag == "" {
				tag = s.Tag
			}
		}
		return nil
	}), b.Close()))
	if o == m || tag == "" {
		return
	}
	w.act(m, "room")
	switch _, err := wheels.Receive(w.t.Context(), m.App, app.Caller{}, wheels.NewPlace{
		What: []string{tag}, Place: "cellar", Sure: true,
	}); {
	case err == nil:
		w.received++
	case app.AsRefusal(err).Kind == app.Busy:
		w.must(err)
	}
}

// settleOne has a site settle any of what the sites disagree about.
func (w *world) settleOne(m *member) {
	w.t.Helper()
	l, err := List(w.t.Context(), m.App, app.Caller{})
	w.must(err)
	if len(l.Disagreements) == 0 {
		return
	}
	w.settled++
	d := l.Disagreements[w.rnd.IntN(len(l.Disagreements))]
	_, err = Settle(w.t.Context(), m.App, app.Caller{}, SettleQuery{Code: d.Code, Other: d.Swaps && w.rnd.IntN(2) == 0})
	w.must(err)
}
