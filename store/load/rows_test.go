package load

import (
	"testing"
	"time"

	"github.com/google/uuid"
)

func TestAnIdentityOfAWeighingFollowsFromWhatItSays(t *testing.T) {
	book, w := uuid.MustParse("0193a5c0-7b1e-7c3a-9f10-2b7d4e9f3c1a"), uuid.MustParse(
		"0193a5c0-8000-7d01-8000-000000000001")
	at := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC).UnixMilli()
	id := weightID(book, w, at, 1942)
	// Ours, fixed: books hold it.
	if got, want := id.String(), "0193a5c0-8000-8d01-a339-7c27f8a33f0d"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if id.Version() != 8 || id.Variant() != uuid.RFC4122 {
		t.Errorf("%s is of version %d, variant %d", id, id.Version(), id.Variant())
	}
	for what, o := range map[string]uuid.UUID{
		"another book":    weightID(w, w, at, 1942),
		"another wheel":   weightID(book, book, at, 1942),
		"another instant": weightID(book, w, at+1, 1942),
		"another weight":  weightID(book, w, at, 1942.001),
	} {
		if o == id {
			t.Errorf("%s gives the same identity", what)
		}
	}
}
