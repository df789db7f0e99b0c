package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"rindkeep/store/layout"
	"rindkeep/store/pack"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"
)

// Every fact is linked into a chain in the order of writing, so that Check can
// say whether history was altered outside the program. One transaction adds
// one link over all the facts it wrote, or several where they are many:
//
//	fact n  = SHA-256(bucket's code || length of key || key || record)
//	link n  = SHA-256(link n-1 || n || kind || ms || fact || fact || …)
//	link 0  = SHA-256("rindkeep chain 1\n" || the book's identity)
//
// n and ms (when it was written) are eight bytes, the code and the kind one,
// the length a varint. A link is kept with what it takes to find its facts
// again and to name one that was altered: for an entry its wheel, time and
// kind, for any other fact its key, and four bytes of its digest. A fact that
// takes the place of another of the same key keeps that one's record in its
// link. Facts are never deleted.
//
// The last link's hash, the head, stands for the whole history. Who can write
// the file can rewrite the whole chain: only a head noted elsewhere shows
// that.

// Kinds of link.
const (
	linkWritten  = 0 // an ordinary change
	linkBegun    = 1 // of a new book
	linkUpgraded = 2 // what a book held from before there was a chain
	linkImported = 3 // what came by an import without its own chain
	linkUnfit    = 4 // what came by an import whose own chain did not fit it
	linkSalvaged = 5 // what was left of a damaged book
)

// linkVersion is the version byte of packed links.
const linkVersion = 1

// A link holds no more facts, and no more bytes, than this; where a
// transaction writes more it adds several.
const (
	factsTogether     = 4096
	linkBytesTogether = 256 << 10
)

// tagSize is how much of a fact's digest its link keeps.
const tagSize = 4

// findKeySize is how much of an entry's key its link keeps: wheel and time.
const findKeySize = 24

// factDigest is what a link holds of one fact.
func factDigest(code byte, key, value []byte) [sha256.Size]byte {
	var room [160]byte
	b := append(room[:0], code)
	b = binary.AppendUvarint(b, uint64(len(key)))
	b = append(b, key...)
	b = append(b, value...)
	return sha256.Sum256(b)
}

// genesis is what the first link follows.
func genesis(book uuid.UUID) [sha256.Size]byte {
	return sha256.Sum256(append([]byte("rindkeep chain 1\n"), book[:]...))
}

// openLink is the link a transaction is adding facts to.
type openLink struct {
	number uint64
	kind   byte
	ms     int64
	sum    []byte // what its hash is over
	body   []byte // packed facts
	key    []byte // of the last fact
	count  int
}

func newLink(prev [sha256.Size]byte, number uint64, kind byte, ms int64) *openLink {
	return &openLink{number: number, kind: kind, ms: ms, sum: linkStart(prev, number, kind, ms)}
}

func linkStart(prev [sha256.Size]byte, number uint64, kind byte, ms int64) []byte {
	b := binary.BigEndian.AppendUint64(append(make([]byte, 0, 49+2*sha256.Size), prev[:]...), number)
	return binary.BigEndian.AppendUint64(append(b, kind), uint64(ms))
}

// add takes one fact. was is the record it takes the place of, nil for none.
func (l *openLink) add(code byte, key, was, value []byte) {
	l.addDigest(code, key, was, value, factDigest(code, key, value))
}

// addDigest is add where the fact's digest is known.
func (l *openLink) addDigest(code byte, key, was, value []byte, d [sha256.Size]byte) {
	l.sum = append(l.sum, d[:]...)
	f := linkFact{code: code, key: key, tag: [tagSize]byte(d[:tagSize]), was: was}
	if code == layout.CodeEntry {
		f.key = key[:min(findKeySize, len(key))]
		if len(value) > 1 {
			f.kind = value[1]
		}
	}
	l.body = appendFact(l.body, l.key, f)
	l.key = append(l.key[:0], f.key...)
	l.count++
}

func (l *openLink) full() bool {
	return l.count >= factsTogether || len(l.body) >= linkBytesTogether
}

// seal ends the link: its hash, and the bytes it is kept as.
func (l *openLink) seal() (sum [sha256.Size]byte, value []byte) {
	sum = sha256.Sum256(l.sum)
	b := make([]byte, 0, 2+9+3+len(l.body)+sha256.Size)
	b = append(b, linkVersion, l.kind)
	b = binary.AppendUvarint(b, uint64(l.ms))
	b = binary.AppendUvarint(b, uint64(l.count))
	b = append(b, l.body...)
	return sum, append(b, sum[:]...)
}

// linkFact is what a link keeps of one fact.
type linkFact struct {
	code byte
	key  []byte // of an entry: wheel and time only
	kind byte   // of an entry
	tag  [tagSize]byte
	was  []byte // the record it took the place of; nil: none
}

// hasWas marks, beside the code, a fact that took another's place.
const hasWas = 0x10

func appendFact(b, last []byte, f linkFact) []byte {
	head := f.code
	if f.was != nil {
		head |= hasWas
	}
	shared := 0
	for shared < min(len(last), len(f.key), 255) && last[shared] == f.key[shared] {
		shared++
	}
	b = append(b, head, byte(shared))
	b = binary.AppendUvarint(b, uint64(len(f.key)-shared))
	b = append(b, f.key[shared:]...)
	if f.code == layout.CodeEntry {
		b = append(b, f.kind)
	}
	b = append(b, f.tag[:]...)
	if f.was != nil {
		b = binary.AppendUvarint(b, uint64(len(f.was)))
		b = append(b, f.was...)
	}
	return b
}

// link is one link as it is kept.
type link struct {
	kind  byte
	ms    int64
	facts []linkFact
	hash  [sha256.Size]byte
}

func (l link) written() time.Time { return time.UnixMilli(l.ms).UTC() }

// mostLink is longer than any link, in bytes: what a disk changed isn't copied to be read.
const mostLink = 64 * linkBytesTogether

// decodeLink takes a packed link apart. What it returns shares nothing with
// the bytes.
func decodeLink(value []byte) (link, error) {
	var l link
	n := len(value) - sha256.Size
	if n < 0 || n > mostLink {
		return l, pack.ErrForm
	}
	r := pack.NewReader(value[:n])
	if v := r.Byte(); v != linkVersion {
		return l, fmt.Errorf("a link of version %d", v)
	}
	l.kind = r.Byte()
	ms, count := r.Uvarint(), r.Uvarint()
	if l.kind > linkSalvaged || ms > pack.MaxMilli || count > uint64(r.Left()) || count == 0 {
		return link{}, pack.ErrForm
	}
	l.ms = int64(ms)
	l.facts = make([]linkFact, 0, count)
	var last string
	for range count {
		var f linkFact
		head := r.Byte()
		f.code = head &^ hasWas
		shared, rest := int(r.Byte()), r.Uvarint()
		known := int(f.code) < len(layout.OfCode) && layout.OfCode[f.code] != ""
		if !known || shared > len(last) || rest > uint64(r.Left()) {
			return link{}, pack.ErrForm
		}
		last = last[:shared] + r.Take(rest)
		f.key = []byte(last)
		if f.code == layout.CodeEntry {
			f.kind = r.Byte()
			if len(f.key) != findKeySize {
				return link{}, pack.ErrForm
			}
		}
		copy(f.tag[:], r.Take(tagSize))
		if head&hasWas != 0 {
			f.was = []byte(r.Text())
		}
		if r.Bad() {
			return link{}, pack.ErrForm
		}
		l.facts = append(l.facts, f)
	}
	copy(l.hash[:], value[n:])
	return l, r.Done()
}

// tipOf gives the last link's number and hash; number 0 and the genesis where
// there is no link yet.
func tipOf(chain *bolt.Bucket, book uuid.UUID) (number uint64, sum [sha256.Size]byte, err error) {
	k, v := chain.Cursor().Last()
	if k == nil {
		return 0, genesis(book), nil
	}
	if len(k) != 8 || len(v) < sha256.Size {
		return 0, sum, pack.ErrForm
	}
	copy(sum[:], v[len(v)-sha256.Size:])
	return binary.BigEndian.Uint64(k), sum, nil
}

// putLink writes a sealed link. The chain only grows at its end, so its pages
// are filled.
func putLink(chain *bolt.Bucket, l *openLink) ([sha256.Size]byte, error) {
	sum, v := l.seal()
	chain.FillPercent = 0.95
	return sum, chain.Put(layout.LinkKey(l.number), v)
}

// chained takes one fact into the chain: key and record as they are written in
// its bucket, was the record that stood under that key (nil: none). It is to be
// called once for each fact written, before or after the write itself, within
// Update, which ends the link. Put and all that goes through flush do it there;
// a loader that writes to the bucket of entries itself calls it for each, and
// in the order of their keys, which keeps links small. Nothing is kept of the
// slices.
func (t *WriteTx) chained(bucket string, key, was, value []byte) error {
	if !layout.InChain(bucket, key) || t.book.unchained {
		return nil
	}
	return t.chainedAs(bucket, key, was, value, factDigest(layout.Codes[bucket], key, value))
}

// chainedAs is chained where the fact's digest is known.
func (t *WriteTx) chainedAs(bucket string, key, was, value []byte, d [sha256.Size]byte) error {
	if !layout.InChain(bucket, key) || t.book.unchained {
		return nil
	}
	if value == nil {
		return fmt.Errorf("a fact cannot be deleted: %s %x", bucket, key)
	}
	if was != nil && bytes.Equal(was, value) {
		return nil
	}
	if t.link == nil {
		number, prev, err := tipOf(t.bucket(layout.Chain), t.book.settings.ID)
		if err != nil {
			return t.damaged(err, "chain", nil)
		}
		t.link = newLink(prev, number+1, linkWritten, t.Now().UnixMilli())
	}
	t.changed = true
	t.link.addDigest(layout.Codes[bucket], key, was, value, d)
	if t.link.full() {
		return t.endLink()
	}
	return nil
}

// endLink writes the link that is being added to, where there is one.
func (t *WriteTx) endLink() error {
	l := t.link
	if l == nil {
		return nil
	}
	t.link = nil
	chain := t.bucket(layout.Chain)
	if err := t.prove(chain, layout.LinkKey(l.number), false); err != nil {
		return err
	}
	if _, err := putLink(chain, l); err != nil {
		return t.damaged(err, "chain", nil)
	}
	return nil
}

// chainAll begins the chain over every fact in the book, in links of the kind.
// The bucket of links must be there and empty.
func chainAll(tx *bolt.Tx, kind byte, at time.Time) error {
	var s Settings
	if err := pack.ReadJSON(tx.Bucket([]byte(layout.Book)).Get(layout.SettingsKey), &s); err != nil {
		return err
	}
	chain := tx.Bucket([]byte(layout.Chain))
	number, prev, err := tipOf(chain, s.ID)
	if err != nil || number != 0 {
		return errors.Join(err, fmt.Errorf("a chain of %d links is there already", number))
	}
	var l *openLink
	end := func() error {
		if l == nil {
			return nil
		}
		prev, err = putLink(chain, l)
		l = nil
		return err
	}
	for _, name := range layout.ChainOrder {
		b := tx.Bucket([]byte(name))
		if b == nil {
			continue
		}
		c := b.Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			if !layout.InChain(name, k) {
				continue
			}
			if l == nil {
				number++
				l = newLink(prev, number, kind, at.UnixMilli())
			}
			l.add(layout.Codes[name], k, nil, v)
			if l.full() {
				if err := end(); err != nil {
					return err
				}
			}
		}
	}
	return end()
}
