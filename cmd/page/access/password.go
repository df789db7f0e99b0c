package access

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// Cost is what one guess at a password costs: argon2id (RFC 9106).
type Cost struct {
	Passes  uint32
	KiB     uint32
	Threads uint8
}

// Usual is the RFC's second recommended option, for machines without 2 GiB to
// spare for it (section 4).
var Usual = Cost{Passes: 3, KiB: 64 * 1024, Threads: 4}

const (
	saltBytes = 16
	hashBytes = 32
)

// hash is a password as it is kept: what it cost, its salt, and what came out.
type hash struct {
	cost Cost
	salt []byte
	sum  []byte
}

// String is the hash in the form of the PHC string format: parameters stay with
// it, so that later ones may be stronger.
func (h hash) String() string {
	b := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s",
		argon2.Version, h.cost.KiB, h.cost.Passes, h.cost.Threads, b.EncodeToString(h.salt), b.EncodeToString(h.sum))
}

func parseHash(s string) (hash, error) {
	bad := errors.New("a password in it has a format this version doesn't know")
	p := strings.Split(s, "$")
	if len(p) != 6 || p[1] != "argon2id" || p[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return hash{}, bad
	}
	var h hash
	if n, err := fmt.Sscanf(p[3], "m=%d,t=%d,p=%d", &h.cost.KiB, &h.cost.Passes, &h.cost.Threads); n != 3 || err != nil {
		return hash{}, bad
	}
	var err1, err2 error
	h.salt, err1 = base64.RawStdEncoding.DecodeString(p[4])
	h.sum, err2 = base64.RawStdEncoding.DecodeString(p[5])
	c := h.cost
	if err1 != nil || err2 != nil || len(h.salt) < 8 || len(h.sum) < 16 || len(h.sum) > 64 || c.Passes < 1 ||
		c.Passes > 100 || c.Threads < 1 || c.KiB < 8 || c.KiB > 4<<20 {
		return hash{}, bad
	}
	return h, nil
}

// hashed makes the hash of a password with a salt of its own.
func hashed(password string, c Cost) hash {
	salt := make([]byte, saltBytes)
	_, _ = rand.Read(salt) // never fails (crypto/rand)
	return hash{c, salt, derive(password, salt, c, hashBytes)}
}

// is says whether the password is the one the hash was made of, in a time that
// does not tell how far it was right.
func (h hash) is(password string) bool {
	return subtle.ConstantTimeCompare(derive(password, h.salt, h.cost, len(h.sum)), h.sum) == 1
}

func derive(password string, salt []byte, c Cost, n int) []byte {
	return argon2.IDKey([]byte(typed(password)), salt, c.Passes, c.KiB, c.Threads, uint32(n))
}

// typed is a password whatever keyboard wrote it: an é is the same from all of
// them (Unicode NFC, as RFC 8265 wants of passwords).
func typed(password string) string { return norm.NFC.String(password) }

// The shortest and the longest password, in characters. Length is asked for and
// nothing else, as NIST SP 800-63B advises.
const (
	shortestPassword = 12
	longestPassword  = 200
)

// CheckPassword says what is wrong with a new password.
func CheckPassword(name, password string) error {
	n := len([]rune(typed(password)))
	switch {
	case n < shortestPassword:
		return fmt.Errorf("the password is too short; use at least %d characters, such as three or four words",
			shortestPassword)
	case n > longestPassword:
		return fmt.Errorf("the password is too long; use at most %d characters", longestPassword)
	case strings.Contains(strings.ToLower(password), strings.ToLower(name)) && n < shortestPassword+len([]rune(name)):
		return errors.New("the password is too much like the name")
	case strings.Trim(password, string([]rune(password)[:1])) == "":
		return errors.New("the password repeats one character")
	case strings.ContainsFunc(password, func(r rune) bool { return r < ' ' || r == 0x7f || r == 0xfffd }):
		return errors.New("the password has a character that can't be typed")
	}
	return nil
}
