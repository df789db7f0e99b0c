package jetstream

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/natstest"
)

// Over an encrypted link, each side shows a certificate and a site its credentials. One that lacks
// one of them isn't let in, and the error says why.
func TestASecureLink(t *testing.T) {
	c := natstest.StartSecure(t, group, north, south)
	prepared(t, c)
	a, b := dialled(t, c.Address(north), north), dialled(t, c.Address(south), south)
	put(t, a, sealed(t, north, 1, 5))
	if got := heads(t, b) + ": " + fetched(t, b, north, 0); got != "a 5: 1-5" {
		t.Errorf("%s", got)
	}
	put(t, b, sealed(t, south, 1, 2))
	thief := dialled(t, c.Address(south), north) // south's credentials, north's name
	err := reached(t, func() error { return thief.Put(t.Context(), sealed(t, north, 6, 9)) })
	if !errors.Is(err, carrier.Refused) {
		t.Errorf("it published as another: %v", err)
	}

	other := natstest.Certificates(t)
	text := c.Address(north)
	elsewhere := func(name string) string {
		return strings.Replace(text, filepath.Join(c.TLS, name), filepath.Join(other, name), 1)
	}
	for name, wrong := range map[string]struct {
		address, says string
		kind          carrier.Kind
	}{
		"another authority's server": {elsewhere("ca.pem"), "certificate", carrier.Away},
		"no authority":               {strings.Replace(text, "&ca="+c.TLS+"/ca.pem", "", 1), "certificate", carrier.Away},
		"no certificate": {strings.Replace(text, "&cert="+c.TLS+"/client.pem&key="+c.TLS+"/client.key", "", 1),
			"tls", carrier.Away},
		"no credentials": {text[:strings.Index(text, "&creds=")], "", carrier.Refused},
		"no encryption":  {"nats://" + strings.TrimPrefix(text[:strings.Index(text, "?")], "tls://"), "", carrier.Away},
		"no such file":   {text + ".gone", "no such file", carrier.Address},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			until(t, func() error {
				j, err := Open(t.Context(), wrong.address, group, north)
				if err == nil {
					_, err = j.Heads(t.Context())
					_ = j.Close()
				}
				if !errors.Is(err, wrong.kind) || !strings.Contains(err.Error(), wrong.says) {
					return fmt.Errorf("want %s with %q: %w", wrong.kind, wrong.says, err)
				}
				return nil
			})
		})
	}
}
