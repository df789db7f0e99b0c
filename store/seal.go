package store

import (
	"bytes"

	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
)

// Derived records carry a seal too, over their key and value: pages have no checksum,
// and a figure that a disk changed must not be shown as if it were one. Everything that
// puts or gets a derived record comes through here. A seal that is wrong is damage that
// Rebuild mends.

// sealedSince is the first version of the derived records that have seals.
const sealedSince = 12

// sealed says whether the records of a bucket are derived ones with seals.
func (t *ReadTx) sealed(bucket string) bool { return t.book.sealed && layout.IsDerived(bucket) }

// unsealed is the value of a derived record without its seal. If the seal is wrong the
// value is empty; no sound record is, so decoding it reports the damage.
func unsealed(key, v []byte) []byte {
	v, err := pack.Unseal(key, v)
	if err != nil {
		return []byte{}
	}
	return v
}

// inSealed is in for a derived bucket. A key that a disk changed may leave the range it
// belongs to: then it's next to where the range was looked for, and its seal is wrong.
// So the records before and after the range are looked at too.
func (t *ReadTx) inSealed(bucket string, c *proved, prefix []byte, yield func(k, v []byte) bool) {
	k, v := c.seek(prefix)
	if len(prefix) > 0 && !t.checking {
		if k == nil {
			t.proveSeal(bucket)(c.c.Last())
		} else {
			t.proveSeal(bucket)(c.c.Prev())
		}
		k, v = c.seek(prefix)
	}
	for ; k != nil; k, v = c.after() {
		if !bytes.HasPrefix(k, prefix) {
			t.proveSeal(bucket)(k, v)
			return
		}
		if layout.KeysOnly[bucket] {
			t.proveSeal(bucket)(k, v)
		}
		if !yield(k, unsealed(k, v)) {
			return
		}
	}
}

// proveSeal panics over a derived record whose seal is wrong, where no error can be
// returned. A check names it by other means.
func (t *ReadTx) proveSeal(bucket string) func(k, v []byte) {
	return func(k, v []byte) {
		if t.checking || k == nil {
			return
		}
		if _, err := pack.Unseal(k, v); err != nil {
			panic(bookfile.BadIndex(bucket))
		}
	}
}

// whole says whether as many entries of a wheel were found as its standing says it has:
// one whose key a disk changed isn't found among them.
func (t *ReadTx) whole(subject [16]byte, n int) bool {
	if !t.book.sealed || t.checking || t.remaking() {
		return true
	}
	s, ok, err := t.state(subject)
	if err != nil || !ok || s.Entries < 0 {
		return true
	}
	if t.write != nil {
		n -= t.write.fresh[subject]
	}
	return s.Entries == n
}
