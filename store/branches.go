package store

import (
	"bytes"
	"crypto/sha256"
	"slices"

	"github.com/google/uuid"

	"rindkeep/store/bundle"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/pack"
	"rindkeep/store/sites"
	"rindkeep/store/table"
)

// Where two computers use one site's book, both write the next link of one epoch. A book goes on with
// the branch that came first, and either computer may be lost. So a book that meets another branch
// tells the others of the one it has: each bundle of it is a fact of the book's own.

// branchKey is the key in Branches of a bundle.
func branchKey(h bundle.Head, raw []byte) []byte {
	d := sha256.Sum256(raw)
	return slices.Concat(members.HeadKey(h.Site, h.Epoch), layout.LinkKey(h.Number), d[:])
}

// forked is what becomes of a bundle that another copy of its site's book wrote.
func (t *WriteTx) forked(b bundle.Bundle, h members.Reached) (bundle.Fate, error) {
	if t.HasBranch(b.Head()) {
		return bundle.Repeated, nil
	}
	if h.Fork != nil && bytes.Equal(h.Fork.Hash, b.After[:]) {
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

// mostTold leaves room for a bundle that holds another, in bytes: no larger one can be told of.
const mostTold = bundle.MostRaw - 1<<10

// Untold lists the bundles of a site's epoch that the book took after a link, and that no site has told
// the others of.
func (t *ReadTx) Untold(site, epoch uuid.UUID, after uint64) (raws [][]byte) {
	for raw := range t.Bundles(site, epoch, after) {
		b, err := bundle.Peek(raw)
		if err == nil && len(raw) <= mostTold && t.tab.Get(layout.Branches, branchKey(b.Head(), raw)) == nil {
			raws = append(raws, bytes.Clone(raw))
		}
	}
	return raws
}

// TellBranch tells the other sites of a bundle of a branch. What it says is taken up by TakeWaiting, in
// another transaction.
func (t *WriteTx) TellBranch(raw []byte) error {
	b, err := bundle.Peek(raw)
	if err == nil {
		k := branchKey(b.Head(), raw)
		t.tab.Put(layout.Branches, k, pack.Sealed(raw))
		t.tab.Put(layout.Waiting, layout.WaitingKey(uuid.Nil, layout.Branches, k), layout.Plain)
	}
	return err
}

// takeBranch takes up the facts of a bundle that a site told of. It waits while the book can't tell
// whose its key is.
func (t *WriteTx) takeBranch(k, v []byte) error {
	raw, err := pack.Body(v)
	if err != nil {
		return err
	}
	var out Taken
	own, _ := t.Own()
	b, key, err := bundle.Open(raw)
	links, uerr := sites.Unpack(b.Payload)
	waits := err != nil || uerr != nil || b.Group != own.Group || !bytes.Equal(k, branchKey(b.Head(), raw)) ||
		slices.ContainsFunc(links, unknownFact)
	if !waits {
		h, err := t.Reached(b.Site, b.Epoch)
		if err == nil {
			err = t.fate(&out, own, b, key, h)
		}
		if err != nil {
			return err
		}
		switch out.Fate {
		case "", bundle.Repeated, bundle.Forked, bundle.Early:
		default:
			waits = true
		}
	}
	wait := layout.WaitingKey(uuid.Nil, layout.Branches, k)
	if waits {
		t.tab.Put(layout.Waiting, wait, layout.Plain)
		return nil
	}
	if t.tab.Get(layout.Waiting, wait) != nil {
		t.tab.Put(layout.Waiting, wait, nil)
	}
	_, err = t.takeLinks(out.Name, b.Site, links)
	return err
}

// TakeWaiting takes up the branches whose keys are known by now.
func (t *WriteTx) TakeWaiting() error {
	t.tab.Foreign = true
	if err := t.tab.Flush(layout.Waiting, layout.Branches); err != nil {
		return err
	}
	of := layout.WaitingKey(uuid.Nil, layout.Branches, nil)
	var keys [][]byte
	for k := range t.tab.In(layout.Waiting, of) {
		keys = append(keys, bytes.Clone(k[len(of):]))
	}
	for _, k := range keys {
		if err := t.takeBranch(k, bytes.Clone(t.tab.Get(layout.Branches, k))); err != nil {
			return err
		}
	}
	return nil
}
