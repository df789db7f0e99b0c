package store

import (
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
)

// Buckets of facts that came later: a book from before has none.
const (
	bLaws    = "laws"    // name -> TOML, the user's own rules
	bFollows = "follows" // written, ms | follow -> JSON
)

// Follow says whose law the book's wheels follow from the moment it was written.
// It is never changed; the latest counts. Until the first it is what the book
// was told when it was made.
type Follow struct {
	ID        uuid.UUID `json:"id"`
	Countries string    `json:"countries"` // "CA US"; "": none, the varieties' files decide
	Note      string    `json:"note,omitempty"`
	Written   time.Time `json:"written"`
	By        string    `json:"by,omitempty"`
}

// Check says what is wrong with it, in one sentence.
func (f Follow) Check() error {
	switch {
	case f.ID == uuid.Nil:
		return fmt.Errorf("a choice of countries without an identity")
	case f.Written.Before(epoch):
		return fmt.Errorf("a choice of countries written at no time")
	}
	if err := holdrule.CheckJoined(f.Countries); err != nil {
		return err
	}
	if f.By != "" {
		if err := cave.CheckName("person", f.By); err != nil {
			return err
		}
	}
	return wheel.CheckNote(f.Note)
}

// followKeySize is a followKey's: when it was written, and its identity.
const followKeySize = 8 + len(uuid.Nil)

func followKey(f Follow) []byte {
	b := binary.BigEndian.AppendUint64(make([]byte, 0, followKeySize), uint64(f.Written.UnixMilli()))
	return append(b, f.ID[:]...)
}

// PutFollow has the book follow other countries from now on. The same again, or
// sent twice under one identity, changes nothing: written is false then.
func (t *WriteTx) PutFollow(f Follow) (written bool, err error) {
	f.Written = milli(f.Written)
	if err := f.Check(); err != nil {
		return false, Refused{Why: err.Error(), Cause: err}
	}
	if late := t.Now().Add(lead); f.Written.After(late) {
		return false, refusedf("", "%s is in the future", f.Written.In(t.book.zone).Format("2006-01-02 15:04"))
	}
	fs, err := t.Follows()
	if err != nil {
		return false, err
	}
	if i := slices.IndexFunc(fs, func(o Follow) bool { return o.ID == f.ID }); i >= 0 {
		if o := fs[i]; o.Countries == f.Countries && o.Note == f.Note && o.By == f.By {
			return false, nil
		}
		return false, refusedf("", "another choice of countries bears that identity; give this one its own")
	}
	now := t.Settings().Countries
	for _, o := range fs {
		if !o.Written.After(f.Written) {
			now = o.Countries
		}
	}
	if now == f.Countries {
		return false, nil
	}
	rec, err := encodeJSON(f)
	if err != nil {
		return false, err
	}
	t.put(bFollows, followKey(f), rec)
	t.follows = nil
	clear(t.lots)
	return true, nil
}

// Follows lists whose law the book followed, the earliest first.
func (t *ReadTx) Follows() ([]Follow, error) {
	if t.follows != nil {
		return t.follows, nil
	}
	if err := t.written(bFollows); err != nil {
		return nil, err
	}
	out := []Follow{}
	err := t.scan(bFollows, nil, func(k, v []byte) (bool, error) {
		var f Follow
		if err := decodeJSON(v, &f); err != nil {
			return false, t.damaged(err, "the countries it follows")
		}
		out = append(out, f)
		return true, nil
	})
	if err == nil {
		t.follows = out
	}
	return out, err
}

// Countries are those whose law the book followed up to an instant.
func (t *ReadTx) Countries(before time.Time) ([]string, error) {
	fs, err := t.Follows()
	if err != nil {
		return nil, err
	}
	kept := t.Settings().Countries
	for _, f := range fs {
		if f.Written.Before(before) || before.Equal(maxTime) {
			kept = f.Countries
		}
	}
	return holdrule.ParseCountries(kept)
}

// Law gives a rule by name: the user's own where there is one, else the one
// inside the program. The error may be a NotFound with names that may have been
// meant.
func (t *ReadTx) Law(name string) (holdrule.Rule, error) {
	all, err := t.Laws()
	if err != nil {
		return holdrule.Rule{}, err
	}
	names := make([]string, len(all))
	for i, r := range all {
		if r.Name == name {
			return r, nil
		}
		names[i] = r.Name
	}
	return holdrule.Rule{}, NotFound{Thing: "rule", Name: name, Near: Nearest(name, names)}
}

// Laws lists all rules by name, the user's own in place of the program's.
func (t *ReadTx) Laws() ([]holdrule.Rule, error) {
	if t.laws != nil {
		return t.laws, nil
	}
	out := holdrule.Builtin()
	own, err := t.ownNames(bLaws)
	if err != nil {
		return nil, err
	}
	for _, n := range own {
		body, err := recordBody(t.get(bLaws, []byte(n)))
		if err != nil {
			return nil, t.damaged(err, "rule %s", n)
		}
		r, err := holdrule.Parse(n, append([]byte(nil), body...))
		if err != nil {
			return nil, t.damaged(err, "rule %s", n)
		}
		out = slices.DeleteFunc(out, func(o holdrule.Rule) bool { return o.Name == n })
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b holdrule.Rule) int { return strings.Compare(a.Name, b.Name) })
	t.laws = out
	return out, nil
}

// OwnLaw says whether the user wrote a rule of that name.
func (t *ReadTx) OwnLaw(name string) bool { return t.get(bLaws, []byte(name)) != nil }

// PutLaw adds a rule of the user's own, or puts it in the place of one of that
// name. file is the name errors give. Holds are reckoned when they are asked
// about: nothing derived follows from a rule.
func (t *WriteTx) PutLaw(file string, text []byte) (holdrule.Rule, error) {
	r, err := holdrule.Parse(file, text)
	if err != nil {
		return r, Refused{Why: err.Error(), Cause: err}
	}
	if rec := record([]byte(r.Text)); string(t.get(bLaws, []byte(r.Name))) != string(rec) {
		t.put(bLaws, []byte(r.Name), rec)
		t.laws = nil
		clear(t.lots)
	}
	return r, nil
}

// LawOf is the rules that bear on a make's wheels: of the countries the make was
// written down with or else of the book's up to an instant, and of those in also.
func (t *ReadTx) LawOf(m wheel.Make, v variety.Variety, before time.Time, also ...string) (holdrule.Set, error) {
	countries, err := holdrule.ParseCountries(m.Countries)
	if err != nil {
		return holdrule.Set{}, t.damaged(err, "lot %s", m.Lot)
	}
	if m.Countries == "" {
		if countries, err = t.Countries(before); err != nil {
			return holdrule.Set{}, err
		}
	}
	// What a book without countries holds by, it holds by still where a wheel
	// goes to a country besides; the varieties' files have the rules of the US.
	inUS := func(c string) bool { return c == "US" || strings.HasPrefix(c, "US-") }
	keeps := len(countries) == 0 && !slices.ContainsFunc(also, inUS)
	for _, c := range also {
		if !slices.Contains(countries, c) {
			countries = append(countries, c)
		}
	}
	slices.Sort(countries)
	var all []holdrule.Rule
	if len(countries) > 0 { // reading the library takes as long as a fit
		if all, err = t.Laws(); err != nil {
			return holdrule.Set{}, err
		}
	}
	return holdrule.Select(all, countries, v, keeps || t.OwnVariety(v.Name)), nil
}

// MakeLaw is LawOf as things stand, with the variety looked up.
func (t *ReadTx) MakeLaw(m wheel.Make, also ...string) (holdrule.Set, error) {
	v, err := t.varietyOf(m)
	if err != nil {
		return holdrule.Set{}, err
	}
	return t.LawOf(m, v, maxTime, also...)
}

// laws proves the choices of countries; the rules are proved with the other texts.
func (k *checker) laws() error {
	return k.t.scan(bFollows, nil, func(key, v []byte) (bool, error) {
		var f Follow
		if err := decodeJSON(v, &f); err != nil {
			k.add(fmt.Sprintf("countries followed %x", key), "do not decode", false)
		} else if err := f.Check(); err != nil || string(followKey(f)) != string(key) {
			k.add(fmt.Sprintf("countries followed %x", key), "are not what they should be", false)
		}
		return true, nil
	})
}

func (l *loader) law(line []byte) error {
	return l.toml(line, bLaws, func(file string, text []byte) (string, error) {
		r, err := l.t.PutLaw(file, text)
		return r.Name, err
	})
}

func (l *loader) follows(line []byte) error {
	var f Follow
	if err := strictly(line, &f); err != nil {
		return err
	}
	f.Written = milli(f.Written)
	if err := f.Check(); err != nil {
		return err
	}
	if l.t.get(bFollows, followKey(f)) != nil {
		return fmt.Errorf("the choice of countries %s is in the file already", f.ID)
	}
	rec, err := encodeJSON(f)
	if err != nil {
		return err
	}
	l.t.put(bFollows, followKey(f), rec)
	return nil
}
