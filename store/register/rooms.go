package register

import (
	"cmp"
	"errors"
	"slices"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"

	"github.com/google/uuid"
)

// Rooms lists the rooms in walking order.
func (t *Reader) Rooms() ([]cave.Room, error) {
	if err := t.tab.Flush(layout.Rooms); err != nil {
		return nil, err
	}
	var out []cave.Room
	for k, v := range t.tab.In(layout.Rooms, nil) {
		var r cave.Room
		err := pack.ReadJSON(v, &r)
		if err == nil && r.Name != string(k) {
			err = pack.ErrForm // a damaged book may lead to another bucket's records
		}
		if err == nil {
			out = append(out, r)
		} else if err := t.tab.Unread("room", k, err); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(out, func(a, b cave.Room) int {
		return cmp.Or(a.Order-b.Order, cave.NaturalCompare(a.Name, b.Name))
	})
	return out, nil
}

// Room gives a room by its name, spelt as it is. The error may be a NotFound
// with rooms that may have been meant.
func (t *Reader) Room(name string) (cave.Room, error) {
	if r, ok := t.rooms[name]; ok {
		return r, nil
	}
	r, ok, err := table.Record[cave.Room](t.tab, layout.Rooms, []byte(name), "room")
	switch {
	case ok && r.Name != name:
		return r, t.tab.Damaged(pack.ErrForm, "room", []byte(name))
	case err != nil:
		return r, err
	case ok:
		t.rooms[name] = r
		return r, nil
	}
	if !t.listed { // says it if the bucket has other records than rooms
		if _, err := t.Rooms(); err != nil {
			return r, err
		}
		t.listed = true
	}
	names := t.tab.Keys(layout.Rooms)
	if i := slices.IndexFunc(names, func(n string) bool { return strings.EqualFold(n, name) }); i >= 0 {
		return r, refusal.NotFound{Thing: "room", Name: name, Near: names[i : i+1]}
	}
	return r, refusal.NotFound{Thing: "room", Name: name, Near: refusal.Nearest(name, names)}
}

// PutRoom adds a room, or changes the one of that name. A name that differs
// from another room's in nothing but case is refused. Where the air it is set
// to changes, the wheels that are drying in it are judged again.
func (t *Writer) PutRoom(r cave.Room) error {
	r.Written = pack.Milli(r.Written)
	if err := r.Check(); err != nil {
		return refusal.Refused{Cause: err}
	}
	if err := t.tab.CheckOwn("room", r.Name); err != nil {
		return refusal.Refused{Cause: err}
	}
	if r.ID == uuid.Nil {
		return refusal.Because(r.Name, reason.Missing{What: "id"})
	}
	if err := cmp.Or(checkName("title", r.Title), checkName("person", r.By)); err != nil {
		return refusal.Refused{Subject: r.Name, Cause: err}
	}
	changed := Change{Thing: "room", Name: r.Name}
	old, err := t.read.Room(r.Name)
	var nf refusal.NotFound
	switch {
	case errors.As(err, &nf):
		for _, n := range nf.Near {
			if strings.EqualFold(n, r.Name) {
				return refusal.Because("", refusal.Taken{What: "room", Name: n})
			}
		}
	case err != nil:
		return err
	case old.SetPoint() != r.SetPoint() || old.Movement != r.Movement || !slices.Equal(old.Tests, r.Tests):
		changed.Thing = "air"
	}
	if new, err := table.PutRecord(t.tab, layout.Rooms, []byte(r.Name), r); err != nil || !new {
		return err
	}
	t.read.rooms[r.Name] = r
	return t.changed(changed)
}
