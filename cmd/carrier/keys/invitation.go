package keys

import (
	"bytes"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"strings"
	"unicode/utf8"

	"github.com/google/uuid"
)

// Invitation is what a new site needs to join: what a person hands on as one line of text. It
// holds a secret until it has been used.
type Invitation struct {
	Group uuid.UUID
	// Root is the first epoch of the founding site and its key: what all other keys follow from.
	RootSite, RootEpoch uuid.UUID
	RootKey             [ed25519.PublicKeySize]byte
	RootName            string                 // the founding site's
	From                uuid.UUID              // the site that invites
	Site                uuid.UUID              // the one that's invited
	Name, Code          string                 // its name, and what its lots begin or end with
	Zone                string                 // IANA time zone of all their books
	Address             string                 // of a carrier, without a password; may be ""
	Seed                [ed25519.SeedSize]byte // of the one-time key
}

// Renew gives the invitation a one-time key.
func (i *Invitation) Renew() { _, _ = rand.Read(i.Seed[:]) } // never fails (crypto/rand)

// Key is the one-time key: the new site's own key is vouched for with it.
func (i Invitation) Key() ed25519.PrivateKey { return ed25519.NewKeyFromSeed(i.Seed[:]) }

const (
	invitationPrefix  = "rindkeep-invitation-"
	invitationVersion = 1
	invitationSum     = 4   // bytes of SHA-256 that catch a letter lost on the way
	mostText          = 255 // bytes of a name, code or address
)

// fixed lists the parts of the same length always.
func (i *Invitation) fixed() [][]byte {
	return [][]byte{i.Group[:], i.RootSite[:], i.RootEpoch[:], i.RootKey[:], i.From[:], i.Site[:], i.Seed[:]}
}

func (i *Invitation) texts() []*string {
	return []*string{&i.RootName, &i.Name, &i.Code, &i.Zone, &i.Address}
}

// ErrInvitation is of a text that isn't an invitation, or not the whole of one.
var ErrInvitation = errors.New("not a whole invitation")

// Text is the invitation as it's handed on. The error is of a name or address over 255 bytes.
func (i Invitation) Text() (string, error) {
	b := append([]byte{invitationVersion}, bytes.Join(i.fixed(), nil)...)
	for _, s := range i.texts() {
		if len(*s) > mostText || !utf8.ValidString(*s) {
			return "", ErrInvitation
		}
		b = append(append(b, byte(len(*s))), *s...)
	}
	sum := sha256.Sum256(b)
	return invitationPrefix + base64.RawURLEncoding.EncodeToString(append(b, sum[:invitationSum]...)), nil
}

// ParseInvitation reads what Text gave. A mail may have broken it into lines.
func ParseInvitation(text string) (i Invitation, err error) {
	text = strings.Join(strings.Fields(text), "")
	text, ok := strings.CutPrefix(text, invitationPrefix)
	b, err := base64.RawURLEncoding.Strict().DecodeString(text)
	if !ok || err != nil || len(b) <= invitationSum || b[0] != invitationVersion {
		return Invitation{}, ErrInvitation
	}
	b, end := b[:len(b)-invitationSum], b[len(b)-invitationSum:]
	if sum := sha256.Sum256(b); !bytes.Equal(sum[:invitationSum], end) {
		return Invitation{}, ErrInvitation
	}
	b = b[1:]
	for _, part := range i.fixed() {
		if len(b) < len(part) {
			return Invitation{}, ErrInvitation
		}
		b = b[copy(part, b):]
	}
	for _, s := range i.texts() {
		if len(b) == 0 || len(b)-1 < int(b[0]) || !utf8.Valid(b[1:1+int(b[0])]) {
			return Invitation{}, ErrInvitation
		}
		*s, b = string(b[1:1+int(b[0])]), b[1+int(b[0]):]
	}
	if len(b) > 0 {
		return Invitation{}, ErrInvitation
	}
	return i, nil
}
