package store

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
)

// Head gives the head of the chain of history, how the chain began, and when.
func (t *ReadTx) Head() (h chain.Head, begun chain.Beginning, since time.Time, err error) {
	h, begun, since, err = chain.HeadOf(t.tab.Bucket(layout.Chain))
	if err != nil {
		err = t.tab.Damaged(err, "chain", nil)
	}
	return h, begun, since, err
}

// FindLink finds the link whose hash begins with the digits chain.ParseHead gave; ok is
// false where the chain has none. It looks at every link.
func (t *ReadTx) FindLink(digits string) (h chain.Head, ok bool, err error) {
	if h, ok, err = chain.Find(t.tab.Bucket(layout.Chain), digits); err != nil {
		err = t.tab.Damaged(err, "chain", nil)
	}
	return h, ok, err
}

// proveChain proves the chain against the facts, and gives how many links it has.
func (t *ReadTx) proveChain(ctx context.Context) (found []bookfile.Finding, links int, err error) {
	var others chain.Others
	if t.shared() {
		others = t.others
	}
	return chain.Prove(ctx, t.tab.Bolt, t.book.settings.ID, t.names(), others)
}

// names name what the chain is over.
func (t *ReadTx) names() chain.Names {
	return chain.Names{Zone: t.Zone(), Things: things, Subject: func(id uuid.UUID) bookfile.Spot {
		if s := t.spotOf(id); s.Thing != "" {
			return s
		}
		return bookfile.At("wheel", id)
	}}
}

// things are what the records of a bucket are.
var things = func() map[string]reason.Thing {
	out := map[string]reason.Thing{}
	for _, s := range sections {
		out[s.bucket] = reason.Thing(s.record)
	}
	return out
}()

// spotOf is the wheel or lot of an identity; zero where the book has none.
func (t *ReadTx) spotOf(id uuid.UUID) bookfile.Spot {
	name := t.nameOf(id)
	if lot, ok := strings.CutPrefix(name, "lot "); ok {
		return bookfile.At("lot", lot)
	} else if name == "" {
		return bookfile.Spot{}
	}
	return bookfile.At("wheel", name)
}
