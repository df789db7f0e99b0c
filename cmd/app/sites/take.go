package sites

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"slices"

	"github.com/google/uuid"

	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/members"
	"rindkeep/store/pack"
	"rindkeep/store/register"
)

// take takes up all that the carrier has beyond the book; more says whether anything was new.
func (x *exchange) take(there []bundle.Head) (more bool, err error) {
	heads, err := x.heads()
	if err != nil {
		return false, err
	}
	var after map[members.Epoch]uint64
	if err := x.view(func(t *store.ReadTx) (err error) {
		after, err = lacking(t, heads, there)
		return err
	}); err != nil {
		return false, err
	}
	x.known, x.out.Held, x.asks = heads, []Held{}, nil
	for _, h := range there {
		of := members.Epoch{Site: h.Site, Epoch: h.Epoch}
		from, ok := after[of]
		if !ok {
			continue
		}
		delete(after, of)
		n, err := x.takeFrom(h, from)
		if more = more || n; err != nil {
			return more, err
		}
	}
	return more, nil
}

// takeFrom takes up what the carrier has of one epoch of a site after a link.
func (x *exchange) takeFrom(h bundle.Head, after uint64) (more bool, err error) {
	var batch [][]byte
	size := 0
	flush := func() error {
		n, err := x.takeAll(batch)
		more, batch, size = more || n, nil, 0
		return err
	}
	if err := x.c.Fetch(x.ctx, h.Site, h.Epoch, after, func(raw []byte) error {
		if _, _, err := bundle.Open(raw); err != nil {
			return err
		}
		if size > 0 && size+len(raw) > bundleBytes/2 {
			if err := flush(); err != nil {
				return err
			}
		}
		batch, size = append(batch, slices.Clone(raw)), size+len(raw)
		return nil
	}); err != nil {
		return more, err
	}
	err = flush()
	return more, err
}

// takeAll takes up some bundles of one site in one transaction.
func (x *exchange) takeAll(batch [][]byte) (more bool, err error) {
	if len(batch) == 0 {
		return false, nil
	}
	var done []store.Taken
	err = x.update(func(t *store.WriteTx) error {
		done = done[:0]
		for _, raw := range batch {
			d, err := t.Take(raw)
			done = append(done, d)
			if err != nil {
				return err
			}
		}
		return nil
	})
	switch {
	case errors.Is(err, bundle.ErrUnfit) && len(batch) > 1: // take those before it
		for _, raw := range batch {
			n, err := x.takeAll([][]byte{raw})
			if more = more || n; err != nil {
				return more, err
			}
		}
		return more, nil
	case errors.Is(err, bundle.ErrUnfit) && errors.Is(err, pack.ErrNewer):
		done[0].Fate = bundle.NewerSender
	case errors.Is(err, bundle.ErrUnfit): // the other sites don't wait for this one
		done[0].Fate = bundle.Unfit
	case err != nil:
		return false, err
	}
	return x.tell(done), nil
}

// tell notes what became of bundles.
func (x *exchange) tell(done []store.Taken) (more bool) {
	for _, d := range done {
		switch d.Fate {
		case bundle.TakenUp:
			more = true
			i := slices.IndexFunc(x.out.Taken, func(f TakenFrom) bool { return f.Site == d.Name })
			if i < 0 {
				i, x.out.Taken = len(x.out.Taken), append(x.out.Taken, TakenFrom{Site: d.Name})
			}
			x.out.Taken[i].Links += d.Links
			x.out.Taken[i].Facts += d.Facts
		case bundle.Repeated:
		case bundle.Early:
			if !x.over(d.Head) {
				x.hold(d)
			}
		default:
			x.hold(d)
		}
	}
	return more
}

// over says whether the site of a bundle has a later epoch by now. What's missing of the earlier one
// was lost with a book, so nobody need wait for it. Epochs sort by the time they began.
func (x *exchange) over(h bundle.Head) bool {
	return slices.ContainsFunc(x.known, func(o members.Head) bool {
		return o.Site == h.Site && bytes.Compare(o.Epoch[:], h.Epoch[:]) > 0
	})
}

// hold notes a bundle that can't be taken up, and why.
func (x *exchange) hold(d store.Taken) {
	h := Held{Site: d.Name, Why: d.Fate}
	if h.Site == "" {
		h.Site = d.Site.String()
	}
	if !slices.Contains(x.out.Held, h) {
		x.out.Held = append(x.out.Held, h)
	}
	if d.Fate == bundle.Forked {
		x.forked[members.Epoch{Site: d.Site, Epoch: d.Epoch}] = true
	}
	if d.Asks != nil {
		x.asks = append(x.asks, d)
	}
}

// admit lets in the sites that use an invitation of this one's.
func (x *exchange) admit() (any bool, err error) {
	for _, d := range x.asks {
		err := x.update(func(t *store.WriteTx) error {
			all, err := t.Pacts()
			if err != nil {
				return err
			}
			of := openInvitation(all, x.own, d, t)
			if of == nil {
				return nil
			}
			any = true
			id, err := uuid.NewV7()
			if err != nil {
				return err
			}
			return t.PutPact(register.Pact{
				ID: id, Kind: register.Admitted, Site: d.Asks.Site, Epoch: d.Asks.Epoch, Public: d.Asks.Key,
				Name: of.Name, From: x.own.Site, Of: of.ID, Written: t.Now(), By: of.By,
			})
		})
		if err != nil {
			return any, err
		}
	}
	x.asks = nil
	return any, nil
}

// openInvitation is the invitation of this site's that a newcomer uses; nil where it gave
// none, or it was used or withdrawn before, or it has run out.
func openInvitation(all []register.Pact, own members.Own, d store.Taken, t *store.WriteTx) *register.Pact {
	for i := range all {
		p := &all[i]
		if p.Kind != register.Invited || p.From != own.Site || p.Site != d.Asks.Site ||
			!p.Public.Equal(ed25519.PublicKey(d.By)) {
			continue
		}
		used := slices.ContainsFunc(all, func(o register.Pact) bool { return o.Kind == register.Admitted && o.Of == p.ID })
		if used || p.Withdrawn(all, own.Root.Site) || !p.Until.IsZero() && t.Now().After(p.Until) {
			return nil
		}
		return p
	}
	return nil
}
