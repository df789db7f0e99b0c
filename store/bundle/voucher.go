package bundle

import (
	"crypto/ed25519"

	"github.com/google/uuid"
)

// Voucher says that a key may write as a site in an epoch: the word of the key of the site's
// earlier epoch, or of the one-time key that the site was invited with. The zero Voucher says
// nothing.
type Voucher struct {
	By        [ed25519.PublicKeySize]byte
	Signature [ed25519.SignatureSize]byte
}

const voucherSize = ed25519.PublicKeySize + ed25519.SignatureSize

// Vouch gives a key's word for another.
func Vouch(by ed25519.PrivateKey, group, site, epoch uuid.UUID, key ed25519.PublicKey) (v Voucher) {
	copy(v.By[:], by.Public().(ed25519.PublicKey))
	copy(v.Signature[:], ed25519.Sign(by, vouched(group, site, epoch, key)))
	return v
}

// For says whether the voucher is for that key in that epoch of that site. The caller knows
// whether it trusts By.
func (v Voucher) For(group, site, epoch uuid.UUID, key ed25519.PublicKey) bool {
	return v != Voucher{} && ed25519.Verify(v.By[:], vouched(group, site, epoch, key), v.Signature[:])
}

func vouched(group, site, epoch uuid.UUID, key ed25519.PublicKey) []byte {
	b := append([]byte("rindkeep voucher 1\n"), group[:]...)
	b = append(append(b, site[:]...), epoch[:]...)
	return append(b, key...)
}
