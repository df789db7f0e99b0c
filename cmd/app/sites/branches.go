package sites

import (
	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/members"
)

// branches tells the other sites what the book took of epochs in which two computers wrote: they may
// have what the other of the two wrote.
func (x *exchange) branches() error {
	heads, err := x.heads()
	if err != nil {
		return err
	}
	for _, h := range heads[1:] {
		if h.Fork == nil {
			continue
		}
		after := h.Fork.After
		if after == nil && x.forked[members.Epoch{Site: h.Site, Epoch: h.Epoch}] {
			if after, err = x.parting(h); err != nil {
				return err
			}
		}
		if after == nil {
			continue
		}
		var raws [][]byte
		if err := x.view(func(t *store.ReadTx) error {
			raws = t.Untold(h.Site, h.Epoch, *after)
			return nil
		}); err != nil {
			return err
		}
		for _, raw := range raws { // each is nearly as much as a transaction may be
			if err := x.update(func(t *store.WriteTx) error { return t.TellBranch(raw) }); err != nil {
				return err
			}
		}
	}
	return nil
}

// parting finds and notes the last link that all branches of an epoch have that the carrier has; nil
// where it lacks what came next.
func (x *exchange) parting(h members.Head) (after *uint64, err error) {
	var parts []bundle.Bundle
	if err := x.c.Fetch(x.ctx, h.Site, h.Epoch, 0, func(raw []byte) error {
		b, key, err := bundle.Open(raw)
		if b.Payload = nil; err == nil && key.Equal(h.Key) {
			parts = append(parts, b)
		}
		return err
	}); err != nil {
		return nil, err
	}
	err = x.view(func(t *store.ReadTx) error {
		for _, b := range parts {
			n := b.First - 1
			from := bundle.Head{Site: b.Site, Epoch: b.Epoch, Number: n, Hash: b.Before}
			begins := n == 0 || n < h.Number && t.HasTaken(from)
			if begins && !t.HasTaken(b.Head()) && (after == nil || n < *after) {
				after = &n
			}
		}
		return nil
	})
	if err != nil || after == nil {
		return nil, err
	}
	return after, x.update(func(t *store.WriteTx) error { return t.PlaceFork(h.Site, h.Epoch, *after) })
}

// lacking is after which link of each epoch the carrier may have what the book hasn't: after what the
// book has, or before the end of another branch of it.
func lacking(t *store.ReadTx, heads []members.Head, there []bundle.Head) map[members.Epoch]uint64 {
	reached, out := map[members.Epoch]uint64{}, map[members.Epoch]uint64{}
	for _, h := range heads[1:] {
		reached[members.Epoch{Site: h.Site, Epoch: h.Epoch}] = h.Number
	}
	for _, tip := range there {
		of := members.Epoch{Site: tip.Site, Epoch: tip.Epoch}
		if _, seen := out[of]; !seen {
			out[of] = reached[of]
		}
		if 0 < tip.Number && tip.Number <= reached[of] && !t.HasTaken(tip) && !t.HasBranch(tip) {
			out[of] = min(out[of], tip.Number-1)
		}
	}
	delete(out, members.Epoch{Site: heads[0].Site, Epoch: heads[0].Epoch}) // the book's own
	return out
}
