package store

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/sorts"
)

// Head gives the head of the chain of history, how the chain began, and when.
func (t *ReadTx) Head() (h chain.Head, begun chain.Beginning, since time.Time, err error) {
	h, begun, since, err = chain.HeadOf(t.tab.Bucket(layout.Chain))
	if err != nil {
		err = t.tab.Damaged(err, "chain", nil)
	}
	return h, begun, since, err
}

// LinksShared is how many links the book's chain begins with as another copy's does, and
// when the last of them was written; zero where there are none.
func (t *ReadTx) LinksShared(o *ReadTx) (links int, last time.Time, err error) {
	own, _, _, err := t.Head()
	if err != nil {
		return 0, last, err
	}
	other, _, _, err := o.Head()
	if err != nil {
		return 0, last, err
	}
	links = chain.Shared(t.tab.Bucket(layout.Chain), o.tab.Bucket(layout.Chain), min(own.Number, other.Number))
	k := layout.LinkKey(uint64(links))
	if h, err := chain.HeadAt(k, t.tab.Get(layout.Chain, k)); links > 0 && err == nil {
		last = h.Written.In(t.Zone())
	}
	return links, last, nil
}

// FindLink finds the link whose hash begins with the digits chain.ParseHead gave; ok is
// false where the chain has none. It looks at every link.
func (t *ReadTx) FindLink(digits string) (h chain.Head, ok bool, err error) {
	if h, ok, err = chain.Find(t.tab.Bucket(layout.Chain), digits); err != nil {
		err = t.tab.Damaged(err, "chain", nil)
	}
	return h, ok, err
}

// ProveChain proves the chain against the facts, and gives how many links it has.
func (t *ReadTx) ProveChain(ctx context.Context) (found []bookfile.Finding, links int, err error) {
	var others chain.Others
	if t.Shared() {
		others = t.others
	}
	return chain.Prove(ctx, t.tab.Bolt, t.book.settings.ID, t.Names(), others)
}

// Names name what the chain is over.
func (t *ReadTx) Names() chain.Names {
	return chain.Names{Zone: t.Zone(), Things: sorts.Things, Subject: func(id uuid.UUID) bookfile.Spot {
		if s := t.spotOf(id); s.Thing != "" {
			return s
		}
		return bookfile.At("wheel", id)
	}}
}

// spotOf is the wheel or lot of an identity; zero where the book has none.
func (t *ReadTx) spotOf(id uuid.UUID) bookfile.Spot {
	name := t.NameOf(id)
	if lot, ok := strings.CutPrefix(name, "lot "); ok {
		return bookfile.At("lot", lot)
	} else if name == "" {
		return bookfile.Spot{}
	}
	return bookfile.At("wheel", name)
}
