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

	"rindkeep/wheel"
)

// chainCheck proves the chain against the facts. It goes from the head back, so
// that of a fact which took another's place the newer one is met first and
// brings the older one's record with it.
type chainCheck struct {
	k       *checker
	entries *bolt.Cursor
	earlier map[string][]byte // key of a fact replaced later -> the record it had
	matched [16]int           // facts that stand in the book as their link says
	digests map[byte][]uint64 // of those, the beginnings of their digests; by code
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
	c := &chainCheck{k: k, entries: k.t.bucket(bEntries).Cursor(), earlier: map[string][]byte{}}
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

func (c *chainCheck) bad(where, what string) {
	if len(c.k.found) < maxFindings {
		c.k.found = append(c.k.found, Finding{Where: where, What: what, History: true})
	}
}

// walk goes through the links from the last to the first.
func (c *chainCheck) walk(hashes bool) error {
	clear(c.earlier)
	c.matched, c.missing = [16]int{}, nil
	id := c.k.t.book.settings.ID
	cur := c.k.t.bucket(bChain).Cursor()
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
			c.fault(hashes, fmt.Sprintf("link %x", key), "is kept under no number")
		case err != nil:
			c.fault(hashes, fmt.Sprintf("link %d", number), "does not decode: the history it stood for cannot be proved")
		default:
			digests, whole := c.facts(number, l)
			if c.misnamed {
				c.fault(hashes, fmt.Sprintf("link %d", number),
					"names an entry by another kind than it is of: the link was altered")
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
		c.fault(true, "chain", "is not there: nothing proves the history")
	}
	return nil
}

func (c *chainCheck) fault(say bool, where, what string) {
	if say {
		c.bad(where, what)
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
	if f.code == codeEntry {
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
		b := c.k.t.tx.Bucket([]byte(chainBuckets[f.code]))
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
	prev, from, text := genesis(id), uint64(0), "the book's beginning"
	if before != nil {
		if len(before) != 8 || len(beforeValue) < sha256.Size {
			return // told of at that link
		}
		from = binary.BigEndian.Uint64(before)
		copy(prev[:], beforeValue[len(beforeValue)-sha256.Size:])
		text = fmt.Sprintf("link %d", from)
		if b, err := decodeLink(beforeValue); err == nil {
			text += fmt.Sprintf(", written %s (%s)", c.moment(b.written()), c.first(b))
		}
	}
	if from+1 != number {
		which := fmt.Sprintf("links %d to %d are", from+1, number-1)
		if from+2 == number {
			which = fmt.Sprintf("link %d is", from+1)
		}
		what := which + " missing: what was written before " + c.moment(l.written())
		if b, err := decodeLink(beforeValue); before != nil && err == nil {
			what += " and after " + c.moment(b.written())
		}
		c.fault(true, "chain", what+" was taken out of the history outside the program")
		return
	}
	if !whole {
		return // its facts tell more
	}
	if sha256.Sum256(append(linkStart(prev, number, l.kind, l.ms), digests...)) != l.hash {
		c.fault(true, fmt.Sprintf("link %d", number), fmt.Sprintf("written %s (%s), does not follow from %s: "+
			"one of the two, or what came before, was written anew outside the program",
			c.moment(l.written()), c.first(l), text))
	}
}

// first says what a link is about, in a few words.
func (c *chainCheck) first(l link) string {
	f := l.facts[0]
	who, what := c.name(f.code, f.key, f.kind)
	s := strings.TrimSpace(who + " " + what)
	if n := len(l.facts) - 1; n > 0 {
		s += fmt.Sprintf(" and %d more", n)
	}
	return s
}

func (c *chainCheck) moment(at time.Time) string {
	return at.In(c.k.t.book.zone).Format("2006-01-02 15:04")
}

// name gives what a fact is about, and what it is.
func (c *chainCheck) name(code byte, key []byte, kind byte) (who, what string) {
	id := func() uuid.UUID { var u uuid.UUID; copy(u[:], key); return u }
	switch name := chainBuckets[code]; name {
	case bEntries:
		at := time.UnixMilli(int64(binary.BigEndian.Uint64(key[16:]) & (1<<63 - 1)))
		return c.subject(id()), fmt.Sprintf("entry %q of %s", wheel.Kind(kind).String(), c.moment(at))
	case bAir:
		if n := len(key) - 9; n >= 0 {
			at := time.UnixMilli(int64(binary.BigEndian.Uint64(key[n+1:]) & (1<<63 - 1)))
			return "room " + show(string(key[:n])), "reading of its air at " + c.moment(at)
		}
	case bMakes, bWheels:
		return c.subject(id()), "record"
	case bBook:
		return "settings of the book", "record"
	case bPhotos:
		return fmt.Sprintf("photo %x", key[:min(6, len(key))]), "picture"
	case bFollows:
		if len(key) == followKeySize {
			return "countries followed from " + c.moment(time.UnixMilli(int64(binary.BigEndian.Uint64(key)))), "record"
		}
	case bRooms, bVarieties, bPlans, bCustomers, bLaws:
		one := map[string]string{
			bRooms: "room", bVarieties: "variety", bPlans: "plan", bCustomers: "customer", bLaws: "rule",
		}[name]
		return one + " " + show(string(key)), "record"
	}
	return fmt.Sprintf("%s %x", chainBuckets[code], key), "record"
}

func (c *chainCheck) subject(id uuid.UUID) string {
	switch name := c.k.t.nameOf(id); {
	case name == "":
		return "wheel " + id.String()
	case strings.HasPrefix(name, "lot "):
		return name
	default:
		return "wheel " + name
	}
}

// extra is a fact of which no link speaks.
type extra struct {
	code       byte
	key, value []byte
}

// added finds the facts of which no link speaks. Where as many stand in the
// book as links speak of, there are none: each link's facts were found.
func (c *chainCheck) added() ([]extra, error) {
	var more []byte
	for _, name := range chainOrder {
		n, code := 0, chainCodes[name]
		for key := range c.k.records(name) {
			if inChain(name, key) {
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
		name := chainBuckets[code]
		for key, v := range c.k.records(name) {
			if !inChain(name, key) || len(out) >= mostMissed {
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
		if x.code != codeEntry || !c.tellMoved(x) {
			left = append(left, x)
		}
	}
	for _, x := range left {
		if !c.tellChanged(x) {
			who, what := c.nameOf(x)
			c.bad(who, fmt.Sprintf("its %s was put in outside the program: no link of the chain speaks of it", what))
		}
	}
	for i := range c.missing {
		m := &c.missing[i]
		if m.used {
			continue
		}
		who, what := c.name(m.code, m.key, m.kind)
		did := "removed"
		if m.changed {
			did = "changed"
		}
		c.bad(who, fmt.Sprintf("its %s was %s outside the program; %s", what, did, c.wasWritten(m)))
	}
}

func (c *chainCheck) wasWritten(m *missed) string {
	return fmt.Sprintf("it was written %s (link %d)", c.moment(m.written), m.number)
}

// nameOf is name, for a fact that is there to be read.
func (c *chainCheck) nameOf(x extra) (who, what string) {
	kind := byte(0)
	if x.code == codeEntry && len(x.key) >= findKeySize && len(x.value) > 1 {
		kind = x.value[1]
	}
	if x.code == codeEntry && len(x.key) < findKeySize {
		return fmt.Sprintf("entry %x", x.key), "record"
	}
	return c.name(x.code, x.key, kind)
}

// tellMoved says of an entry whether it stood at another time or wheel.
func (c *chainCheck) tellMoved(x extra) bool {
	if len(x.key) != entryKeySize || len(x.value) < 4 {
		return false
	}
	for i := range c.missing {
		m := &c.missing[i]
		if m.used || m.code != x.code || m.kind != x.value[1] {
			continue
		}
		key := append(bytes.Clone(m.key), x.key[findKeySize:]...)
		forms := [][]byte{x.value, sealed(key, bytes.Clone(x.value[:len(x.value)-2]))}
		if e, err := decodeEntry(x.key, x.value); err == nil {
			e.Subject, e.At = uuid.UUID(m.key[:16]), time.UnixMilli(int64(binary.BigEndian.Uint64(m.key[16:]))).UTC()
			forms = append(forms, encodeEntry(e))
		}
		for _, v := range forms {
			if d := factDigest(m.code, key, v); !bytes.Equal(d[:tagSize], m.tag[:]) {
				continue
			}
			m.used = true
			was, what := c.name(m.code, m.key, m.kind)
			is, now := c.nameOf(x)
			if was == is {
				_, now, _ = strings.Cut(now, " of ")
				c.bad(was, fmt.Sprintf("its %s was moved to %s outside the program; %s", what, now, c.wasWritten(m)))
			} else {
				c.bad(was, fmt.Sprintf("its %s was made over to %s (%s) outside the program; %s", what, is, now, c.wasWritten(m)))
			}
			return true
		}
	}
	return false
}

// tellChanged says of a fact whether it stands in another's place.
func (c *chainCheck) tellChanged(x extra) bool {
	for i := range c.missing {
		m := &c.missing[i]
		if m.used || m.code != x.code || !bytes.HasPrefix(x.key, m.key) || m.code != codeEntry && len(m.key) != len(x.key) {
			continue
		}
		m.used = true
		who, what := c.name(m.code, m.key, m.kind)
		c.bad(who, fmt.Sprintf("its %s was changed outside the program; %s", what, c.wasWritten(m)))
		return true
	}
	return false
}
