package sites

import (
	"bytes"
	"hash/crc32"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// Names turns what one site calls its rooms, lots and wheels into what another calls them. A
// site uses its own names bare; elsewhere they have the site before them. So what north calls
// the cellar is north:cellar at south, and no two sites' names collide.
type Names struct {
	From, Here string    // the site that wrote, and the one that reads
	Site       uuid.UUID // that wrote
}

// Own says whether a site reads what it wrote itself, with another book.
func (n Names) Own() bool { return n.From == n.Here }

// Name is what a name that From wrote is here.
func (n Names) Name(name string) string {
	site, rest := cave.Sited(name)
	switch {
	case name == "" || rest == "" || n.Own(): // on the way to a site, which everybody names
		return name
	case site == "":
		return n.From + ":" + rest
	case site == n.Here:
		return rest
	}
	return name
}

// Source is the number here of a source of the air: bare for the site's own, else with the
// site's before it.
func (n Names) Source(number uint64) uint64 {
	if n.Own() || number == 0 {
		return number
	}
	return uint64(crc32.ChecksumIEEE(n.Site[:])|1)<<32 | number&OwnSources
}

// OwnSources are the numbers that a site gives its own sources of the air: up to this.
const OwnSources = 1<<32 - 1

// Stays are the buckets whose records only tell of the site that wrote them: another site
// doesn't take them up.
var Stays = map[string]bool{
	layout.Book: true, layout.Follows: true, layout.Releasers: true, layout.Sites: true, layout.Mappings: true,
}

// Fact is a record as it's kept here. Records of sources of the air are the caller's. k is nil of a
// record that bears another site's name: only that one writes it.
func (n Names) Fact(bucket string, key, value []byte) (k, v []byte, err error) {
	if k, v, err = n.here(bucket, key, value); k != nil && n.Own() {
		return key, value, err
	}
	return k, v, err
}

func (n Names) here(bucket string, key, value []byte) (k, v []byte, err error) {
	switch bucket {
	case layout.Entries:
		return n.entry(key, value)
	case layout.Makes:
		return renamed(key, value, func(m *wheel.Make) bool { return n.give(&m.Lot) })
	case layout.Wheels:
		return renamed(key, value, func(w *wheel.Wheel) bool {
			w.Place = cave.Place(n.Name(string(w.Place)))
			return n.give(&w.Tag)
		})
	case layout.Rooms:
		return renamed([]byte(n.Name(string(key))), value, func(r *cave.Room) bool { return n.give(&r.Name) })
	case layout.Air:
		name, at, ok := bytes.Cut(key, []byte{0})
		if !ok || len(at) != 8 {
			return nil, nil, pack.ErrForm
		}
		r, err := pack.ReadAir(key, value)
		room := string(name)
		if err != nil || !n.give(&room) {
			return nil, nil, err
		}
		k = layout.AirKey(room, r.At)
		r.Source = n.Source(r.Source)
		return k, pack.Air(k, r), nil
	}
	return key, value, nil
}

// give makes a name what it is here; ok is false of one that isn't the writer's to give.
func (n Names) give(name *string) (ok bool) {
	site, _ := cave.Sited(*name)
	*name = n.Name(*name)
	return site == ""
}

func (n Names) entry(key, value []byte) (k, v []byte, err error) {
	e, err := pack.ReadEntry(key, value)
	was := e
	if err != nil || !n.give(&e.Tag) {
		return nil, nil, err
	}
	e.Place = cave.Place(n.Name(string(e.Place)))
	if e.Kind == wheel.Logged {
		if l, err := wheel.ParseMakeLog(e.Detail); err == nil && (l.ToLot != "" || l.FromLot != "") {
			l.ToLot, l.FromLot = n.Name(l.ToLot), n.Name(l.FromLot)
			e.Detail = l.Detail()
		}
	}
	if e == was {
		return key, value, nil
	}
	return key, pack.Entry(e), nil
}

// renamed changes the names in a record kept as JSON, unless they aren't the writer's to give.
func renamed[T any](key, value []byte, rename func(*T) bool) (k, v []byte, err error) {
	var x T
	if err := pack.ReadJSON(value, &x); err != nil || !rename(&x) {
		return nil, nil, err
	}
	v, err = pack.JSON(x)
	return key, v, err
}
