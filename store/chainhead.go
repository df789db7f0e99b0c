package store

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"
	"time"

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

func headOf(k, v []byte) (h Head, kind byte, err error) {
	l, err := decodeLink(v)
	if err != nil || len(k) != 8 {
		return h, 0, pack.ErrForm
	}
	return Head{Number: int(binary.BigEndian.Uint64(k)), Hash: l.hash, Written: l.written()}, l.kind, nil
}

// Head gives the head of the chain, how the chain began, and when.
func (t *ReadTx) Head() (h Head, begun Beginning, since time.Time, err error) {
	c := t.bucket(layout.Chain).Cursor()
	k, v := c.First()
	first, kind, err := headOf(k, v)
	if err == nil {
		k, v = c.Last()
		h, _, err = headOf(k, v)
	}
	if err != nil {
		return h, "", since, t.damaged(err, "chain", nil)
	}
	begun = map[byte]Beginning{
		linkBegun: BegunNew, linkUpgraded: BegunUpgrade, linkImported: BegunImport, linkUnfit: BegunUnfitted,
		linkSalvaged: BegunSalvage,
	}[kind]
	return h, begun, first.Written, nil
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

// FindLink finds the link whose hash begins with the digits ParseHead gave; ok is
// false where the chain has none. It looks at every link.
func (t *ReadTx) FindLink(digits string) (h Head, ok bool, err error) {
	for k, v := range t.in(layout.Chain, nil) {
		if n := len(v) - sha256.Size; n < 0 || !strings.HasPrefix(fmt.Sprintf("%x", v[n:]), digits) {
			continue
		}
		if h, _, err = headOf(k, v); err != nil {
			return h, false, t.damaged(err, "chain", nil)
		}
		return h, true, nil
	}
	return h, false, nil
}
