// Package keys keeps a site's signing keys and what it needs to reach other sites: in a file
// beside the book and not in it, so that a copy of the book can't write as the site.
package keys

import (
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/bookfile"
	"rindkeep/store/bundle"
)

// Ring is the file of a book's keys. It's read at every use and may not be there.
type Ring struct{ path string }

// Open is the ring of the book at path.
func Open(book string) *Ring { return &Ring{book + ".sites"} }

// Path is the file.
func (r *Ring) Path() string { return r.path }

// Own is the key of one epoch of the book's own site.
type Own struct {
	Group, Site, Epoch uuid.UUID
	Key                ed25519.PrivateKey
	Voucher            bundle.Voucher // zero: nobody had to vouch
}

// Public is what others know the key by.
func (o Own) Public() ed25519.PublicKey { return o.Key.Public().(ed25519.PublicKey) }

// held is what the file holds.
type held struct {
	Version int       `json:"version"`
	Keys    []heldKey `json:"keys"`
	Ways    []Way     `json:"carriers"`
}

// Way is a carrier that the book exchanges over, and how far it did.
type Way struct {
	Address string    `json:"address"` // may hold a password
	Sent    uint64    `json:"sent"`    // the last of the book's own links that is there
	Last    time.Time `json:"last"`    // when all was exchanged; zero: not yet
}

type heldKey struct {
	Group uuid.UUID `json:"group"`
	Site  uuid.UUID `json:"site"`
	Epoch uuid.UUID `json:"epoch"`
	Seed  []byte    `json:"seed"` // RFC 8032, 5.1.5
	By    []byte    `json:"voucher_key,omitempty"`
	Sign  []byte    `json:"voucher_signature,omitempty"`

	Sent uint64 `json:"sent,omitempty"` // number of the last link that was signed with it
	Hash []byte `json:"sent_hash,omitempty"`
}

const version = 1

// ErrDamaged is of a file of keys that can't be understood.
var ErrDamaged = errors.New("it is damaged or was written by another version of rindkeep")

// ErrNoKey is of an epoch whose key isn't in the file.
var ErrNoKey = errors.New("it has no such key")

func (r *Ring) wrong(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	return fmt.Errorf("%s, which has the site's keys: %w", filepath.Base(r.path), err)
}

func (r *Ring) read() (h held, err error) {
	b, err := os.ReadFile(r.path)
	if errors.Is(err, fs.ErrNotExist) {
		return held{Version: version}, nil
	}
	if err != nil {
		return h, r.wrong(err)
	}
	if json.Unmarshal(b, &h) != nil || h.Version != version {
		return held{}, r.wrong(ErrDamaged)
	}
	for _, k := range h.Keys {
		vouched := len(k.By) == ed25519.PublicKeySize && len(k.Sign) == ed25519.SignatureSize
		if len(k.Seed) != ed25519.SeedSize || !vouched && len(k.By)+len(k.Sign) > 0 {
			return held{}, r.wrong(ErrDamaged)
		}
	}
	return h, nil
}

func (r *Ring) change(fn func(*held) error) error {
	return bookfile.Exclusive(r.path, func() error {
		h, err := r.read()
		if err == nil {
			err = fn(&h)
		}
		if err != nil {
			return err
		}
		b, err := json.MarshalIndent(h, "", "  ")
		if err == nil {
			err = bookfile.Replace(r.path, append(b, '\n'), 0o600)
		}
		if err != nil {
			return r.wrong(err)
		}
		return nil
	})
}

// Key is the key of an epoch; the error wraps ErrNoKey where the file doesn't have it.
func (r *Ring) Key(epoch uuid.UUID) (Own, error) {
	h, err := r.read()
	if err != nil {
		return Own{}, err
	}
	i := slices.IndexFunc(h.Keys, func(k heldKey) bool { return k.Epoch == epoch })
	if i < 0 {
		return Own{}, r.wrong(ErrNoKey)
	}
	return h.Keys[i].own(), nil
}

func (k heldKey) own() Own {
	o := Own{Group: k.Group, Site: k.Site, Epoch: k.Epoch, Key: ed25519.NewKeyFromSeed(k.Seed)}
	copy(o.Voucher.By[:], k.By)
	copy(o.Voucher.Signature[:], k.Sign)
	return o
}

// Make makes the key of an epoch and keeps it. by is the key that vouches for it: of the site's
// epoch before, or of the invitation; nil where the site founds the group. If the file has a key
// for the epoch already, that one stays.
func (r *Ring) Make(group, site, epoch uuid.UUID, by ed25519.PrivateKey) (own Own, err error) {
	err = r.change(func(h *held) error {
		i := slices.IndexFunc(h.Keys, func(k heldKey) bool { return k.Epoch == epoch })
		if i < 0 {
			public, key, err := ed25519.GenerateKey(nil)
			if err != nil {
				return err
			}
			k := heldKey{Group: group, Site: site, Epoch: epoch, Seed: key.Seed()}
			if by != nil {
				v := bundle.Vouch(by, group, site, epoch, public)
				k.By, k.Sign = v.By[:], v.Signature[:]
			}
			i, h.Keys = len(h.Keys), append(h.Keys, k)
		}
		own = h.Keys[i].own()
		return nil
	})
	return own, err
}

// Before is the key of an earlier epoch that vouches for a key; ok is false where none of the
// file's does.
func (r *Ring) Before(later Own) (own Own, ok bool, err error) {
	h, err := r.read()
	for _, k := range h.Keys {
		o := k.own()
		vouched := o.Public().Equal(ed25519.PublicKey(later.Voucher.By[:]))
		if vouched && o.Group == later.Group && o.Site == later.Site {
			return o, true, nil
		}
	}
	return own, false, err
}

// Signs notes that a link is about to be signed with its epoch's key, the last one so far. An
// older copy of the book doesn't have it.
func (r *Ring) Signs(of bundle.Head) error {
	return r.change(func(h *held) error {
		for i := range h.Keys {
			if k := &h.Keys[i]; k.Epoch == of.Epoch && of.Number > k.Sent {
				k.Sent, k.Hash = of.Number, of.Hash[:]
			}
		}
		return nil
	})
}

// Signed is the last link that was signed with an epoch's key; its number is 0 if none was.
func (r *Ring) Signed(epoch uuid.UUID) (of bundle.Head, err error) {
	h, err := r.read()
	for _, k := range h.Keys {
		if k.Epoch == epoch && len(k.Hash) == len(of.Hash) {
			of = bundle.Head{Site: k.Site, Epoch: epoch, Number: k.Sent, Hash: [32]byte(k.Hash)}
		}
	}
	return of, err
}

// Followed says whether the file has the key of a later epoch for which an epoch's key vouched: a book
// that is still in the epoch is an older copy.
func (r *Ring) Followed(epoch uuid.UUID) (bool, error) {
	key, err := r.Key(epoch)
	if err != nil {
		return false, err
	}
	h, err := r.read()
	return slices.ContainsFunc(h.Keys, func(k heldKey) bool {
		return k.Group == key.Group && k.Site == key.Site && key.Public().Equal(ed25519.PublicKey(k.By))
	}), err
}

// Ways are the carriers that the book exchanges over.
func (r *Ring) Ways() ([]Way, error) {
	h, err := r.read()
	return h.Ways, err
}

// SetWays keeps the addresses of the carriers that the book exchanges over from now on.
func (r *Ring) SetWays(addresses ...string) error {
	return r.change(func(h *held) error {
		var ways []Way
		for _, a := range addresses {
			w := Way{Address: a}
			if i := slices.IndexFunc(h.Ways, func(w Way) bool { return w.Address == a }); i >= 0 {
				w = h.Ways[i]
			}
			ways = append(ways, w)
		}
		h.Ways = ways
		return nil
	})
}

// Exchanged notes that all was exchanged over a carrier, up to one of the book's own links.
func (r *Ring) Exchanged(address string, sent uint64, at time.Time) error {
	return r.change(func(h *held) error {
		for i := range h.Ways {
			if h.Ways[i].Address == address {
				h.Ways[i].Sent, h.Ways[i].Last = sent, at.UTC()
			}
		}
		return nil
	})
}
