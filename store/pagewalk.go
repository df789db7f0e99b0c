package store

import (
	"bytes"
	"context"
	"fmt"
)

// walkLimit is the size up to which every opening looks at the branch pages.
// Above it a stray branch is one page in tens of thousands, and Check finds it.
const walkLimit = 64 << 20

// skeleton looks at the root and at the branch pages of every bucket: that
// they lie in bounds and form no circle. It reads about one page in a hundred.
func (p *pageFile) skeleton(write bool) error {
	if write {
		if _, _, err := p.freePages(); err != nil {
			return err
		}
	}
	root, err := p.read(p.m.root, true)
	if err != nil {
		return err
	}
	if p.m.bytes() > walkLimit {
		return nil
	}
	branches, leaves := map[uint64]bool{}, []uint64{}
	var walk func(id uint64, depth int) error
	walk = func(id uint64, depth int) error {
		g, err := p.read(id, true)
		if err != nil {
			return err
		}
		if g.flags == flagLeaf {
			return nil
		}
		if g.flags != flagBranch || depth > maxDepth || branches[id] || g.count == 0 {
			return fmt.Errorf("page %d, which does not fit its tree", id)
		}
		branches[id] = true
		es, err := g.elements()
		if err != nil {
			return err
		}
		first, err := p.read(es[0].child, false)
		if err != nil {
			return err
		}
		for _, e := range es {
			if e.child < 2 || e.child >= p.m.high {
				return fmt.Errorf("page %d, which points out of bounds", id)
			}
			if first.flags == flagLeaf {
				leaves = append(leaves, e.child)
			} else if err := walk(e.child, depth+1); err != nil {
				return err
			}
		}
		return nil
	}
	if root.flags != flagLeaf {
		return walk(p.m.root, 0)
	}
	es, err := root.elements()
	if err != nil {
		return err
	}
	for _, e := range es {
		if !e.bucket {
			continue
		}
		if len(e.value) < 16 {
			return fmt.Errorf("bucket %q, which has no root", e.key)
		}
		if id := native.Uint64(e.value); id != 0 {
			if err := walk(id, 0); err != nil {
				return err
			}
		}
	}
	for _, id := range leaves {
		if branches[id] {
			return fmt.Errorf("page %d, which is in its tree twice", id)
		}
	}
	return nil
}

// walker proves every page: reached exactly once or free, in bounds, its keys
// in order and within what its branch promised.
type walker struct {
	p    *pageFile
	ctx  context.Context
	seen []bool
	say  func(where string)
	tick func(pages int)
	n    int
}

// walkAll reports everything wrong with the pages. An error is only a context
// that ended.
func (p *pageFile) walkAll(ctx context.Context, say func(where string), tick func(pages int)) error {
	w := &walker{p: p, ctx: ctx, seen: make([]bool, p.m.high), say: say, tick: tick}
	free, span, err := p.freePages()
	if err != nil {
		say(err.Error())
	}
	w.mark(0, 2)
	if p.m.free != noFreelist && err == nil {
		w.mark(p.m.free, span)
	}
	w.tree(p.m.root, nil, nil, 0, true)
	for _, id := range free {
		w.mark(id, 1)
	}
	if err == nil && ctx.Err() == nil {
		for id, ok := range w.seen {
			if !ok {
				say(fmt.Sprintf("page %d, which is neither used nor free", id))
			}
		}
	}
	return ctx.Err()
}

func (w *walker) mark(id, n uint64) bool {
	for i := id; i < id+n; i++ {
		if w.seen[i] {
			w.say(fmt.Sprintf("page %d, which is used twice", i))
			return false
		}
		w.seen[i] = true
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
	g, err := w.p.read(id, true)
	if err != nil {
		w.say(err.Error())
		return
	}
	if depth > maxDepth {
		w.say(fmt.Sprintf("page %d, which lies too deep", id))
		return
	}
	if !w.mark(id, g.over+1) {
		return
	}
	es, err := g.elements()
	if err != nil {
		w.say(err.Error())
		return
	}
	w.order(g, es, low, high)
	for i, e := range es {
		switch {
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

func (w *walker) bucket(id uint64, e element, top bool) {
	if !top || len(e.value) < 16 {
		w.say(fmt.Sprintf("page %d, which holds a bucket out of place", id))
		return
	}
	if root := native.Uint64(e.value); root != 0 {
		w.tree(root, nil, nil, 0, false)
		return
	}
	in := e.value[16:]
	if len(in) < pageHeader {
		w.say(fmt.Sprintf("page %d, whose bucket %q is cut off", id, e.key))
		return
	}
	g := page{id: id, flags: native.Uint16(in[8:]), count: int(native.Uint16(in[10:])), data: in}
	if g.flags != flagLeaf {
		w.say(fmt.Sprintf("page %d, whose bucket %q is of no known kind", id, e.key))
		return
	}
	es, err := g.elements()
	if err != nil {
		w.say(err.Error())
		return
	}
	w.order(g, es, nil, nil)
}

func (w *walker) order(g page, es []element, low, high []byte) {
	for i, e := range es {
		if i > 0 && bytes.Compare(es[i-1].key, e.key) >= 0 {
			w.say(fmt.Sprintf("page %d, whose keys are out of order", g.id))
			return
		}
	}
	if len(es) == 0 {
		return
	}
	// A branch's first key may be older than what its page now begins with,
	// but never higher.
	if low != nil && bytes.Compare(es[0].key, low) < 0 || high != nil && bytes.Compare(es[len(es)-1].key, high) >= 0 {
		w.say(fmt.Sprintf("page %d, whose keys lie outside its branch", g.id))
	}
}
