// Package sites is the use cases of several sites that share one book: who they are, and the
// exchange of what each wrote.
package sites

import (
	"context"
	"errors"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/members"
	"rindkeep/store/outgoing"
)

// Exchanged is what an exchange of one carrier came to.
type Exchanged struct {
	Schema   string            `json:"schema"`
	Carrier  string            `json:"carrier"`
	Sent     int               `json:"sent_links"`
	Relayed  int               `json:"relayed_bundles"` // of other sites, which the carrier lacked
	Taken    []TakenFrom       `json:"taken"`
	Held     []Held            `json:"held"`       // bundles that can't be taken up yet
	Received []string          `json:"received"`   // wheels that were here before their data
	Older    bool              `json:"older_copy"` // this book was an older copy of itself: it goes on as a new one
	Trouble  []carrier.Trouble `json:"trouble"`

	upTo uint64 // the last of the book's own links that the carrier has
}

// TakenFrom is what came from one site.
type TakenFrom struct {
	Site  string `json:"site"`
	Links int    `json:"links"`
	Facts int    `json:"facts"`
}

// Held is what is held back of a site, and why.
type Held struct {
	Site string      `json:"site"` // its name, or its identity if nobody named it
	Why  bundle.Fate `json:"why"`
}

// bundleBytes is about how many bytes of facts go into one bundle, and are taken up in one
// transaction: some 2,000 entries, which hold the book for about 0.2 s.
const bundleBytes = 128 << 10

// exchange is one exchange in progress.
type exchange struct {
	ctx  context.Context
	a    *app.App
	ring *keys.Ring
	c    carrier.Carrier
	own  members.Own
	out  Exchanged
	asks []store.Taken

	known  []members.Head         // when taking up began
	forked map[members.Epoch]bool // epochs that the carrier has otherwise than the book; false: its branches were taken
	told   int                    // branches that were taken up, as sites told of them
}

func newExchange(ctx context.Context, a *app.App, ring *keys.Ring, c carrier.Carrier) *exchange {
	return &exchange{ctx: ctx, a: a, ring: ring, c: c, forked: map[members.Epoch]bool{}, out: Exchanged{
		Schema: app.Schema("site-exchange"), Taken: []TakenFrom{}, Held: []Held{}, Received: []string{},
		Trouble: []carrier.Trouble{},
	}}
}

// Exchange takes up what a carrier has and the book hasn't, and gives it what it lacks.
func Exchange(ctx context.Context, a *app.App, ring *keys.Ring, c carrier.Carrier) (Exchanged, error) {
	x := newExchange(ctx, a, ring, c)
	err := x.run()
	x.out.Trouble = append(x.out.Trouble, c.Faults()...)
	return x.out, err
}

func (x *exchange) run() error {
	if _, err := x.heads(); err != nil {
		return err
	}
	if x.own.Left != nil {
		return app.Refuse(app.HasLeft{Name: x.own.Name, First: x.own.Root.Name})
	}
	there, err := x.c.Heads(x.ctx)
	if err != nil {
		return err
	}
	if err := x.older(there); err != nil {
		return err
	}
	for more := true; more; { // what comes may let in what was held
		if more, err = x.take(there); err != nil {
			return err
		}
		admitted, err := x.admit()
		if err != nil {
			return err
		}
		took, err := x.branches()
		if err != nil {
			return err
		}
		more = (more || admitted || took) && len(x.out.Held) > 0
	}
	if err := x.departed(); err != nil {
		return err
	}
	if err := x.claims(); err != nil {
		return err
	}
	return x.giveAll(there)
}

// giveAll puts what the carrier lacks.
func (x *exchange) giveAll(there []bundle.Head) (err error) {
	for range 3 { // others put there meanwhile
		if err = x.give(there); !errors.Is(err, carrier.Behind) {
			return err
		}
		if there, err = x.c.Heads(x.ctx); err == nil {
			err = x.older(there) // another computer may write as this site
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// view reads the book.
func (x *exchange) view(fn func(*store.ReadTx) error) error {
	b, err := store.Open(x.a.Book, store.Read, store.Options{Now: x.a.Now})
	if err != nil {
		return err
	}
	return errors.Join(b.View(fn), b.Close())
}

// update writes the book.
func (x *exchange) update(fn func(*store.WriteTx) error) error {
	b, err := store.Open(x.a.Book, store.Write, store.Options{Now: x.a.Now})
	if err != nil {
		return err
	}
	return errors.Join(b.Update(fn), b.Close())
}

// heads reads how far the book has each site.
func (x *exchange) heads() (heads []members.Head, err error) {
	err = x.view(func(t *store.ReadTx) error {
		var ok bool
		if x.own, ok = t.Own(); !ok {
			return app.Refuse(app.NotShared)
		}
		heads, err = t.Heads()
		return err
	})
	return heads, err
}

// older notices that this book is an older copy of itself, or that a copy of it wrote too: the carrier
// has links of its epoch that it hasn't got, or a site told of some, or it signed some. It goes on in a
// new epoch then, and what the other wrote comes back like another site's. If it didn't, and another
// site were two computers too, each would tell for ever of what the other tells.
func (x *exchange) older(there []bundle.Head) error {
	strange, err := x.ring.Followed(x.own.Epoch)
	if err != nil {
		return err
	}
	signed, err := x.ring.Signed(x.own.Epoch)
	if err != nil {
		return err
	}
	if signed.Number > 0 {
		there = append(slices.Clone(there), signed)
	}
	err = x.view(func(t *store.ReadTx) error {
		strange = strange || t.Doubled()
		for _, h := range there {
			if h.Site == x.own.Site && h.Epoch == x.own.Epoch {
				strange = strange || !t.HasLink(h.Number, h.Hash)
			}
		}
		return nil
	})
	if err != nil || !strange {
		return err
	}
	old, err := x.ring.Key(x.own.Epoch)
	if err != nil {
		return err
	}
	epoch, err := uuid.NewV7()
	if err != nil {
		return err
	}
	key, err := x.ring.Make(x.own.Group, x.own.Site, epoch, old.Key)
	if err != nil {
		return err
	}
	x.own.Epoch, x.own.Key, x.out.Older = epoch, key.Public(), true
	return x.update(func(t *store.WriteTx) error { return t.Share(x.own) })
}

// give puts what the carrier lacks: the book's own links, and what it has of others.
func (x *exchange) give(there []bundle.Head) error {
	key, err := x.ring.Key(x.own.Epoch)
	if err != nil {
		return err
	}
	if err := x.introduce(key, there); err != nil {
		return err
	}
	after := uint64(0)
	for _, h := range there {
		if h.Site == x.own.Site && h.Epoch == x.own.Epoch {
			after = max(after, h.Number)
		}
	}
	for {
		var b bundle.Bundle
		var ok bool
		if err := x.view(func(t *store.ReadTx) (err error) {
			b, ok, err = outgoing.Next(t, after, bundleBytes)
			return err
		}); err != nil {
			return err
		}
		if !ok {
			break
		}
		b.Voucher = key.Voucher
		raw, err := bundle.Seal(key.Key, b)
		if err == nil {
			err = x.ring.Signs(b.Head())
		}
		if err != nil {
			return err
		}
		if err := x.c.Put(x.ctx, raw); err != nil {
			return err
		}
		x.out.Sent += int(b.Last - b.First + 1)
		after = b.Last
	}
	x.out.upTo = after
	var heads []members.Head
	var upTo []uint64
	if err := x.view(func(t *store.ReadTx) (err error) {
		heads, err = t.Heads()
		for _, h := range heads[min(1, len(heads)):] { // the first is its own
			upTo = append(upTo, x.relayed(t, h.Head, there))
		}
		return err
	}); err != nil {
		return err
	}
	for i, h := range heads[1:] {
		if err := x.relay(h.Head, upTo[i]); err != nil {
			return err
		}
	}
	return nil
}

// introduce puts the first link of the book's earlier epochs where the carrier has nothing of
// them: their keys vouch for the later ones, and it may be that nobody heard of them before the
// book was set back.
func (x *exchange) introduce(key keys.Own, there []bundle.Head) error {
	for {
		old, ok, err := x.ring.Before(key)
		if err != nil || !ok {
			return err
		}
		if !slices.ContainsFunc(there, func(h bundle.Head) bool { return h.Epoch == old.Epoch }) {
			var b bundle.Bundle
			if err := x.view(func(t *store.ReadTx) (err error) {
				b, ok, err = outgoing.Next(t, 0, 0)
				return err
			}); err != nil || !ok {
				return err
			}
			b.Epoch, b.Voucher = old.Epoch, old.Voucher
			raw, err := bundle.Seal(old.Key, b)
			if err == nil {
				err = x.c.Put(x.ctx, raw)
			}
			if err != nil {
				return err
			}
		}
		key = old
	}
}

// relayed is how far the carrier has what the book has of another site. If another computer wrote as
// that site too, it has to hear of what the book has: it goes on in a new epoch then.
func (x *exchange) relayed(t *store.ReadTx, h bundle.Head, there []bundle.Head) (after uint64) {
	for _, tip := range there {
		if tip.Site != h.Site || tip.Epoch != h.Epoch {
			continue
		}
		_, forked := x.forked[members.Epoch{Site: h.Site, Epoch: h.Epoch}]
		switch ahead := tip.Number > h.Number; {
		case tip == h, ahead && !forked: // it came meanwhile
			return h.Number
		case !ahead && t.HasTaken(tip):
			after = max(after, tip.Number)
		}
	}
	return after
}

// relayBytes is how much of what others wrote is held in memory to be passed on.
const relayBytes = 4 << 20

// relay puts what the book has of another site and the carrier hasn't.
func (x *exchange) relay(h bundle.Head, after uint64) error {
	for after < h.Number {
		var raws [][]byte
		if err := x.view(func(t *store.ReadTx) error {
			size := 0
			for raw := range t.Bundles(h.Site, h.Epoch, after) {
				if size += len(raw); len(raws) > 0 && size > relayBytes {
					break
				}
				raws = append(raws, slices.Clone(raw))
			}
			return nil
		}); err != nil {
			return err
		}
		if len(raws) == 0 {
			return nil
		}
		for _, raw := range raws {
			if err := x.c.Put(x.ctx, raw); err != nil {
				return err
			}
			x.out.Relayed++
			b, err := bundle.Peek(raw)
			if err != nil {
				return err
			}
			after = b.Last
		}
	}
	return nil
}
