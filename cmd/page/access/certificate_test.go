package access

import (
	"crypto/x509"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestACertificateMadeHereIsTrustedByItsAuthorityAloneAndRenewed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "cave.book.tls")
	now := time.Now()
	clock := func() time.Time { return now }
	hosts := []string{"localhost", "cave.example", "127.0.0.1", "192.168.1.20", "2001:db8::7"}
	c, err := NewCertificate(path, hosts, clock)
	if err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(path); err != nil || filepath.Separator == '/' && info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	verify := func(leaf *x509.Certificate, authority []byte, host string) error {
		roots := x509.NewCertPool()
		a, err := x509.ParseCertificate(authority)
		if err != nil {
			t.Fatal(err)
		}
		roots.AddCert(a)
		_, err = leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: host, CurrentTime: now})
		return err
	}
	leaf := func() *x509.Certificate {
		t.Helper()
		k, err := c.For(nil)
		if err != nil {
			t.Fatal(err)
		}
		return k.Leaf
	}
	for _, h := range hosts {
		name := h
		if strings.Contains(h, ":") {
			name = "[" + h + "]"
		}
		if err := verify(leaf(), c.Authority(), name); err != nil {
			t.Errorf("for %s: %v", h, err)
		}
	}
	if verify(leaf(), c.Authority(), "bank.example") == nil {
		t.Error("it is good for another host")
	}
	first, by := c.Fingerprints()
	if len(first) != 95 || first == by {
		t.Errorf("fingerprints %q and %q", first, by)
	}
	// Someone who steals the authority can't speak for another site with it.
	stolen := &OwnCertificate{hosts: []string{"bank.example"}, now: clock, authority: c.authority}
	if err := stolen.newLeaf([]string{"bank.example"}, nil); err != nil {
		t.Fatal(err)
	}
	if verify(stolen.leaf.Leaf, c.Authority(), "bank.example") == nil {
		t.Error("its authority may speak for any site")
	}
	// Opened again it is the same; near its end it is another, of the same
	// authority; for a host beyond the authority's reach both are new.
	if c, err = NewCertificate(path, hosts, clock); err != nil {
		t.Fatal(err)
	}
	if again, _ := c.Fingerprints(); again != first {
		t.Error("opened again it is another")
	}
	// A machine that starts without a clock thinks it is long ago.
	right := now
	now = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	if c, err = NewCertificate(path, hosts, clock); err != nil {
		t.Fatal(err)
	}
	leaf()
	if again, same := c.Fingerprints(); again != first || same != by {
		t.Error("with a clock before it was made, it was replaced: no phone trusts it any more")
	}
	now = right
	now = now.AddDate(0, 0, leafDays-renewDays)
	if err := verify(leaf(), c.Authority(), "cave.example"); err != nil {
		t.Error(err)
	}
	if again, same := c.Fingerprints(); again == first || same != by {
		t.Error("near its end it was not renewed by the same authority")
	}
	if c, err = NewCertificate(path, append(hosts, "cellar.example"), clock); err != nil {
		t.Fatal(err)
	}
	if _, other := c.Fingerprints(); other == by {
		t.Error("its authority was not replaced for a name it may not speak for")
	}
	if err := verify(leaf(), c.Authority(), "cellar.example"); err != nil {
		t.Error(err)
	}
	for _, broken := range []string{"x", "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"} {
		if err := os.WriteFile(path, []byte(broken), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := NewCertificate(path, hosts, clock); err == nil || !strings.Contains(err.Error(), "cave.book.tls") {
			t.Errorf("of %q: %v", broken, err)
		}
	}
}

func TestACertificateRenewedByOthersIsTakenWithoutAStop(t *testing.T) {
	dir := t.TempDir()
	pair := func() {
		t.Helper()
		if _, err := NewCertificate(filepath.Join(dir, "x.tls"), []string{"localhost"}, time.Now); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(filepath.Join(dir, "x.tls"))
		if err != nil {
			t.Fatal(err)
		}
		// Authority, its key, certificate, its key: the last two are the pair.
		parts := strings.SplitAfter(string(b), "-----END PRIVATE KEY-----\n")
		if err := os.WriteFile(filepath.Join(dir, "pair.pem"), []byte(parts[1]), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Remove(filepath.Join(dir, "x.tls")); err != nil {
			t.Fatal(err)
		}
	}
	pair()
	file := filepath.Join(dir, "pair.pem")
	c, err := OpenCertificate(file, file)
	if err != nil {
		t.Fatal(err)
	}
	was, _ := c.For(nil)
	if err := os.WriteFile(file, []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	_ = os.Chtimes(file, time.Now(), time.Now().Add(time.Minute))
	if is, err := c.For(nil); err != nil || is != was {
		t.Error("a broken file is taken", err)
	}
	pair()
	_ = os.Chtimes(file, time.Now(), time.Now().Add(2*time.Minute))
	if is, err := c.For(nil); err != nil || is == was {
		t.Error("the new one is not taken", err)
	}
	if _, err := OpenCertificate(file, filepath.Join(dir, "none")); err == nil {
		t.Error("a key that is not there is taken")
	}
}
