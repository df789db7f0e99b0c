package store

import (
	"bytes"
	"cmp"
	"crypto/ed25519"
	"errors"
	"fmt"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/bundle"
	"rindkeep/store/chain"
	"rindkeep/store/finding"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/pack"
	"rindkeep/store/sites"
	"rindkeep/wheel"
)

// others goes through all facts of other sites as this book keeps them; those in bundles that
// can't be read are left out.
func (t *ReadTx) others(each func(code byte, key, value []byte) error) error {
	facts := func(b bundle.Bundle, _ ed25519.PublicKey, err error) error {
		if err != nil {
			return nil // the check of the bundles tells of it
		}
		links, err := sites.Unpack(b.Payload)
		if err != nil {
			return nil
		}
		from, _, err := t.SiteName(b.Site)
		if err != nil {
			return err
		}
		w := t.writerFor(from, b.Site)
		for _, l := range links {
			for _, f := range l.Facts {
				bucket, k, v, ok, err := w.local(f)
				if err != nil || !ok {
					continue
				}
				if err := each(layout.Codes[bucket], k, v); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return cmp.Or(t.EachBundle(facts), t.EachBranch(facts))
}

// checkShared proves what the book keeps of other sites: that each bundle is as it was signed
// and follows from the one before, and that every fact in it stands, gave way or waits.
func (k *checker) checkShared() error {
	t := k.t
	if !t.Shared() {
		return nil
	}
	type spot struct{ site, epoch uuid.UUID }
	upTo := map[spot]members.Reached{}
	err := t.EachBundle(func(b bundle.Bundle, key ed25519.PublicKey, err error) error {
		at := bookfile.At("bundle", fmt.Sprintf("%d-%d", b.First, b.Last))
		links, uerr := sites.Unpack(b.Payload)
		if err = errors.Join(err, uerr); err != nil {
			k.history(at, finding.BundleUnreadable)
			return nil
		}
		of := spot{b.Site, b.Epoch}
		h := upTo[of]
		_, forked, err := h.Follows(b, links)
		if err != nil || forked || b.First > h.Number+1 || h.Key != nil && !h.Key.Equal(key) {
			k.history(at, finding.BundleUnfit)
		}
		upTo[of] = members.Reached{Number: b.Last, Hash: b.After[:], Key: key}
		return k.ctx.Err()
	})
	if err != nil {
		return err
	}
	heads, err := t.Heads()
	if err != nil {
		return err
	}
	for _, h := range heads[1:] {
		if got := upTo[spot{h.Site, h.Epoch}]; got.Number != h.Number || !bytes.Equal(got.Hash, h.Hash[:]) {
			k.history(bookfile.At("site", h.Name), finding.BundlesMissing)
		}
	}
	return t.others(k.standing)
}

// standing proves that a fact of another site stands, gave way or waits.
func (k *checker) standing(code byte, key, v []byte) error {
	t, bucket := k.t, layout.OfCode[code]
	if t.tab.Get(bucket, key) != nil || t.waits(bucket, key, v) {
		return k.ctx.Err()
	}
	if bucket == layout.Entries { // another of its identity may have taken its place
		if _, ok, err := t.Entry(uuid.UUID(key[24:])); ok || err != nil {
			return err
		}
	}
	k.history(t.factSpot(bucket, key), finding.FactMissing)
	return k.ctx.Err()
}

// history notes what only somebody outside the program can have done.
func (k *checker) history(at bookfile.Spot, what reason.Reason) {
	k.find(bookfile.Finding{At: at, What: what, History: true})
}

// waits says whether a fact waits for its make or wheel.
func (t *ReadTx) waits(bucket string, key, v []byte) bool {
	var of uuid.UUID
	switch bucket {
	case layout.Entries:
		of = uuid.UUID(key[:16])
	case layout.Wheels:
		var w wheel.Wheel
		if pack.ReadJSON(v, &w) == nil {
			of = w.Make
		}
	}
	return of != uuid.Nil && t.tab.Get(layout.Waiting, layout.WaitingKey(of, bucket, key)) != nil
}

func (t *ReadTx) factSpot(bucket string, key []byte) bookfile.Spot {
	if bucket == layout.Entries {
		key = key[:chain.FindKeySize]
	}
	return t.Names().Fact(chain.Trace{Code: layout.Codes[bucket], Key: key}).Of
}
