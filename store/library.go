package store

import (
	"crypto/sha256"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

// Variety gives a variety by name: the user's own where there is one, else the
// one inside the program. The error may be a NotFound with names that may have
// been meant.
func (t *ReadTx) Variety(name string) (variety.Variety, error) {
	if v := t.varieties[name]; v != nil {
		return *v, nil
	}
	if text := t.get(bVarieties, []byte(name)); text != nil {
		body, err := recordBody(text)
		if err != nil {
			return variety.Variety{}, t.damaged(err, "variety %s", name)
		}
		v, err := variety.Parse(name, append([]byte(nil), body...))
		if err != nil {
			return v, t.damaged(err, "variety %s", name)
		}
		t.varieties[name] = &v
		return v, nil
	}
	if v, ok := variety.Find(name); ok {
		t.varieties[name] = &v
		return v, nil
	}
	vs, err := t.Varieties()
	if err != nil {
		return variety.Variety{}, err
	}
	names := make([]string, len(vs))
	for i, v := range vs {
		names[i] = v.Name
	}
	return variety.Variety{}, NotFound{Thing: "variety", Name: name, Near: Nearest(name, names)}
}

// Varieties lists all varieties by name, the user's own in place of the
// program's.
func (t *ReadTx) Varieties() ([]variety.Variety, error) {
	out := variety.Builtin()
	own, err := t.ownNames(bVarieties)
	if err != nil {
		return nil, err
	}
	for _, n := range own {
		v, err := t.Variety(n)
		if err != nil {
			return nil, err
		}
		if i := slices.IndexFunc(out, func(o variety.Variety) bool { return o.Name == n }); i >= 0 {
			out[i] = v
		} else {
			out = append(out, v)
		}
	}
	slices.SortFunc(out, func(a, b variety.Variety) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

// Plan gives a rind plan by name: the user's own where there is one, else the
// one inside the program. The error may be a NotFound with names that may have
// been meant.
func (t *ReadTx) Plan(name string) (schedule.Plan, error) {
	if p := t.plans[name]; p != nil {
		return *p, nil
	}
	if text := t.get(bPlans, []byte(name)); text != nil {
		body, err := recordBody(text)
		if err != nil {
			return schedule.Plan{}, t.damaged(err, "plan %s", name)
		}
		p, err := schedule.ParsePlan(name, append([]byte(nil), body...))
		if err != nil {
			return p, t.damaged(err, "plan %s", name)
		}
		t.plans[name] = &p
		return p, nil
	}
	if p, ok := schedule.Find(name); ok {
		t.plans[name] = &p
		return p, nil
	}
	ps, err := t.Plans()
	if err != nil {
		return schedule.Plan{}, err
	}
	names := make([]string, len(ps))
	for i, p := range ps {
		names[i] = p.Name
	}
	return schedule.Plan{}, NotFound{Thing: "plan", Name: name, Near: Nearest(name, names)}
}

// Plans lists all rind plans by name, the user's own in place of the
// program's.
func (t *ReadTx) Plans() ([]schedule.Plan, error) {
	out := schedule.Builtin()
	own, err := t.ownNames(bPlans)
	if err != nil {
		return nil, err
	}
	for _, n := range own {
		p, err := t.Plan(n)
		if err != nil {
			return nil, err
		}
		if i := slices.IndexFunc(out, func(o schedule.Plan) bool { return o.Name == n }); i >= 0 {
			out[i] = p
		} else {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b schedule.Plan) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

// OwnVariety says whether the user wrote a variety of that name.
func (t *ReadTx) OwnVariety(name string) bool { return t.get(bVarieties, []byte(name)) != nil }

// OwnPlan says whether the user wrote a plan of that name.
func (t *ReadTx) OwnPlan(name string) bool { return t.get(bPlans, []byte(name)) != nil }

func (t *ReadTx) ownNames(bucket string) ([]string, error) {
	var out []string
	for k := range t.pending[bucket] {
		out = append(out, k)
	}
	err := t.scan(bucket, nil, func(k, _ []byte) (bool, error) {
		if !slices.Contains(out, string(k)) {
			out = append(out, string(k))
		}
		return true, nil
	})
	slices.Sort(out)
	return out, err
}

// PutVariety adds a variety of the user's own, or puts it in the place of one
// of that name. file is the name errors give. Wheels of that variety are
// judged again.
func (t *WriteTx) PutVariety(file string, text []byte) (variety.Variety, error) {
	v, err := variety.Parse(file, text)
	if err != nil {
		return v, Refused{Why: err.Error(), Cause: err}
	}
	if _, err := t.Plan(v.Plan); err != nil {
		return v, err
	}
	rec := record([]byte(v.Text))
	if string(t.get(bVarieties, []byte(v.Name))) == string(rec) {
		return v, nil
	}
	t.put(bVarieties, []byte(v.Name), rec)
	t.varieties[v.Name] = &v
	clear(t.lots)
	return v, t.touchAll(func(s WheelState) (bool, error) {
		m, err := t.Make(s.Make)
		return m.Variety == v.Name, err
	})
}

// PutPlan adds a rind plan of the user's own, or puts it in the place of one of
// that name. file is the name errors give. Wheels on that plan get their tasks
// anew.
func (t *WriteTx) PutPlan(file string, text []byte) (schedule.Plan, error) {
	p, err := schedule.ParsePlan(file, text)
	if err != nil {
		return p, Refused{Why: err.Error(), Cause: err}
	}
	rec := record([]byte(p.Text))
	if string(t.get(bPlans, []byte(p.Name))) == string(rec) {
		return p, nil
	}
	t.put(bPlans, []byte(p.Name), rec)
	t.plans[p.Name] = &p
	clear(t.lots)
	return p, t.touchAll(func(s WheelState) (bool, error) { return s.Plan == p.Name, nil })
}

// touchAll marks the wheels in the cave that which picks.
func (t *WriteTx) touchAll(which func(WheelState) (bool, error)) error {
	if err := t.flush(); err != nil {
		return err
	}
	c := t.bucket(bStandings).Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		if len(k) != 16 {
			return t.damaged(errPacked, "its standings")
		}
		s, err := decodeStanding([16]byte(k), v)
		if err != nil {
			return t.damaged(err, "the standing of wheel %x", k)
		}
		if !s.Here() {
			continue
		}
		yes, err := which(s)
		if err != nil {
			return err
		}
		if yes {
			t.dirty[s.Wheel] = touch{gate: true}
		}
	}
	return nil
}

// derivationVersion is raised whenever the derived records would come out
// otherwise from the same facts.
const derivationVersion = "9"

// derivation names what the derived records were made by: the rules, the
// plans and varieties inside the program, and the newest reason the index may
// hold. A book made by others gets them made again when it is next opened.
var derivation = sync.OnceValue(func() string {
	h := sha256.New()
	io.WriteString(h, derivationVersion)
	for _, j := range wheel.Jobs {
		io.WriteString(h, "\x00"+string(j))
	}
	for _, text := range slices.Concat(schedule.Texts(), variety.Texts()) {
		h.Write(append([]byte{0}, text...))
	}
	return fmt.Sprintf("%s-%x %d", derivationVersion, h.Sum(nil)[:8], reason.Newest())
})
