package chain

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"sort"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"

	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
)

// Head is the last link of a book's chain, or another that was noted.
type Head struct {
	Number  int // of the link; counted from 1
	Hash    [sha256.Size]byte
	Written time.Time
}

// Short is the beginning of the hash in a form fit for a notebook.
func (h Head) Short() string {
	s := fmt.Sprintf("%x", h.Hash[:8])
	return s[:4] + "-" + s[4:8] + "-" + s[8:12] + "-" + s[12:]
}

// Beginning says how a chain began.
type Beginning string

// The beginnings.
const (
	BegunNew      Beginning = "new"      // with the book
	BegunUpgrade  Beginning = "upgrade"  // when the book came to have a chain
	BegunImport   Beginning = "import"   // with an import of a file without a chain
	BegunUnfitted Beginning = "unfitted" // with an import of a file whose chain did not fit its records
	BegunSalvage  Beginning = "salvage"  // with what was left of a damaged book
)

var beginnings = map[Kind]Beginning{
	Begun: BegunNew, Upgraded: BegunUpgrade, Imported: BegunImport, Unfit: BegunUnfitted, Salvaged: BegunSalvage,
}

// HeadAt is a link as a head, by its record. The error is pack.ErrForm.
func HeadAt(k, v []byte) (Head, error) {
	h, _, err := headAt(k, v)
	return h, err
}

func headAt(k, v []byte) (Head, Kind, error) {
	l, err := Decode(v)
	if err != nil || len(k) != 8 {
		return Head{}, 0, pack.ErrForm
	}
	return Head{Number: int(binary.BigEndian.Uint64(k)), Hash: l.hash, Written: l.Written()}, l.Kind, nil
}

// HeadOf gives the head of a chain, how the chain began, and when. The error is
// pack.ErrForm.
func HeadOf(links *bolt.Bucket) (h Head, begun Beginning, since time.Time, err error) {
	c := links.Cursor()
	first, kind, err := headAt(c.First())
	if err == nil {
		h, _, err = headAt(c.Last())
	}
	return h, beginnings[kind], first.Written, err
}

// leastNoted is how many digits of a hash it takes to find a link: those Short
// gives.
const leastNoted = 16

// ParseHead reads the hash of a link as a person may have noted it: its first
// 16 to 64 hexadecimal digits, in either case, with hyphens and spaces or not.
func ParseHead(noted string) (digits string, err error) {
	s := strings.ToLower(strings.NewReplacer("-", "", " ", "", ":", "").Replace(noted))
	if strings.Trim(s, "0123456789abcdef") != "" {
		return "", reason.Err(reason.Unreadable{What: "head", Word: noted})
	}
	if len(s) < leastNoted || len(s) > 2*sha256.Size {
		return "", reason.Err(HeadLength{len(s), leastNoted, 2 * sha256.Size})
	}
	return s, nil
}

// Find finds the link whose hash begins with the digits ParseHead gave; ok is false where
// the chain has none. It looks at every link.
func Find(links *bolt.Bucket, digits string) (h Head, ok bool, err error) {
	c := links.Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		if n := len(v) - sha256.Size; n >= 0 && strings.HasPrefix(fmt.Sprintf("%x", v[n:]), digits) {
			h, err = HeadAt(k, v)
			return h, err == nil, err
		}
	}
	return h, false, nil
}

// Shared is how many links two chains share, at most n. A link's hash covers those before
// it, so that half of them can be passed over at a time.
func Shared(a, b *bolt.Bucket, n int) int {
	return sort.Search(n, func(i int) bool {
		k := layout.LinkKey(uint64(i + 1))
		v, w := a.Get(k), b.Get(k)
		x, y := len(v)-sha256.Size, len(w)-sha256.Size
		return x < 0 || y < 0 || !bytes.Equal(v[x:], w[y:])
	})
}
