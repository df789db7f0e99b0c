package register

import (
	"cmp"
	"slices"

	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/limit"
	"rindkeep/wheel/variety"
)

// Texts are a library in TOML: what is inside the program, and the
// user's own beside it and in its place.
type Texts[T any] struct {
	Bucket  string // of the user's own
	thing   reason.Thing
	Parse   func(file string, text []byte) (T, error)
	Find    func(name string) (T, bool) // inside the program
	Builtin func() []T
	Of      func(T) (name, text string)
	fits    func(*Reader, T) error // the rest of the book; nil: always
}

// The libraries.
var (
	Varieties = Texts[variety.Variety]{
		layout.Varieties, "variety", variety.Parse, variety.Find, variety.Builtin,
		func(v variety.Variety) (name, text string) { return v.Name, v.Text },
		func(t *Reader, v variety.Variety) error { _, err := t.Plan(v.Plan); return err },
	}
	Plans = Texts[schedule.Plan]{
		layout.Plans, "plan", schedule.ParsePlan, schedule.Find, schedule.Builtin,
		func(p schedule.Plan) (name, text string) { return p.Name, p.Text }, nil,
	}
	Rules = Texts[holdrule.Rule]{
		layout.Laws, "rule", holdrule.Parse, holdrule.Find, holdrule.Builtin,
		func(r holdrule.Rule) (name, text string) { return r.Name, r.Text }, nil,
	}
	Limits = Texts[limit.Limit]{
		layout.Limits, "limit", limit.Parse, limit.Find, limit.Builtin,
		func(l limit.Limit) (name, text string) { return l.Name, l.Text }, nil,
	}
)

// textKey is a text that was read.
type textKey struct{ bucket, name string }

// One gives the text of a name. The error may be a NotFound with names that may
// have been meant.
func (x Texts[T]) One(t *Reader, name string) (v T, err error) {
	key := textKey{x.Bucket, name}
	if known, ok := t.parsed[key]; ok {
		return known.(T), nil
	}
	if own := t.tab.Get(x.Bucket, []byte(name)); own != nil {
		if v, err = x.read([]byte(name), own); err != nil {
			return v, t.tab.Damaged(err, x.thing, name)
		}
	} else if x.strayed(t, name) {
		return v, t.tab.Damaged(nil, x.thing, name)
	} else if found, ok := x.Find(name); ok {
		v = found
	} else {
		names := t.tab.Keys(x.Bucket)
		for _, b := range x.Builtin() {
			n, _ := x.Of(b)
			names = append(names, n)
		}
		return v, refusal.NotFound{Thing: string(x.thing), Name: name, Near: refusal.Nearest(name, names)}
	}
	t.parsed[key] = v
	return v, nil
}

// read reads a text of the user's own, which is kept under its name.
func (x Texts[T]) read(key, rec []byte) (v T, err error) {
	body, err := pack.Body(rec)
	if err == nil {
		v, err = pack.Newer(x.Parse(string(key), slices.Clone(body)))
	}
	if name, _ := x.Of(v); err == nil && name != string(key) {
		err = pack.ErrForm
	}
	return v, err
}

// strayed says whether a text of that name may be among the user's own under another key,
// which a disk changed: one of the program's isn't to take its place.
func (x Texts[T]) strayed(t *Reader, name string) bool {
	keys, met := t.misnamed[x.Bucket]
	if !met {
		for k, rec := range t.tab.In(x.Bucket, nil) {
			if _, err := x.read(k, rec); err != nil {
				keys = append(keys, string(k))
			}
		}
		t.misnamed[x.Bucket] = keys
	}
	return slices.ContainsFunc(keys, func(k string) bool { return table.Like([]byte(k), []byte(name)) })
}

// All lists the texts by name, the user's own in place of the program's.
func (x Texts[T]) All(t *Reader) ([]T, error) {
	out := x.Builtin()
	for _, n := range t.tab.Keys(x.Bucket) {
		v, err := x.One(t, n)
		if err != nil {
			return nil, err
		}
		out = slices.DeleteFunc(out, func(o T) bool { name, _ := x.Of(o); return name == n })
		out = append(out, v)
	}
	slices.SortFunc(out, func(a, b T) int {
		m, _ := x.Of(a)
		n, _ := x.Of(b)
		return cmp.Compare(m, n)
	})
	return out, nil
}

// Name reads a text and gives the name it has in it. file is the name errors give.
func (x Texts[T]) Name(file string, text []byte) (string, error) {
	v, err := x.Parse(file, text)
	name, _ := x.Of(v)
	return name, err
}

// Put adds a text of the user's own that fits the rest of the book, or puts it in the place
// of the one of that name. file is the name errors give.
func (x Texts[T]) Put(t *Writer, file string, text []byte) (v T, err error) {
	if v, err = x.Parse(file, text); err != nil {
		return v, refusal.Refused{Cause: err}
	}
	if x.fits != nil {
		if err := x.fits(t.read, v); err != nil {
			return v, err
		}
	}
	name, kept := x.Of(v)
	rec := pack.Sealed([]byte(kept))
	if string(t.tab.Get(x.Bucket, []byte(name))) == string(rec) {
		return v, nil
	}
	t.tab.Put(x.Bucket, []byte(name), rec)
	t.read.parsed[textKey{x.Bucket, name}] = v
	t.read.laws = nil
	return v, t.changed(Change{Thing: x.thing, Name: name})
}

// Own says whether the user wrote a text of that name.
func (x Texts[T]) Own(t *Reader, name string) bool { return t.tab.Get(x.Bucket, []byte(name)) != nil }

// Variety gives a variety by name: the user's own where there is one, else the
// one inside the program. The error may be a NotFound with names that may have
// been meant.
func (t *Reader) Variety(name string) (variety.Variety, error) { return Varieties.One(t, name) }

// Varieties lists all varieties by name, the user's own in place of the
// program's.
func (t *Reader) Varieties() ([]variety.Variety, error) { return Varieties.All(t) }

// OwnVariety says whether the user wrote a variety of that name.
func (t *Reader) OwnVariety(name string) bool { return Varieties.Own(t, name) }

// VarietyOf is the variety of a make; one that is no longer known gives a
// variety that says nothing.
func (t *Reader) VarietyOf(m wheel.Make) (variety.Variety, error) {
	v, err := t.Variety(m.Variety)
	if refusal.IsNotFound(err) {
		return variety.Variety{Name: m.Variety}, nil
	}
	return v, err
}

// Plan gives a rind plan by name, as Variety does.
func (t *Reader) Plan(name string) (schedule.Plan, error) { return Plans.One(t, name) }

// Plans lists all rind plans by name, the user's own in place of the program's.
func (t *Reader) Plans() ([]schedule.Plan, error) { return Plans.All(t) }

// OwnPlan says whether the user wrote a plan of that name.
func (t *Reader) OwnPlan(name string) bool { return Plans.Own(t, name) }

// Limit gives a limit by name: the user's own where there is one, else the one inside
// the program. The error may be a NotFound with names that may have been meant.
func (t *Reader) Limit(name string) (limit.Limit, error) { return Limits.One(t, name) }

// Limits lists all limits by name, the user's own in place of the program's.
func (t *Reader) Limits() ([]limit.Limit, error) { return Limits.All(t) }
