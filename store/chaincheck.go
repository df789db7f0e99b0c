package store

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// chainCheck proves the chain against the facts. It goes from the head back, so
// that of a fact which took another's place the newer one is met first and
// brings the older one's record with it.
type chainCheck struct {
	k       *checker
	entries *bolt.Cursor
	earlier map[string][]byte       // key of a fact replaced later -> the record it had
	matched [len(layout.OfCode)]int // facts that stand in the book as their link says
	digests map[byte][]uint64       // of those, the beginnings of their digests; by code
	missing []missed
	links   int

	misnamed bool // the link looked at last names an entry by another kind
}

// missed is a fact that is not in the book as its link says.
type missed struct {
	number  uint64
	written time.Time
	linkFact
	changed bool // a record of that key is there
	used    bool // told of already
}

// mostMissed bounds what is compared to say more of a finding.
const mostMissed = 500

func fullKey(code byte, key []byte) string { return string(code) + string(key) }

// chain proves the chain, and gives how many links it has.
func (k *checker) chain() (int, error) {
	c := &chainCheck{k: k, entries: k.t.bucket(layout.Entries).Cursor(), earlier: map[string][]byte{}}
	if err := c.walk(true); err != nil {
		return c.links, err
	}
	added, err := c.added()
	if err != nil {
		return c.links, err
	}
	c.tell(added)
	return c.links, nil
}

func (c *chainCheck) bad(at bookfile.Spot, what reason.Reason) {
	c.k.find(bookfile.Finding{At: at, What: what, History: true})
}

// walk goes through the links from the last to the first.
func (c *chainCheck) walk(hashes bool) error {
	clear(c.earlier)
	c.matched, c.missing = [len(layout.OfCode)]int{}, nil
	id := c.k.t.book.settings.ID
	cur := c.k.t.bucket(layout.Chain).Cursor()
	key, value := cur.Last()
	c.links = 0
	for key != nil {
		if err := c.k.ctx.Err(); err != nil {
			return err
		}
		c.links++
		number := binary.BigEndian.Uint64(append(make([]byte, 8), key...)[len(key):])
		l, err := decodeLink(value)
		before, beforeValue := cur.Prev()
		switch {
		case len(key) != 8:
			c.fault(hashes, bookfile.At("link", key), LinkUnnumbered)
		case err != nil:
			c.fault(hashes, bookfile.At("link", number), LinkUndecodable)
		default:
			digests, whole := c.facts(number, l)
			if c.misnamed {
				c.fault(hashes, bookfile.At("link", number), LinkMisnamed)
			}
			if hashes {
				c.follows(number, l, digests, whole, before, beforeValue, id)
			}
		}
		key, value = before, beforeValue
	}
	if hashes {
		slices.Reverse(c.k.found)
	}
	if hashes && c.links == 0 {
		c.fault(true, bookfile.At("chain", nil), NoChain)
	}
	return nil
}

func (c *chainCheck) fault(say bool, at bookfile.Spot, what reason.Reason) {
	if say {
		c.bad(at, what)
	}
}

// facts finds the facts of a link and gives their digests; whole says whether
// all are as they were.
func (c *chainCheck) facts(number uint64, l link) (digests []byte, whole bool) {
	whole, c.misnamed = true, false
	rows := make([][sha256.Size]byte, len(l.facts))
	for i := len(l.facts) - 1; i >= 0; i-- {
		f := l.facts[i]
		d, state := c.find(f)
		if f.was != nil {
			c.earlier[fullKey(f.code, f.key)] = f.was
		}
		if state == 0 {
			rows[i] = d
			continue
		}
		whole = false
		if len(c.missing) < mostMissed {
			c.missing = append(c.missing, missed{number: number, written: l.written(), linkFact: f, changed: state == otherwise})
		}
	}
	if !whole {
		return nil, false
	}
	for i := range rows {
		digests = append(digests, rows[i][:]...)
	}
	return digests, true
}

// What find may find amiss.
const (
	absent    = 1
	otherwise = 2
)

// find looks one fact up and gives its digest, or says what is amiss.
func (c *chainCheck) find(f linkFact) (d [sha256.Size]byte, amiss int) {
	if f.code == layout.CodeEntry {
		for k, v := c.entries.Seek(f.key); k != nil && bytes.HasPrefix(k, f.key); k, v = c.entries.Next() {
			if d = factDigest(f.code, k, v); bytes.Equal(d[:tagSize], f.tag[:]) {
				c.misnamed = c.misnamed || len(v) < 2 || v[1] != f.kind // the link's hash does not cover it
				c.match(f.code, d)
				return d, 0
			}
		}
		return d, absent
	}
	name := fullKey(f.code, f.key)
	v, replaced := c.earlier[name]
	delete(c.earlier, name)
	if !replaced {
		b := c.k.t.tx.Bucket([]byte(layout.OfCode[f.code]))
		if b == nil {
			return d, absent
		}
		if v = b.Get(f.key); v == nil {
			return d, absent
		}
	}
	if d = factDigest(f.code, f.key, v); !bytes.Equal(d[:tagSize], f.tag[:]) {
		return d, otherwise
	}
	if !replaced {
		c.match(f.code, d)
	}
	return d, 0
}

func (c *chainCheck) match(code byte, d [sha256.Size]byte) {
	c.matched[code]++
	if c.digests != nil {
		c.digests[code] = append(c.digests[code], binary.BigEndian.Uint64(d[:]))
	}
}

// follows proves that a link follows from the one before it.
func (c *chainCheck) follows(
	number uint64, l link, digests []byte, whole bool, before, beforeValue []byte, id uuid.UUID,
) {
	prev := genesis(id)
	var from LinkSpot
	if before != nil {
		if len(before) != 8 || len(beforeValue) < sha256.Size {
			return // told of at that link
		}
		from.Number = binary.BigEndian.Uint64(before)
		copy(prev[:], beforeValue[len(beforeValue)-sha256.Size:])
		if b, err := decodeLink(beforeValue); err == nil {
			from = c.linkSpot(from.Number, b)
		}
	}
	if from.Number+1 != number {
		c.bad(bookfile.At("chain", nil), LinksMissing{
			From: from.Number + 1, To: number - 1, After: from.Written, Before: c.moment(l.written()),
		})
		return
	}
	if !whole {
		return // its facts tell more
	}
	if sha256.Sum256(append(linkStart(prev, number, l.kind, l.ms), digests...)) != l.hash {
		c.bad(bookfile.At("link", number), LinkUnfit{Link: c.linkSpot(number, l), Before: from})
	}
}

func (c *chainCheck) linkSpot(number uint64, l link) LinkSpot {
	f := l.facts[0]
	return LinkSpot{
		Number: number, Written: c.moment(l.written()), First: c.fact(f.code, f.key, f.kind), More: len(l.facts) - 1,
	}
}

func (c *chainCheck) moment(at time.Time) time.Time { return at.In(c.k.t.book.zone) }

// fact names a fact by its key.
func (c *chainCheck) fact(code byte, key []byte, kind byte) Fact {
	id := func() uuid.UUID { var u uuid.UUID; copy(u[:], key); return u }
	at := c.k.t.momentOf
	switch name := layout.OfCode[code]; {
	case name == layout.Entries && len(key) >= findKeySize:
		return Fact{Of: c.subject(id()), What: "entry", Kind: wheel.Kind(kind), At: at(key[16:])}
	case name == layout.Air && len(key) >= 9:
		return Fact{Of: bookfile.At("room", key[:len(key)-9]), What: "reading", At: at(key[len(key)-8:])}
	case name == layout.Makes || name == layout.Wheels:
		return Fact{Of: c.subject(id()), What: "record"}
	case name == layout.Book:
		return Fact{Of: bookfile.At("settings", nil), What: "record"}
	case name == layout.Photos:
		return Fact{Of: bookfile.At("photo", fmt.Sprintf("%x", key[:min(6, len(key))])), What: "picture"}
	case layout.ByWritten[name] && len(key) == layout.WrittenKeySize:
		return Fact{Of: bookfile.At(things[name], at(key).Format("2006-01-02 15:04")), What: "record"}
	default:
		return Fact{Of: bookfile.At(things[name], key), What: "record"}
	}
}

// things are what the records of a bucket are.
var things = func() map[string]reason.Thing {
	out := map[string]reason.Thing{}
	for _, s := range sections {
		out[s.bucket] = reason.Thing(s.record)
	}
	return out
}()

func (c *chainCheck) subject(id uuid.UUID) bookfile.Spot {
	if s := c.k.t.spotOf(id); s.Thing != "" {
		return s
	}
	return bookfile.At("wheel", id)
}

// spotOf is the wheel or lot of an identity; zero where the book has none.
func (t *ReadTx) spotOf(id uuid.UUID) bookfile.Spot {
	switch name := t.nameOf(id); {
	case name == "":
		return bookfile.Spot{}
	case strings.HasPrefix(name, "lot "):
		return bookfile.At("lot", name[len("lot "):])
	default:
		return bookfile.At("wheel", name)
	}
}

// momentOf is the instant that a key begins with, in the book's zone.
func (t *ReadTx) momentOf(ms []byte) time.Time {
	return time.UnixMilli(int64(binary.BigEndian.Uint64(ms) & (1<<63 - 1))).In(t.book.zone)
}

// extra is a fact of which no link speaks.
type extra struct {
	code       byte
	key, value []byte
}

// damaged says whether the fact's seal is wrong. A disk did that, and not a program that
// altered it; who proves the facts tells of it.
func (x extra) damaged() (yes bool) {
	if x.code == layout.CodeEntry || layout.OfCode[x.code] == layout.Air {
		_, err := pack.Unseal(x.key, x.value)
		return err != nil
	}
	_, err := pack.Body(x.value)
	return err != nil
}

// added finds the facts of which no link speaks. Where as many stand in the
// book as links speak of, there are none: each link's facts were found.
func (c *chainCheck) added() ([]extra, error) {
	var more []byte
	for _, name := range layout.ChainOrder {
		n, code := 0, layout.Codes[name]
		for key := range c.k.records(name) {
			if layout.InChain(name, key) {
				n++
			}
		}
		if err := c.k.ctx.Err(); err != nil {
			return nil, err
		}
		if n != c.matched[code] {
			more = append(more, code)
		}
	}
	if len(more) == 0 {
		return nil, nil
	}
	// Once more, keeping eight bytes a fact.
	again := &chainCheck{k: c.k, entries: c.entries, earlier: map[string][]byte{}, digests: map[byte][]uint64{}}
	if err := again.walk(false); err != nil {
		return nil, err
	}
	var out []extra
	for _, code := range more {
		known := again.digests[code]
		slices.Sort(known)
		name := layout.OfCode[code]
		for key, v := range c.k.records(name) {
			if !layout.InChain(name, key) || len(out) >= mostMissed {
				continue
			}
			d := factDigest(code, key, v)
			if _, ok := slices.BinarySearch(known, binary.BigEndian.Uint64(d[:])); !ok {
				out = append(out, extra{code, bytes.Clone(key), bytes.Clone(v)})
			}
		}
	}
	return out, c.k.ctx.Err()
}

// tell brings together what is missing and what is there too many: moved,
// changed, removed, put in.
func (c *chainCheck) tell(added []extra) {
	slices.SortStableFunc(c.missing, func(a, b missed) int { return cmp.Compare(a.number, b.number) })
	left := added[:0:0]
	for _, x := range added {
		if x.code != layout.CodeEntry || !c.tellMoved(x) {
			left = append(left, x)
		}
	}
	for _, x := range left {
		if !c.tellChanged(x) && !x.damaged() {
			f := c.factOf(x)
			c.bad(f.Of, PutIn{f})
		}
	}
	for i := range c.missing {
		m := &c.missing[i]
		if m.used {
			continue
		}
		c.altered(m, !m.changed)
	}
}

func (c *chainCheck) altered(m *missed, removed bool) {
	f := c.fact(m.code, m.key, m.kind)
	c.bad(f.Of, Altered{Fact: f, Removed: removed, Link: c.writtenBy(m)})
}

func (c *chainCheck) writtenBy(m *missed) LinkSpot {
	return LinkSpot{Number: m.number, Written: c.moment(m.written)}
}

// factOf names a fact that is there to be read.
func (c *chainCheck) factOf(x extra) Fact {
	kind := byte(0)
	if len(x.value) > 1 {
		kind = x.value[1]
	}
	return c.fact(x.code, x.key, kind)
}

// tellMoved says of an entry whether it stood at another time or wheel.
func (c *chainCheck) tellMoved(x extra) bool {
	if len(x.key) != pack.EntryKeySize || len(x.value) < 4 {
		return false
	}
	for i := range c.missing {
		m := &c.missing[i]
		if m.used || m.code != x.code || m.kind != x.value[1] {
			continue
		}
		key := append(bytes.Clone(m.key), x.key[findKeySize:]...)
		forms := [][]byte{x.value, pack.Seal(key, bytes.Clone(x.value[:len(x.value)-2]))}
		if e, err := pack.ReadEntry(x.key, x.value); err == nil {
			e.Subject, e.At = uuid.UUID(m.key[:16]), time.UnixMilli(int64(binary.BigEndian.Uint64(m.key[16:]))).UTC()
			forms = append(forms, pack.Entry(e))
		}
		for _, v := range forms {
			if d := factDigest(m.code, key, v); !bytes.Equal(d[:tagSize], m.tag[:]) {
				continue
			}
			if m.used = true; x.damaged() {
				return true
			}
			f := c.fact(m.code, m.key, m.kind)
			c.bad(f.Of, MovedFact{Fact: f, To: c.factOf(x), Link: c.writtenBy(m)})
			return true
		}
	}
	return false
}

// tellChanged says of a fact whether it stands in another's place.
func (c *chainCheck) tellChanged(x extra) bool {
	for i := range c.missing {
		m := &c.missing[i]
		same := bytes.HasPrefix(x.key, m.key) && (m.code == layout.CodeEntry || len(m.key) == len(x.key))
		if m.used || m.code != x.code || !same {
			continue
		}
		if m.used = true; !x.damaged() {
			c.altered(m, false)
		}
		return true
	}
	return false
}
