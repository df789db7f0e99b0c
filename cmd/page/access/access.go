// Package access keeps what is beside the book and not in it: who may use the page,
// what they are logged in with, and the certificate that the page shows.
package access

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"rindkeep/store/bookfile"
)

// List is who may use the page: a file beside the book, and not in it, so that
// a book handed to an inspector, or its backup on a stick, carries no secret.
// It is read again whenever it changes, so that a person forgotten by a command
// is out of a running page at once.
type List struct {
	path  string
	alone func(fn func() error) error // keeps other processes off the file
	is    func(h hash, password string) bool

	Cost Cost // of a guess at a password that is set from now on

	mu   sync.Mutex
	kept secrets
	seen fs.FileInfo // the file kept was read from; nil: there was none
	read bool
}

// secrets are what the file holds.
type secrets struct {
	Version int         `json:"version"`
	Key     []byte      `json:"key"` // signs what tells known browsers
	People  []keptOne   `json:"people"`
	Devices []keptThing `json:"devices"`

	Sessions []keptSession `json:"sessions"`
}

type keptOne struct {
	Name     string    `json:"name"`
	Role     Role      `json:"role"`
	Password string    `json:"password"` // argon2id, PHC string
	Since    time.Time `json:"since"`
}

type keptThing struct {
	Name  string    `json:"name"`
	Token string    `json:"token_sha256"`
	Since time.Time `json:"since"`
}

const accessVersion = 1

// Open is the list kept in the file at path; it reads nothing yet. alone runs a function while
// no other process that was given the same does; nil: there is no other.
func Open(path string, alone func(fn func() error) error) *List {
	if alone == nil {
		alone = func(fn func() error) error { return fn() }
	}
	return &List{path: path, alone: alone, Cost: Usual, is: hash.is}
}

// Path is the file the access is kept in.
func (a *List) Path() string { return a.path }

// OpenToOthers says that others on this machine can read a file. On systems
// whose file modes do not tell it says no.
func OpenToOthers(path string) bool {
	st, err := os.Stat(path)
	return err == nil && filepath.Separator == '/' && st.Mode().Perm()&0o077 != 0
}

// now is what the file holds at this moment.
func (a *List) now() (secrets, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	st, err := os.Stat(a.path)
	if errors.Is(err, fs.ErrNotExist) {
		a.kept, a.seen, a.read = secrets{}, nil, true
		return a.kept, nil
	}
	if err != nil {
		return secrets{}, a.unreadable(err)
	}
	if a.read && a.seen != nil && os.SameFile(st, a.seen) && st.ModTime().Equal(a.seen.ModTime()) &&
		st.Size() == a.seen.Size() {
		return a.kept, nil
	}
	k, err := readSecrets(a.path)
	if err != nil {
		return secrets{}, a.unreadable(err)
	}
	a.kept, a.seen, a.read = k, st, true
	return k, nil
}

func (a *List) unreadable(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	return fmt.Errorf("%s, which lists who may use the page, can't be read: %w", filepath.Base(a.path), err)
}

func readSecrets(path string) (secrets, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return secrets{}, err
	}
	var k secrets
	if err := json.Unmarshal(b, &k); err != nil {
		return secrets{}, errors.New("it is damaged")
	}
	if k.Version != accessVersion {
		return secrets{}, errors.New("it was written by another version of rindkeep")
	}
	if len(k.Key) < 32 {
		return secrets{}, errors.New("it is damaged")
	}
	for _, p := range k.People {
		if _, err := parseHash(p.Password); err != nil {
			return secrets{}, err
		}
		if p.Role != Writer && p.Role != Reader {
			return secrets{}, fmt.Errorf("it knows a role %q", p.Role)
		}
	}
	return k, nil
}

// change reads the file, lets fn change what it holds and writes it whole: a
// file beside it, synced, put in its place.
func (a *List) change(fn func(*secrets) error) error {
	return a.alone(func() error {
		k, err := readSecrets(a.path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			k = secrets{Version: accessVersion, Key: random(32), People: []keptOne{}, Devices: []keptThing{}}
		case err != nil:
			return a.unreadable(err)
		}
		if err := fn(&k); err != nil {
			return err
		}
		b, err := json.MarshalIndent(k, "", "  ")
		if err != nil {
			return err
		}
		return bookfile.Replace(a.path, append(b, '\n'), 0o600)
	})
}

func random(n int) []byte {
	b := make([]byte, n)
	_, _ = rand.Read(b) // never fails (crypto/rand)
	return b
}

// Known is a person or a device that may use the page.
type Known struct {
	Name  string
	Role  Role
	Since time.Time // of the password, or the token
}

// Known lists who may use the page, people first.
func (a *List) Known() ([]Known, error) {
	k, err := a.now()
	if err != nil {
		return nil, err
	}
	var out []Known
	for _, p := range k.People {
		out = append(out, Known{p.Name, p.Role, p.Since})
	}
	for _, d := range k.Devices {
		out = append(out, Known{d.Name, Device, d.Since})
	}
	return out, nil
}

// HasPeople says whether anybody can log in.
func (a *List) HasPeople() (bool, error) {
	k, err := a.now()
	return len(k.People) > 0, err
}

func (k secrets) person(name string) int {
	return slices.IndexFunc(k.People, func(p keptOne) bool { return strings.EqualFold(p.Name, name) })
}

func (k secrets) device(name string) int {
	return slices.IndexFunc(k.Devices, func(d keptThing) bool { return strings.EqualFold(d.Name, name) })
}

// SetPassword lets a person in, or gives one another password, which ends what
// they are logged in with. An empty role keeps the one they have; a new person
// writes.
func (a *List) SetPassword(name string, role Role, password string, now time.Time) (Known, error) {
	var is Known
	if err := CheckPassword(name, password); err != nil {
		return is, err
	}
	h := hashed(password, a.Cost).String()
	err := a.change(func(k *secrets) error {
		if k.device(name) >= 0 {
			return fmt.Errorf("%s is a device", name)
		}
		p := keptOne{Name: name, Role: role, Password: h, Since: now.UTC().Truncate(time.Second)}
		i := k.person(name)
		if i < 0 {
			i = len(k.People)
			k.People = append(k.People, keptOne{Name: name, Role: Writer})
		}
		if p.Role == "" {
			p.Role = k.People[i].Role
		}
		p.Name = k.People[i].Name
		k.People[i] = p
		k.end(p.Name, "")
		is = Known{p.Name, p.Role, p.Since}
		return nil
	})
	return is, err
}

// ErrTaken is a name that a person or a device has already. It has no words of its own.
var ErrTaken = errors.New("")

// AddDevice lets a device in and gives its token, which is kept nowhere.
func (a *List) AddDevice(name string, now time.Time) (token string, err error) {
	token = tokenPrefix + base64.RawURLEncoding.EncodeToString(random(32))
	err = a.change(func(k *secrets) error {
		switch {
		case k.person(name) >= 0:
			return fmt.Errorf("%s is a person%w", name, ErrTaken)
		case k.device(name) >= 0:
			return fmt.Errorf("%s has a token already%w", name, ErrTaken)
		}
		k.Devices = append(k.Devices, keptThing{name, digest(token), now.UTC().Truncate(time.Second)})
		return nil
	})
	return token, err
}

// tokenPrefix tells a token of this program from others, for a person who finds one.
const tokenPrefix = "rindkeep-"

// digest is of 256 random bits: nothing to guess, so it needs no salt and no cost.
func digest(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// Forget takes a person's or a device's access away; ok is false where there is
// none of that name.
func (a *List) Forget(name string) (was Known, ok bool, err error) {
	err = a.change(func(k *secrets) error {
		if i := k.person(name); i >= 0 {
			was, ok = Known{k.People[i].Name, k.People[i].Role, k.People[i].Since}, true
			k.People = slices.Delete(k.People, i, i+1)
			k.end(was.Name, "")
		}
		if i := k.device(name); i >= 0 {
			was, ok = Known{k.Devices[i].Name, Device, k.Devices[i].Since}, true
			k.Devices = slices.Delete(k.Devices, i, i+1)
		}
		if !ok {
			return errNobody
		}
		return nil
	})
	if errors.Is(err, errNobody) {
		err = nil
	}
	return was, ok, err
}

var errNobody = errors.New("nobody has that name")

// ByToken is the device a token belongs to.
func (a *List) ByToken(token string) (Person, bool, error) {
	k, err := a.now()
	if err != nil {
		return Person{}, false, err
	}
	sum := []byte(digest(token))
	found := -1
	for i, d := range k.Devices { // all of them, so that time tells nothing
		if subtle.ConstantTimeCompare(sum, []byte(d.Token)) == 1 {
			found = i
		}
	}
	if found < 0 {
		return Person{}, false, nil
	}
	return Person{Name: k.Devices[found].Name, Role: Device}, true, nil
}
