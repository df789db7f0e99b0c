package sites

import (
	"crypto/ed25519"
	"errors"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/members"
	"rindkeep/store/register"
)

// own is which site a computer is.
func (w *world) own(m *member) (own members.Own) {
	x, err := store.Open(m.Book, store.Read, store.Options{Now: m.Now})
	w.must(err)
	w.must(errors.Join(x.View(func(t *store.ReadTx) error { own, _ = t.Own(); return nil }), x.Close()))
	return own
}

// oneTime is the key of an invitation that a thief made up.
var oneTime = ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))

// thief is a book that says it's a site's, and the key that it signs with.
func (w *world) thief(as members.Own) (*app.App, keys.Own) {
	w.t.Helper()
	thief := &app.App{Book: filepath.Join(w.t.TempDir(), "thief.book"), Now: func() time.Time { return w.now }}
	_, err := thief.Create(store.Settings{Zone: "Europe/Dublin"})
	w.must(err)
	x, err := store.Open(thief.Book, store.Write, store.Options{Now: thief.Now})
	w.must(err)
	own := as
	own.Epoch = x.Settings().ID
	w.must(errors.Join(x.Update(func(t *store.WriteTx) error { return t.Share(own) }), x.Close()))
	key, err := keys.Open(thief.Book).Make(as.Group, as.Site, own.Epoch, oneTime)
	w.must(err)
	return thief, key
}

// A thief of one site's key can write as that site until the key is revoked, but never as another:
// no site may admit a key for a site that others know already.
func TestAStolenKeyWritesOnlyAsItsOwnSite(t *testing.T) {
	w := newWorld(t, 3, 3)
	a, b, c := w.sites[0], w.sites[1], w.sites[2]
	w.calm(func() { w.exchangeAll(slices.Concat(w.sites, w.sites)) })
	from, as := w.own(b), w.own(c)
	thief, key := w.thief(as) // who has b's book and key too
	epoch := key.Epoch

	stolen, err := store.Open(b.Book, store.Write, store.Options{Now: b.Now})
	w.must(err)
	w.must(stolen.Update(func(t *store.WriteTx) error {
		for _, writer := range []uuid.UUID{from.Site, from.Root.Site} { // as itself, and as if the first site had
			of := w.id()
			for _, p := range []register.Pact{
				{ID: of, Kind: register.Invited, Public: oneTime.Public().(ed25519.PublicKey), Name: c.name},
				{ID: w.id(), Kind: register.Admitted, Public: key.Public(), Epoch: epoch, Of: of},
				{ID: w.id(), Kind: register.Revoked, Epoch: as.Epoch},
			} {
				p.Site, p.From, p.Written = as.Site, writer, b.Now().AddDate(0, 0, -2) // before c was let in, it says
				if err := t.PutPact(p); err != nil {
					return err
				}
			}
		}
		return nil
	}))
	w.must(stolen.Close())
	l := w.links[0]
	w.calm(func() {
		w.exchange(b, l)
		_, err := Exchange(t.Context(), thief, keys.Open(thief.Book), l)
		w.must(err)
	})
	w.act(c, "before") // c goes on, as nobody's word but the first site's takes it its own
	w.calm(func() {
		w.exchange(c, l)
		d, err := Exchange(t.Context(), a.App, keys.Open(a.Book), l)
		w.must(err)
		if !slices.Contains(d.Held, Held{Site: c.name, Why: bundle.UnknownKey}) {
			t.Errorf("the thief's bundles as %s weren't held back: %+v", c.name, d)
		}
		if !slices.ContainsFunc(d.Taken, func(f TakenFrom) bool { return f.Site == c.name && f.Links > 0 }) {
			t.Errorf("what %s wrote wasn't taken up: %+v", c.name, d)
		}
	})
	w.check(a)
}

// Where the first site invites a site again, the invitation by which another had let it in goes on
// counting, and with it that one admission. A thief of the other's key can't admit anybody by it again.
func TestAnInvitationAdmitsOnce(t *testing.T) {
	w := newWorld(t, 3, 2)
	a, b, c := w.sites[0], w.sites[1], w.member("c")
	ctx, l := t.Context(), w.links[0]
	w.calm(func() { w.exchangeAll([]*member{a, b, a, b}) })
	inv, err := Invite(ctx, b.App, app.Caller{}, InviteQuery{Name: "c", For: 240 * time.Hour})
	w.must(err)
	_, err = Join(ctx, c.App, app.Caller{}, JoinQuery{
		Invitation: inv.Result.Text, Settings: store.Settings{Zone: "Europe/Dublin"},
	})
	w.must(err)
	w.act(c, "make")
	w.calm(func() {
		w.exchange(b, l)
		w.exchange(a, l) // a has heard of b's invitation, and not that c came
		w.exchange(c, l)
		w.exchange(b, l)
	})
	_, err = Invite(ctx, a.App, app.Caller{}, InviteQuery{Name: "c", For: 240 * time.Hour})
	w.must(err)
	w.calm(func() { w.exchangeAll([]*member{a, b, a}) })
	was := w.facts(a)
	if !slices.ContainsFunc(w.heads(a), func(h members.Head) bool { return h.Name == "c" }) {
		t.Fatal("what c wrote didn't come")
	}

	thief, key := w.thief(w.own(c))
	x, err := store.Open(b.Book, store.Write, store.Options{Now: b.Now})
	w.must(err)
	w.must(errors.Join(x.Update(func(t *store.WriteTx) error {
		all, err := t.Pacts()
		w.must(err)
		i := slices.IndexFunc(all, func(p register.Pact) bool { return p.Kind == register.Admitted && p.Name == "c" })
		p := all[i]
		p.ID, p.Epoch, p.Public, p.Written = w.id(), key.Epoch, key.Public(), p.Written.Add(-time.Hour)
		return t.PutPact(p)
	}), x.Close()))
	w.calm(func() {
		w.exchange(b, l)
		_, err := Exchange(ctx, thief, keys.Open(thief.Book), l)
		w.must(err)
		if d := w.exchange(a, l); !slices.Contains(d.Held, Held{Site: "c", Why: bundle.UnknownKey}) {
			t.Errorf("the thief's bundles weren't held back: %+v", d)
		}
	})
	if d := cmp.Diff(was, w.facts(a)); d != "" {
		t.Error(d)
	}
}

// heads are how far a computer has each site's history.
func (w *world) heads(m *member) (heads []members.Head) {
	x, err := store.Open(m.Book, store.Read, store.Options{Now: m.Now})
	w.must(err)
	w.must(errors.Join(x.View(func(t *store.ReadTx) (err error) { heads, err = t.Heads(); return err }), x.Close()))
	return heads
}
