package access

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"rindkeep/store/bookfile"
)

// OwnCertificate is a certificate the program made itself, and the authority that
// signs it: a phone that trusts the authority isn't asked again when the
// certificate is renewed. The authority may speak for the page's own names and addresses
// and for nothing else (RFC 5280, 4.2.1.10, name constraints), so that trusting it puts
// no other site at risk. If the page gets another name or address, the authority is
// another too.
type OwnCertificate struct {
	path  string
	hosts []string
	now   func() time.Time

	mu        sync.Mutex
	authority *tls.Certificate
	leaf      *tls.Certificate
	replaced  bool // the authority, since it was opened
}

const (
	// Browsers take no certificate that is valid for more than 398 days from
	// authorities they ship; one of our own need not be longer.
	leafDays      = 397
	authorityDays = 3650
	renewDays     = 30 // before the end
)

// NewCertificate opens the certificate kept at path, or makes one, for the host
// names and addresses given.
func NewCertificate(path string, hosts []string, now func() time.Time) (*OwnCertificate, error) {
	c := &OwnCertificate{path: path, hosts: hosts, now: now}
	b, err := os.ReadFile(path)
	switch {
	case err == nil && !c.parse(b):
		return nil, fmt.Errorf("the certificate in %s is damaged; remove that file and rindkeep makes a new one",
			filepath.Base(path))
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return nil, err
	}
	_, err = c.For(nil)
	return c, err
}

// Authority is what a phone is given to trust, in DER.
func (c *OwnCertificate) Authority() []byte {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.authority.Leaf.Raw
}

// Replaced says whether the authority that was kept had to make way for another, which
// phones have to trust afresh.
func (c *OwnCertificate) Replaced() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.replaced
}

// Fingerprints are the SHA-256 of the certificate and of its authority, as
// browsers and phones show them.
func (c *OwnCertificate) Fingerprints() (certificate, authority string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return fingerprint(c.leaf.Leaf.Raw), fingerprint(c.authority.Leaf.Raw)
}

func fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	return strings.ReplaceAll(fmt.Sprintf("% X", sum[:]), " ", ":")
}

// For is tls.Config.GetCertificate: the certificate, made or renewed where it is time.
func (c *OwnCertificate) For(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	// A clock before the time they were made is this machine's, started without
	// a clock of its own: what phones trust is not thrown away for that.
	soon := c.now().AddDate(0, 0, renewDays)
	names, addresses := split(c.hosts)
	trusted := c.authority != nil && soon.Before(c.authority.Leaf.NotAfter) &&
		maySpeakFor(c.authority.Leaf, names, addresses)
	fits := trusted && soon.Before(c.leaf.Leaf.NotAfter)
	for _, h := range c.hosts {
		fits = fits && c.leaf.Leaf.VerifyHostname(h) == nil
	}
	if fits {
		return c.leaf, nil
	}
	if !trusted {
		c.replaced = c.authority != nil
		if err := c.newAuthority(names, addresses); err != nil {
			return nil, err
		}
	}
	if err := c.newLeaf(names, addresses); err != nil {
		return nil, err
	}
	var kept []byte
	for _, x := range []*tls.Certificate{c.authority, c.leaf} {
		key, err := x509.MarshalPKCS8PrivateKey(x.PrivateKey)
		if err != nil {
			return nil, err
		}
		kept = append(kept, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: x.Leaf.Raw})...)
		kept = append(kept, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: key})...)
	}
	return c.leaf, bookfile.Replace(c.path, kept, 0o600)
}

// split sorts hosts into names and addresses.
func split(hosts []string) (names []string, addresses []net.IP) {
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil {
			addresses = append(addresses, ip)
		} else {
			names = append(names, h)
		}
	}
	return names, addresses
}

// alone is an address as a network of one.
func alone(ip net.IP) *net.IPNet {
	if v4 := ip.To4(); v4 != nil {
		ip = v4
	}
	return &net.IPNet{IP: ip, Mask: net.CIDRMask(8*len(ip), 8*len(ip))}
}

// maySpeakFor says whether an authority's constraints cover every host, and nothing
// wider than hosts: authorities made earlier had whole networks.
func maySpeakFor(authority *x509.Certificate, names []string, addresses []net.IP) bool {
	for _, n := range names {
		if !slices.Contains(authority.PermittedDNSDomains, n) {
			return false
		}
	}
	for _, n := range authority.PermittedIPRanges {
		if ones, bits := n.Mask.Size(); ones != bits {
			return false
		}
	}
	return !slices.ContainsFunc(addresses, func(ip net.IP) bool {
		return !slices.ContainsFunc(authority.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(ip) })
	})
}

func (c *OwnCertificate) newAuthority(names []string, addresses []net.IP) (err error) {
	// This machine's own are always among them: with no name or no address given, that
	// kind would not be constrained at all.
	own := []*net.IPNet{alone(net.IPv4(127, 0, 0, 1))}
	for _, ip := range addresses {
		own = append(own, alone(ip))
	}
	names = slices.Compact(append([]string{"localhost"}, names...))
	c.authority, err = signed(&x509.Certificate{
		Subject:   pkix.Name{CommonName: "rindkeep, made here for " + c.hosts[0]},
		NotBefore: c.now().Add(-time.Hour), NotAfter: c.now().AddDate(0, 0, authorityDays),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: names, PermittedIPRanges: own,
	}, nil)
	return err
}

func (c *OwnCertificate) newLeaf(names []string, addresses []net.IP) (err error) {
	end := c.now().AddDate(0, 0, leafDays)
	if last := c.authority.Leaf.NotAfter; end.After(last) {
		end = last
	}
	c.leaf, err = signed(&x509.Certificate{
		Subject: pkix.Name{CommonName: c.hosts[0]}, NotBefore: c.now().Add(-time.Hour), NotAfter: end,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, DNSNames: names, IPAddresses: addresses,
	}, c.authority)
	return err
}

// signed is a certificate with a new key, signed by an authority, or by itself where
// there is none.
func signed(t *x509.Certificate, by *tls.Certificate) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	c := &tls.Certificate{PrivateKey: key}
	if by == nil {
		by = &tls.Certificate{Leaf: t, PrivateKey: key}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, by.Leaf, &key.PublicKey, by.PrivateKey)
	if err != nil {
		return nil, err
	}
	c.Certificate = append([][]byte{der}, by.Certificate...)
	c.Leaf, err = x509.ParseCertificate(der)
	return c, err
}

// parse reads what was kept: the authority, its key, the certificate, its key.
func (c *OwnCertificate) parse(b []byte) bool {
	var pairs [2]tls.Certificate
	for i := range pairs {
		cert, rest := pem.Decode(b)
		key, rest := pem.Decode(rest)
		if cert == nil || key == nil {
			return false
		}
		var err error
		if pairs[i], err = tls.X509KeyPair(pem.EncodeToMemory(cert), pem.EncodeToMemory(key)); err != nil {
			return false
		}
		b = rest
	}
	c.authority, c.leaf = &pairs[0], &pairs[1]
	c.leaf.Certificate = append(c.leaf.Certificate, c.authority.Leaf.Raw)
	return c.leaf.Leaf.CheckSignatureFrom(c.authority.Leaf) == nil
}

// FileCertificate is a certificate somebody else renews, in two PEM files. They
// are read again when they change; while what is there cannot be used, the one
// before is.
type FileCertificate struct {
	cert, key string

	mu   sync.Mutex
	kept *tls.Certificate
	seen [2]time.Time
}

// OpenCertificate reads a certificate and its key from their files.
func OpenCertificate(cert, key string) (*FileCertificate, error) {
	c := &FileCertificate{cert: cert, key: key}
	k, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		return nil, err
	}
	c.kept, c.seen = &k, c.times()
	return c, nil
}

// For is tls.Config.GetCertificate.
func (c *FileCertificate) For(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if now := c.times(); now != c.seen {
		if k, err := tls.LoadX509KeyPair(c.cert, c.key); err == nil {
			c.kept, c.seen = &k, now
		}
	}
	return c.kept, nil
}

func (c *FileCertificate) times() (at [2]time.Time) {
	for i, p := range []string{c.cert, c.key} {
		if st, err := os.Stat(p); err == nil {
			at[i] = st.ModTime()
		}
	}
	return at
}
