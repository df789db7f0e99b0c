package sites

import (
	"cmp"
	"errors"
	"slices"

	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/members"
)

// branches tells the other sites of epochs in which two computers wrote: what the book took of them,
// as the others may have what the other of the two wrote, and what only the carrier has. took says
// whether it took up any that it or another site told of.
func (x *exchange) branches() (took bool, err error) {
	heads, err := x.heads()
	if err != nil {
		return false, err
	}
	for _, h := range heads[1:] {
		if h.Fork == nil {
			continue
		}
		var raws [][]byte
		after, of := h.Fork.After, members.Epoch{Site: h.Site, Epoch: h.Epoch}
		if x.forked[of] {
			x.forked[of] = false
			if raws, after, err = x.parting(h); err != nil {
				return false, err
			}
		}
		if after != nil {
			if err := x.view(func(t *store.ReadTx) error {
				raws = append(raws, t.Untold(h.Site, h.Epoch, *after)...)
				return nil
			}); err != nil {
				return false, err
			}
		}
		for _, raw := range raws { // each may be as much as a transaction holds
			if err := x.update(func(t *store.WriteTx) error { return t.TellBranch(raw) }); err != nil {
				return false, err
			}
		}
	}
	return x.takeTold()
}

// mostBranches is how many branches are taken up in one exchange; the rest wait for the next: our choice.
// A branch can hold others, and a thief of a key could put a thousand into each.
const mostBranches = 1000

// takeTold takes up the branches that sites told of, each in a transaction of its own: one that no book
// can have written keeps nothing else from being taken.
func (x *exchange) takeTold() (took bool, err error) {
	for {
		var keys [][]byte
		if err := x.view(func(t *store.ReadTx) (err error) { keys, err = t.ToldBranches(); return err }); err != nil {
			return took, err
		}
		for _, k := range keys {
			if x.told++; x.told > mostBranches {
				return took, nil
			}
			err := x.update(func(t *store.WriteTx) error { return t.TakeBranch(k) })
			if took = took || err == nil; errors.Is(err, bundle.ErrUnfit) {
				err = x.update(func(t *store.WriteTx) error { return t.RefuseBranch(k) })
			}
			if err != nil {
				return took, err
			}
		}
		if len(keys) == 0 {
			return took, nil
		}
	}
}

// part is a bundle of an epoch as a carrier has it.
type part struct {
	bundle.Bundle // without its payload
	raw           []byte
}

// parts are what the carrier has of an epoch, in order.
func (x *exchange) parts(h members.Head) (out []part, err error) {
	err = x.c.Fetch(x.ctx, h.Site, h.Epoch, 0, func(raw []byte) error {
		b, key, err := bundle.Open(raw)
		if b.Payload = nil; err == nil && key.Equal(h.Key) {
			out = append(out, part{b, slices.Clone(raw)})
		}
		return err
	})
	slices.SortStableFunc(out, func(a, b part) int { return cmp.Compare(a.First, b.First) })
	return out, err
}

// strays says whether a bundle goes on in another branch than the book's, from a link that the book has or
// that was found, and whether that branch begins with it.
func (p part) strays(t *store.ReadTx, h members.Head, found map[bundle.Head]bool) (strays, begins bool) {
	n, is := p.First-1, p.Head()
	from := bundle.Head{Site: p.Site, Epoch: p.Epoch, Number: n, Hash: p.Before}
	begins = n == 0 || n < h.Number && t.HasTaken(from)
	follows := begins || found[from] || t.HasBranch(from)
	return follows && !found[is] && !t.HasTaken(is) && !t.HasBranch(is), begins
}

// parting finds what the carrier has of other branches of an epoch than the book's, and notes after
// which link they begin; nil where the carrier lacks what came next. If the epoch was revoked, or its
// site left, it gives nothing: a thief of its key could have backdated a branch.
func (x *exchange) parting(h members.Head) (raws [][]byte, after *uint64, err error) {
	parts, err := x.parts(h)
	if err != nil {
		return nil, nil, err
	}
	found := map[bundle.Head]bool{}
	err = x.view(func(t *store.ReadTx) error {
		for _, p := range parts {
			strays, begins := p.strays(t, h, found)
			if !strays {
				continue
			}
			found[p.Head()] = true
			if n := p.First - 1; begins && (after == nil || n < *after) {
				after = &n
			}
			raws = append(raws, p.raw)
		}
		ended, err := t.Ended(h.Site, h.Epoch)
		if ended {
			raws = nil
		}
		return err
	})
	if was := h.Fork.After; err != nil || after == nil || was != nil && *was <= *after {
		return raws, was, err
	}
	return raws, after, x.update(func(t *store.WriteTx) error { return t.PlaceFork(h.Site, h.Epoch, *after) })
}

// lacking is after which link of each epoch the carrier may have what the book hasn't: after what the
// book has, or before the end of another branch of it.
func lacking(t *store.ReadTx, heads []members.Head, there []bundle.Head) (map[members.Epoch]uint64, error) {
	known, out := map[members.Epoch]members.Head{}, map[members.Epoch]uint64{}
	for _, h := range heads[1:] {
		known[members.Epoch{Site: h.Site, Epoch: h.Epoch}] = h
	}
	for _, tip := range there {
		of := members.Epoch{Site: tip.Site, Epoch: tip.Epoch}
		h := known[of]
		if _, seen := out[of]; !seen {
			out[of] = h.Number
		}
		if tip.Number == 0 || tip.Number > h.Number || t.HasTaken(tip) || t.HasBranch(tip) {
			continue
		}
		ended, err := t.Ended(of.Site, of.Epoch)
		if err != nil {
			return nil, err
		}
		if !ended || h.Fork == nil || h.Fork.After == nil {
			out[of] = min(out[of], tip.Number-1)
		}
	}
	delete(out, members.Epoch{Site: heads[0].Site, Epoch: heads[0].Epoch}) // the book's own
	return out, nil
}
