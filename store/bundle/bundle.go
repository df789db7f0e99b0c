// Package bundle seals a run of one site's links, so that it can go to other sites over
// anything that carries bytes. A bundle is
//
//	"rkbn" | 1 | group | site | epoch | first | last | before | after
//	| key | voucher's key | voucher's signature | unpacked size | packed size
//	| payload, deflated (RFC 1951) | signature
//
// Numbers are big-endian: links eight bytes, sizes four. The signature (Ed25519, RFC 8032) is
// over a name of its purpose and everything before it, by the key in the bundle. So anybody can
// pass a bundle on, and its receiver only has to know whose key that is.
package bundle

import (
	"bytes"
	"compress/flate"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/google/uuid"
)

const (
	// MostPayload is the largest payload of a bundle, in bytes unpacked: our choice. A bundle
	// has whole links, and one transaction can hold a table of 10,000 rows, which packs well.
	MostPayload = 32 << 20
	// MostRaw is larger than any sealed bundle, in bytes: Seal makes no larger one. A NATS
	// server takes 1,048,576 with its headers unless it's told otherwise.
	MostRaw = 1_000_000
	// MostTold leaves room for a bundle that holds another, in bytes.
	MostTold = MostRaw - 1<<10
)

// The parts of a bundle before its payload, in bytes.
const (
	magic      = "rkbn\x01"
	headSize   = len(magic) + 3*16 + 2*8 + 2*sha256.Size + ed25519.PublicKeySize + voucherSize + 2*4
	mostPacked = MostRaw - headSize - ed25519.SignatureSize
)

// Head is a site's link as a bundle or a carrier knows it: its number, from 1, and its hash.
type Head struct {
	Site, Epoch uuid.UUID
	Number      uint64
	Hash        [sha256.Size]byte
}

// Bundle is a run of links of one site in one epoch.
type Bundle struct {
	Group, Site, Epoch uuid.UUID // Group is the book that its sites share
	First, Last        uint64    // numbers of the links, from 1
	Before, After      [sha256.Size]byte
	Voucher            Voucher
	Payload            []byte
}

// Head is the bundle's last link.
func (b Bundle) Head() Head { return Head{b.Site, b.Epoch, b.Last, b.After} }

// ErrForm is of bytes that aren't a bundle, or not a whole one.
var ErrForm = errors.New("not a whole bundle")

// ErrSignature is of a bundle that was changed after it was sealed.
var ErrSignature = errors.New("the signature doesn't fit the bundle")

// ErrUnfit refuses a bundle that no book can have written, even if its signature is right.
var ErrUnfit = errors.New("no book can have written the bundle")

// check says whether the numbers and sizes can be a bundle's.
func (b Bundle) check(size int) error {
	switch {
	case b.Group == uuid.Nil || b.Site == uuid.Nil || b.Epoch == uuid.Nil:
		return fmt.Errorf("%w: it names no group, site or epoch", ErrForm)
	case b.First == 0 || b.Last < b.First:
		return fmt.Errorf("%w: links %d to %d", ErrForm, b.First, b.Last)
	case size == 0 || size > MostPayload:
		return fmt.Errorf("%w: a payload of %d bytes, where it takes 1 to %d", ErrForm, size, MostPayload)
	}
	return nil
}

// purpose keeps a signature of a bundle from passing for one of anything else.
const purpose = "rindkeep bundle 1\n"

func signed(raw []byte) []byte { return append([]byte(purpose), raw...) }

// Seal packs and signs a bundle. The error says what no bundle can hold.
func Seal(key ed25519.PrivateKey, b Bundle) ([]byte, error) {
	if err := b.check(len(b.Payload)); err != nil {
		return nil, err
	}
	var packed bytes.Buffer
	w, err := flate.NewWriter(&packed, flate.DefaultCompression)
	if err == nil {
		_, err = w.Write(b.Payload)
	}
	if err == nil {
		err = w.Close()
	}
	if err == nil && packed.Len() > mostPacked {
		err = fmt.Errorf("%w: links %d to %d take %d bytes packed, at most %d", ErrForm, b.First, b.Last, packed.Len(),
			mostPacked)
	}
	if err != nil {
		return nil, err
	}
	raw := make([]byte, 0, headSize+packed.Len()+ed25519.SignatureSize)
	raw = append(raw, magic...)
	for _, id := range []uuid.UUID{b.Group, b.Site, b.Epoch} {
		raw = append(raw, id[:]...)
	}
	raw = binary.BigEndian.AppendUint64(raw, b.First)
	raw = binary.BigEndian.AppendUint64(raw, b.Last)
	raw = append(append(raw, b.Before[:]...), b.After[:]...)
	raw = append(raw, key.Public().(ed25519.PublicKey)...)
	raw = append(append(raw, b.Voucher.By[:]...), b.Voucher.Signature[:]...)
	raw = binary.BigEndian.AppendUint32(raw, uint32(len(b.Payload)))
	raw = binary.BigEndian.AppendUint32(raw, uint32(packed.Len()))
	raw = append(raw, packed.Bytes()...)
	return append(raw, ed25519.Sign(key, signed(raw))...), nil
}

// sizes are what a bundle says of its own length.
type sizes struct{ unpacked, packed int }

func (s sizes) whole() int { return headSize + s.packed + ed25519.SignatureSize }

// head reads everything before the payload.
func head(raw []byte) (b Bundle, key ed25519.PublicKey, s sizes, err error) {
	if len(raw) < headSize || string(raw[:len(magic)]) != magic {
		return b, nil, s, ErrForm
	}
	at := raw[len(magic):headSize]
	take := func(to []byte) { at = at[copy(to, at):] }
	number := func() (n uint64) {
		n, at = binary.BigEndian.Uint64(at), at[8:]
		return n
	}
	size := func() (n int) {
		n, at = int(binary.BigEndian.Uint32(at)), at[4:]
		return n
	}
	take(b.Group[:])
	take(b.Site[:])
	take(b.Epoch[:])
	b.First, b.Last = number(), number()
	take(b.Before[:])
	take(b.After[:])
	key = make(ed25519.PublicKey, ed25519.PublicKeySize)
	take(key)
	take(b.Voucher.By[:])
	take(b.Voucher.Signature[:])
	s = sizes{size(), size()}
	if err := b.check(s.unpacked); err != nil {
		return Bundle{}, nil, s, err
	}
	if s.packed == 0 || s.packed > mostPacked {
		return Bundle{}, nil, s, fmt.Errorf("%w: %d bytes packed", ErrForm, s.packed)
	}
	return b, key, s, nil
}

// Peek reads what a bundle says of itself, without its payload. Nothing is proved by it.
func Peek(raw []byte) (Bundle, error) {
	b, _, s, err := head(raw)
	if err == nil && s.whole() != len(raw) {
		return Bundle{}, ErrForm
	}
	return b, err
}

// Cut gives the first of several bundles that were put one after another, and the rest.
func Cut(raw []byte) (one, rest []byte, err error) {
	_, _, s, err := head(raw)
	if err == nil && s.whole() > len(raw) {
		err = ErrForm
	}
	if err != nil {
		return nil, nil, err
	}
	return raw[:s.whole()], raw[s.whole():], nil
}

// Open proves that a bundle is as it was sealed, and gives it with the key that it was sealed
// with: the caller knows whose key that must be. The error is ErrForm or ErrSignature, or says
// more and wraps one of them.
func Open(raw []byte) (Bundle, ed25519.PublicKey, error) {
	b, key, s, err := head(raw)
	if err != nil {
		return Bundle{}, nil, err
	}
	if s.whole() != len(raw) {
		return Bundle{}, nil, fmt.Errorf("%w: %d bytes of %d", ErrForm, len(raw), s.whole())
	}
	end := headSize + s.packed
	if !ed25519.Verify(key, signed(raw[:end]), raw[end:]) {
		return Bundle{}, nil, ErrSignature
	}
	packed := bytes.NewReader(raw[headSize:end])
	b.Payload = make([]byte, s.unpacked)
	r := flate.NewReader(packed)
	if _, err := io.ReadFull(r, b.Payload); err != nil {
		return Bundle{}, nil, fmt.Errorf("%w: its payload can't be unpacked", ErrForm)
	}
	// The end of the deflated stream is there, nothing comes before it, and nothing after.
	if n, err := r.Read(make([]byte, 1)); n != 0 || !errors.Is(err, io.EOF) || packed.Len() != 0 {
		return Bundle{}, nil, fmt.Errorf("%w: its payload isn't of the size it says", ErrForm)
	}
	return b, key, nil
}
