package bookfile

import (
	"bytes"
	"context"
	"slices"
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
	leaf int    // how deep the leaves of the tree lie; 0: not known yet
	page []byte // memory of one page
}

// skeleton looks at the root and at the branch pages of every bucket, and gives
// the first thing wrong with them, whatever the size: a circle of branches sends bbolt
// round for ever, or until its stack overflows, which nothing can recover from. It
// reads about one page in seventy, and gives the pages in use, a bit for each.
func (p *pageFile) skeleton() (used []uint64, err error) {
	w := p.untilBad(make([]uint64, p.m.high/64+1), &err)
	w.tree(p.m.root, nil, nil, 0, true)
	return w.seen, err
}

// doubt is a page in use that the list of free pages has: a branch was led to what stood
// there once, or the list is wrong. One that can't be read keeps nobody from reading the rest.
func (p *pageFile) doubt(used []uint64) error {
	free, _, _ := p.freePages()
	for _, id := range free {
		if used[id/64]>>(id%64)&1 != 0 {
			return pageFault("used-twice", id)
		}
	}
	return nil
}

// freeOf looks at the free pages, to which what is written goes, and at the list of them,
// which is freed then: none is in use.
func (p *pageFile) freeOf(used []uint64) (err error) {
	free, span, err := p.freePages()
	if err != nil {
		return err
	}
	w := p.untilBad(slices.Clone(used), &err)
	w.mark(p.m.free, span)
	for _, id := range free {
		if err == nil {
			w.mark(id, 1)
		}
	}
	for i, id := range free {
		if err == nil && (i == 0 || free[i-1] != id-1) {
			err = w.spannedFrom(id)
		}
	}
	return err
}

// untilBad is a walker that ends with the first thing wrong.
func (p *pageFile) untilBad(seen []uint64, first *error) *walker {
	ctx, stop := context.WithCancel(context.Background())
	return &walker{p: p, ctx: ctx, seen: seen, page: make([]byte, p.m.pageSize), bad: func(fault error) {
		if *first == nil {
			*first = fault
		}
		stop()
	}}
}

// spannedFrom says whether the first of some free pages is part of the page before it.
func (w *walker) spannedFrom(id uint64) error {
	before := id - 1
	for before > 1 && !w.has(before) { // they are part of it
		before--
	}
	if g, err := w.p.first(before); err == nil && before+g.over >= id {
		return pageFault("used-twice", id)
	}
	return nil
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
		if !w.has(id) {
			bad(pageFault("unused", id))
		}
	}
	return ctx.Err()
}

func (w *walker) has(id uint64) bool { return w.seen[id/64]>>(id%64)&1 != 0 }

// mark notes n pages from one on as used; ok is false where one was used before.
func (w *walker) mark(id, n uint64) (ok bool) {
	for i := id; i < id+n; i++ {
		if w.has(i) {
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
	if !top && w.lowest(id, low, high, depth) {
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

// overLeaves says whether a tree's pages of that depth are branches whose own pages are
// leaves, as the first page under such a branch that can be read tells: all leaves of a tree
// are equally deep.
func (w *walker) overLeaves(es []element, depth int) bool {
	for _, e := range es[:min(len(es), enoughToTell)] {
		if w.leaf > 0 {
			break
		}
		if g, err := w.p.first(e.child); err == nil && g.flags == flagLeaf {
			w.leaf = depth + 1
		}
	}
	return w.leaf == depth+1
}

// lowest is tree for a branch over leaves, which are only marked. Most pages that a skeleton
// has are such, so it takes no memory for each. It is false, and did nothing, where the page
// isn't known to be one.
func (w *walker) lowest(id uint64, low, high []byte, depth int) bool {
	if w.all || w.leaf != depth+1 {
		return false
	}
	if id < 2 || id >= w.p.m.high {
		return false
	}
	g, err := w.p.firstIn(id, w.page)
	if err != nil || g.flags != flagBranch || g.count == 0 || g.over > 0 || g.overfull() {
		return false
	}
	if w.mark(id, 1) {
		if is := w.leaves(g, low, high); is != "" {
			w.bad(pageFault(is, id))
		}
	}
	return true
}

// leaves marks the pages of a branch over leaves, and says what is wrong with it; "": nothing.
func (w *walker) leaves(g page, low, high []byte) string {
	last := low
	for i := range g.count {
		e, err := g.element(i)
		if err != nil {
			w.bad(err)
			return ""
		}
		order := bytes.Compare(last, e.key)
		switch {
		case i > 0 && order >= 0:
			return "keys-out-of-order"
		case i == 0 && order > 0, high != nil && bytes.Compare(e.key, high) >= 0:
			return "keys-outside-branch"
		case e.child < 2 || e.child >= w.p.m.high:
			return "points-out-of-bounds"
		}
		if !w.mark(e.child, 1) {
			return ""
		}
		last = e.key
	}
	return ""
}

// enoughToTell is how many pages of a branch are looked at for a leaf among them.
const enoughToTell = 4

func (w *walker) bucket(id uint64, e element, top bool) {
	if !top || len(e.value) < 16 {
		w.bad(pageFault("bucket-out-of-place", id))
		return
	}
	if root := native.Uint64(e.value); root != 0 {
		if w.all || w.isBranch(root) {
			w.leaf = 0
			w.tree(root, nil, nil, 0, false)
		} else { // it may have been led to another bucket's page
			w.mark(root, 1)
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
	if err == nil && g.table() != g.count {
		err = pageFault("miscounted", id)
	}
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
