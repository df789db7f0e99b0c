package store

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/refusal"
)

// Two books of one site may give the same lot code or tag before they hear of each other: a
// restored book and the one it replaced. Both keep it. The index leads to the smallest
// identity, and Twins names the others.

// twinKey is the key in Twins of one that has a name besides the one in the index.
func twinKey(bucket string, name []byte, id uuid.UUID) []byte {
	return append(append(layout.TwinsOf(bucket, name), 0), id[:]...)
}

// clashKey is the key in Twins of a wheel whose entries clash.
func clashKey(id uuid.UUID) []byte { return twinKey(layout.Wheels, nil, id) }

// name has the index of lots or tags lead to a make or wheel, beside others of that name.
func (t *WriteTx) name(bucket, name string, id uuid.UUID) error {
	k := layout.Fold(name)
	if v := t.tab.Get(bucket, k); v != nil {
		other, err := layout.DecodeID(v)
		if err != nil {
			return t.tab.Damaged(err, "index", bucket)
		}
		if other == id {
			return nil
		}
		if byID(other, id) < 0 {
			id, other = other, id
		}
		t.tab.Put(layout.Twins, twinKey(bucket, k, other), layout.Plain)
	}
	t.tab.Put(bucket, k, layout.IDValue(id))
	return nil
}

// unname takes a make or wheel out of the index; the next of that name takes its place.
func (t *WriteTx) unname(bucket, name string, id uuid.UUID) error {
	k := layout.Fold(name)
	v := t.tab.Get(bucket, k)
	if v == nil {
		return nil
	}
	if of, err := layout.DecodeID(v); err != nil {
		return t.tab.Damaged(err, "index", bucket)
	} else if of != id {
		if tk := twinKey(bucket, k, id); t.tab.Get(layout.Twins, tk) != nil {
			t.tab.Put(layout.Twins, tk, nil)
		}
		return nil
	}
	t.tab.Put(bucket, k, nil)
	if !t.Shared() {
		return nil
	}
	if err := t.tab.Flush(layout.Twins); err != nil {
		return err
	}
	ids, err := t.Twins(bucket, k)
	if err != nil || len(ids) == 0 {
		return err
	}
	t.tab.Put(layout.Twins, twinKey(bucket, k, ids[0]), nil)
	t.tab.Put(bucket, k, layout.IDValue(ids[0]))
	return nil
}

// Twins lists those that have a name besides the one in the index.
func (t *ReadTx) Twins(bucket string, name []byte) (ids []uuid.UUID, err error) {
	of := append(layout.TwinsOf(bucket, name), 0)
	for k := range t.tab.In(layout.Twins, of) {
		if len(k) == len(of)+16 {
			ids = append(ids, uuid.UUID(k[len(of):]))
		}
	}
	return ids, nil
}

// MeantBy lists the makes or wheels that a name may mean in a shared book: this site's, and
// those of others that call one so.
func (t *ReadTx) MeantBy(bucket, name string) ([]uuid.UUID, error) {
	ids, err := t.called(bucket, name)
	if bare, is := layout.CutTwin(name); bare != name && len(ids) == 0 && err == nil {
		ids, err = t.called(bucket, bare)
		ids = slices.DeleteFunc(ids, func(id uuid.UUID) bool { return !is(id) })
	}
	return ids, err
}

func (t *ReadTx) called(bucket, bare string) ([]uuid.UUID, error) {
	own, _ := t.Own()
	names := []string{bare}
	if site, rest := cave.Sited(bare); site == "" {
		others, err := t.SiteNames()
		if err != nil {
			return nil, err
		}
		for _, o := range others {
			names = append(names, o+":"+bare)
		}
	} else if strings.EqualFold(site, own.Name) {
		names[0] = rest
	}
	var out []uuid.UUID
	for _, n := range names {
		k := layout.Fold(n)
		v := t.tab.Get(bucket, k)
		if v == nil {
			continue
		}
		id, err := layout.DecodeID(v)
		if err != nil {
			return nil, t.tab.Damaged(err, "index", bucket)
		}
		more, err := t.Twins(bucket, k)
		if err != nil {
			return nil, err
		}
		out = append(append(out, id), more...)
	}
	return out, nil
}

// atHand leaves out the wheels that are at other sites, if any isn't: a tag that's read off a
// wheel here isn't theirs.
func (t *ReadTx) atHand(ids []uuid.UUID) ([]uuid.UUID, error) {
	var here []uuid.UUID
	for _, id := range ids {
		s, err := t.State(id)
		if err != nil {
			return nil, err
		}
		if s.Place.Site() == "" {
			here = append(here, id)
		}
	}
	if len(here) > 0 {
		return here, nil
	}
	return ids, nil
}

// oneOf picks what a name means in a shared book. If it may mean several, the error names them.
func (t *ReadTx) oneOf(
	thing reason.Thing, name string, ids []uuid.UUID, nameOf func(uuid.UUID) (string, error),
) (uuid.UUID, error) {
	own, _ := t.Own()
	var names []string
	for _, id := range ids {
		n, err := nameOf(id)
		if err != nil {
			return uuid.Nil, err
		}
		if site, _ := cave.Sited(n); site == "" {
			n = own.Name + ":" + n
		}
		names = append(names, n)
	}
	out := slices.Clone(names)
	for i, n := range names {
		if slices.Index(names, n) != i || slices.Contains(names[i+1:], n) {
			out[i] = layout.TwinName(n, ids[i])
		}
	}
	slices.Sort(out)
	return uuid.Nil, reason.Err(refusal.Several{What: thing, Name: name, Names: out})
}
