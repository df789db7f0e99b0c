// Package sites is what travels between the books of several sites that share one: links of
// a book's chain with all of their facts, and how the names of one site read at another.
package sites

import (
	"crypto/sha256"
	"encoding/binary"
	"slices"

	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
)

// Link is a link of a book's chain with all of its facts.
type Link struct {
	Kind  chain.Kind
	Ms    int64 // when it was written, by its site's clock
	Facts []Fact
}

// Fact is one record as its writer's book holds it.
type Fact struct {
	Code       byte // of its bucket
	Key, Value []byte
	Was        []byte // digest of the record of any site that it took the place of; nil: none
}

// Newer says whether a newer program wrote a fact of the link.
func (l Link) Newer() bool {
	return slices.ContainsFunc(l.Facts, func(f Fact) bool {
		return int(f.Code) >= len(layout.OfCode) || layout.OfCode[f.Code] == ""
	})
}

// Follow is the hash of the link after another of the same chain.
func (l Link) Follow(prev [sha256.Size]byte, number uint64) [sha256.Size]byte {
	digests := make([]byte, 0, len(l.Facts)*sha256.Size)
	for _, f := range l.Facts {
		d := chain.Digest(f.Code, f.Key, f.Value)
		digests = append(digests, d[:]...)
	}
	return chain.Follow(prev, number, l.Kind, l.Ms, digests)
}

// payloadVersion is the first byte of a payload.
const payloadVersion = 1

// hasWas marks, beside the code, a fact that has a Was.
const hasWas = 0x10

// Pack packs links for a bundle.
//
//	1 | number of links | kind | ms | number of facts | code | key | value | [was |] …
//
// Numbers are varints; keys and values are their length and their bytes. The bit 0x10 of the code
// says that there is a was.
func Pack(links []Link) []byte {
	b := binary.AppendUvarint([]byte{payloadVersion}, uint64(len(links)))
	for _, l := range links {
		b = append(b, byte(l.Kind))
		b = binary.AppendUvarint(b, uint64(l.Ms))
		b = binary.AppendUvarint(b, uint64(len(l.Facts)))
		for _, f := range l.Facts {
			head := f.Code
			if f.Was != nil {
				head |= hasWas
			}
			b = append(b, head)
			for _, x := range [][]byte{f.Key, f.Value} {
				b = binary.AppendUvarint(b, uint64(len(x)))
				b = append(b, x...)
			}
			b = append(b, f.Was...)
		}
	}
	return b
}

// Unpack reads what Pack packed. The error is pack.ErrForm, or of a newer program's payload
// pack.ErrNewer.
func Unpack(payload []byte) ([]Link, error) {
	r := pack.NewReader(payload)
	if r.Byte() != payloadVersion {
		return pack.Newer([]Link(nil), pack.ErrForm)
	}
	n := r.Uvarint()
	if n == 0 || n > uint64(r.Left()) {
		return nil, pack.ErrForm
	}
	links := make([]Link, 0, n)
	for range n {
		l := Link{Kind: chain.Kind(r.Byte())}
		ms, facts := r.Uvarint(), r.Uvarint()
		if l.Kind > chain.Salvaged || ms > pack.MaxMilli || facts == 0 || facts > uint64(r.Left()) {
			return nil, pack.ErrForm
		}
		l.Ms, l.Facts = int64(ms), make([]Fact, 0, facts)
		for range facts {
			head := r.Byte()
			f := Fact{Code: head &^ hasWas}
			for _, x := range []*[]byte{&f.Key, &f.Value} {
				size := r.Uvarint()
				if size > uint64(r.Left()) {
					return nil, pack.ErrForm
				}
				*x = []byte(r.Take(size))
			}
			if head&hasWas != 0 {
				f.Was = []byte(r.Take(sha256.Size))
			}
			l.Facts = append(l.Facts, f)
		}
		if r.Bad() {
			return nil, pack.ErrForm
		}
		links = append(links, l)
	}
	return links, r.Done()
}
