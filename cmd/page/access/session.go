package access

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"slices"
	"strings"
	"time"
)

// keptSession is a browser that somebody is logged in with. Its cookie is 256 random
// bits, of which the file has the digest alone.
type keptSession struct {
	Cookie string    `json:"cookie_sha256"`
	Name   string    `json:"name"`
	Device string    `json:"device"`
	Since  time.Time `json:"since"`
	Seen   time.Time `json:"seen"` // to within seenEvery
}

// A session ends so long after it was last used, and so long after the log-in.
// A phone in the cellar is used daily; who is away for a week logs in again.
const (
	idleLimit    = 7 * 24 * time.Hour
	SessionLimit = 30 * 24 * time.Hour
	seenEvery    = time.Hour
	mostSessions = 50 // of one person; the one not used for longest makes room
)

func (s keptSession) over(now time.Time) bool {
	return now.Sub(s.Since) >= SessionLimit || now.Sub(s.Seen) >= idleLimit
}

// id names a session to the person whose it is, and logs nobody in.
func (s keptSession) id() string { return s.Cookie[:min(16, len(s.Cookie))] }

// Session is one of a person's sessions.
type Session struct {
	ID     string
	Device string // as its browser named itself at the log-in
	Since  time.Time
	Seen   time.Time // to the hour
	Here   bool      // it's the one who asks
}

// LogIn checks a name and a password, and begins a session of a device. A name that
// nobody has costs as much.
func (a *List) LogIn(name, password, device string, now time.Time) (cookie string, ok bool, err error) {
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
	cookie = base64.RawURLEncoding.EncodeToString(random(32))
	at := now.UTC().Truncate(time.Second)
	err = a.change(func(k *secrets) error {
		// The password may have been changed since it was compared.
		if i := k.person(p.Name); i < 0 || k.People[i].Password != p.Password {
			return errNobody
		}
		k.Sessions = slices.DeleteFunc(k.Sessions, func(s keptSession) bool { return s.over(now) })
		k.makeRoom(p.Name)
		k.Sessions = append(k.Sessions, keptSession{digest(cookie), p.Name, device, at, at})
		return nil
	})
	if errors.Is(err, errNobody) {
		return "", false, nil
	}
	return cookie, err == nil, err
}

// makeRoom ends the session of a person that was not used for longest, where they
// have as many as they may.
func (k *secrets) makeRoom(name string) {
	n, oldest := 0, -1
	for i, s := range k.Sessions {
		if s.Name == name {
			if n++; oldest < 0 || s.Seen.Before(k.Sessions[oldest].Seen) {
				oldest = i
			}
		}
	}
	if n >= mostSessions {
		k.Sessions = slices.Delete(k.Sessions, oldest, oldest+1)
	}
}

// end ends the sessions of a person, but for one.
func (k *secrets) end(name, but string) {
	k.Sessions = slices.DeleteFunc(k.Sessions, func(s keptSession) bool { return s.Name == name && s.Cookie != but })
}

// session is where the session of a cookie is; -1: there's none, or it's over.
func (k secrets) session(cookie string, now time.Time) int {
	sum := digest(cookie)
	return slices.IndexFunc(k.Sessions, func(s keptSession) bool { return s.Cookie == sum && !s.over(now) })
}

// ByCookie is the person a cookie belongs to.
func (a *List) ByCookie(cookie string, now time.Time) (p Person, ok bool, err error) {
	k, err := a.now()
	if err != nil {
		return p, false, err
	}
	i := k.session(cookie, now)
	if i < 0 {
		return p, false, nil
	}
	of := k.person(k.Sessions[i].Name)
	if of < 0 {
		return p, false, nil
	}
	if now.Sub(k.Sessions[i].Seen) >= seenEvery {
		err = a.change(func(k *secrets) error {
			if i := k.session(cookie, now); i >= 0 {
				k.Sessions[i].Seen = now.UTC().Truncate(time.Second)
			}
			return nil
		})
	}
	return Person{Name: k.People[of].Name, Role: k.People[of].Role}, true, err
}

// Sessions are those of the person that a cookie belongs to, last used first.
func (a *List) Sessions(cookie string, now time.Time) ([]Session, error) {
	k, err := a.now()
	i := k.session(cookie, now)
	if err != nil || i < 0 {
		return nil, err
	}
	own := k.Sessions[i]
	var out []Session
	for _, s := range k.Sessions {
		if s.Name == own.Name && !s.over(now) {
			out = append(out, Session{s.id(), s.Device, s.Since, s.Seen, s.Cookie == own.Cookie})
		}
	}
	slices.SortStableFunc(out, func(x, y Session) int { return y.Seen.Compare(x.Seen) })
	return out, nil
}

// EndSession ends one of the sessions of the person that a cookie belongs to; ok is
// false where they have none of that ID.
func (a *List) EndSession(cookie, id string, now time.Time) (ok bool, err error) {
	err = a.change(func(k *secrets) error {
		i := k.session(cookie, now)
		if i < 0 {
			return nil
		}
		own, had := k.Sessions[i], len(k.Sessions)
		k.Sessions = slices.DeleteFunc(k.Sessions, func(s keptSession) bool { return s.Name == own.Name && s.id() == id })
		ok = len(k.Sessions) < had
		return nil
	})
	return ok, err
}

// LogOut ends a session for good, wherever else its cookie is.
func (a *List) LogOut(cookie string, now time.Time) error {
	k, err := a.now()
	if err != nil || k.session(cookie, now) < 0 {
		return err
	}
	_, err = a.EndSession(cookie, keptSession{Cookie: digest(cookie)}.id(), now)
	return err
}

// ChangePassword gives the person that a cookie belongs to another password, if the
// old one is right, and ends their other sessions.
func (a *List) ChangePassword(cookie, old, password string, now time.Time) (right bool, err error) {
	k, err := a.now()
	i := k.session(cookie, now)
	if err != nil || i < 0 {
		return false, err
	}
	name := k.Sessions[i].Name
	of := k.person(name)
	if of < 0 {
		return false, nil
	}
	kept := k.People[of].Password
	h, err := parseHash(kept)
	if err != nil || !a.is(h, old) {
		return false, err
	}
	if err := CheckPassword(name, password); err != nil {
		return true, err
	}
	is := hashed(password, a.Cost).String()
	return true, a.change(func(k *secrets) error {
		i := k.person(name)
		if i < 0 || k.People[i].Password != kept {
			return errors.New("the password was changed elsewhere meanwhile; nothing was changed here")
		}
		k.People[i].Password, k.People[i].Since = is, now.UTC().Truncate(time.Second)
		k.end(name, digest(cookie))
		return nil
	})
}

// Trust is a cookie for a browser that somebody has logged in with. It lets nobody
// in: it tells that browser's log-ins as that person from those of strangers.
func (a *List) Trust(name string) (cookie string, err error) {
	k, err := a.now()
	if err != nil {
		return "", err
	}
	id := hex.EncodeToString(random(16))
	return id + "." + k.trust(id, name), nil
}

// Trusts is the browser that a cookie of Trust is of, "" where it isn't one for logging in
// as that person.
func (a *List) Trusts(cookie, name string) string {
	k, err := a.now()
	id, sum, _ := strings.Cut(cookie, ".")
	if err != nil || len(k.Key) == 0 || !hmac.Equal([]byte(sum), []byte(k.trust(id, name))) {
		return ""
	}
	return id
}

func (k secrets) trust(id, name string) string {
	m := hmac.New(sha256.New, k.Key)
	m.Write([]byte("rindkeep browser 1\n" + id + "\n" + strings.ToLower(strings.TrimSpace(name))))
	return hex.EncodeToString(m.Sum(nil))
}

// CookieName tells the cookies of two books on one machine apart: a browser
// keeps one jar for all ports.
func (a *List) CookieName() string { return "rindkeep-" + digest(a.path)[:8] }
