package jetstream

import (
	"bytes"
	"crypto/ed25519"
	"rindkeep/cmd/carrier/natstest"
	"rindkeep/store/bundle"
	"testing"
)

// Two computers wrote as one site, and another site passes on what one of them did: all of it comes,
// and what's there twice only once.
func TestEveryBranchIsFetched(t *testing.T) {
	c := natstest.Start(t, 1, group, north, south)
	prepared(t, c)
	branch := func(first, last uint64) []byte {
		b, _ := bundle.Peek(sealed(t, north, first, last))
		b.After, b.Payload = hash(south, last), []byte("links")
		if first > 3 {
			b.Before = hash(south, first-1)
		}
		raw, err := bundle.Seal(ed25519.NewKeyFromSeed(bytes.Repeat(north[15:], ed25519.SeedSize)), b)
		if err != nil {
			t.Fatal(err)
		}
		return raw
	}
	put(t, dialled(t, c.Address(north), north), sealed(t, north, 1, 2), sealed(t, north, 3, 5), sealed(t, north, 6, 9))
	b := dialled(t, c.Address(south), south)
	put(t, b, sealed(t, north, 1, 2))
	if got := fetched(t, dialled(t, c.Address(south), south), north, 0); got != "1-2 3-5 6-9" {
		t.Errorf("the same again: %s", got)
	}
	put(t, b, branch(3, 4), branch(5, 7))
	for after, want := range map[uint64]string{0: "1-2 3-5 6-9 1-2 3-4 5-7", 6: "6-9 5-7", 7: "6-9", 9: ""} {
		if got := fetched(t, dialled(t, c.Address(south), south), north, after); got != want {
			t.Errorf("after %d: %s, want %s", after, got, want)
		}
	}
}
