package bookfile

import (
	"os"
	"time"
)

// LostPage is a page of the file that can't be read as what it should be.
type LostPage struct {
	Page   uint64
	Bucket string // what it was a page of; "" where nobody knows
	Fault  error
}

// Scan is a file read page by page, whatever state it is in.
type Scan struct {
	p    *pageFile
	seen []bool
	free map[uint64]bool
	each func(bucket string, key, value []byte)
	Lost []LostPage

	stray bool // on pages that nothing leads to; what they lead to may be met already
}

// ScanFile gives every record of the file at path that its pages still hold: those that
// the buckets lead to, and then those of pages that nothing leads to, with bucket "".
// The file isn't changed. What each is given is only lent.
func ScanFile(path string, each func(bucket string, key, value []byte)) (*Scan, error) {
	h, err := acquire(path, How{Alone: true, Wait: time.Minute})
	if err != nil {
		return nil, err
	}
	defer h.close()
	f := h.file
	st, err := f.Stat()
	if err != nil {
		return nil, Failed(path, "read", err)
	}
	p, err := openPages(path, f, st.Size())
	if err != nil { // both copies of the metadata, or the end of the file, are lost
		ps := int64(os.Getpagesize())
		p = &pageFile{path: path, r: f, size: st.Size()}
		p.m = metaPage{pageSize: ps, high: uint64(st.Size() / ps), free: noFreelist}
	}
	p.m.high = min(p.m.high, uint64(p.size/p.m.pageSize))
	if p.half { // the copy that is left may be the older one: the last change is on other pages
		p.m.high = uint64(p.size / p.m.pageSize)
	}
	s := &Scan{p: p, seen: make([]bool, p.m.high+1), free: map[uint64]bool{}, each: each}
	if ids, span, err := p.freePages(); err == nil {
		if p.half {
			ids = nil
		}
		for _, id := range ids {
			s.free[id] = true
		}
		for i := range span {
			s.mark(p.m.free + i)
		}
	}
	if p.m.root >= 2 {
		s.tree("", p.m.root, 0, true)
	}
	s.orphans()
	return s, nil
}

// mark notes a page as met; ok is false where it was met before or can't be.
func (s *Scan) mark(id uint64) (ok bool) {
	if id >= uint64(len(s.seen)) || s.seen[id] {
		return false
	}
	s.seen[id] = true
	return true
}

func (s *Scan) lose(id uint64, bucket string, err error) {
	s.Lost = append(s.Lost, LostPage{id, bucket, err})
}

// page reads a page, with its overflow where that may be.
func (s *Scan) page(id uint64) (page, error) {
	g, err := s.p.first(id)
	switch {
	case err != nil:
	case g.flags != flagBranch && g.flags != flagLeaf:
		err = pageFault("unknown", id)
	case id+g.over < s.p.m.high:
		return s.p.read(id)
	}
	g.over = 0
	return g, err
}

// tree goes through the pages of a bucket, or of the list of buckets.
func (s *Scan) tree(bucket string, id uint64, depth int, top bool) {
	if depth > maxDepth || !s.mark(id) {
		if !s.stray {
			s.lose(id, bucket, pageFault("used-twice", id))
		}
		return
	}
	g, err := s.page(id)
	if err != nil {
		s.lose(id, bucket, err)
		return
	}
	for _, e := range s.elements(g, bucket) {
		switch {
		case g.flags == flagBranch:
			s.tree(bucket, e.child, depth+1, top)
		case top && e.bucket:
			s.bucket(g.id, e)
		case !e.bucket:
			s.each(bucket, e.key, e.value)
		}
	}
}

// bucket goes through one bucket, on pages of its own or within its parent's.
func (s *Scan) bucket(id uint64, e element) {
	name := string(e.key)
	if len(e.value) < 16 {
		s.lose(id, name, pageFault("bucket-cut-off", id))
		return
	}
	if root := native.Uint64(e.value); root != 0 {
		s.tree(name, root, 0, false)
		return
	}
	if in := e.value[16:]; len(in) >= pageHeader {
		g := page{id: id, flags: flagLeaf, count: int(native.Uint16(in[10:])), data: in}
		for _, e := range s.elements(g, name) {
			s.each(name, e.key, e.value)
		}
	}
}

// elements are those of a page that can be read. It marks the page's overflow as far as
// they need it: what the page says it spans may be others.
func (s *Scan) elements(g page, bucket string) []element {
	all := g
	if all.count = g.table(); all.count >= 0 {
		if _, err := all.elements(); err == nil { // else its count is right, if anything is
			g = all
		}
	}
	es, err := g.elements()
	if err == nil {
		for i := range min(g.over, s.p.overflow(es)) {
			s.mark(g.id + 1 + i)
		}
		return es
	}
	s.lose(g.id, bucket, err)
	for n := g.count; n > 0; n-- { // one bad element in the table: those before it
		g.count = n - 1
		if es, err := g.elements(); err == nil {
			return es
		}
	}
	return nil
}

// orphans goes through the leaves that nothing leads to.
func (s *Scan) orphans() {
	s.stray = true
	for id := uint64(2); id < s.p.m.high; id++ {
		if s.seen[id] || s.free[id] {
			continue
		}
		g, err := s.page(id)
		if err != nil || g.flags != flagLeaf {
			continue
		}
		s.mark(id)
		for _, e := range s.elements(g, "") {
			if e.bucket {
				s.bucket(id, e)
			} else {
				s.each("", e.key, e.value)
			}
		}
	}
}
