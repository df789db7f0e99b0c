package bookfile

import "bytes"

// Leaves proves leaf pages before they're written to: Open doesn't look at them. bbolt
// trusts what a leaf says of the lengths of its records and of the pages it spans. It
// makes the file longer by what such a record seems to need, and frees the pages that
// such a leaf seems to span, whatever they hold.
type Leaves struct {
	p        *pageFile
	branches map[uint64][]element
	last     map[uint64]span // by the root of their tree
}

// span is what a proved leaf holds the keys of.
type span struct {
	low, high []byte // nil: no bound
	beside    bool   // its neighbours were proved too
}

func (s span) has(key []byte) bool {
	return bytes.Compare(key, s.low) >= 0 && (s.high == nil || bytes.Compare(key, s.high) < 0)
}

// Leaves begins to prove the leaves of the file as it's on the disk.
func (f *File) Leaves() (*Leaves, error) {
	p, err := f.pages()
	return &Leaves{p: p, branches: map[uint64][]element{}, last: map[uint64]span{}}, err
}

// Prove proves the leaf that holds the key in the tree with that root, 0 for none. With
// beside it proves those beside it too, with which bbolt merges one that a deletion
// leaves small. The error is an ErrDamaged.
func (l *Leaves) Prove(root uint64, key []byte, beside bool) error {
	at, met := l.last[root]
	if root == 0 || met && at.has(key) && (at.beside || !beside) {
		return nil
	}
	at = span{beside: beside}
	leaf, near := edge{id: root}, []edge(nil)
	for depth := 0; ; depth++ {
		es, err := l.branch(leaf.id)
		if err == nil && depth > maxDepth {
			err = pageFault("too-deep", leaf.id)
		}
		if err != nil {
			return pageError(l.p.path, err)
		}
		if es == nil {
			break
		}
		i := 0
		for i+1 < len(es) && bytes.Compare(es[i+1].key, key) <= 0 {
			i++
		}
		near = near[:0]
		for k := max(0, i-1); k <= min(i+1, len(es)-1); k++ {
			e := edge{es[k].child, es[k].key, at.high}
			if k+1 < len(es) {
				e.high = es[k+1].key
			}
			if near = append(near, e); k == i {
				leaf = e
			}
		}
		if at.high = leaf.high; i > 0 {
			at.low = leaf.low
		}
	}
	if !beside || len(near) == 0 {
		near = []edge{leaf}
	}
	for _, e := range near {
		if err := l.leaf(e); err != nil {
			return pageError(l.p.path, err)
		}
	}
	l.last[root] = at
	return nil
}

// edge leads to a page whose keys lie in [low, high).
type edge struct {
	id        uint64
	low, high []byte
}

// branch gives the elements of a branch page, nil of a leaf.
func (l *Leaves) branch(id uint64) ([]element, error) {
	if es := l.branches[id]; es != nil {
		return es, nil
	}
	g, err := l.p.read(id)
	if err != nil || g.flags != flagBranch {
		return nil, err
	}
	es, err := l.p.whole(&g)
	if err == nil && len(es) == 0 {
		err = pageFault("empty-branch", id)
	}
	l.branches[id] = es
	return es, err
}

func (l *Leaves) leaf(e edge) (err error) {
	g, err := l.p.read(e.id)
	if err != nil {
		return err
	}
	if g.flags != flagLeaf {
		return pageFault("unknown", e.id)
	}
	es, err := l.p.whole(&g)
	if err == nil {
		w := walker{bad: func(fault error) { err = fault }}
		w.order(g, es, e.low, e.high)
	}
	return err
}
