package sites

import (
	"slices"
	"testing"
	"time"

	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/store/bundle"
)

// Two sites that can't reach each other invite one each under the same name. No book takes up
// both, as their rooms would be one: it goes on with the one that came first and names the other.
func TestTwoSitesInvitedUnderOneNameAreKeptApart(t *testing.T) {
	w := newWorld(t, 3, 2)
	a, b, l := w.sites[0], w.sites[1], w.links[0]
	w.calm(func() { w.exchangeAll([]*member{a, b, a, b}) })
	var both []*member
	for _, by := range []*member{a, b} {
		inv, err := Invite(t.Context(), by.App, app.Caller{}, InviteQuery{Name: "west", For: 240 * time.Hour})
		w.must(err)
		m := w.member("west")
		_, err = Join(t.Context(), m.App, app.Caller{}, JoinQuery{
			Invitation: inv.Result.Text, Settings: store.Settings{Zone: "Europe/Dublin"},
		})
		w.must(err)
		w.act(m, "before")
		both = append(both, m)
	}
	facts := []map[string]string{w.facts(both[0]), w.facts(both[1])}
	held := map[*member]bool{}
	w.calm(func() {
		for range 3 {
			for _, m := range w.sites {
				held[m] = slices.Contains(w.exchange(m, l).Held, Held{Site: "west", Why: bundle.NameTaken})
			}
		}
	})
	for _, m := range w.sites {
		got, whose := w.facts(m), []bool{true, true}
		for i, of := range facts {
			for k, v := range of {
				whose[i] = whose[i] && got[k] == v
			}
		}
		if whose[0] == whose[1] || !held[m] {
			t.Errorf("%s: has the first's facts %v, the second's %v, names the other %v", m.name, whose[0], whose[1], held[m])
		}
		w.check(m)
	}
}
