package natstest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/base64"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/nats-io/nkeys"
)

// certify writes an authority's certificate into a folder, and a server's and a client's with
// their keys.
func certify(t testing.TB, folder string) {
	t.Helper()
	form := func(n int64) *x509.Certificate {
		return &x509.Certificate{
			SerialNumber: big.NewInt(n), Subject: pkix.Name{CommonName: "an invented dairy"},
			NotBefore: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), NotAfter: time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC),
			IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
			ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
		}
	}
	ca := form(1)
	ca.IsCA, ca.BasicConstraintsValid, ca.KeyUsage = true, true, x509.KeyUsageCertSign
	var signer *ecdsa.PrivateKey
	for i, name := range []string{"ca", "server", "client"} {
		key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
		must(t, err)
		of := form(int64(i + 1))
		if i == 0 {
			of, signer = ca, key
		}
		der, err := x509.CreateCertificate(rand.Reader, of, ca, key.Public(), signer)
		must(t, err)
		secret, err := x509.MarshalPKCS8PrivateKey(key)
		must(t, err)
		for file, block := range map[string]*pem.Block{
			name + ".pem": {Type: "CERTIFICATE", Bytes: der}, name + ".key": {Type: "PRIVATE KEY", Bytes: secret},
		} {
			must(t, os.WriteFile(filepath.Join(folder, file), pem.EncodeToMemory(block), 0o600))
		}
	}
}

// Certificates is a folder with an authority's certificate, a server's and a client's.
func Certificates(t testing.TB) string {
	t.Helper()
	folder := t.TempDir()
	certify(t, folder)
	return folder
}

// operator writes credentials for an admin and each site into a folder, and gives the part of the
// server's configuration that knows them.
func operator(t testing.TB, folder string, group uuid.UUID, sites []uuid.UUID) string {
	t.Helper()
	type object = map[string]any
	op, account, system := pair(t, nkeys.CreateOperator), pair(t, nkeys.CreateAccount), pair(t, nkeys.CreateAccount)
	open := object{
		"subs": -1, "data": -1, "payload": -1, "imports": -1, "exports": -1, "wildcards": true, "conn": -1, "leaf": -1,
	}
	store := object{"mem_storage": -1, "disk_storage": -1, "streams": -1, "consumer": -1}
	for k, v := range open {
		store[k] = v
	}
	user := func(name string, may object) {
		key := pair(t, nkeys.CreateUser)
		seed, err := key.Seed()
		must(t, err)
		claims := object{"type": "user", "version": 2, "subs": -1, "data": -1, "payload": -1}
		for k, v := range may {
			claims[k] = v
		}
		must(t, os.WriteFile(filepath.Join(folder, name+".creds"), fmt.Appendf(nil,
			"-----BEGIN NATS USER JWT-----\n%s\n------END NATS USER JWT------\n\n"+
				"-----BEGIN USER NKEY SEED-----\n%s\n------END USER NKEY SEED------\n",
			token(t, account, public(t, key), name, claims), seed), 0o600))
	}
	user("admin", object{"pub": object{}, "sub": object{}})
	for _, s := range sites {
		user(s.String(), object{
			"pub": object{"allow": Permissions(group.String(), s.String())}, "sub": object{"allow": []string{"_INBOX.>"}},
		})
	}
	return fmt.Sprintf("operator: %s\nsystem_account: %s\nresolver: MEMORY\nresolver_preload: {\n  %s: %s\n  %s: %s\n}",
		token(t, op, public(t, op), "operator", object{
			"type": "operator", "version": 2, "system_account": public(t, system),
		}), public(t, system),
		public(t, account), token(t, op, public(t, account), "rindkeep", object{
			"type": "account", "version": 2, "limits": store, "default_permissions": object{"pub": object{}, "sub": object{}},
		}),
		public(t, system), token(t, op, public(t, system), "system", object{
			"type": "account", "version": 2, "limits": open, "default_permissions": object{"pub": object{}, "sub": object{}},
		}))
}

func pair(t testing.TB, create func() (nkeys.KeyPair, error)) nkeys.KeyPair {
	t.Helper()
	k, err := create()
	must(t, err)
	return k
}

func public(t testing.TB, k nkeys.KeyPair) string {
	t.Helper()
	s, err := k.PublicKey()
	must(t, err)
	return s
}

// token is a signed claim as the servers read them: a JWT (RFC 7519) signed with an nkey.
func token(t testing.TB, by nkeys.KeyPair, of, name string, claims map[string]any) string {
	t.Helper()
	body, err := json.Marshal(map[string]any{
		"jti": name, "iat": 1_600_000_000, "iss": public(t, by), "name": name, "sub": of, "nats": claims,
	})
	must(t, err)
	encode := base64.RawURLEncoding.EncodeToString
	text := encode([]byte(`{"typ":"JWT","alg":"ed25519-nkey"}`)) + "." + encode(body)
	signature, err := by.Sign([]byte(text))
	must(t, err)
	return text + "." + encode(signature)
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
