package page

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
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// OwnCertificate is a certificate the program made itself, with an authority of
// its own to trust it by: whoever puts the authority on a phone is not asked
// again when the certificate is renewed. The authority may speak for this host's
// names and for addresses of private networks and for nothing else (RFC 5280,
// name constraints), so that trusting it puts no other site at risk.
type OwnCertificate struct {
	path  string
	hosts []string
	now   func() time.Time

	mu        sync.Mutex
	authority *x509.Certificate
	signer    *ecdsa.PrivateKey
	leaf      *tls.Certificate
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
	case err == nil:
		if err := c.parse(b); err != nil {
			return nil, fmt.Errorf("the certificate in %s can't be used: %w", filepath.Base(path), err)
		}
	case !errors.Is(err, fs.ErrNotExist):
		return nil, err
	}
	_, err = c.current()
	return c, err
}

// For is tls.Config.GetCertificate.
func (c *OwnCertificate) For(*tls.ClientHelloInfo) (*tls.Certificate, error) { return c.current() }

// Authority is what a phone is given to trust, in DER.
func (c *OwnCertificate) Authority() []byte {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.authority.Raw
}

// Fingerprints are the SHA-256 of the certificate and of its authority, as
// browsers and phones show them.
func (c *OwnCertificate) Fingerprints() (certificate, authority string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return fingerprint(c.leaf.Leaf.Raw), fingerprint(c.authority.Raw)
}

func fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	return strings.ReplaceAll(fmt.Sprintf("% X", sum[:]), " ", ":")
}

// current is the certificate, made or renewed where it is time.
func (c *OwnCertificate) current() (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	soon := c.now().AddDate(0, 0, renewDays)
	// A clock before the time they were made is this machine's, started without
	// a clock of its own: what phones trust is not thrown away for that.
	fits := c.leaf != nil && soon.Before(c.leaf.Leaf.NotAfter)
	for _, h := range c.hosts {
		fits = fits && c.leaf.Leaf.VerifyHostname(h) == nil
	}
	if fits {
		return c.leaf, nil
	}
	if c.authority == nil || !soon.Before(c.authority.NotAfter) || !c.maySpeakFor() {
		if err := c.newAuthority(); err != nil {
			return nil, err
		}
	}
	if err := c.newLeaf(); err != nil {
		return nil, err
	}
	b, err := c.pem()
	if err != nil {
		return nil, err
	}
	return c.leaf, replace(c.path, b)
}

// private are the networks in which a creamery's machines have their addresses
// (RFC 1918, 4193, 6598) and this machine itself.
var private = []string{"127.0.0.0/8", "::1/128", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "100.64.0.0/10", "fc00::/7", "fe80::/10"}

func privateNets() []*net.IPNet {
	var out []*net.IPNet
	for _, p := range private {
		if _, n, err := net.ParseCIDR(p); err == nil {
			out = append(out, n)
		}
	}
	return out
}

// maySpeakFor says whether the authority's constraints cover every host.
func (c *OwnCertificate) maySpeakFor() bool {
	for _, h := range c.hosts {
		if ip := net.ParseIP(h); ip != nil {
			if !slices.ContainsFunc(c.authority.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(ip) }) {
				return false
			}
		} else if !slices.Contains(c.authority.PermittedDNSDomains, h) {
			return false
		}
	}
	return true
}

func (c *OwnCertificate) newAuthority() error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	t := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: "rindkeep, made here for " + c.hosts[0]},
		NotBefore: c.now().Add(-time.Hour), NotAfter: c.now().AddDate(0, 0, authorityDays),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign,
		PermittedDNSDomainsCritical: true, PermittedIPRanges: privateNets(),
	}
	for _, h := range c.hosts {
		if ip := net.ParseIP(h); ip == nil {
			t.PermittedDNSDomains = append(t.PermittedDNSDomains, h)
		} else if !slices.ContainsFunc(t.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(ip) }) {
			bits := 8 * len(ip)
			if v4 := ip.To4(); v4 != nil {
				ip, bits = v4, 32
			}
			t.PermittedIPRanges = append(t.PermittedIPRanges, &net.IPNet{IP: ip, Mask: net.CIDRMask(bits, bits)})
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, &key.PublicKey, key)
	if err != nil {
		return err
	}
	c.signer = key
	c.authority, err = x509.ParseCertificate(der)
	return err
}

func (c *OwnCertificate) newLeaf() error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	end := c.now().AddDate(0, 0, leafDays)
	if end.After(c.authority.NotAfter) {
		end = c.authority.NotAfter
	}
	t := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: c.hosts[0]},
		NotBefore: c.now().Add(-time.Hour), NotAfter: end,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	for _, h := range c.hosts {
		if ip := net.ParseIP(h); ip != nil {
			t.IPAddresses = append(t.IPAddresses, ip)
		} else {
			t.DNSNames = append(t.DNSNames, h)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, c.authority, &key.PublicKey, c.signer)
	if err != nil {
		return err
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return err
	}
	c.leaf = &tls.Certificate{Certificate: [][]byte{der, c.authority.Raw}, PrivateKey: key, Leaf: leaf}
	return nil
}

func serial() *big.Int {
	b := random(16)
	b[0] &= 0x7f // positive (RFC 5280, 4.1.2.2)
	return new(big.Int).SetBytes(b)
}

// pem is all of it as it is kept: authority, its key, certificate, its key.
func (c *OwnCertificate) pem() ([]byte, error) {
	var out []byte
	for _, x := range []struct {
		der []byte
		key any
	}{{c.authority.Raw, c.signer}, {c.leaf.Leaf.Raw, c.leaf.PrivateKey}} {
		k, err := x509.MarshalPKCS8PrivateKey(x.key)
		if err != nil {
			return nil, err
		}
		out = append(out, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: x.der})...)
		out = append(out, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: k})...)
	}
	return out, nil
}

func (c *OwnCertificate) parse(b []byte) error {
	bad := errors.New("it is damaged; remove the file and rindkeep makes a new one")
	var certs []*x509.Certificate
	var keys []*ecdsa.PrivateKey
	for {
		var p *pem.Block
		if p, b = pem.Decode(b); p == nil {
			break
		}
		switch p.Type {
		case "CERTIFICATE":
			x, err := x509.ParseCertificate(p.Bytes)
			if err != nil {
				return bad
			}
			certs = append(certs, x)
		case "PRIVATE KEY":
			k, err := x509.ParsePKCS8PrivateKey(p.Bytes)
			e, ok := k.(*ecdsa.PrivateKey)
			if err != nil || !ok {
				return bad
			}
			keys = append(keys, e)
		}
	}
	if len(certs) != 2 || len(keys) != 2 || !keys[0].PublicKey.Equal(certs[0].PublicKey) || !keys[1].PublicKey.Equal(certs[1].PublicKey) || certs[1].CheckSignatureFrom(certs[0]) != nil {
		return bad
	}
	c.authority, c.signer = certs[0], keys[0]
	c.leaf = &tls.Certificate{Certificate: [][]byte{certs[1].Raw, certs[0].Raw}, PrivateKey: keys[1], Leaf: certs[1]}
	return nil
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
