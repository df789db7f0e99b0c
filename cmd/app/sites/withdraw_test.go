package sites

import (
	"errors"
	"slices"
	"testing"
	"time"

	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/members"
	"rindkeep/store/register"
)

// invited is a new computer that has joined by a site's invitation, and has told nobody yet.
func (w *world) invited(name string, by *member) *member {
	w.t.Helper()
	m := w.member(name)
	inv, err := Invite(w.t.Context(), by.App, app.Caller{}, InviteQuery{Name: name, For: 240 * time.Hour})
	w.must(err)
	_, err = Join(w.t.Context(), m.App, app.Caller{}, JoinQuery{
		Invitation: inv.Result.Text, Settings: store.Settings{Zone: "Europe/Dublin"},
	})
	w.must(err)
	w.act(m, "make")
	return m
}

// stateOf is how a site takes part, as a computer lists it.
func (w *world) stateOf(m *member, name string) State {
	w.t.Helper()
	l, err := List(w.t.Context(), m.App, app.Caller{})
	w.must(err)
	i := slices.IndexFunc(l.Sites, func(s Member) bool { return s.Name == name })
	if i < 0 {
		w.t.Fatalf("%s lists no %s", m.name, name)
	}
	return l.Sites[i].State
}

func (w *world) hasFrom(m *member, name string) bool {
	return slices.ContainsFunc(w.heads(m), func(h members.Head) bool { return h.Name == name })
}

// Nobody lets in who comes with an invitation that was withdrawn, even if he wrote before that. A
// second invitation lets him in.
func TestAWithdrawnInvitationLetsNobodyIn(t *testing.T) {
	for _, first := range []bool{true, false} { // whether the first site gave and withdraws it
		w := newWorld(t, 3, 3)
		a, b, d, l := w.sites[0], w.sites[1], w.sites[2], w.links[0]
		w.calm(func() { w.exchangeAll(slices.Concat(w.sites, w.sites)) })
		by := map[bool]*member{true: a, false: b}[first]
		c := w.invited("west", by)
		w.calm(func() { w.exchange(c, l) })
		if !first {
			w.calm(func() { w.exchangeAll([]*member{d}) })
		}
		w.now = w.now.Add(time.Hour) // clocks are off by less
		got, err := Revoke(t.Context(), by.App, app.Caller{}, RevokeQuery{Name: "west", Why: "it got about"})
		w.must(err)
		if r := got.Result; r.Joined || r.Withdrawn != 1 {
			t.Errorf("withdrawn: %+v", r)
		}
		w.calm(func() {
			w.exchangeAll([]*member{by})
			for _, m := range []*member{a, b, d} {
				x, held := w.exchange(m, l), Held{Site: "west", Why: bundle.BeyondWord}
				if !slices.Contains(x.Held, held) || w.hasFrom(m, "west") {
					t.Errorf("first %v: %s took up %+v and held back %+v", first, m.name, x.Taken, x.Held)
				}
				if s := w.stateOf(m, "west"); s != Revoked {
					t.Errorf("first %v: %s lists west as %s", first, m.name, s)
				}
			}
		})

		w.now = w.now.Add(time.Hour)
		again := w.invited("west", by)
		if s := w.stateOf(by, "west"); s != Invited {
			t.Errorf("first %v: invited again, west is listed as %s", first, s)
		}
		w.calm(func() { w.exchangeAll(slices.Concat([]*member{again, by}, []*member{a, b, d, a, b, d})) })
		for _, m := range []*member{a, b, d} {
			if s := w.stateOf(m, "west"); s != Joined || !w.hasFrom(m, "west") {
				t.Errorf("first %v: west joined again, and %s lists it as %s", first, m.name, s)
			}
		}
	}
}

// Another site than the two can't withdraw an invitation.
func TestOnlyTwoSitesWithdrawAnInvitation(t *testing.T) {
	w := newWorld(t, 3, 3)
	a, b, d := w.sites[0], w.sites[1], w.sites[2]
	_, err := Invite(t.Context(), b.App, app.Caller{}, InviteQuery{Name: "west", For: 240 * time.Hour})
	w.must(err)
	w.calm(func() { w.exchangeAll(slices.Concat(w.sites, w.sites)) })
	_, err = Revoke(t.Context(), d.App, app.Caller{}, RevokeQuery{Name: "west", Why: "no"})
	if r := (*app.Refusal)(nil); !errors.As(err, &r) || r.Why != (OnlyFirst{a.name}) {
		t.Errorf("a third site: %v", err)
	}
	if s := w.stateOf(d, "west"); s != Invited {
		t.Errorf("west is listed as %s", s)
	}
}

// The first site withdraws what another gave, while that one lets somebody in by it. The first
// site's word holds everywhere; who took something up before keeps that.
func TestAnAdmissionThatCrossesAWithdrawalDoesNotCount(t *testing.T) {
	w := newWorld(t, 3, 3)
	a, b, d, l := w.sites[0], w.sites[1], w.sites[2], w.links[0]
	w.calm(func() { w.exchangeAll(slices.Concat(w.sites, w.sites)) })
	c := w.invited("west", b)
	w.calm(func() { w.exchangeAll([]*member{b, a}) })
	_, err := Revoke(t.Context(), a.App, app.Caller{}, RevokeQuery{Name: "west", Why: "it got about"})
	w.must(err)
	w.calm(func() {
		w.exchange(c, l)
		w.exchange(b, l)
	})
	if s := w.stateOf(b, "west"); s != Joined || !w.hasFrom(b, "west") {
		t.Fatalf("west isn't let in: %s", s)
	}
	had := w.heads(b)
	w.act(c, "make")
	w.calm(func() {
		w.exchange(c, l)
		w.exchangeAll([]*member{a, b, d, a, b, d})
		for _, m := range []*member{a, b, d} {
			if x := w.exchange(m, l); !slices.Contains(x.Held, Held{Site: "west", Why: bundle.BeyondWord}) {
				t.Errorf("%s took up %+v and held back %+v", m.name, x.Taken, x.Held)
			}
			if s := w.stateOf(m, "west"); s != Revoked || w.hasFrom(m, "west") != (m == b) {
				t.Errorf("%s lists west as %s", m.name, s)
			}
		}
	})
	of := func(heads []members.Head) uint64 {
		i := slices.IndexFunc(heads, func(h members.Head) bool { return h.Name == "west" })
		return heads[i].Number
	}
	if was, is := of(had), of(w.heads(b)); was != is {
		t.Errorf("b had %d links of west, and has %d", was, is)
	}
	// An epoch that an older copy of its book begins is out as well.
	w.copy(c.Book, c.Book+".old")
	w.act(c, "make")
	w.calm(func() { w.exchange(c, l) })
	w.copy(c.Book+".old", c.Book)
	w.act(c, "make")
	w.calm(func() {
		if x := w.exchange(c, l); !x.Older {
			t.Error("the older copy doesn't know that it's one")
		}
		w.exchangeAll([]*member{a, d})
	})
	if w.hasFrom(a, "west") || w.hasFrom(d, "west") {
		t.Error("an older copy of its book lets it in")
	}
}

// A thief of a site's key can neither shut out whom it let in nor, by an invitation with the key of
// another's, whom the other let in.
func TestAStolenKeyShutsNobodyOut(t *testing.T) {
	w := newWorld(t, 3, 2)
	a, b, l := w.sites[0], w.sites[1], w.links[0]
	w.calm(func() { w.exchangeAll([]*member{a, b, a, b}) })
	of := map[string]*member{}
	for i, name := range []string{"east", "west"} {
		by := w.sites[i]
		of[name] = w.invited(name, by)
		w.calm(func() { w.exchangeAll([]*member{by, of[name], by, a, b, of[name]}) })
	}
	from := w.own(b).Site
	x, err := store.Open(b.Book, store.Write, store.Options{Now: b.Now})
	w.must(err)
	w.must(errors.Join(x.Update(func(t *store.WriteTx) error {
		all, err := t.Pacts()
		w.must(err)
		for _, p := range all {
			if p.Kind != register.Invited || of[p.Name] == nil {
				continue
			}
			fake := register.Pact{ID: w.id(), Kind: register.Invited, Site: p.Site, Name: p.Name, From: from,
				Public: slices.Clone(p.Public), Until: p.Until, Written: b.Now()}
			out := register.Pact{ID: w.id(), Kind: register.Revoked, Site: p.Site, From: from, Written: b.Now()}
			for _, put := range []register.Pact{fake, out, out} {
				if put.Kind == register.Revoked {
					put.ID, put.Of = w.id(), fake.ID
					fake.ID = p.ID
				}
				w.must(t.PutPact(put))
			}
		}
		return nil
	}), x.Close()))
	for _, name := range []string{"east", "west"} {
		m := of[name]
		w.act(m, "make")
		w.calm(func() {
			w.exchangeAll([]*member{b, m})
			if d := w.exchange(a, l); len(d.Held) > 0 {
				t.Errorf("%s is held back: %+v", name, d.Held)
			}
		})
		if s := w.stateOf(a, name); s != Joined {
			t.Errorf("%s is listed as %s", name, s)
		}
	}
}
