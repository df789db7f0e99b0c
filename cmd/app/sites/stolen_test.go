package sites

import (
	"crypto/ed25519"
	"errors"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/uuid"

	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/members"
	"rindkeep/store/register"
)

// A thief of one site's key can write as that site until the key is revoked, but never as another:
// no site may admit a key for a site that others know already.
func TestAStolenKeyWritesOnlyAsItsOwnSite(t *testing.T) {
	w := newWorld(t, 3, 3)
	a, b, c := w.sites[0], w.sites[1], w.sites[2]
	w.calm(func() { w.exchangeAll(slices.Concat(w.sites, w.sites)) })
	site := func(m *member) (own members.Own) {
		x, err := store.Open(m.Book, store.Read, store.Options{Now: m.Now})
		w.must(err)
		w.must(errors.Join(x.View(func(t *store.ReadTx) error { own, _ = t.Own(); return nil }), x.Close()))
		return own
	}
	from, as := site(b), site(c)

	// The thief has b's book and key, and another book that says it's c's.
	thief := &app.App{Book: filepath.Join(t.TempDir(), "thief.book"), Now: a.Now}
	_, err := thief.Create(store.Settings{Zone: "Europe/Dublin"})
	w.must(err)
	x, err := store.Open(thief.Book, store.Write, store.Options{Now: a.Now})
	w.must(err)
	epoch := x.Settings().ID
	own := as
	own.Epoch = epoch
	w.must(errors.Join(x.Update(func(t *store.WriteTx) error { return t.Share(own) }), x.Close()))
	oneTime := ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))
	key, err := keys.Open(thief.Book).Make(as.Group, as.Site, epoch, oneTime)
	w.must(err)

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
