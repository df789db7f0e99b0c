package store

import (
	"bytes"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"rindkeep/store/bundle"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/pack"
	"rindkeep/store/sites"
	"rindkeep/store/sorts"
	"rindkeep/store/table"
)

// Where two computers use one site's book, both write the next link of one epoch. A book goes on with
// the branch that came first, and either computer may be lost. So a book that meets another branch
// tells the others of the one it has: each bundle of it is a fact of the book's own.

// forked is what becomes of a bundle that another copy of its site's book wrote. One that is in another
// epoch too needn't be waited for, unless this epoch has ended: then only those who took a branch of it
// tell of that, and have to hear that there's another.
func (t *WriteTx) forked(b bundle.Bundle, h members.Reached) (bundle.Fate, error) {
	heads, err := t.Heads()
	if err != nil {
		return "", err
	}
	ended, err := t.Ended(b.Site, b.Epoch)
	switch {
	case err != nil:
		return "", err
	case t.HasBranch(b.Head()), !ended && t.Elsewhere(heads, b.Head()):
		return bundle.Repeated, nil
	case h.Fork != nil && bytes.Equal(h.Fork.Hash, b.After[:]):
		return bundle.Forked, nil
	}
	h.Fork = &members.Fork{Number: b.Last, Hash: b.After[:], Seen: pack.Milli(t.Now())}
	return bundle.Forked, t.putReached(b.Site, b.Epoch, h)
}

func (t *WriteTx) putReached(site, epoch uuid.UUID, h members.Reached) error {
	t.tab.Foreign = true
	_, err := table.PutRecord(t.tab, layout.Heads, members.HeadKey(site, epoch), h)
	return err
}

// PlaceFork notes after which link of a site's epoch another branch begins.
func (t *WriteTx) PlaceFork(site, epoch uuid.UUID, after uint64) error {
	h, err := t.Reached(site, epoch)
	if err != nil || h.Fork == nil {
		return err
	}
	h.Fork.After = &after
	return t.putReached(site, epoch, h)
}

// Untold lists the bundles of a site's epoch that the book took after a link, and that no site has told
// the others of.
func (t *ReadTx) Untold(site, epoch uuid.UUID, after uint64) (raws [][]byte) {
	for raw := range t.Bundles(site, epoch, after) {
		b, err := bundle.Peek(raw)
		if err == nil && t.tab.Get(layout.Branches, sorts.BranchKey(b.Head(), raw)) == nil {
			raws = append(raws, bytes.Clone(raw))
		}
	}
	return raws
}

// TellBranch tells the other sites of a bundle of a branch, unless a site has told of it. What it says
// waits for TakeBranch, if the book hasn't taken it.
func (t *WriteTx) TellBranch(raw []byte) error {
	b, err := bundle.Peek(raw)
	k := sorts.BranchKey(b.Head(), raw)
	if err == nil && len(raw) <= bundle.MostTold && t.tab.Get(layout.Branches, k) == nil {
		t.putBranch(k, pack.Sealed(raw), !t.HasTaken(b.Head()))
	}
	return err
}

func (t *WriteTx) putBranch(k, v []byte, waits bool) {
	t.tab.Put(layout.Branches, k, v)
	if waits {
		t.tab.Put(layout.Waiting, branchWaits(k), layout.Plain)
	}
}

func branchWaits(k []byte) []byte { return layout.WaitingKey(uuid.Nil, layout.Branches, k) }

// unfit is in Waiting of a branch that no book can have written: nobody tries it again.
var unfit = []byte{0}

// ToldBranches lists the branches that sites told of and that can be taken up now, by their keys.
func (t *ReadTx) ToldBranches() (keys [][]byte, err error) {
	of := branchWaits(nil)
	for k, v := range t.tab.In(layout.Waiting, of) {
		if bytes.Equal(v, unfit) {
			continue
		}
		k = bytes.Clone(k[len(of):])
		_, _, links, err := t.branch(k)
		if err != nil {
			return nil, err
		}
		if links != nil {
			keys = append(keys, k)
		}
	}
	return keys, nil
}

// branch opens a branch that a site told of. It has no links while the book can't tell whose its key is,
// or doesn't know a fact of them.
func (t *ReadTx) branch(k []byte) (name string, b bundle.Bundle, links []sites.Link, err error) {
	raw, err := pack.Body(t.tab.Get(layout.Branches, k))
	if err != nil {
		return name, b, nil, t.tab.Damaged(err, "branch", k)
	}
	b, key, err := bundle.Open(raw)
	own, _ := t.Own()
	if err != nil || b.Group != own.Group {
		return name, b, nil, nil
	}
	var out Taken
	h, err := t.Reached(b.Site, b.Epoch)
	if err == nil {
		err = t.fate(&out, own, b, key, h)
	}
	if err != nil {
		return name, b, nil, err
	}
	switch out.Fate {
	case "", bundle.Repeated, bundle.Forked, bundle.Early:
	default:
		return name, b, nil, nil
	}
	if links, err = sites.Unpack(b.Payload); err != nil || slices.ContainsFunc(links, sites.Link.Newer) {
		return name, b, nil, nil
	}
	return out.Name, b, links, nil
}

// TakeBranch takes up a branch that a site told of, in a transaction of its own.
func (t *WriteTx) TakeBranch(k []byte) error {
	t.tab.Foreign = true
	name, b, links, err := t.branch(k)
	if err != nil || links == nil {
		return err
	}
	zone, _, err := members.Reached{}.Follows(b, links)
	if err == nil && zone != "" && zone != t.Settings().Zone {
		err = fmt.Errorf("%w: in the zone %s", bundle.ErrUnfit, zone)
	}
	if err == nil {
		t.tab.Put(layout.Waiting, branchWaits(k), nil)
		_, err = t.takeLinks(name, b.Site, links)
	}
	return err
}

// RefuseBranch leaves a branch aside that TakeBranch found no book can have written.
func (t *WriteTx) RefuseBranch(k []byte) error {
	t.tab.Put(layout.Waiting, branchWaits(k), unfit)
	return nil
}
