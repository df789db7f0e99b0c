package bookfile

import (
	"bytes"
	"cmp"
	"slices"
)

// Leaves proves leaf pages before they're read or written to: Open doesn't look at them.
// bbolt trusts what a leaf says of the lengths of its records and of the pages it spans.
// It makes the file longer by what such a record seems to need, and frees the pages that
// such a leaf seems to span, whatever they hold. A key that a disk changed leads its search
// astray: records that are there aren't found.
type Leaves struct {
	p        *pageFile
	branches map[uint64][]element
	last     map[uint64]span // by the root of their tree
	proved   map[uint64]Care // leaves
	ends     map[uint64]ends
	page     page      // the last one that was looked at, without its overflow
	es       []element // of the last leaf
}

// Care is what a leaf has to be.
type Care uint8

const (
	counted Care = 1 << iota // it holds as many records as it says
	spans                    // and takes as many pages
	ordered                  // its keys are in order
	apart                    // or as far out of it that no other page is harmed
)

// What a leaf has to be for what is done with it. A key that a disk changed is out of order,
// and leads a search astray: but where facts lie each is found to be damaged when it's read,
// and those beside it are to be used.
const (
	ReadFacts  = counted
	ReadIndex  = counted | ordered
	WriteFacts = counted | spans | apart
	WriteIndex = counted | spans | ordered
)

// span is what a proved leaf holds the keys of.
type span struct {
	low, high []byte // nil: no bound
	care      Care
	beside    bool // its neighbours were proved too
	ends      ends
}

// ends are the first and the last key of a leaf, nil of an empty one.
type ends struct{ first, last []byte }

// astray says whether a key lies before or behind all keys of its leaf. A branch whose key a
// disk changed leads there too, and then a leaf beside has keys that it shouldn't.
func (e ends) astray(key []byte, care Care) bool {
	return care&ordered != 0 && (e.first == nil || bytes.Compare(key, e.first) < 0 || bytes.Compare(key, e.last) > 0)
}

// has says whether a key belongs in the leaf.
func (s span) has(key []byte) bool {
	return bytes.Compare(key, s.low) >= 0 && (s.high == nil || bytes.Compare(key, s.high) < 0)
}

// Leaves begins to prove the leaves of the file as it's on the disk.
func (f *File) Leaves() (*Leaves, error) {
	p, err := f.pages()
	l := &Leaves{p: p, branches: map[uint64][]element{}, last: map[uint64]span{}}
	l.proved, l.ends = map[uint64]Care{}, map[uint64]ends{}
	if err == nil {
		l.page.data = make([]byte, p.m.pageSize)
	}
	return l, err
}

// Prove proves the leaf that holds the key in the tree with that root, 0 for none, and gives
// the key from which on another leaf does, nil for none. With beside it proves those beside
// it too, with which bbolt merges one that a deletion leaves small. The error is an
// ErrDamaged.
func (l *Leaves) Prove(root uint64, key []byte, care Care, beside bool) (next []byte, err error) {
	at, met := l.last[root]
	if root == 0 || met && at.has(key) && at.care&care == care && (at.beside || !beside && !at.ends.astray(key, care)) {
		return at.high, nil
	}
	at, leaves, err := l.way(root, key)
	for i, e := range leaves {
		if i == 1 && !beside {
			if at.ends = l.ends[leaves[0].id]; !at.ends.astray(key, care) {
				break
			}
			beside = true
		}
		if err == nil && l.proved[e.id]&care != care {
			err = l.leaf(e, care)
		}
	}
	if err != nil {
		return nil, pageError(l.p.path, err)
	}
	at.care, at.beside, at.ends = l.proved[leaves[0].id], beside, l.ends[leaves[0].id]
	if beside {
		at.care = care // what all of them are
	}
	l.last[root] = at
	return at.high, nil
}

// edge leads to a page whose keys lie in [low, high).
type edge struct {
	id        uint64
	low, high []byte
}

// way goes down a tree to the leaf for a key: what it may hold, and the way to it and then
// to those beside it, under whichever branch they are.
func (l *Leaves) way(root uint64, key []byte) (at span, leaves []edge, err error) {
	leaves = []edge{{id: root}}
	for range maxDepth {
		es, err := l.branch(leaves[0].id)
		if err != nil || es == nil {
			return at, leaves, err
		}
		i, found := slices.BinarySearchFunc(es, key, func(e element, key []byte) int { return bytes.Compare(e.key, key) })
		if !found && i > 0 {
			i--
		}
		next := []edge{under(leaves[0], es, i)}
		if i > 0 {
			next = append(next, under(leaves[0], es, i-1))
		}
		if i+1 < len(es) {
			next = append(next, under(leaves[0], es, i+1))
		}
		for _, e := range leaves[1:] { // it's under another branch: the one before or behind
			before := bytes.Compare(e.low, leaves[0].low) < 0
			es, err := l.branch(e.id)
			switch {
			case err != nil || es == nil:
				return at, nil, cmp.Or(err, pageFault("unknown", e.id))
			case before && i == 0:
				next = append(next, under(e, es, len(es)-1))
			case !before && i+1 == len(es):
				next = append(next, under(e, es, 0))
			}
		}
		if at.high = next[0].high; i > 0 {
			at.low = next[0].low
		}
		leaves = next
	}
	return at, nil, pageFault("too-deep", leaves[0].id)
}

// under is the nth way on from a branch.
func under(from edge, es []element, n int) edge {
	e := edge{es[n].child, es[n].key, from.high}
	if n+1 < len(es) {
		e.high = es[n+1].key
	}
	return e
}

// first is a page without its overflow, good until the next.
func (l *Leaves) first(id uint64) (page, error) {
	if id < 2 || id >= l.p.m.high {
		return page{}, pageFault("out-of-bounds", id)
	}
	if l.page.id == id {
		return l.page, nil
	}
	g, err := l.p.firstIn(id, l.page.data)
	if l.page.id = 0; err == nil {
		l.page = g
	}
	return g, err
}

// branch gives the elements of a branch page, nil of a leaf.
func (l *Leaves) branch(id uint64) ([]element, error) {
	if es, leaf := l.branches[id], l.proved[id] > 0; es != nil || leaf {
		return es, nil
	}
	g, err := l.first(id)
	if err != nil || g.flags != flagBranch {
		return nil, err
	}
	if g, err = l.p.read(id); err != nil {
		return nil, err
	}
	es, err := l.p.whole(&g)
	if err == nil && len(es) == 0 {
		err = pageFault("empty-branch", id)
	}
	l.branches[id] = es
	return es, err
}

func (l *Leaves) leaf(e edge, care Care) error {
	g, err := l.first(e.id)
	switch {
	case err != nil:
		return err
	case g.flags != flagLeaf:
		return pageFault("unknown", e.id)
	case g.over > 0 && e.id+g.over < l.p.m.high:
		if g, err = l.p.read(e.id); err != nil {
			return err
		}
	}
	es, err := g.elementsIn(l.es)
	if err != nil {
		return err
	}
	l.es = es
	if n := len(es); n > 0 {
		l.ends[e.id] = ends{bytes.Clone(es[0].key), bytes.Clone(es[n-1].key)}
	}
	is := counted | spans | ordered | apart
	lacks := func(what Care, fault error) {
		if is &^= what; care&what != 0 && err == nil {
			err = fault
		}
	}
	if g.table() != g.count {
		lacks(counted, pageFault("miscounted", e.id))
	}
	if g.over > l.p.overflow(es) {
		lacks(spans, pageFault("spans-too-many", e.id))
	}
	w := walker{bad: func(fault error) {
		if lacks(ordered, fault); !bearable(es, e.low, len(g.data)) {
			lacks(apart, fault)
		}
	}}
	w.order(g, es, e.low, e.high)
	l.proved[e.id] = is
	return err
}

// bearable says whether a leaf whose keys are out of order can be written to without harm
// to others: it needn't be split, and its first key, which leads to it, is its lowest.
func bearable(es []element, low []byte, size int) bool {
	if len(es) == 0 || bytes.Compare(es[0].key, low) < 0 {
		return false
	}
	used := pageHeader
	for _, e := range es {
		if used += elemSize + len(e.key) + len(e.value); bytes.Compare(e.key, es[0].key) < 0 {
			return false
		}
	}
	return used < size*3/4
}
