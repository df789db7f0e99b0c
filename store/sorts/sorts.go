// Package sorts lists the sorts of fact that a book holds: the bucket that each is kept in,
// how one becomes a line of an export and a line a fact again, and what is wrong with one
// by itself. Export, import, check, the chain and salvage share the list.
package sorts

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"math"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/bundle"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/store/table"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
)

// Unlike: a record is kept under another key than its own.
const Unlike = reason.Flat("not-what-it-should-be")

// Sort is one sort of fact.
type Sort struct {
	Record reason.Thing // what a line of an export calls it
	Bucket string

	// Line is a fact as a line. The error says that it can't be read.
	Line func(k, v []byte) (any, error)
	// Take puts a line into a new book; nil where that takes more than its registers.
	Take func(to *register.Writer, tab *table.Tx, line []byte) error
	// Prove reads a fact and says what is wrong with it by itself; nil: only the rest of the
	// book tells. The error says that it can't be read.
	Prove func(k, v []byte) (fact any, wrong reason.Reason, err error)
	// Own says whether a record is one of these; nil: its bucket's form tells.
	Own func(k, v []byte) bool
}

// All are the sorts in the order of an export: each may build on what came before.
var All = []Sort{
	shared("head", layout.Heads), shared("bundle", layout.Bundles), shared("aside", layout.Aside),
	shared("stood", layout.Stood), shared("version", layout.Versions),
	shared("waiting", layout.Waiting), branch(),
	takenBy(asJSON("room", layout.Rooms, roomKey, cave.Room.Check), roomKey, putRoom),
	asTOML("plan", register.Plans),
	asTOML("variety", register.Varieties),
	asTOML("law", register.Rules),
	asTOML("limit", register.Limits),
	registered[register.Follow]("follow", layout.Follows),
	registered[register.Releasers]("releasers", layout.Releasers),
	registered[register.Site]("site", layout.Sites),
	registered[register.Pact]("pact", layout.Pacts),
	registered[register.Lift]("lift", layout.Lifts),
	registered[register.Mapping]("mapping", layout.Mappings),
	registered[register.Customer]("customer", layout.Customers),
	asJSON("make", layout.Makes, makeKey, checkMake),
	asJSON("wheel", layout.Wheels, wheelKey, wheel.Wheel.Check),
	{Record: "photo", Bucket: layout.Photos, Line: photoLine, Take: takePhoto, Prove: provePhoto, Own: isPhoto},
	{Record: "entry", Bucket: layout.Entries, Line: lines.EntryOf, Prove: proveEntry},
	registered[register.AirSource]("airsource", layout.AirSources),
	{Record: "air", Bucket: layout.Air, Line: lines.AirOf, Take: takeReading, Prove: proveReading},
	{Record: "link", Bucket: layout.Chain, Line: lines.LinkOf, Take: takeLink},
}

// Things are what the records of a bucket are.
var Things = func() map[string]reason.Thing {
	out := map[string]reason.Thing{}
	for _, s := range All {
		out[s.Bucket] = s.Record
	}
	return out
}()

// Of are the sorts by their buckets.
var Of = func() map[string]Sort {
	out := map[string]Sort{}
	for _, s := range All {
		out[s.Bucket] = s
	}
	return out
}()

// Hidden says whether nobody counts its records: they are none of the maker's.
func (s Sort) Hidden() bool {
	return s.Bucket == layout.Chain || s.Bucket == layout.Pacts || slices.Contains(layout.Shared, s.Bucket)
}

func putRoom(to *register.Writer, _ *table.Tx, r cave.Room) error { return to.PutRoom(r) }

func roomKey(r cave.Room) []byte    { return []byte(r.Name) }
func makeKey(m wheel.Make) []byte   { return m.ID[:] }
func wheelKey(w wheel.Wheel) []byte { return w.ID[:] }

// asJSON is a sort kept as JSON. A record is written again from the type, so that one from
// before a field was there looks like any other.
func asJSON[T any](record reason.Thing, bucket string, keyOf func(T) []byte, check func(T) error) Sort {
	return Sort{
		Record: record, Bucket: bucket,
		Line: func(_, v []byte) (any, error) {
			var x T
			err := pack.ReadJSON(v, &x)
			return x, err
		},
		Prove: func(key, v []byte) (any, reason.Reason, error) {
			var x T
			if err := pack.ReadJSON(v, &x); err != nil {
				return nil, nil, err
			}
			if err := check(x); err != nil {
				return x, bookfile.FaultOf(err), nil
			} else if !bytes.Equal(keyOf(x), key) {
				return x, Unlike, nil
			}
			return x, nil, nil
		},
		Own: func(key, v []byte) bool {
			var x T
			body, err := pack.Body(v)
			return err == nil && lines.Parse(body, &x) == nil && bytes.Equal(keyOf(x), key)
		},
	}
}

// Parse reads a line of a fact that has a key, and refuses one that is there already.
func Parse[T any](tab *table.Tx, bucket string, line []byte, keyOf func(T) []byte) (x T, err error) {
	if err = lines.Parse(line, &x); err == nil && tab.Get(bucket, keyOf(x)) != nil {
		err = lines.ErrTwice
	}
	return x, err
}

// takenBy is a sort of facts which a function puts into a book.
func takenBy[T any](s Sort, keyOf func(T) []byte, put func(*register.Writer, *table.Tx, T) error) Sort {
	s.Take = func(to *register.Writer, tab *table.Tx, line []byte) error {
		x, err := Parse(tab, s.Bucket, line, keyOf)
		if err != nil {
			return err
		}
		return put(to, tab, x)
	}
	return s
}

// registered is a sort of a register. An import takes its records as they are, whatever the
// others say.
func registered[T interface {
	Key() []byte
	Check() error
}](record reason.Thing, bucket string) Sort {
	put := func(_ *register.Writer, tab *table.Tx, x T) error {
		if err := x.Check(); err != nil {
			return err
		}
		_, err := table.PutRecord(tab, bucket, x.Key(), x)
		return err
	}
	return takenBy(asJSON(record, bucket, T.Key, T.Check), T.Key, put)
}

// ownText is a text of the user's own.
type ownText struct {
	Name string `json:"name"`
	TOML string `json:"toml"`
}

func (x ownText) key() []byte { return []byte(x.Name) }

func asTOML[T any](record reason.Thing, of register.Texts[T]) Sort {
	s := Sort{
		Record: record, Bucket: of.Bucket,
		Line: func(k, v []byte) (any, error) {
			body, err := pack.Body(v)
			return ownText{string(k), string(body)}, err
		},
		Prove: func(key, v []byte) (any, reason.Reason, error) {
			body, err := pack.Body(v)
			if err != nil {
				return nil, nil, err
			}
			name, err := of.Name(string(key), slices.Clone(body))
			if err == nil && name != string(key) {
				return name, Unlike, nil
			}
			return name, bookfile.FaultOf(err), nil
		},
	}
	s.Own = func(key, v []byte) bool {
		_, wrong, err := s.Prove(key, v)
		return err == nil && wrong == nil
	}
	return takenBy(s, ownText.key, func(to *register.Writer, _ *table.Tx, own ownText) error {
		if _, err := of.Put(to, lines.Short(own.Name), []byte(own.TOML)); err != nil {
			return err
		}
		if name, _ := of.Name(own.Name, []byte(own.TOML)); name != own.Name {
			return reason.Err(lines.Fault{Is: "named-otherwise", Word: lines.Short(own.Name), Other: lines.Short(name)})
		}
		return nil
	})
}

// photo is a picture as a line of an export: its bytes in base 64.
type photo struct {
	JPEG []byte `json:"jpeg"`
}

func photoLine(_, v []byte) (any, error) {
	body, err := pack.Body(v)
	return photo{body}, err
}

func isPhoto(key, v []byte) bool {
	body, err := pack.Body(v)
	return err == nil && register.IsPhoto(key, body)
}

func provePhoto(key, v []byte) (any, reason.Reason, error) {
	_, err := pack.Body(v)
	if err != nil || isPhoto(key, v) {
		return nil, nil, err
	}
	return nil, Unlike, nil
}

func takePhoto(to *register.Writer, _ *table.Tx, line []byte) error {
	var p photo
	if err := lines.Parse(line, &p); err != nil {
		return err
	}
	_, err := to.PutPhoto(p.JPEG)
	return err
}

func proveEntry(key, v []byte) (any, reason.Reason, error) {
	e, err := pack.ReadEntry(key, v)
	if err != nil {
		return nil, nil, err
	}
	err = cmp.Or(e.Check(), e.CheckNames())
	if c, cerr := wheel.ParseCorrection(e.Detail); err == nil && cerr == nil && e.Kind == wheel.Corrected {
		m, _ := c.Of(wheel.Make{})
		err = CheckFields(m)
	}
	return e, bookfile.FaultOf(err), nil
}

func proveReading(key, v []byte) (any, reason.Reason, error) {
	r, err := pack.ReadAir(key, v)
	if err != nil {
		return nil, nil, err
	}
	room, _, _ := bytes.Cut(key, []byte{0})
	return r, bookfile.FaultOf(cmp.Or(cave.CheckSited("room", string(room)), r.State().Check())), nil
}

func takeReading(to *register.Writer, tab *table.Tx, line []byte) error {
	r, err := Parse(tab, layout.Air, line, func(r lines.Air) []byte { return layout.AirKey(r.Room, r.At) })
	if err == nil {
		_, err = to.PutAir(r.Room, []cave.Reading{r.Reading()})
	}
	return err
}

// takeLink takes a link of the chain as it is; whether it fits is proved when all are there.
func takeLink(_ *register.Writer, tab *table.Tx, line []byte) error {
	var x lines.Link
	if err := lines.Parse(line, &x); err != nil {
		return err
	}
	v, err := x.Record()
	switch {
	case err != nil:
		return err
	case tab.Get(layout.Chain, layout.LinkKey(x.Number)) != nil:
		return lines.ErrTwice
	}
	tab.Put(layout.Chain, layout.LinkKey(x.Number), v)
	return nil
}

// Shared is a record of a book of several sites as a line of an export.
type Shared struct {
	Key   []byte `json:"key"`
	Value []byte `json:"value"`
}

// shared is a sort of records that only a shared book has, as they are.
func shared(record reason.Thing, bucket string) Sort {
	return Sort{
		Record: record, Bucket: bucket,
		Line: func(k, v []byte) (any, error) { return Shared{k, v}, nil },
		Take: func(_ *register.Writer, tab *table.Tx, line []byte) error {
			x, err := Parse(tab, bucket, line, func(x Shared) []byte { return x.Key })
			if err == nil && len(x.Key) == 0 {
				err = lines.ErrTwice
			}
			if err == nil {
				tab.Put(bucket, x.Key, x.Value)
			}
			return err
		},
	}
}

// branch is the sort of a bundle that a site told the others of.
func branch() Sort {
	s := shared("branch", layout.Branches)
	s.Prove = func(key, v []byte) (any, reason.Reason, error) {
		raw, err := pack.Body(v)
		if err != nil {
			return nil, nil, err
		}
		b, _, err := bundle.Open(raw)
		if err != nil || !bytes.Equal(key, BranchKey(b.Head(), raw)) {
			return nil, Unlike, nil
		}
		return nil, nil, nil
	}
	return s
}

// BranchKey is the key in Branches of a bundle.
func BranchKey(h bundle.Head, raw []byte) []byte {
	d := sha256.Sum256(raw)
	return slices.Concat(h.Site[:], h.Epoch[:], layout.LinkKey(h.Number), d[:])
}

func checkMake(m wheel.Make) error {
	switch {
	case m.ID == uuid.Nil:
		return reason.Err(reason.Missing{What: "id"})
	case m.Written.Before(pack.Epoch):
		return reason.Err(refusal.Before1970)
	}
	return cmp.Or(m.Check(), CheckFields(m))
}

// CheckFields says what is wrong with a field of a make by itself, of those that may be empty.
func CheckFields(m wheel.Make) error {
	for _, s := range []struct {
		thing reason.Thing
		text  string
	}{
		{"person", m.By}, {"milk", m.Milk.Species}, {"use of the curd set aside", m.SetAsideFor},
		{"place of the salt", m.SaltWhere},
	} {
		if s.text == "" {
			continue
		}
		if err := cave.CheckName(s.thing, s.text); err != nil {
			return err
		}
	}
	for _, x := range []float64{
		float64(m.Milk.Litres), float64(m.Milk.Fat), float64(m.Milk.Protein), float64(m.Curd), float64(m.SetAside),
		float64(m.SaltMass), float64(m.SaltRate), float64(m.Start.MoistureSD), float64(m.Start.FatSD),
		float64(m.Start.SaltSD), m.Start.PH,
	} {
		if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
			return reason.Err(refusal.NotFinite)
		}
	}
	return holdrule.CheckJoined(m.Countries)
}
