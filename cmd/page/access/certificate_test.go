package access

import (
	"crypto/x509"
	"encoding/pem"
	"net"
	"os"
	"os/exec"
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
	// Someone who steals the authority can't speak for another site with it, nor for
	// another machine of the house.
	for host, want := range map[string]bool{"bank.example": false, "192.168.1.21": false, "10.0.0.1": false,
		"2001:db8::8": false, "example": false, "cave.example": true, "192.168.1.20": true} {
		stolen := &OwnCertificate{hosts: hosts, now: clock, authority: c.authority}
		if err := stolen.newLeaf(split([]string{host})); err != nil {
			t.Fatal(err)
		}
		name := host
		if strings.Contains(host, ":") {
			name = "[" + host + "]"
		}
		if err := verify(stolen.leaf.Leaf, c.Authority(), name); (err == nil) != want {
			t.Errorf("its authority may speak for %s: %v", host, err)
		}
		if got := opensslTakes(t, stolen.leaf.Leaf, c.Authority()); got != want {
			t.Errorf("OpenSSL takes what it signed for %s: %v", host, got)
		}
	}
	// One that was made with whole networks, as they once were, makes way.
	wide := &OwnCertificate{path: filepath.Join(t.TempDir(), "wide.tls"), hosts: hosts, now: clock}
	_, network, _ := net.ParseCIDR("192.168.0.0/16")
	if wide.authority, err = signed(&x509.Certificate{NotBefore: now.Add(-time.Hour), NotAfter: now.AddDate(9, 0, 0),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign, PermittedDNSDomains: hosts[:2],
		PermittedIPRanges: []*net.IPNet{network}}, nil); err != nil {
		t.Fatal(err)
	}
	if err := wide.newLeaf(split(hosts)); err != nil {
		t.Fatal(err)
	}
	if _, err := wide.For(nil); err != nil || !wide.Replaced() || c.Replaced() {
		t.Errorf("an authority for whole networks is kept: %v", err)
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

// opensslTakes says whether OpenSSL takes a certificate by an authority. Without
// OpenSSL it only checks that crypto/x509 gave the answer.
func opensslTakes(t *testing.T, leaf *x509.Certificate, authority []byte) bool {
	t.Helper()
	program, err := exec.LookPath("openssl")
	if err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatal("openssl is missing")
		}
		roots := x509.NewCertPool()
		a, _ := x509.ParseCertificate(authority)
		roots.AddCert(a)
		_, err := leaf.Verify(x509.VerifyOptions{Roots: roots})
		return err == nil
	}
	dir := t.TempDir()
	for name, der := range map[string][]byte{"leaf.pem": leaf.Raw, "authority.pem": authority} {
		b := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	out, err := exec.Command(program, "verify", "-CAfile", filepath.Join(dir, "authority.pem"),
		filepath.Join(dir, "leaf.pem")).CombinedOutput()
	if err != nil && !strings.Contains(string(out), "permitted subtree violation") {
		t.Errorf("openssl: %s", out)
	}
	return err == nil
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
