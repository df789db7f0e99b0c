package bookfile

import (
	"bytes"
	"context"
)

// bbolt's own Check can't stand in for this walk: a circle of branch pages keeps it
// going for ever, and it runs in a goroutine of its own, where a fault in memory
// that isn't there can't be caught. So every page is proved here, each step bounded,
// before bbolt is let at a book that may be damaged.

// walker proves pages: each in bounds, of its own kind, reached once.
type walker struct {
	p    *pageFile
	ctx  context.Context
	seen []uint64 // a bit a page
	all  bool     // leaf pages too; else only that they are where branches say
	bad  func(error)
	tick func(pages int)
	n    int
	leaf int // how deep the leaves of the tree lie; 0: not known yet
}

// skeleton looks at the root and at the branch pages of every bucket, and gives
// the first thing wrong with them, whatever the size: a circle of branches sends bbolt
// round for ever, or until its stack overflows, which nothing can recover from. It
// reads about one page in seventy.
func (p *pageFile) skeleton(write bool) (err error) {
	var free []uint64
	var span uint64
	if write { // what is written goes to free pages, and the list of them is freed
		if free, span, err = p.freePages(); err != nil {
			return err
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	w := &walker{p: p, ctx: ctx, seen: make([]uint64, p.m.high/64+1), bad: func(fault error) {
		if err == nil {
			err = fault
		}
		stop()
	}}
	w.mark(p.m.free, span)
	w.tree(p.m.root, nil, nil, 0, true)
	for _, id := range free {
		if err == nil {
			w.mark(id, 1)
		}
	}
	return err
}

// walkAll reports everything wrong with the pages: beyond what each says of
// itself, that it is used or free, and its keys in order and within what its
// branch promised. An error is only a context that ended.
func (p *pageFile) walkAll(ctx context.Context, bad func(error), tick func(pages int)) error {
	w := &walker{p: p, ctx: ctx, seen: make([]uint64, p.m.high/64+1), all: true, bad: bad, tick: tick}
	free, span, err := p.freePages()
	if err != nil {
		bad(err)
	}
	w.mark(0, 2)
	if p.m.free != noFreelist && err == nil {
		w.mark(p.m.free, span)
	}
	w.tree(p.m.root, nil, nil, 0, true)
	for _, id := range free {
		w.mark(id, 1)
	}
	for id := uint64(0); err == nil && id < p.m.high && ctx.Err() == nil; id++ {
		if w.seen[id/64]>>(id%64)&1 == 0 {
			bad(pageFault("unused", id))
		}
	}
	return ctx.Err()
}

// mark notes n pages from one on as used; ok is false where one was used before.
func (w *walker) mark(id, n uint64) (ok bool) {
	for i := id; i < id+n; i++ {
		if w.seen[i/64]>>(i%64)&1 != 0 {
			w.bad(pageFault("used-twice", i))
			return false
		}
		w.seen[i/64] |= 1 << (i % 64)
	}
	w.n += int(n)
	if w.tick != nil && w.n%1024 < int(n) {
		w.tick(w.n)
	}
	return true
}

// tree walks the tree under a page whose keys lie in [low, high).
func (w *walker) tree(id uint64, low, high []byte, depth int, top bool) {
	if w.ctx.Err() != nil {
		return
	}
	g, err := w.p.read(id)
	if err != nil {
		w.bad(err)
		return
	}
	if depth > maxDepth {
		w.bad(pageFault("too-deep", id))
		return
	}
	es, err := w.p.whole(&g)
	if !w.mark(id, g.over+1) {
		return
	}
	if err != nil {
		w.bad(err)
		return
	}
	w.order(g, es, low, high)
	leaves := !w.all && !top && g.flags == flagBranch && w.overLeaves(es, depth)
	for i, e := range es {
		switch {
		case leaves:
			if e.child < 2 || e.child >= w.p.m.high {
				w.bad(pageFault("points-out-of-bounds", id))
			} else {
				w.mark(e.child, 1)
			}
		case g.flags == flagBranch:
			up := high
			if i+1 < len(es) {
				up = es[i+1].key
			}
			w.tree(e.child, e.key, up, depth+1, top)
		case e.bucket:
			w.bucket(g.id, e, top)
		}
	}
}

// overLeaves says whether a branch's pages are leaves, as the first one tells: all
// leaves of a tree are equally deep.
func (w *walker) overLeaves(es []element, depth int) bool {
	if w.leaf > 0 || len(es) == 0 {
		return w.leaf == depth+1
	}
	g, err := w.p.read(es[0].child)
	if err == nil && g.flags == flagLeaf {
		w.leaf = depth + 1
	}
	return w.leaf > 0
}

func (w *walker) bucket(id uint64, e element, top bool) {
	if !top || len(e.value) < 16 {
		w.bad(pageFault("bucket-out-of-place", id))
		return
	}
	if root := native.Uint64(e.value); root != 0 {
		if w.all || w.isBranch(root) {
			w.leaf = 0
			w.tree(root, nil, nil, 0, false)
		}
		return
	}
	in := e.value[16:]
	if len(in) < pageHeader || native.Uint16(in[8:]) != flagLeaf {
		w.bad(pageFault("bucket-cut-off", id))
		return
	}
	g := page{id: id, flags: flagLeaf, count: int(native.Uint16(in[10:])), data: in}
	es, err := g.elements()
	if err != nil {
		w.bad(err)
		return
	}
	w.order(g, es, nil, nil)
}

// isBranch says whether a page must be walked where leaves are not.
func (w *walker) isBranch(id uint64) bool {
	g, err := w.p.read(id)
	return err != nil || g.flags != flagLeaf
}

func (w *walker) order(g page, es []element, low, high []byte) {
	for i, e := range es {
		if i > 0 && bytes.Compare(es[i-1].key, e.key) >= 0 {
			w.bad(pageFault("keys-out-of-order", g.id))
			return
		}
	}
	if len(es) == 0 {
		if g.flags == flagBranch {
			w.bad(pageFault("empty-branch", g.id))
		}
		return
	}
	// A branch's first key may be older than what its page now begins with,
	// but never higher.
	if low != nil && bytes.Compare(es[0].key, low) < 0 || high != nil && bytes.Compare(es[len(es)-1].key, high) >= 0 {
		w.bad(pageFault("keys-outside-branch", g.id))
	}
}
