package sites

import (
	"bytes"
	"encoding/binary"
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
	if n.Own() || number == 0 || number > OwnSources {
		return number
	}
	return uint64(crc32.ChecksumIEEE(n.Site[:])|1)<<32 | number
}

// OwnSources are the numbers that a site gives its own sources of the air: up to this.
const OwnSources = 1<<32 - 1

// Stays are the buckets whose records only tell of the site that wrote them: another site
// doesn't take them up.
var Stays = map[string]bool{
	layout.Book: true, layout.Follows: true, layout.Releasers: true, layout.Sites: true, layout.Mappings: true,
}

// Fact is a record as it's kept here. Records of sources of the air are the caller's.
func (n Names) Fact(bucket string, key, value []byte) (k, v []byte, err error) {
	if n.Own() {
		return key, value, nil
	}
	switch bucket {
	case layout.Entries:
		return n.entry(key, value)
	case layout.Makes:
		return renamed(key, value, func(m *wheel.Make) { m.Lot = n.Name(m.Lot) })
	case layout.Wheels:
		return renamed(key, value, func(w *wheel.Wheel) {
			w.Tag, w.Place = n.Name(w.Tag), cave.Place(n.Name(string(w.Place)))
		})
	case layout.Rooms:
		return renamed([]byte(n.Name(string(key))), value, func(r *cave.Room) { r.Name = n.Name(r.Name) })
	case layout.Air:
		room, at, ok := bytes.Cut(key, []byte{0})
		if !ok || len(at) != 8 {
			return nil, nil, pack.ErrForm
		}
		r, err := pack.ReadAir(key, value)
		if err != nil {
			return nil, nil, err
		}
		k = binary.BigEndian.AppendUint64(append([]byte(n.Name(string(room))), 0), uint64(r.At.UnixMilli()))
		r.Source = n.Source(r.Source)
		return k, pack.Air(k, r), nil
	}
	return key, value, nil
}

func (n Names) entry(key, value []byte) (k, v []byte, err error) {
	e, err := pack.ReadEntry(key, value)
	if err != nil {
		return nil, nil, err
	}
	was := e
	e.Tag, e.Place = n.Name(e.Tag), cave.Place(n.Name(string(e.Place)))
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

// renamed changes the names in a record kept as JSON.
func renamed[T any](key, value []byte, rename func(*T)) (k, v []byte, err error) {
	var x T
	if err := pack.ReadJSON(value, &x); err != nil {
		return nil, nil, err
	}
	rename(&x)
	v, err = pack.JSON(x)
	return key, v, err
}
