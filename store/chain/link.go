// Package chain links every fact of a book in the order of writing, so that a check can
// say whether history was altered outside the program. One transaction adds one link over
// all the facts it wrote, or several where they are many:
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
package chain

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// Kind says why a link was written.
type Kind byte

// The kinds of link.
const (
	Written  Kind = 0 // an ordinary change
	Begun    Kind = 1 // of a new book
	Upgraded Kind = 2 // what a book held from before there was a chain
	Imported Kind = 3 // what came by an import without its own chain
	Unfit    Kind = 4 // what came by an import whose own chain did not fit it
	Salvaged Kind = 5 // what was left of a damaged book
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

// FindKeySize is how much of an entry's key its link keeps: wheel and time.
const FindKeySize = 24

// Digest is what a link holds of one fact.
func Digest(code byte, key, value []byte) [sha256.Size]byte {
	var room [160]byte
	b := append(room[:0], code)
	b = binary.AppendUvarint(b, uint64(len(key)))
	b = append(b, key...)
	b = append(b, value...)
	return sha256.Sum256(b)
}

// Genesis is what the first link of a book follows.
func Genesis(book uuid.UUID) [sha256.Size]byte { return genesis(book) }

// Follow is the hash of a link after another, by when it was written and the digests of its
// facts, in order.
func Follow(prev [sha256.Size]byte, number uint64, kind Kind, ms int64, digests []byte) [sha256.Size]byte {
	return sha256.Sum256(append(linkStart(prev, number, kind, ms), digests...))
}

func genesis(book uuid.UUID) [sha256.Size]byte {
	return sha256.Sum256(append([]byte("rindkeep chain 1\n"), book[:]...))
}

// openLink is the link a transaction is adding facts to.
type openLink struct {
	number uint64
	kind   Kind
	ms     int64
	sum    []byte // what its hash is over
	body   []byte // packed facts
	key    []byte // of the last fact
	count  int
	bytes  int // of the facts
}

func newLink(prev [sha256.Size]byte, number uint64, kind Kind, ms int64) *openLink {
	return &openLink{number: number, kind: kind, ms: ms, sum: linkStart(prev, number, kind, ms)}
}

func linkStart(prev [sha256.Size]byte, number uint64, kind Kind, ms int64) []byte {
	b := binary.BigEndian.AppendUint64(append(make([]byte, 0, 49+2*sha256.Size), prev[:]...), number)
	return binary.BigEndian.AppendUint64(append(b, byte(kind)), uint64(ms))
}

// add takes one fact. was is the record it takes the place of, nil for none.
func (l *openLink) add(code byte, key, was, value []byte) {
	d := Digest(code, key, value)
	l.sum = append(l.sum, d[:]...)
	f := Trace{Code: code, Key: key, tag: [tagSize]byte(d[:]), Was: was}
	if code == layout.CodeEntry {
		f.Key = key[:min(FindKeySize, len(key))]
		if len(value) > 1 {
			f.Kind = wheel.Kind(value[1])
		}
	}
	l.body = appendFact(l.body, l.key, f)
	l.key = append(l.key[:0], f.Key...)
	l.count++
	l.bytes += len(key) + len(value)
}

func (l *openLink) full() bool {
	return l.count >= factsTogether || len(l.body) >= linkBytesTogether
}

// seal ends the link: its hash, and the bytes it is kept as.
func (l *openLink) seal() (sum [sha256.Size]byte, value []byte) {
	sum = sha256.Sum256(l.sum)
	b := make([]byte, 0, 2+9+3+len(l.body)+sha256.Size)
	b = append(b, linkVersion, byte(l.kind))
	b = binary.AppendUvarint(b, uint64(l.ms))
	b = binary.AppendUvarint(b, uint64(l.count))
	b = append(b, l.body...)
	return sum, append(b, sum[:]...)
}

// Trace is what a link keeps of one fact.
type Trace struct {
	Code byte
	Key  []byte     // of an entry: wheel and time only
	Kind wheel.Kind // of an entry
	Was  []byte     // the record it took the place of; nil: none
	tag  [tagSize]byte
}

// Is says whether a fact is the one that the link was written over, by its digest.
func (f Trace) Is(digest [sha256.Size]byte) bool { return f.tag == [tagSize]byte(digest[:]) }

// Name names a fact among all of a book.
func (f Trace) Name() string { return string(f.Code) + string(f.Key) }

// hasWas marks, beside the code, a fact that took another's place.
const hasWas = 0x10

func appendFact(b, last []byte, f Trace) []byte {
	head := f.Code
	if f.Was != nil {
		head |= hasWas
	}
	shared := 0
	for shared < min(len(last), len(f.Key), 255) && last[shared] == f.Key[shared] {
		shared++
	}
	b = append(b, head, byte(shared))
	b = binary.AppendUvarint(b, uint64(len(f.Key)-shared))
	b = append(b, f.Key[shared:]...)
	if f.Code == layout.CodeEntry {
		b = append(b, byte(f.Kind))
	}
	b = append(b, f.tag[:]...)
	if f.Was != nil {
		b = binary.AppendUvarint(b, uint64(len(f.Was)))
		b = append(b, f.Was...)
	}
	return b
}

// Link is one link as it is kept.
type Link struct {
	Kind  Kind
	Facts []Trace
	ms    int64
	hash  [sha256.Size]byte
}

// Hash is the link's own.
func (l Link) Hash() [sha256.Size]byte { return l.hash }

// Written is when the link was written, in UTC.
func (l Link) Written() time.Time { return time.UnixMilli(l.ms).UTC() }

// mostLink is longer than any link, in bytes: what a disk changed isn't copied to be read.
const mostLink = 64 * linkBytesTogether

// Decode takes a packed link apart. What it returns shares nothing with
// the bytes.
func Decode(value []byte) (Link, error) {
	var l Link
	n := len(value) - sha256.Size
	if n < 0 || n > mostLink {
		return l, pack.ErrForm
	}
	r := pack.NewReader(value[:n])
	if v := r.Byte(); v != linkVersion {
		return l, fmt.Errorf("a link of version %d", v)
	}
	l.Kind = Kind(r.Byte())
	ms, count := r.Uvarint(), r.Uvarint()
	if l.Kind > Salvaged || ms > pack.MaxMilli || count > uint64(r.Left()) || count == 0 {
		return Link{}, pack.ErrForm
	}
	l.ms = int64(ms)
	l.Facts = make([]Trace, 0, count)
	var last string
	for range count {
		var f Trace
		head := r.Byte()
		f.Code = head &^ hasWas
		shared, rest := int(r.Byte()), r.Uvarint()
		known := int(f.Code) < len(layout.OfCode) && layout.OfCode[f.Code] != ""
		if !known || shared > len(last) || rest > uint64(r.Left()) {
			return Link{}, pack.ErrForm
		}
		last = last[:shared] + r.Take(rest)
		f.Key = []byte(last)
		if f.Code == layout.CodeEntry {
			f.Kind = wheel.Kind(r.Byte())
			if len(f.Key) != FindKeySize {
				return Link{}, pack.ErrForm
			}
		}
		copy(f.tag[:], r.Take(tagSize))
		if head&hasWas != 0 {
			f.Was = []byte(r.Text())
		}
		if r.Bad() {
			return Link{}, pack.ErrForm
		}
		l.Facts = append(l.Facts, f)
	}
	copy(l.hash[:], value[n:])
	return l, r.Done()
}
