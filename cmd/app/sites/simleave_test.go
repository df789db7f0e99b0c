package sites

import (
	"errors"
	"os"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/keys"
)

// leave has a site leave the others, whether it can reach them or not.
func (w *world) leave(m *member) {
	w.t.Helper()
	if m.alone || m.name == w.sites[0].name || m.name == w.twin {
		return
	}
	_, err := leave(w.t.Context(), m.App, app.Caller{}, LeaveQuery{Sure: true}, func() error {
		w.exchangeAll([]*member{m})
		return nil
	}, func() error {
		w.part(m)
		return nil
	})
	w.must(err)
	m.alone, m.copies, m.told = true, nil, w.facts(m)
	w.left++
}

// part has a site that left send what it couldn't send then.
func (w *world) part(m *member) {
	w.t.Helper()
	for _, l := range w.links {
		l.away = l.down || l.cut[m]
		err := newExchange(w.t.Context(), m.App, keys.Open(m.Book), nil).part(l)
		if err != nil && !errors.Is(err, carrier.Away) && !errors.Is(err, carrier.Behind) {
			w.t.Fatalf("%s: %v", m.name, err)
		}
	}
}

// back has a site that left join again, with the book that it went on with or a new one.
func (w *world) back(m *member) {
	w.t.Helper()
	if !m.alone {
		return
	}
	if !w.hasty && w.rnd.IntN(3) == 0 {
		w.must(errors.Join(os.Remove(m.Book), os.Remove(keys.Open(m.Book).Path())))
	}
	m.alone = false
	w.join(m, w.sites[0])
	w.sites[0].copies = nil // an invitation that nobody else heard of would be lost with the book
}

// gone proves that the others have all that a site wrote before it left, and nothing that it wrote since.
func (w *world) gone(m *member, theirs map[string]string) {
	w.t.Helper()
	since := w.facts(m)
	for k := range since {
		kind, _, _ := strings.Cut(k, " ")
		_, before := m.told[k]
		switch _, have := theirs[k]; {
		case kind == "claim", kind == "disagreement": // what another settled isn't open any more
		case before && !have:
			w.t.Errorf("%s was in the book of %s before it left, and vanished", k, m.name)
		case !before && have && (kind == "make" || kind == "wheel" || kind == "entry"):
			w.t.Errorf("%s was written by %s after it left, and others have it", k, m.name)
		}
	}
}
