package store

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"io"
	"slices"
	"sync"

	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/limit"
	"rindkeep/wheel/variety"
)

// texts are a library in TOML: what is inside the program, and the
// user's own beside it and in its place.
type texts[T any] struct {
	bucket  string
	thing   reason.Thing
	parse   func(file string, text []byte) (T, error)
	find    func(name string) (T, bool)
	builtin func() []T
	of      func(T) (name, text string)
}

var (
	varieties = texts[variety.Variety]{
		layout.Varieties, "variety", variety.Parse, variety.Find, variety.Builtin,
		func(v variety.Variety) (name, text string) { return v.Name, v.Text },
	}
	plans = texts[schedule.Plan]{
		layout.Plans, "plan", schedule.ParsePlan, schedule.Find, schedule.Builtin,
		func(p schedule.Plan) (name, text string) { return p.Name, p.Text },
	}
	rules = texts[holdrule.Rule]{
		layout.Laws, "rule", holdrule.Parse, holdrule.Find, holdrule.Builtin,
		func(r holdrule.Rule) (name, text string) { return r.Name, r.Text },
	}
)

// limits are those of laboratory tests.
var limits = texts[limit.Limit]{
	layout.Limits, "limit", limit.Parse, limit.Find, limit.Builtin,
	func(l limit.Limit) (name, text string) { return l.Name, l.Text },
}

// libraryKey is a text that was read.
type libraryKey struct{ bucket, name string }

// one gives the text of a name. The error may be a NotFound with names that may
// have been meant.
func (x texts[T]) one(t *ReadTx, name string) (v T, err error) {
	key := libraryKey{x.bucket, name}
	if known, ok := t.parsed[key]; ok {
		return known.(T), nil
	}
	if own := t.tab.Get(x.bucket, []byte(name)); own != nil {
		body, err := pack.Body(own)
		if err == nil {
			v, err = pack.Newer(x.parse(name, slices.Clone(body)))
		}
		if err != nil {
			return v, t.tab.Damaged(err, x.thing, name)
		}
	} else if found, ok := x.find(name); ok {
		v = found
	} else {
		names := t.tab.Keys(x.bucket)
		for _, b := range x.builtin() {
			n, _ := x.of(b)
			names = append(names, n)
		}
		return v, refusal.NotFound{Thing: string(x.thing), Name: name, Near: refusal.Nearest(name, names)}
	}
	t.parsed[key] = v
	return v, nil
}

// all lists the texts by name.
func (x texts[T]) all(t *ReadTx) ([]T, error) {
	out := x.builtin()
	for _, n := range t.tab.Keys(x.bucket) {
		v, err := x.one(t, n)
		if err != nil {
			return nil, err
		}
		out = slices.DeleteFunc(out, func(o T) bool { name, _ := x.of(o); return name == n })
		out = append(out, v)
	}
	slices.SortFunc(out, func(a, b T) int {
		m, _ := x.of(a)
		n, _ := x.of(b)
		return cmp.Compare(m, n)
	})
	return out, nil
}

// put adds a text of the user's own that fits the rest of the book; changed is
// false where it is there already. file is the name errors give.
func (x texts[T]) put(t *WriteTx, file string, text []byte, fits func(T) error) (v T, changed bool, err error) {
	if v, err = x.parse(file, text); err != nil {
		return v, false, refusal.Refused{Cause: err}
	}
	if err := fits(v); err != nil {
		return v, false, err
	}
	name, kept := x.of(v)
	rec := pack.Sealed([]byte(kept))
	if string(t.tab.Get(x.bucket, []byte(name))) == string(rec) {
		return v, false, nil
	}
	t.tab.Put(x.bucket, []byte(name), rec)
	t.parsed[libraryKey{x.bucket, name}] = v
	t.laws = nil
	clear(t.lots)
	return v, true, nil
}

// Variety gives a variety by name: the user's own where there is one, else the
// one inside the program. The error may be a NotFound with names that may have
// been meant.
func (t *ReadTx) Variety(name string) (variety.Variety, error) { return varieties.one(t, name) }

// Varieties lists all varieties by name, the user's own in place of the
// program's.
func (t *ReadTx) Varieties() ([]variety.Variety, error) { return varieties.all(t) }

// Plan gives a rind plan by name, as Variety does.
func (t *ReadTx) Plan(name string) (schedule.Plan, error) { return plans.one(t, name) }

// Plans lists all rind plans by name, the user's own in place of the program's.
func (t *ReadTx) Plans() ([]schedule.Plan, error) { return plans.all(t) }

// OwnVariety says whether the user wrote a variety of that name.
func (t *ReadTx) OwnVariety(name string) bool {
	return t.tab.Get(layout.Varieties, []byte(name)) != nil
}

// OwnPlan says whether the user wrote a plan of that name.
func (t *ReadTx) OwnPlan(name string) bool { return t.tab.Get(layout.Plans, []byte(name)) != nil }

// PutVariety adds a variety of the user's own, or puts it in the place of one
// of that name. file is the name errors give. Wheels of that variety are
// judged again.
func (t *WriteTx) PutVariety(file string, text []byte) (variety.Variety, error) {
	v, changed, err := varieties.put(t, file, text, func(v variety.Variety) error {
		_, err := t.Plan(v.Plan)
		return err
	})
	if err != nil || !changed {
		return v, err
	}
	return v, t.touchAll(func(s derive.WheelState) (bool, error) {
		m, err := t.Make(s.Make)
		return m.Variety == v.Name, err
	})
}

// PutPlan adds a rind plan of the user's own, or replaces the one of that name. file
// is the name that errors give. Wheels on that plan get their tasks again.
func (t *WriteTx) PutPlan(file string, text []byte) (schedule.Plan, error) {
	p, changed, err := plans.put(t, file, text, func(schedule.Plan) error { return nil })
	if err != nil || !changed {
		return p, err
	}
	return p, t.touchAll(func(s derive.WheelState) (bool, error) { return s.Plan == p.Name, nil })
}

// touchAll marks the wheels in the cave that which picks.
func (t *WriteTx) touchAll(which func(derive.WheelState) (bool, error)) error {
	if err := t.flush(); err != nil {
		return err
	}
	for s, err := range t.states() {
		if err != nil {
			return err
		}
		if !s.Here() {
			continue
		}
		if yes, err := which(s); err != nil {
			return err
		} else if yes {
			t.regate(s.Wheel)
		}
	}
	return nil
}

// derivationVersion is raised whenever the derived records would come out
// otherwise from the same facts.
const derivationVersion = "15"

// derivation names what the derived records were made by: the rules, the drying model,
// the plans and varieties inside the program, and the newest reason the index may
// hold. A book made by others gets them made again when it is next opened.
var derivation = sync.OnceValue(func() string {
	h := sha256.New()
	io.WriteString(h, derivationVersion+"\x00"+drying.Model)
	for _, j := range wheel.Jobs {
		io.WriteString(h, "\x00"+string(j))
	}
	for _, text := range slices.Concat(schedule.Texts(), variety.Texts()) {
		h.Write(append([]byte{0}, text...))
	}
	return fmt.Sprintf("%s-%x %d", derivationVersion, h.Sum(nil)[:8], reason.Newest())
})
