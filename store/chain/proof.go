package chain

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"iter"
	"slices"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// Names name the facts that a chain is over.
type Names struct {
	Zone    *time.Location                // of the instants that are given
	Subject func(uuid.UUID) bookfile.Spot // a wheel, or the lot of a make
	Things  map[string]reason.Thing       // what the records of a bucket are
}

// At is the instant that a key begins with.
func (n Names) At(ms []byte) time.Time {
	return time.UnixMilli(int64(binary.BigEndian.Uint64(ms) & (1<<63 - 1))).In(n.Zone)
}

// Fact names a fact by what its link keeps of it.
func (n Names) Fact(f Trace) Fact {
	id := func() uuid.UUID { var u uuid.UUID; copy(u[:], f.Key); return u }
	switch name, key := layout.OfCode[f.Code], f.Key; {
	case name == layout.Entries && len(key) >= FindKeySize:
		return Fact{Of: n.Subject(id()), What: "entry", Kind: f.Kind, At: n.At(key[16:])}
	case name == layout.Air && len(key) >= 9:
		return Fact{Of: bookfile.At("room", key[:len(key)-9]), What: "reading", At: n.At(key[len(key)-8:])}
	case name == layout.Makes || name == layout.Wheels:
		return Fact{Of: n.Subject(id()), What: "record"}
	case name == layout.Book:
		return Fact{Of: bookfile.At("settings", nil), What: "record"}
	case name == layout.Photos:
		return Fact{Of: bookfile.At("photo", fmt.Sprintf("%x", key[:min(6, len(key))])), What: "picture"}
	case layout.ByWritten[name] && len(key) == layout.WrittenKeySize:
		return Fact{Of: bookfile.At(n.Things[name], n.At(key).Format("2006-01-02 15:04")), What: "record"}
	case name == layout.Branches && len(key) > 40:
		return Fact{Of: bookfile.At("bundle", binary.BigEndian.Uint64(key[32:])), What: "record"}
	case name == layout.AirSources && len(key) == 8:
		return Fact{Of: bookfile.At(n.Things[name], binary.BigEndian.Uint64(key)), What: "record"}
	default:
		return Fact{Of: bookfile.At(n.Things[name], key), What: "record"}
	}
}

// proof proves the chain against the facts. It goes from the head back, so
// that of a fact which took another's place the newer one is met first and
// brings the older one's record with it.
type proof struct {
	ctx     context.Context
	tx      *bolt.Tx
	book    uuid.UUID
	names   Names
	found   []bookfile.Finding
	entries *bolt.Cursor
	earlier map[string][]byte       // name of a fact replaced later -> the record it had
	matched [len(layout.OfCode)]int // facts that stand in the book as their link says
	digests map[byte][]uint64       // of those, the beginnings of their digests; by code
	missing []missed
	links   int
	others  Others

	misnamed bool // the link looked at last names an entry by another kind
}

// missed is a fact that is not in the book as its link says.
type missed struct {
	number  uint64
	written time.Time
	Trace
	changed bool // a record of that key is there
	used    bool // told of already
}

// mostMissed bounds what is compared to say more of a finding.
const mostMissed = 500

// Others are the facts that other sites wrote, as the book keeps them: more facts that the
// own chain isn't over. It tells each of one, until that fails; nil: there are none.
type Others func(each func(code byte, key, value []byte) error) error

// Prove proves the chain of a book against its facts: what was altered outside the
// program, in findings of History, and how many links there are. The error is a context
// that ended, or what others failed with.
func Prove(ctx context.Context, tx *bolt.Tx, book uuid.UUID, names Names, others Others) (
	found []bookfile.Finding, links int, err error,
) {
	c := &proof{
		ctx: ctx, tx: tx, book: book, names: names, others: others,
		entries: tx.Bucket([]byte(layout.Entries)).Cursor(), earlier: map[string][]byte{},
	}
	err = c.walk(true)
	if err == nil {
		var added []extra
		if added, err = c.added(); err == nil {
			c.tell(added)
		}
	}
	return c.found, c.links, err
}

func (c *proof) bad(at bookfile.Spot, what reason.Reason) {
	if len(c.found) < bookfile.MaxFindings {
		c.found = append(c.found, bookfile.Finding{At: at, What: what, History: true})
	}
}

// records goes through the facts of a bucket until the context ends.
func (c *proof) records(bucket string) iter.Seq2[[]byte, []byte] {
	return func(yield func(key, v []byte) bool) {
		b := c.tx.Bucket([]byte(bucket))
		if b == nil {
			return
		}
		in, n := b.Cursor(), 0
		for k, v := in.First(); k != nil; k, v = in.Next() {
			if n++; n%1000 == 0 && c.ctx.Err() != nil {
				return
			}
			if layout.InChain(bucket, k) && !yield(k, v) {
				return
			}
		}
	}
}

// walk goes through the links from the last to the first.
func (c *proof) walk(hashes bool) error {
	clear(c.earlier)
	c.matched, c.missing = [len(layout.OfCode)]int{}, nil
	cur := c.tx.Bucket([]byte(layout.Chain)).Cursor()
	key, value := cur.Last()
	c.links = 0
	for key != nil {
		if err := c.ctx.Err(); err != nil {
			return err
		}
		c.links++
		number := binary.BigEndian.Uint64(append(make([]byte, 8), key...)[len(key):])
		l, err := Decode(value)
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
				c.follows(number, l, digests, whole, before, beforeValue)
			}
		}
		key, value = before, beforeValue
	}
	if hashes {
		slices.Reverse(c.found)
	}
	if hashes && c.links == 0 {
		c.fault(true, bookfile.At("chain", nil), NoChain)
	}
	return nil
}

func (c *proof) fault(say bool, at bookfile.Spot, what reason.Reason) {
	if say {
		c.bad(at, what)
	}
}

// facts finds the facts of a link and gives their digests; whole says whether
// all are as they were.
func (c *proof) facts(number uint64, l Link) (digests []byte, whole bool) {
	whole, c.misnamed = true, false
	rows := make([][sha256.Size]byte, len(l.Facts))
	for i := len(l.Facts) - 1; i >= 0; i-- {
		f := l.Facts[i]
		d, state := c.find(f)
		if f.Was != nil {
			c.earlier[f.Name()] = f.Was
		}
		if state == 0 {
			rows[i] = d
			continue
		}
		whole = false
		if len(c.missing) < mostMissed {
			c.missing = append(c.missing, missed{number: number, written: l.Written(), Trace: f, changed: state == otherwise})
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
func (c *proof) find(f Trace) (d [sha256.Size]byte, amiss int) {
	if f.Code == layout.CodeEntry {
		for k, v := c.entries.Seek(f.Key); k != nil && bytes.HasPrefix(k, f.Key); k, v = c.entries.Next() {
			if d = Digest(f.Code, k, v); f.Is(d) {
				c.misnamed = c.misnamed || len(v) < 2 || v[1] != byte(f.Kind) // the link's hash does not cover it
				c.match(f.Code, d)
				return d, 0
			}
		}
		return c.aside(f, absent)
	}
	name := f.Name()
	v, replaced := c.earlier[name]
	delete(c.earlier, name)
	if !replaced {
		b := c.tx.Bucket([]byte(layout.OfCode[f.Code]))
		if b == nil {
			return d, absent
		}
		if v = b.Get(f.Key); v == nil {
			return c.aside(f, absent)
		}
	}
	if d = Digest(f.Code, f.Key, v); !f.Is(d) {
		return c.aside(f, otherwise)
	}
	if !replaced {
		c.match(f.Code, d)
	}
	return d, 0
}

// aside looks for a fact among those that gave way to another site's.
func (c *proof) aside(f Trace, amiss int) (d [sha256.Size]byte, _ int) {
	b := c.tx.Bucket([]byte(layout.Aside))
	if b == nil {
		return d, amiss
	}
	of := append([]byte{f.Code}, f.Key...)
	in := b.Cursor()
	for k, v := in.Seek(of); k != nil && bytes.HasPrefix(k, of); k, v = in.Next() {
		if n := len(k) - sha256.Size - 1; n >= len(of) {
			if d = Digest(f.Code, k[1:n], v); f.Is(d) {
				return d, 0
			}
		}
	}
	return d, amiss
}

func (c *proof) match(code byte, d [sha256.Size]byte) {
	c.matched[code]++
	if c.digests != nil {
		c.digests[code] = append(c.digests[code], binary.BigEndian.Uint64(d[:]))
	}
}

// follows proves that a link follows from the one before it.
func (c *proof) follows(
	number uint64, l Link, digests []byte, whole bool, before, beforeValue []byte,
) {
	prev := genesis(c.book)
	var from LinkSpot
	if before != nil {
		if len(before) != 8 || len(beforeValue) < sha256.Size {
			return // told of at that link
		}
		from.Number = binary.BigEndian.Uint64(before)
		copy(prev[:], beforeValue[len(beforeValue)-sha256.Size:])
		if b, err := Decode(beforeValue); err == nil {
			from = c.linkSpot(from.Number, b)
		}
	}
	if from.Number+1 != number {
		c.bad(bookfile.At("chain", nil), LinksMissing{
			From: from.Number + 1, To: number - 1, After: from.Written, Before: c.moment(l.Written()),
		})
		return
	}
	if !whole {
		return // its facts tell more
	}
	if Follow(prev, number, l.Kind, l.ms, digests) != l.hash {
		c.bad(bookfile.At("link", number), LinkUnfit{Link: c.linkSpot(number, l), Before: from})
	}
}

func (c *proof) linkSpot(number uint64, l Link) LinkSpot {
	f := l.Facts[0]
	return LinkSpot{
		Number: number, Written: c.moment(l.Written()), First: c.names.Fact(f), More: len(l.Facts) - 1,
	}
}

func (c *proof) moment(at time.Time) time.Time { return at.In(c.names.Zone) }

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
func (c *proof) added() ([]extra, error) {
	var more []byte
	for _, name := range layout.ChainOrder {
		n, code := 0, layout.Codes[name]
		for range c.records(name) {
			n++
		}
		if err := c.ctx.Err(); err != nil {
			return nil, err
		}
		if n != c.matched[code] || c.others != nil && n > 0 {
			more = append(more, code)
		}
	}
	if len(more) == 0 {
		return nil, nil
	}
	// Once more, keeping eight bytes a fact.
	again := &proof{
		ctx: c.ctx, tx: c.tx, book: c.book, entries: c.entries, earlier: map[string][]byte{},
		digests: map[byte][]uint64{},
	}
	if err := again.walk(false); err != nil {
		return nil, err
	}
	if c.others != nil {
		if err := c.others(func(code byte, key, value []byte) error {
			again.match(code, Digest(code, key, value))
			return c.ctx.Err()
		}); err != nil {
			return nil, err
		}
	}
	var out []extra
	for _, code := range more {
		known := again.digests[code]
		slices.Sort(known)
		name := layout.OfCode[code]
		for key, v := range c.records(name) {
			if len(out) >= mostMissed {
				continue
			}
			d := Digest(code, key, v)
			if _, ok := slices.BinarySearch(known, binary.BigEndian.Uint64(d[:])); !ok {
				out = append(out, extra{code, bytes.Clone(key), bytes.Clone(v)})
			}
		}
	}
	return out, c.ctx.Err()
}

// tell brings together what is missing and what is there too many: moved,
// changed, removed, put in.
func (c *proof) tell(added []extra) {
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

func (c *proof) altered(m *missed, removed bool) {
	f := c.names.Fact(m.Trace)
	c.bad(f.Of, Altered{Fact: f, Removed: removed, Link: c.writtenBy(m)})
}

func (c *proof) writtenBy(m *missed) LinkSpot {
	return LinkSpot{Number: m.number, Written: c.moment(m.written)}
}

// factOf names a fact that is there to be read.
func (c *proof) factOf(x extra) Fact {
	kind := wheel.Kind(0)
	if len(x.value) > 1 {
		kind = wheel.Kind(x.value[1])
	}
	return c.names.Fact(Trace{Code: x.code, Key: x.key, Kind: kind})
}

// tellMoved says of an entry whether it stood at another time or wheel.
func (c *proof) tellMoved(x extra) bool {
	if len(x.key) != pack.EntryKeySize || len(x.value) < 4 {
		return false
	}
	for i := range c.missing {
		m := &c.missing[i]
		if m.used || m.Code != x.code || byte(m.Kind) != x.value[1] {
			continue
		}
		key := append(bytes.Clone(m.Key), x.key[FindKeySize:]...)
		forms := [][]byte{x.value, pack.Seal(key, bytes.Clone(x.value[:len(x.value)-2]))}
		if e, err := pack.ReadEntry(x.key, x.value); err == nil {
			e.Subject, e.At = uuid.UUID(m.Key[:16]), time.UnixMilli(int64(binary.BigEndian.Uint64(m.Key[16:]))).UTC()
			forms = append(forms, pack.Entry(e))
		}
		for _, v := range forms {
			if d := Digest(m.Code, key, v); !m.Is(d) {
				continue
			}
			if m.used = true; x.damaged() {
				return true
			}
			f := c.names.Fact(m.Trace)
			c.bad(f.Of, MovedFact{Fact: f, To: c.factOf(x), Link: c.writtenBy(m)})
			return true
		}
	}
	return false
}

// tellChanged says of a fact whether it stands in another's place.
func (c *proof) tellChanged(x extra) bool {
	for i := range c.missing {
		m := &c.missing[i]
		same := bytes.HasPrefix(x.key, m.Key) && (m.Code == layout.CodeEntry || len(m.Key) == len(x.key))
		if m.used || m.Code != x.code || !same {
			continue
		}
		if m.used = true; !x.damaged() {
			c.altered(m, false)
		}
		return true
	}
	return false
}
