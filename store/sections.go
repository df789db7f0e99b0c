package store

import (
	"bytes"
	"encoding/hex"
	"slices"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// section is one sort of fact: the bucket it is kept in, how one becomes a line of
// an export, how a line becomes a fact again, and how it is proved. Their order is
// the order in an export: each may build on what came before.
type section struct {
	record string
	bucket string
	line   func(k, v []byte) (any, error)
	take   func(l *loader, line []byte) error
	prove  func(k *checker, key, v []byte) error
	own    func(key, v []byte) bool // the record is one of these; nil: fits knows
}

var sections = []section{
	sharedSection("head", layout.Heads), sharedSection("bundle", layout.Bundles),
	sharedSection("aside", layout.Aside), sharedSection("stood", layout.Stood),
	sharedSection("waiting", layout.Waiting),
	jsonSection("room", layout.Rooms, roomKey, cave.Room.Check, putRoom, nil),
	tomlSection("plan", register.Plans),
	tomlSection("variety", register.Varieties),
	tomlSection("law", register.Rules),
	tomlSection("limit", register.Limits),
	registerSection[register.Follow]("follow", layout.Follows),
	registerSection[register.Releasers]("releasers", layout.Releasers),
	registerSection[register.Site]("site", layout.Sites),
	registerSection[register.Pact]("pact", layout.Pacts),
	registerSection[register.Lift]("lift", layout.Lifts),
	registerSection[register.Mapping]("mapping", layout.Mappings),
	registerSection[register.Customer]("customer", layout.Customers),
	jsonSection("make", layout.Makes, makeKey, wheel.Make.Check, (*WriteTx).PutMake, (*checker).make),
	jsonSection("wheel", layout.Wheels, wheelKey, noCheck, importWheel, (*checker).wheel),
	{"photo", layout.Photos, photoSectionLine, takePhoto, (*checker).photo, isPhoto},
	{"entry", layout.Entries, entryLine, (*loader).entry, (*checker).entry, nil},
	registerSection[register.AirSource]("airsource", layout.AirSources),
	{"air", layout.Air, lines.AirOf, takeReading, (*checker).reading, nil},
	{"link", layout.Chain, lines.LinkOf, takeLink, nil, nil},
}

// hidden says whether nobody counts its records: they are none of the maker's.
func (s section) hidden() bool {
	return s.bucket == layout.Chain || s.bucket == layout.Pacts || slices.Contains(layout.Shared, s.bucket)
}

func roomKey(r cave.Room) []byte    { return []byte(r.Name) }
func makeKey(m wheel.Make) []byte   { return m.ID[:] }
func wheelKey(w wheel.Wheel) []byte { return w.ID[:] }
func noCheck(wheel.Wheel) error     { return nil }

func putRoom(t *WriteTx, r cave.Room) error { return t.PutRoom(r) }

// jsonSection is a section kept as JSON. A record is written again from the type, so
// that one from before a field was there looks like any other.
func jsonSection[T any](
	record, bucket string, keyOf func(T) []byte, check func(T) error, put func(*WriteTx, T) error,
	more func(*checker, T) error,
) section {
	return section{
		record: record, bucket: bucket,
		line: func(_, v []byte) (any, error) {
			var x T
			err := pack.ReadJSON(v, &x)
			return x, err
		},
		take: func(l *loader, line []byte) error {
			var x T
			if err := lines.Parse(line, &x); err != nil {
				return err
			}
			if l.t.tab.Get(bucket, keyOf(x)) != nil {
				return lines.ErrTwice
			}
			return put(l.t, x)
		},
		prove: func(k *checker, key, v []byte) error {
			var x T
			if err := pack.ReadJSON(v, &x); err != nil {
				return k.unread(bookfile.At(reason.Thing(record), key), err)
			}
			if err := check(x); err != nil {
				k.wrong(bookfile.At(reason.Thing(record), key), err)
			} else if !bytes.Equal(keyOf(x), key) {
				k.add(bookfile.At(reason.Thing(record), key), Unlike)
			} else if more != nil {
				return more(k, x)
			}
			return nil
		},
		own: func(key, v []byte) bool {
			var x T
			body, err := pack.Body(v)
			return err == nil && lines.Parse(body, &x) == nil && bytes.Equal(keyOf(x), key)
		},
	}
}

// registerSection is a section of a register. An import takes its records as they are,
// whatever the others say.
func registerSection[T interface {
	Key() []byte
	Check() error
}](record, bucket string) section {
	put := func(t *WriteTx, x T) error {
		if err := x.Check(); err != nil {
			return err
		}
		_, err := table.PutRecord(t.tab, bucket, x.Key(), x)
		return err
	}
	return jsonSection(record, bucket, T.Key, T.Check, put, nil)
}

// tomlText is a text of the user's own.
type tomlText struct {
	Name string `json:"name"`
	TOML string `json:"toml"`
}

func tomlSection[T any](record string, x register.Texts[T]) section {
	name := func(key, v []byte) (string, error) {
		body, err := pack.Body(v)
		if err != nil {
			return "", err
		}
		return x.Name(string(key), slices.Clone(body))
	}
	return section{
		record: record, bucket: x.Bucket,
		line: func(k, v []byte) (any, error) {
			body, err := pack.Body(v)
			return tomlText{string(k), string(body)}, err
		},
		take: func(l *loader, line []byte) error {
			var own tomlText
			if err := lines.Parse(line, &own); err != nil {
				return err
			}
			if l.t.tab.Get(x.Bucket, []byte(own.Name)) != nil {
				return lines.ErrTwice
			}
			if _, err := x.Put(l.t.Writer, lines.Short(own.Name), []byte(own.TOML)); err != nil {
				return err
			}
			if name, _ := x.Name(own.Name, []byte(own.TOML)); name != own.Name {
				return reason.Err(lines.Fault{Is: "named-otherwise", Word: lines.Short(own.Name), Other: lines.Short(name)})
			}
			return nil
		},
		prove: func(k *checker, key, v []byte) error {
			if _, err := name(key, v); err != nil {
				k.wrong(bookfile.At(reason.Thing(record), key), err)
			}
			return nil
		},
		own: func(key, v []byte) bool {
			name, err := name(key, v)
			return err == nil && name == string(key)
		},
	}
}

// importWheel takes a wheel, whose tag is not looked at until all are there.
func importWheel(t *WriteTx, w wheel.Wheel) error {
	w.Since, w.Written = pack.Milli(w.Since), pack.Milli(w.Written)
	if _, err := t.checkWheel(w); err != nil {
		return err
	}
	if _, err := table.PutRecord(t.tab, layout.Wheels, w.ID[:], w); err != nil {
		return err
	}
	c, err := t.count()
	if err != nil {
		return err
	}
	c.Wheels++
	t.index(wheelIndex(w))
	return nil
}

// photoLine is a picture as a line of an export: its bytes in base 64.
type photoLine struct {
	JPEG []byte `json:"jpeg"`
}

func photoSectionLine(_, v []byte) (any, error) {
	body, err := pack.Body(v)
	return photoLine{body}, err
}

func isPhoto(key, v []byte) bool {
	body, err := pack.Body(v)
	return err == nil && register.IsPhoto(key, body)
}

// photo proves a picture.
func (k *checker) photo(key, v []byte) error {
	at := bookfile.At("photo", hex.EncodeToString(key))
	if _, err := pack.Body(v); err != nil {
		k.add(at, bookfile.Undecodable)
	} else if !isPhoto(key, v) {
		k.add(at, Unlike)
	}
	return nil
}

func takePhoto(l *loader, line []byte) error {
	var p photoLine
	if err := lines.Parse(line, &p); err != nil {
		return err
	}
	_, err := l.t.PutPhoto(p.JPEG)
	return err
}

func takeReading(l *loader, line []byte) error {
	var r lines.Air
	if err := lines.Parse(line, &r); err != nil {
		return err
	}
	if l.t.tab.Get(layout.Air, layout.AirKey(r.Room, r.At)) != nil {
		return lines.ErrTwice
	}
	_, err := l.t.PutAir(r.Room, []cave.Reading{r.Reading()})
	return err
}

// takeLink takes a link of the chain as it is; the loader's chain proves it.
func takeLink(l *loader, line []byte) error {
	var x lines.Link
	if err := lines.Parse(line, &x); err != nil {
		return err
	}
	v, err := x.Record()
	switch {
	case err != nil:
		return err
	case l.t.tab.Get(layout.Chain, layout.LinkKey(x.Number)) != nil:
		return lines.ErrTwice
	}
	l.t.tab.Put(layout.Chain, layout.LinkKey(x.Number), v)
	return nil
}
