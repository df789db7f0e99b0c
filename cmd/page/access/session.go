package access

import (
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"slices"
	"strings"
	"time"
)

// session is what a cookie says, signed.
type session struct {
	ID     string `json:"s"`
	Name   string `json:"n"`
	Stamp  string `json:"p"`
	Issued int64  `json:"i"` // Unix seconds
	Used   int64  `json:"u"` // to within usedEvery
}

// A session ends so long after it was last used, and so long after the log-in.
// A phone in the cellar is used daily; who is away for a week logs in again.
const (
	idleLimit    = 7 * 24 * time.Hour
	SessionLimit = 30 * 24 * time.Hour
	usedEvery    = time.Hour // how exactly it is known when one was last used
)

// LogIn checks a name and a password. A name that nobody has costs as much.
func (a *List) LogIn(name, password string, now time.Time) (cookie string, ok bool, err error) {
	k, err := a.now()
	if err != nil {
		return "", false, err
	}
	// Nobody's password: no person's, with the cost of the first one's.
	h := hash{cost: a.Cost, salt: make([]byte, saltBytes), sum: make([]byte, hashBytes)}
	if len(k.People) > 0 {
		first, err := parseHash(k.People[0].Password)
		if err != nil {
			return "", false, err
		}
		h.cost = first.cost
	}
	i := k.person(strings.TrimSpace(name))
	if i >= 0 {
		if h, err = parseHash(k.People[i].Password); err != nil {
			return "", false, err
		}
	}
	if right := a.is(h, password); !right || i < 0 {
		return "", false, nil
	}
	p := k.People[i]
	return k.signed(session{hex.EncodeToString(random(16)), p.Name, p.Stamp, now.Unix(), now.Unix()}), true, nil
}

// signed is a session as a cookie carries it.
func (k secrets) signed(s session) string {
	b, err := json.Marshal(s)
	if err != nil {
		return ""
	}
	e := base64.RawURLEncoding
	body := e.EncodeToString(b)
	return body + "." + e.EncodeToString(k.mac(body))
}

func (k secrets) mac(body string) []byte {
	m := hmac.New(sha256.New, k.Key)
	m.Write([]byte("rindkeep session 1\n" + body))
	return m.Sum(nil)
}

// opened is the session a cookie carries, if it was signed here.
func (k secrets) opened(cookie string) (s session, ok bool) {
	if len(k.Key) == 0 || len(cookie) > 2048 {
		return s, false
	}
	body, sum, found := strings.Cut(cookie, ".")
	got, err := base64.RawURLEncoding.DecodeString(sum)
	if !found || err != nil || !hmac.Equal(got, k.mac(body)) {
		return s, false
	}
	b, err := base64.RawURLEncoding.DecodeString(body)
	if err != nil || json.Unmarshal(b, &s) != nil {
		return s, false
	}
	return s, true
}

// ByCookie is the person a cookie belongs to. fresh is the cookie to go on with,
// where it is time for another.
func (a *List) ByCookie(cookie string, now time.Time) (p Person, fresh string, ok bool, err error) {
	k, err := a.now()
	if err != nil {
		return p, "", false, err
	}
	s, ok := k.opened(cookie)
	if !ok {
		return p, "", false, nil
	}
	i := k.person(s.Name)
	issued, used := time.Unix(s.Issued, 0), time.Unix(s.Used, 0)
	switch {
	case i < 0,
		subtle.ConstantTimeCompare([]byte(k.People[i].Stamp), []byte(s.Stamp)) != 1,
		now.Sub(issued) >= SessionLimit, now.Sub(used) >= idleLimit,
		slices.ContainsFunc(k.Ended, func(e ended) bool { return e.Session == s.ID }):
		return p, "", false, nil
	}
	if now.Sub(used) >= usedEvery {
		s.Used = now.Unix()
		fresh = k.signed(s)
	}
	return Person{Name: k.People[i].Name, Role: k.People[i].Role}, fresh, true, nil
}

// LogOut ends a session for good, wherever else its cookie is.
func (a *List) LogOut(cookie string, now time.Time) error {
	if _, _, ok, err := a.ByCookie(cookie, now); !ok || err != nil {
		return err
	}
	return a.change(func(k *secrets) error {
		s, ok := k.opened(cookie)
		if !ok {
			return nil
		}
		k.Ended = slices.DeleteFunc(k.Ended, func(e ended) bool { return !e.Until.After(now) })
		k.Ended = append(k.Ended, ended{s.ID, time.Unix(s.Issued, 0).Add(SessionLimit).UTC()})
		return nil
	})
}

// CookieName tells the cookies of two books on one machine apart: a browser
// keeps one jar for all ports.
func (a *List) CookieName() string {
	sum := sha256.Sum256([]byte(a.path))
	return "rindkeep-" + hex.EncodeToString(sum[:4])
}
