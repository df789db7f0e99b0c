package sites

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/entries"
	"rindkeep/cmd/app/find"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/disagree"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/outgoing"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/sites"
	"rindkeep/wheel"
)

// robbed is the book of site a, and all that a thief of site b's key knows of it.
type robbed struct {
	book        []byte
	now         time.Time
	b           members.Own
	key         ed25519.PrivateKey
	head        bundle.Head // the last link of b's that a has
	a           uuid.UUID   // its site
	make        wheel.Make
	wheel       wheel.Wheel
	entry, made wheel.Entry // one about the wheel, one about the make
	room        cave.Room
}

// rob has two sites work and exchange.
func rob(t testing.TB) *robbed {
	w := newWorld(t, 3, 2)
	a, b := w.sites[0], w.sites[1]
	a.off, b.off = 0, 0
	for _, what := range []string{"make", "make", "make", "air", "customer", "plan"} {
		w.now = w.now.Add(3 * time.Hour)
		w.act(a, what)
		w.act(b, what)
	}
	for _, what := range []string{"turn", "weigh", "weigh", "move", "tag", "correct", "air", "weigh", "send"} {
		w.now = w.now.Add(9 * time.Hour)
		w.act(a, what)
	}
	w.calm(func() { w.exchangeAll([]*member{a, b, a, b, a}) })
	r := &robbed{now: w.now.Add(time.Hour), b: w.own(b), a: w.own(a).Site}
	key, err := keys.Open(b.Book).Key(r.b.Epoch)
	w.must(err)
	r.key = key.Key
	for _, h := range w.heads(a) {
		if h.Site == r.b.Site {
			r.head = h.Head
		}
	}
	x, err := store.Open(a.Book, store.Read, store.Options{Now: a.Now})
	w.must(err)
	w.must(errors.Join(x.View(func(t *store.ReadTx) error {
		for k, v := range t.Records(layout.Entries) {
			e, err := pack.ReadEntry(k, v)
			w.must(err)
			if x, err := t.Wheel(e.Subject); err != nil {
				r.made = e
			} else if m, err := t.Make(x.Make); err == nil && !strings.Contains(m.Lot, ":") {
				r.wheel, r.entry, r.make = x, e, m
			}
		}
		r.room, err = t.Room("cellar")
		return err
	}), x.Close()))
	r.book, err = os.ReadFile(a.Book)
	w.must(err)
	return r
}

// forged is a fact that a thief makes up: its bucket, its key, and its record without the seal.
type forged struct {
	bucket    string
	key, body []byte
}

func (f forged) fact() sites.Fact {
	v := pack.Sealed(f.body)
	if f.bucket == layout.Entries || f.bucket == layout.Air {
		v = pack.Seal(f.key, bytes.Clone(f.body))
	}
	return sites.Fact{Code: layout.Codes[f.bucket], Key: f.key, Value: v}
}

// sign makes a bundle of facts, which are one link that follows on what a has of b.
func (r *robbed) sign(t testing.TB, at time.Time, facts []forged) []byte {
	t.Helper()
	l := sites.Link{Ms: at.UnixMilli()}
	for _, f := range facts {
		l.Facts = append(l.Facts, f.fact())
	}
	n := r.head.Number + 1
	of := bundle.Bundle{
		Group: r.b.Group, Site: r.b.Site, Epoch: r.b.Epoch, First: n, Last: n, Before: r.head.Hash,
		After: l.Follow(r.head.Hash, n), Payload: sites.Pack([]sites.Link{l}),
	}
	raw, err := bundle.Seal(r.key, of)
	if err != nil {
		t.Skip(err)
	}
	return raw
}

// records are the records of a book that nobody but the site that wrote them may change.
func (w *world) records(m *member) map[string]string {
	out := map[string]string{}
	x, err := store.Open(m.Book, store.Read, store.Options{Now: m.Now})
	w.must(err)
	w.must(errors.Join(x.View(func(t *store.ReadTx) error {
		for _, bucket := range []string{
			layout.Makes, layout.Wheels, layout.Entries, layout.Rooms, layout.Air, layout.AirSources,
		} {
			for k, v := range t.Records(bucket) {
				if bare := bucket == layout.Air || bucket == layout.Rooms; !bare || !bytes.HasPrefix(k, []byte("b:")) {
					out[bucket+" "+string(k)] = string(v)
				}
			}
		}
		return nil
	}), x.Close()))
	return out
}

// ofNames are the lots, tags and rooms of a book that don't bear b's name.
func (w *world) ofNames(m *member) map[string]bool {
	out := map[string]bool{}
	put := func(thing, name string) {
		if !strings.HasPrefix(name, "b:") {
			out[thing+" "+name] = true
		}
	}
	x, err := store.Open(m.Book, store.Read, store.Options{Now: m.Now})
	w.must(err)
	w.must(errors.Join(x.View(func(t *store.ReadTx) error {
		for m, err := range t.AllMakes() {
			w.must(err)
			put("lot", m.Lot)
		}
		for s, err := range t.States() {
			w.must(err)
			put("wheel", s.Tag)
			was, err := t.Wheel(s.Wheel)
			w.must(err)
			put("wheel", was.Tag) // it's called that again where its new tag is cancelled
		}
		all, err := t.Rooms()
		for _, r := range all {
			put("room", r.Name)
		}
		return err
	}), x.Close()))
	return out
}

// unless leaves out that a person has to say which of several is meant.
func unless(err error) error {
	if _, several := reason.Of(err).(refusal.Several); several {
		return nil
	}
	return err
}

// questions are what people ask of a book.
var questions = map[string]func(context.Context, *app.App) error{
	"today": func(ctx context.Context, a *app.App) error {
		_, err := round.ListDay(ctx, a, app.Caller{}, round.Asked{})
		return err
	},
	"today at all sites": func(ctx context.Context, a *app.App) error {
		_, err := round.ListDay(ctx, a, app.Caller{}, round.Asked{Site: round.AllSites})
		return err
	},
	"stock": func(ctx context.Context, a *app.App) error {
		_, err := rooms.Count(ctx, a, app.Caller{}, rooms.InStock{})
		return err
	},
	"ahead": func(ctx context.Context, a *app.App) error {
		_, err := rooms.LookAhead(ctx, a, app.Caller{}, rooms.AheadAsked{Days: 14})
		return err
	},
	"rooms": func(ctx context.Context, a *app.App) error {
		_, err := rooms.All(ctx, a, app.Caller{})
		return err
	},
	"air": func(ctx context.Context, a *app.App) error {
		_, err := rooms.ShowAir(ctx, a, app.Caller{}, "cellar", 7, rooms.WaterAsked{})
		return err
	},
	"dry": func(ctx context.Context, a *app.App) error {
		_, err := drying.DryEnough(ctx, a, app.Caller{}, drying.Which{})
		return err
	},
	"log": func(ctx context.Context, a *app.App) error {
		_, err := entries.Of(ctx, a, app.Caller{}, entries.Question{})
		return err
	},
	"wheels": func(ctx context.Context, a *app.App) error {
		all, err := wheels.All(ctx, a, app.Caller{}, wheels.Listed{Gone: true})
		for _, x := range all.Wheels {
			if err == nil {
				_, err = wheels.Show(ctx, a, app.Caller{}, x.Tag)
				err = unless(err)
			}
		}
		return err
	},
	"makes": func(ctx context.Context, a *app.App) error {
		all, err := makes.All(ctx, a, app.Caller{}, makes.Listed{})
		for _, x := range all.Makes {
			if err == nil {
				_, err = makes.Show(ctx, a, app.Caller{}, x.Lot)
				err = unless(err)
			}
		}
		return err
	},
	"samples": func(ctx context.Context, a *app.App) error {
		_, err := makes.Samples(ctx, a, app.Caller{}, makes.SamplesAsked{})
		return err
	},
	"trace": func(ctx context.Context, a *app.App) error {
		_, err := trade.Run(ctx, a, app.Caller{}, trade.Question{Room: "cellar", From: "2026-03-01", To: "2026-03-20"})
		return err
	},
	"customers": func(ctx context.Context, a *app.App) error {
		all, err := trade.Customers(ctx, a, app.Caller{})
		for _, x := range all.Customers {
			if err == nil {
				_, err = trade.ShowCustomer(ctx, a, app.Caller{}, x.Name)
			}
		}
		return err
	},
	"sites": func(ctx context.Context, a *app.App) error {
		_, err := List(ctx, a, app.Caller{})
		return err
	},
	"plans": func(ctx context.Context, a *app.App) error {
		_, err := library.Plans(ctx, a, app.Caller{})
		return err
	},
	"varieties": func(ctx context.Context, a *app.App) error {
		_, err := library.Varieties(ctx, a, app.Caller{})
		return err
	},
	"laws": func(ctx context.Context, a *app.App) error {
		_, err := library.Laws(ctx, a, app.Caller{}, "")
		return err
	},
	"limits": func(ctx context.Context, a *app.App) error {
		_, err := library.Limits(ctx, a, app.Caller{}, "")
		return err
	},
	"held": func(ctx context.Context, a *app.App) error {
		_, err := wheels.WhatIsHeld(ctx, a, app.Caller{}, wheels.WhichHeld{})
		return err
	},
	"find": func(ctx context.Context, a *app.App) error {
		_, err := find.Words(ctx, a, app.Caller{}, find.Question{Words: []string{"a"}})
		return err
	},
}

// meets has the book of a meet what a thief signed, and proves that it's none the worse. It gives
// what became of it.
func (r *robbed) meets(t testing.TB, raw []byte) bundle.Fate {
	t.Helper()
	w := &world{t: t, dir: t.TempDir(), now: r.now, rnd: rand.New(rand.NewPCG(1, 1))}
	a := &member{name: "a", App: &app.App{Book: filepath.Join(w.dir, "a.book"), Now: func() time.Time { return w.now }}}
	w.sites = []*member{a}
	w.must(os.WriteFile(a.Book, r.book, 0o600))
	was, records, named := w.facts(a), w.records(a), w.ofNames(a)
	x, err := store.Open(a.Book, store.Write, store.Options{Now: a.Now})
	w.must(err)
	var d store.Taken
	err = x.Update(func(t *store.WriteTx) (err error) { d, err = t.Take(raw); return err })
	w.must(x.Close())
	if err != nil {
		if !errors.Is(err, bundle.ErrUnfit) {
			t.Fatalf("the exchange stops: %v", err)
		}
		t.Log(err)
		d.Fate = bundle.Unfit
	}
	now := w.facts(a)
	if d.Fate != bundle.TakenUp {
		if diff := cmp.Diff(was, now); diff != "" {
			t.Errorf("%s, but it changed the book:\n%.2000s", d.Fate, diff)
		}
		return d.Fate
	}
	noticed := false
	for k, v := range now {
		noticed = noticed || strings.HasPrefix(k, "disagreement ") && strings.Contains(v, string(disagree.SameIdentity))
	}
	for k, v := range w.records(a) {
		if old, ok := records[k]; ok && old != v && !noticed {
			t.Errorf("a record of others changed: %q was %q is %q", k, old, v)
		}
		delete(records, k)
	}
	for name := range w.ofNames(a) {
		if !named[name] {
			t.Errorf("b gave a name as another site: %q", name)
		}
	}
	if len(records) > 0 && !noticed {
		t.Errorf("records vanished: %q", records)
	}
	w.check(a)
	for name, ask := range questions {
		if err := unless(ask(t.Context(), a.App)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	w.rebuild(a)
	for _, what := range []string{"make", "turn", "weigh", "air", "room", "customer", "plan"} {
		w.now = w.now.Add(time.Hour)
		w.act(a, what)
	}
	w.check(a)
	y, err := store.Open(a.Book, store.Read, store.Options{Now: a.Now})
	w.must(err)
	w.must(errors.Join(y.View(func(t *store.ReadTx) error {
		for after, more := uint64(0), true; more; {
			b, ok, err := outgoing.Next(t, after, bundleBytes)
			if more, after = ok, b.Last; err != nil || !ok {
				return err
			}
			if _, err := sites.Unpack(b.Payload); err != nil {
				return err
			}
		}
		return nil
	}), y.Close()))
	return d.Fate
}
