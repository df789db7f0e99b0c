package members

import (
	"bytes"
	"cmp"
	"crypto/ed25519"
	"errors"
	"slices"

	"github.com/google/uuid"

	"rindkeep/store/bundle"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/register"
	"rindkeep/store/sites"
)

// MayWrite says why a key may not write as the site of a bundle; "" where it may.
func (t *Members) MayWrite(own Own, b bundle.Bundle, key, known ed25519.PublicKey) (bundle.Fate, error) {
	all, err := t.pacts()
	if err != nil {
		return "", err
	}
	heads, err := t.Heads()
	if err != nil {
		return "", err
	}
	ended := endedOf(b.Site, own, all)
	if last, is := ended[b.Epoch]; is && b.Last > last.Number {
		if last.Kind == register.Left {
			return bundle.AfterLeaving, nil
		}
		return bundle.BeyondWord, nil
	}
	if uninvited(own, all, b) {
		return bundle.BeyondWord, nil
	}
	if known != nil && key.Equal(known) {
		return "", nil
	}
	keys, err := t.siteKeys(own, all, heads)
	if err != nil {
		return "", err
	}
	for _, k := range keys {
		_, gone := ended[k.Epoch]
		if k.Site == b.Site && known == nil && k.speaksFor(b, key, !gone) {
			return "", nil
		}
	}
	return bundle.UnknownKey, nil
}

// uninvited says whether the invitation with which the site of a bundle began was withdrawn. Anybody
// can write an invitation with the key of another's and withdraw that: one that holds is enough.
func uninvited(own Own, all []register.Pact, b bundle.Bundle) (withdrawn bool) {
	for _, p := range all {
		if p.Kind == register.Invited && p.Site == b.Site && p.Public.Equal(ed25519.PublicKey(b.Voucher.By[:])) {
			if withdrawn = p.Withdrawn(all, own.Root.Site); !withdrawn {
				return false
			}
		}
	}
	return withdrawn
}

// Ended says whether a site's epoch is over by its own word or the first site's.
func (t *Members) Ended(site, epoch uuid.UUID) (bool, error) {
	own, _ := t.Own()
	all, err := t.pacts()
	_, ended := endedOf(site, own, all)[epoch]
	return ended, err
}

// endedOf are the epochs of a site that it or the first site revoked, or in which it left, and
// the pact that says up to which link each still counts.
func endedOf(site uuid.UUID, own Own, all []register.Pact) map[uuid.UUID]register.Pact {
	out := map[uuid.UUID]register.Pact{}
	for _, p := range all {
		revoked := p.Kind == register.Revoked && (p.From == site || p.From == own.Root.Site)
		if left := p.Kind == register.Left && p.From == site; p.Site != site || !left && !revoked {
			continue
		}
		if first, twice := out[p.Epoch]; !twice || p.Number < first.Number {
			out[p.Epoch] = p
		}
	}
	return out
}

// siteKeys are the keys that the book has somebody's word for.
func (t *Members) siteKeys(own Own, all []register.Pact, heads []Head) ([]Key, error) {
	out := []Key{own.Root}
	for _, p := range all {
		if p.Kind != register.Admitted {
			continue
		}
		counts, err := t.mayAdmit(own, all, p)
		if err != nil {
			return nil, err
		}
		if counts {
			out = append(out, Key{Site: p.Site, Epoch: p.Epoch, Key: p.Public})
		}
	}
	for _, h := range heads {
		out = append(out, Key{Site: h.Site, Epoch: h.Epoch, Key: h.Key})
	}
	return out, nil
}

// mayAdmit says whether a site's word counts that another may write: it invited that one
// itself, and the other is new. Only the first site can let one in again, so that a
// thief of one site's key can't write as another site; its invitation names the word that let
// the site in before, which goes on counting.
func (t *Members) mayAdmit(own Own, all []register.Pact, p register.Pact) (bool, error) {
	invited, upheld, others := false, false, p.Site == own.Root.Site
	var same []register.Pact // words of one site for this one
	for _, o := range all {
		switch {
		case o.Kind == register.Invited:
			invited = invited || invites(o, p) && !o.Withdrawn(all, own.Root.Site)
			upheld = upheld || o.From == own.Root.Site && (o.Of == p.ID || o.Of == p.Of)
		case o.Kind != register.Admitted || o.Site != p.Site:
		case o.From == p.From:
			same = append(same, o)
		default:
			others = true
		}
	}
	switch {
	case !invited, others && p.From != own.Root.Site && !upheld:
		return false, nil
	case p.From == own.Root.Site, len(same) == 1:
		return true, nil
	}
	first, err := t.firstWord(own, p.From, same)
	return bytes.Equal(first, p.Key()), err
}

// invites says whether a pact is the invitation of an admission.
func invites(o, p register.Pact) bool { return o.ID == p.Of && o.From == p.From && o.Site == p.Site }

// firstWord is the key of that of a site's pacts which comes first in its chain: a time can be
// made up, the order of links can't. Nil where none of them is found.
func (t *Members) firstWord(own Own, site uuid.UUID, pacts []register.Pact) (first []byte, err error) {
	look := func(code byte, key []byte) {
		if first == nil && code == layout.Codes[layout.Pacts] &&
			slices.ContainsFunc(pacts, func(p register.Pact) bool { return bytes.Equal(p.Key(), key) }) {
			first = key
		}
	}
	heads, err := t.Heads()
	for _, h := range heads {
		if err == nil && h.Site == site {
			err = t.taken(h, look)
		}
	}
	if site != own.Site || err != nil {
		return first, err
	}
	c := t.tab.Walk(layout.Chain)
	for k, v := c.Seek(nil); k != nil && first == nil; k, v = c.Next() {
		l, err := chain.Decode(v)
		if err != nil {
			return nil, t.tab.Damaged(err, "chain", nil)
		}
		for _, f := range l.Facts {
			look(f.Code, f.Key)
		}
	}
	return first, nil
}

// taken goes through the facts that came of another site's epoch, in the order of its links.
func (t *Members) taken(h Head, look func(code byte, key []byte)) error {
	for raw := range t.Bundles(h.Site, h.Epoch, 0) {
		b, _, err := bundle.Open(raw)
		if err == nil {
			err = eachFact(b, look)
		}
		if err != nil {
			return t.tab.Damaged(err, "bundle", nil)
		}
	}
	return nil
}

// eachFact goes through the facts of a bundle, in the order of its links.
func eachFact(b bundle.Bundle, look func(code byte, key []byte)) error {
	links, err := sites.Unpack(b.Payload)
	for _, l := range links {
		for _, f := range l.Facts {
			look(f.Code, f.Key)
		}
	}
	return err
}

// WrittenAt replaces the values of a map whose keys are those of facts of a bucket with the names of the
// other sites that wrote them. It goes through everything that was taken up.
func (t *Members) WrittenAt(bucket string, by map[string]string) error {
	note := func(b bundle.Bundle, _ ed25519.PublicKey, err error) error {
		name, _, nerr := t.SiteName(b.Site)
		if err = errors.Join(err, nerr); err == nil {
			err = eachFact(b, func(code byte, key []byte) {
				if _, asked := by[string(key)]; asked && code == layout.Codes[bucket] {
					by[string(key)] = name
				}
			})
		}
		if err != nil {
			return t.tab.Damaged(err, "bundle", nil)
		}
		return nil
	}
	return cmp.Or(t.EachBundle(note), t.EachBranch(note))
}

// LetIn is another site's word that let a site in, or may have: its admission, of those that
// count, else its invitation. Nil where the first site's did.
func (t *Members) LetIn(site uuid.UUID) (word uuid.UUID, err error) {
	own, _ := t.Own()
	all, err := t.pacts()
	for _, p := range all {
		if err != nil || p.Site != site || p.From == own.Root.Site {
			continue
		}
		counts := false
		if p.Kind == register.Admitted {
			if counts, err = t.mayAdmit(own, all, p); counts {
				return p.ID, err
			}
		} else if p.Kind == register.Invited {
			word = p.ID
		}
	}
	return word, err
}

// speaksFor says whether a bundle's key is this one, or one that it vouches for: the key of
// an earlier epoch of the site speaks for the next.
func (k Key) speaksFor(b bundle.Bundle, key ed25519.PublicKey, vouches bool) bool {
	if len(k.Key) == 0 {
		return false
	}
	vouches = vouches && k.Key.Equal(ed25519.PublicKey(b.Voucher.By[:]))
	return k.Epoch == b.Epoch && k.Key.Equal(key) || vouches && b.Voucher.For(b.Group, b.Site, b.Epoch, key)
}
