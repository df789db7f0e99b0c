package bookfile

import (
	"encoding/binary"
	"hash/fnv"
	"io"
	"math"
	"os"
	"slices"

	"rindkeep/cave/reason"
)

// bbolt trusts its pages: one that was damaged can send it to memory that is
// not there, round in circles, or asking for more memory than there is. So the
// file is looked at from outside, with every step bounded, before bbolt is let
// at it: its metadata always, and all its pages in Check.

const (
	pageHeader = 16
	metaSize   = 64
	metaMagic  = 0xED0CDAED
	elemSize   = 16
	flagBranch = 0x01
	flagLeaf   = 0x02
	flagFree   = 0x10
	leafBucket = 0x01
	noFreelist = math.MaxUint64
	maxDepth   = 40
)

var native = binary.NativeEndian

// metaPage is what the file says of itself.
type metaPage struct {
	pageSize int64
	root     uint64
	free     uint64
	high     uint64 // pages in use lie below it
	tx       uint64
}

func (m metaPage) bytes() int64 { return int64(m.high) * m.pageSize }

// parseMeta reads one metadata page, the first or second copy (0 or 1). magic says whether
// it is one at all; ok whether it is sound. One in the place of the other is not.
func parseMeta(b []byte, copy uint64) (m metaPage, magic, ok bool) {
	if len(b) < pageHeader+4 {
		return m, false, false
	}
	magic = native.Uint32(b[pageHeader:]) == metaMagic
	if !magic || len(b) < pageHeader+metaSize {
		return m, magic, false
	}
	id := native.Uint64(b)
	b = b[pageHeader:]
	m = metaPage{
		pageSize: int64(native.Uint32(b[8:])), root: native.Uint64(b[16:]), free: native.Uint64(b[32:]),
		high: native.Uint64(b[40:]), tx: native.Uint64(b[48:]),
	}
	h := fnv.New64a()
	h.Write(b[:56])
	ok = h.Sum64() == native.Uint64(b[56:]) && native.Uint32(b[4:]) == 2 &&
		m.pageSize >= 1024 && m.pageSize <= 1<<24 && m.pageSize&(m.pageSize-1) == 0 &&
		m.high >= 2 && m.high < 1<<40 && id == copy
	return m, true, ok
}

// pageFile is a book's file read page by page.
type pageFile struct {
	path string
	r    io.ReaderAt
	size int64
	m    metaPage
	half bool // only one copy of the metadata is sound
}

// openPages reads the metadata and compares what it claims with the file's
// size.
func openPages(path string, r io.ReaderAt, size int64) (*pageFile, error) {
	head := make([]byte, min(size, 4096))
	if _, err := r.ReadAt(head, 0); err != nil && err != io.EOF {
		return nil, Failed(path, "read", err)
	}
	first, magic, ok := parseMeta(head, 0)
	p := &pageFile{path: path, r: r, size: size}
	found, copies := magic, 0
	if ok {
		p.m, copies = first, 1
	}
	for _, ps := range secondMeta(first, ok) {
		if ps >= size {
			continue
		}
		b := make([]byte, min(size-ps, pageHeader+metaSize))
		if _, err := r.ReadAt(b, ps); err != nil && err != io.EOF {
			return nil, Failed(path, "read", err)
		}
		m, magic, sound := parseMeta(b, 1)
		found = found || magic
		if sound && m.pageSize == ps {
			copies++
			if !ok || m.tx > p.m.tx {
				p.m, ok = m, true
			}
			break
		}
	}
	p.half = copies == 1
	switch {
	case ok && size < p.m.bytes():
		return nil, cutOff(path, size, p.m.bytes())
	case ok && size < 2*p.m.pageSize:
		return nil, cutOff(path, size, 4*p.m.pageSize)
	case ok:
		return p, nil
	case found && size < 4096:
		return nil, cutOff(path, size, 4096)
	case found, p.numbered():
		return nil, Damaged(path, reason.Err(NoMetadata), At("page", 0))
	}
	return nil, NotABook(path, "")
}

// numbered says whether a page tells its own number, as every page of a book does: then the
// file is a book, though neither copy of its metadata says so.
func (p *pageFile) numbered() bool {
	p.m.pageSize, p.m.high = int64(os.Getpagesize()), 10
	for id := uint64(2); id < p.m.high; id++ {
		if g, err := p.first(id); err == nil && (g.flags == flagBranch || g.flags == flagLeaf) && g.count > 0 {
			return true
		}
	}
	return false
}

func pageFault(is string, page uint64) error { return PageFault{Is: is, Page: page} }

// secondMeta lists where the second copy of the metadata may lie.
func secondMeta(first metaPage, ok bool) []int64 {
	if ok {
		return []int64{first.pageSize}
	}
	var out []int64
	for ps := int64(1024); ps <= 1<<16; ps <<= 1 {
		out = append(out, ps)
	}
	return out
}

// page is one page with its overflow.
type page struct {
	id    uint64
	flags uint16
	count int
	over  uint64
	data  []byte // header included
}

// first fetches a page without its overflow.
func (p *pageFile) first(id uint64) (page, error) {
	if id < 2 || id >= p.m.high {
		return page{}, pageFault("out-of-bounds", id)
	}
	return p.firstIn(id, make([]byte, p.m.pageSize))
}

// firstIn is first in the memory of a page, for one that's in bounds.
func (p *pageFile) firstIn(id uint64, b []byte) (page, error) {
	if err := p.bytes(id, b); err != nil {
		return page{}, err
	}
	g := page{
		id: id, flags: native.Uint16(b[8:]), count: int(native.Uint16(b[10:])), over: uint64(native.Uint32(b[12:])),
		data: b,
	}
	if native.Uint64(b) != id {
		return page{}, PageFault{Is: "another", Page: id, Other: native.Uint64(b)}
	}
	return g, nil
}

// read fetches a page with its overflow.
func (p *pageFile) read(id uint64) (page, error) {
	g, err := p.first(id)
	if err == nil && id+g.over >= p.m.high {
		err = pageFault("past-end", id)
	}
	if err == nil && g.over > 0 {
		g.data = make([]byte, int64(g.over+1)*p.m.pageSize)
		err = p.bytes(id, g.data)
	}
	return g, err
}

// bytes reads as many as b has, from the beginning of a page.
func (p *pageFile) bytes(id uint64, b []byte) error {
	if _, err := p.r.ReadAt(b, int64(id)*p.m.pageSize); err != nil {
		return unread{PageFault{Is: "unreadable", Page: id, Message: err.Error()}, err}
	}
	return nil
}

// element is one entry of a branch or leaf page.
type element struct {
	key, value []byte
	child      uint64 // branch
	bucket     bool   // leaf: value is a bucket
}

// elements takes a branch or leaf page apart, all bounds checked.
func (g page) elements() ([]element, error) { return g.elementsIn(nil) }

// elementsIn is elements in memory that may be there already.
func (g page) elementsIn(out []element) ([]element, error) {
	if g.overfull() {
		return nil, pageFault("overfull", g.id)
	}
	out = slices.Grow(out[:0], g.count)[:g.count]
	for i := range out {
		var err error
		if out[i], err = g.element(i); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// overfull says whether a page counts more elements than it has room for.
func (g page) overfull() bool { return g.count*elemSize > len(g.data)-pageHeader }

// element is one of a page's elements, of which the page has room for as many as it counts.
func (g page) element(i int) (out element, err error) {
	e := g.data[pageHeader+i*elemSize:]
	var pos, k, v int64
	switch g.flags {
	case flagBranch:
		pos, k = int64(native.Uint32(e)), int64(native.Uint32(e[4:]))
		out.child = native.Uint64(e[8:])
	case flagLeaf:
		f := native.Uint32(e)
		if f > leafBucket {
			return out, PageFault{Is: "element-unknown", Page: g.id, Other: uint64(i)}
		}
		out.bucket = f == leafBucket
		pos, k, v = int64(native.Uint32(e[4:])), int64(native.Uint32(e[8:])), int64(native.Uint32(e[12:]))
	default:
		return out, pageFault("unknown", g.id)
	}
	if pos < elemSize || pos+k+v > int64(len(e)) {
		return out, PageFault{Is: "element-outside", Page: g.id, Other: uint64(i)}
	}
	out.key, out.value = e[pos:pos+k:pos+k], e[pos+k:pos+k+v:pos+k+v]
	return out, nil
}

// table is how many elements a page has by where the first record begins, which comes right
// after their table; under 0 where that can't be.
func (g page) table() int {
	at := pageHeader
	if g.flags == flagLeaf {
		at += 4
	}
	if len(g.data) < at+4 {
		return g.count
	}
	n := int(native.Uint32(g.data[at:]))
	if n%elemSize != 0 || n > len(g.data) {
		return -1
	}
	return n / elemSize
}

// overflow is how many pages beside the first the elements of one need.
func (p *pageFile) overflow(es []element) uint64 {
	n := int64(pageHeader)
	for _, e := range es {
		n += elemSize + int64(len(e.key)+len(e.value))
	}
	return uint64((n - 1) / p.m.pageSize)
}

// whole is elements of a page that has as many as it says, and spans as many pages as
// they need: bbolt never takes more. If it claims more g is made to span what they need.
func (p *pageFile) whole(g *page) ([]element, error) {
	es, err := g.elements()
	switch need := p.overflow(es); {
	case err != nil:
	case g.table() != g.count:
		err = pageFault("miscounted", g.id)
	case g.over > need:
		g.over, err = need, pageFault("spans-too-many", g.id)
	}
	return es, err
}

// freePages reads the list of free pages.
func (p *pageFile) freePages() (ids []uint64, span uint64, err error) {
	if p.m.free == noFreelist {
		return nil, 0, nil
	}
	g, err := p.read(p.m.free)
	if err != nil {
		return nil, 0, err
	}
	if g.flags != flagFree {
		return nil, 0, pageFault("no-freelist", g.id)
	}
	b, n := g.data[pageHeader:], uint64(g.count)
	if n == math.MaxUint16 {
		n, b = native.Uint64(b), b[8:]
	}
	switch need := pageHeader + 8*(n+g.over+2); { // what was taken for the list itself was on it before
	case n > uint64(len(b)/8):
		return nil, 0, pageFault("freelist-too-long", g.id)
	case g.over > need/uint64(p.m.pageSize):
		return nil, 0, pageFault("spans-too-many", g.id)
	case n < uint64(len(b)/8) && native.Uint64(b[8*n:]) != 0: // bbolt leaves nothing behind the list
		return nil, 0, pageFault("freelist-cut-short", g.id)
	}
	ids = make([]uint64, n)
	for i := range ids {
		ids[i] = native.Uint64(b[8*i:])
		if ids[i] < 2 || ids[i] >= p.m.high || i > 0 && ids[i] <= ids[i-1] {
			return nil, 0, pageFault("freelist-out-of-order", g.id)
		}
	}
	return ids, g.over + 1, nil
}
