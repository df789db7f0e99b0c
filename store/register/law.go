package register

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
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

// Check says what is wrong with it.
func (f Follow) Check() error {
	if err := checkWritten(f.ID, f.Written, f.By); err != nil {
		return err
	}
	if err := holdrule.CheckJoined(f.Countries); err != nil {
		return err
	}
	return wheel.CheckNote(f.Note)
}

// Key is the key of its record.
func (f Follow) Key() []byte { return layout.WrittenKey(f.Written, f.ID) }

// PutFollow has the book follow other countries from now on. The same again, or
// sent twice under one identity, changes nothing: written is false then.
func (t *Writer) PutFollow(f Follow) (written bool, err error) {
	f.Written = pack.Milli(f.Written)
	if err := t.mayCount(f.Check(), f.Written); err != nil {
		return false, err
	}
	fs, err := t.read.Follows()
	if err != nil {
		return false, err
	}
	if i := slices.IndexFunc(fs, func(o Follow) bool { return o.ID == f.ID }); i >= 0 {
		if o := fs[i]; o.Countries == f.Countries && o.Note == f.Note && o.By == f.By {
			return false, nil
		}
		return false, refusal.Because("", refusal.DifferentContent)
	}
	now := t.read.created
	for _, o := range fs {
		if !o.Written.After(f.Written) {
			now = o.Countries
		}
	}
	if now == f.Countries {
		return false, nil
	}
	t.read.follows = nil
	if err := t.changed(Change{Thing: "follow"}); err != nil {
		return false, err
	}
	return table.PutRecord(t.tab, layout.Follows, f.Key(), f)
}

// Follows lists whose law the book followed, the earliest first.
func (t *Reader) Follows() ([]Follow, error) {
	if t.follows != nil {
		return t.follows, nil
	}
	fs, err := table.List[Follow](t.tab, layout.Follows, "follow")
	if err == nil {
		t.follows = append([]Follow{}, fs...)
	}
	return fs, err
}

// Countries are those whose law the book followed up to an instant.
func (t *Reader) Countries(before time.Time) ([]string, error) {
	fs, err := t.Follows()
	if err != nil {
		return nil, err
	}
	kept := t.created
	for _, f := range fs {
		if f.Written.Before(before) || before.Equal(pack.MaxTime) {
			kept = f.Countries
		}
	}
	return holdrule.ParseCountries(kept)
}

// Law gives a rule by name: the user's own where there is one, else the one
// inside the program. The error may be a NotFound with names that may have been
// meant.
func (t *Reader) Law(name string) (holdrule.Rule, error) { return Rules.One(t, name) }

// Laws lists all rules by name, the user's own in place of the program's.
func (t *Reader) Laws() (all []holdrule.Rule, err error) {
	if t.laws == nil {
		t.laws, err = Rules.All(t)
	}
	return t.laws, err
}

// LawOf is the rules that bear on a make's wheels: of the countries the make was
// written down with or else of the book's up to an instant, and of those in also.
func (t *Reader) LawOf(m wheel.Make, v variety.Variety, before time.Time, also ...string) (holdrule.Set, error) {
	countries, err := holdrule.ParseCountries(m.Countries)
	if err != nil {
		return holdrule.Set{}, t.tab.Damaged(err, "lot", m.Lot)
	}
	if m.Countries == "" {
		if countries, err = t.Countries(before); err != nil {
			return holdrule.Set{}, err
		}
	}
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
	return holdrule.Select(all, countries, v, m.SoldAs), nil
}

// MakeLaw is LawOf as things stand, with the variety looked up.
func (t *Reader) MakeLaw(m wheel.Make, also ...string) (holdrule.Set, error) {
	v, err := t.VarietyOf(m)
	if err != nil {
		return holdrule.Set{}, err
	}
	return t.LawOf(m, v, pack.MaxTime, also...)
}
