package store

import (
	"bytes"
	"cmp"
	"iter"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// Wheel gives a wheel as it came into the book; State says where it is now. The
// error may be a NotFound.
func (t *ReadTx) Wheel(id uuid.UUID) (wheel.Wheel, error) {
	if w, ok := t.wheels[id]; ok {
		return w, nil
	}
	w, ok, err := table.Record[wheel.Wheel](t.tab, layout.Wheels, id[:], "wheel")
	if !ok || err != nil {
		return w, cmp.Or[error](err, refusal.NotFound{Thing: "wheel", Name: id.String()})
	}
	return remember(t.wheels, id, w), nil
}

// WheelByTag gives a wheel by the tag it has now, in any case. The error may
// be a NotFound with tags that may have been meant.
func (t *ReadTx) WheelByTag(tag string) (wheel.Wheel, error) {
	if err := t.current(uuid.Nil); err != nil {
		return wheel.Wheel{}, err
	}
	id, err := t.named(layout.Tags, "wheel", tag, func(id uuid.UUID) (string, error) {
		s, err := t.State(id)
		return s.Tag, err
	})
	if err != nil {
		return wheel.Wheel{}, err
	}
	return t.Wheel(id)
}

// HadTag lists the wheels that have or had a tag and were at some time given another, in
// the order of their identities: theirs may be another wheel's now.
func (t *ReadTx) HadTag(tag string) (out []uuid.UUID, err error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	of := append(layout.Fold(tag), 0)
	for k := range t.tab.In(layout.HadTags, of) {
		out = append(out, uuid.UUID(k[len(of):]))
	}
	return out, nil
}

// HasTag says whether a wheel has the tag now.
func (t *ReadTx) HasTag(tag string) bool {
	if t.current(uuid.Nil) != nil {
		return true
	}
	return t.tab.Get(layout.Tags, layout.Fold(tag)) != nil
}

// TagsStarting lists the wheels whose tag begins with prefix, in any case, in
// the order of their tags; all of them for "".
func (t *ReadTx) TagsStarting(prefix string) ([]derive.WheelState, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	var out []derive.WheelState
	for _, v := range t.tab.In(layout.Tags, layout.Fold(prefix)) {
		id, err := layout.DecodeID(v)
		if err != nil {
			return nil, t.tab.Damaged(err, "index", layout.Tags)
		}
		s, err := t.State(id)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// EachWheel goes through all wheels as they came, in the order of their
// identities. After an error there is nothing more.
func (t *ReadTx) EachWheel() iter.Seq2[wheel.Wheel, error] {
	return table.Records[wheel.Wheel](t.tab, layout.Wheels, "wheel")
}

// State is where a wheel stands now. The error may be a NotFound.
func (t *ReadTx) State(id uuid.UUID) (derive.WheelState, error) {
	if err := t.current(id); err != nil {
		return derive.WheelState{}, err
	}
	s, ok, err := t.state(id)
	if err == nil && !ok {
		err = refusal.NotFound{Thing: "wheel", Name: id.String()}
	}
	return s, err
}

// TagOf is the tag that a wheel has now. Unlike State it asks nothing of the wheel's drying: while
// a table is put, each wheel is judged once.
func (t *ReadTx) TagOf(id uuid.UUID) (string, error) {
	if err := t.current(uuid.Nil); err != nil {
		return "", err
	}
	if s, ok, err := t.state(id); ok || err != nil {
		return s.Tag, err
	}
	w, err := t.Wheel(id)
	return w.Tag, err
}

func (t *ReadTx) state(id uuid.UUID) (derive.WheelState, bool, error) {
	v := t.tab.Get(layout.Standings, id[:])
	if v == nil {
		return derive.WheelState{}, false, nil
	}
	s, err := derive.DecodeState(id, v)
	if err != nil {
		return s, false, t.tab.Damaged(err, "standing", id)
	}
	return s, true, nil
}

// States goes through where all wheels stand, gone ones too, in the order
// of their identities. After an error there is nothing more.
func (t *ReadTx) States() iter.Seq2[derive.WheelState, error] {
	return func(yield func(derive.WheelState, error) bool) {
		if err := t.ready(); err != nil {
			yield(derive.WheelState{}, err)
			return
		}
		t.states()(yield)
	}
}

// states is States of what is written.
func (t *ReadTx) states() iter.Seq2[derive.WheelState, error] {
	return func(yield func(derive.WheelState, error) bool) {
		for k, v := range t.tab.In(layout.Standings, nil) {
			id, err := uuid.FromBytes(k)
			var s derive.WheelState
			if err == nil {
				s, err = derive.DecodeState(id, v)
			}
			if err != nil {
				err = t.tab.Damaged(err, "standing", k)
			}
			if !yield(s, err) || err != nil {
				return
			}
		}
	}
}

// AddWheels writes new wheels. Their make, plan and room must be in the book
// and their tags free. A wheel sent again as it was changes nothing; another
// content under the same identity is refused.
func (t *WriteTx) AddWheels(ws []wheel.Wheel) error {
	if err := t.current(uuid.Nil); err != nil { // so that the tags are true
		return err
	}
	c, err := t.count()
	if err != nil {
		return err
	}
	for i, w := range ws {
		w.Since, w.Written = pack.Milli(w.Since), pack.Milli(w.Written)
		m, err := t.checkWheel(w)
		if err = cmp.Or(err, t.tab.CheckOwner("lot", m.Lot)); err != nil {
			return refusal.At(err, w.Tag, i)
		}
		rec, err := pack.JSON(w)
		if err != nil {
			return err
		}
		if old := t.tab.Get(layout.Wheels, w.ID[:]); old != nil {
			if bytes.Equal(old, rec) {
				continue
			}
			return refusal.Refused{Subject: w.Tag, Index: i, Cause: reason.Err(refusal.DifferentContent)}
		}
		if t.tab.Get(layout.Tags, layout.Fold(w.Tag)) != nil {
			return refusal.Refused{Index: i, Cause: reason.Err(refusal.Taken{What: "tag", Name: w.Tag})}
		}
		c.Wheels++
		t.tab.Put(layout.Wheels, w.ID[:], rec)
		t.tab.Put(layout.Tags, layout.Fold(w.Tag), layout.IDValue(w.ID))
		t.index(wheelIndex(w))
		t.subjects[w.ID] = history.Of(m, true, t.Zone(), nil) // nothing can be known of it yet
		t.dirty[w.ID] = touch{gate: true}
		remember(t.wheels, w.ID, w)
	}
	return nil
}

func (t *ReadTx) checkWheel(w wheel.Wheel) (wheel.Make, error) {
	var none wheel.Make
	if err := t.tab.CheckOwn("tag", w.Tag); err != nil {
		return none, err
	}
	switch {
	case w.Since.Before(pack.Epoch) || w.Written.Before(pack.Epoch):
		return none, reason.Err(refusal.Before1970)
	case w.Since.After(t.tab.Latest()):
		return none, reason.Err(refusal.FutureTime{At: w.Since.In(t.Zone())})
	}
	if err := w.Check(); err != nil {
		return none, err
	}
	m, err := t.Make(w.Make)
	if err != nil {
		return none, err
	}
	if m.Removed {
		return none, reason.Err(refusal.LotRemoved{Lot: m.Lot})
	}
	if _, err := t.Plan(w.Plan); err != nil {
		return none, err
	}
	if w.Place != "" {
		if err := t.checkPlace(w.Place); err != nil {
			return none, err
		}
	}
	return m, nil
}

// checkSite says whether a wheel may be sent to a site.
func (t *ReadTx) checkSite(name string) error {
	if t.tab.TakesAll() {
		return nil
	}
	known, err := t.SiteNames()
	if err != nil || slices.Contains(known, name) {
		return err
	}
	return refusal.NotFound{Thing: "site", Name: name, Near: refusal.Nearest(name, known)}
}

// checkPlace says whether a wheel may be put there.
func (t *ReadTx) checkPlace(p cave.Place) error {
	q, err := cave.ParsePlace(string(p))
	if err != nil {
		return err
	}
	if q != p {
		return reason.Err(refusal.Respell{Word: string(p), As: string(q)})
	}
	if err := t.tab.CheckOwner("room", p.Room()); err != nil || p.Site() != "" {
		return err // of what's taken the room may not have come yet
	}
	_, err = t.Room(p.Room())
	return err
}

// WheelsAt lists the wheels that lie in a place or a deeper part of it, by
// place as a person walks and then by tag. Wheels that are gone lie nowhere.
func (t *ReadTx) WheelsAt(p cave.Place) ([]derive.WheelState, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	var out []derive.WheelState
	for _, sep := range []string{"\x00", "/"} {
		for k := range t.tab.In(layout.Places, []byte(string(p)+sep)) {
			if len(k) < 17 {
				return nil, t.tab.Damaged(pack.ErrForm, "index", layout.Places)
			}
			s, err := t.State(uuid.UUID(k[len(k)-16:]))
			if err != nil {
				return nil, err
			}
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(a, b derive.WheelState) int {
		return cmp.Or(cave.NaturalCompare(string(a.Place), string(b.Place)), cave.NaturalCompare(a.Tag, b.Tag))
	})
	return out, nil
}

// PlacesStarting lists the places where wheels lie whose name begins with
// prefix, in walking order by name.
func (t *ReadTx) PlacesStarting(prefix string) ([]cave.Place, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	var out []cave.Place
	for k := range t.tab.In(layout.Shelves, []byte(prefix)) {
		out = append(out, cave.Place(k))
	}
	slices.SortFunc(out, func(a, b cave.Place) int { return cave.NaturalCompare(string(a), string(b)) })
	return out, nil
}
