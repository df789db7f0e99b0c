package store

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"strings"
	"unicode"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// ExportSchema names the form of an export. It is text, one JSON object a line
// (JSON Lines), UTF-8, and holds every fact of the book and nothing derived:
//
//	{"schema":"rindkeep/export/1"}                      always the first line
//	{"record":"book","id":…,"zone":"Europe/Dublin",…}   always the second
//	{"record":"room",…}        rooms, with racks and tests of the hygrometer
//	{"record":"plan","name":…,"toml":…}                 the user's own rind plans
//	{"record":"variety","name":…,"toml":…}              and varieties, as TOML text
//	{"record":"law","name":…,"toml":…}                  rules of food laws of their own
//	{"record":"limit","name":…,"toml":…}                limits of laboratory tests of their own
//	{"record":"follow","countries":"CA US",…}           whose law the book followed, from when
//	{"record":"releasers","names":["Nora"],…}           who might lift safety holds, from when
//	{"record":"site","name":"Hollow Ash",…}               where it is kept, from when
//	{"record":"lift","of":"rule us-cheddar",…}            who let safety holds end by a change, and why
//	{"record":"mapping","name":…,"of":"wheels",…}       how tables of one origin are read
//	{"record":"customer","name":…,"contact":…,"address":…}
//	{"record":"make",…}
//	{"record":"wheel",…}       wheels as they came; what changed is in entries
//	{"record":"photo","jpeg":…}  pictures that notes name, in base 64
//	{"record":"entry","kind":"weighed","subject":…,"at":…,"weight_g":1942,…}
//	{"record":"airsource","number":1,"room":…,"by":…}  who entered readings, as a table or one by one
//	{"record":"air","room":"cellar","at":…,"temp_c":12.1,"rh_fraction":0.85}
//	{"record":"link","number":1,"hash":…,"link":…}      the chain over all of these
//	{"record":"end","lines":10}                         lines before this one
//
// Every other line begins with its record. Records come in this order and within it by key, so that the same book gives
// the same bytes. Instants are UTC, to the millisecond; dates are days in the
// book's zone. A field's unit ends its name: g, c (degrees Celsius), m, litres,
// and fraction for what people read as percent. A field left out is not known
// or says no. Answers of a hand check are yes and no; the detail of a tasting or
// of a make's log is a JSON object of its own, as text. The links are as the
// book keeps them: an import that fits them has the same history, with the same
// head; where they are left out, or fit no longer, a new chain begins, and says
// so.
const ExportSchema = "rindkeep/export/1"

// Tally is how many records of a sort an export or import came to.
type Tally struct {
	Record string
	Count  int
}

// Export writes the book as it stands, in one reading, as ExportSchema says. Records
// that can't be read are left out; Harm names them.
func (b *Book) Export(ctx context.Context, to io.Writer, tell Progress) (tally []Tally, err error) {
	err = b.View(func(t *ReadTx) error {
		tally, err = t.export(ctx, to, tell)
		return err
	})
	return tally, err
}

// ExportFile is Export to a file, whole and synced or not at all. A file that is
// there already is never touched (bookfile.ErrExists) without replace.
func (b *Book) ExportFile(ctx context.Context, path string, replace bool, tell Progress) (
	tally []Tally, bytes int64, err error,
) {
	if !replace {
		if err := bookfile.MustBeFree(path); err != nil {
			return nil, 0, err
		}
	}
	if b.file.Is(path) {
		return nil, 0, &bookfile.Error{Kind: bookfile.ErrSameFile, Path: path}
	}
	if err := bookfile.HasFolder(path); err != nil {
		return nil, 0, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return nil, 0, err
	}
	defer tmp.Drop()
	bytes, err = tmp.Write(func(w io.Writer) (err error) {
		tally, err = b.Export(ctx, w, tell)
		return err
	})
	switch {
	case ctx.Err() != nil:
		return nil, 0, ctx.Err()
	case err != nil:
		return nil, 0, bookfile.Failed(path, "write", err)
	}
	if !replace {
		if err := bookfile.MustBeFree(path); err != nil {
			return nil, 0, err
		}
	}
	return tally, bytes, tmp.Replace()
}

type headLine struct {
	Schema string `json:"schema"`
}

type endLine struct {
	Lines int `json:"lines"`
}

// exporter writes lines and counts them.
type exporter struct {
	w     *bufio.Writer
	lines int
}

// put writes one line; record goes before the fields of v, which is written as
// a JSON object.
func (x *exporter) put(record string, v any) error {
	j, err := json.Marshal(v)
	if err != nil {
		return err
	}
	x.lines++
	if record != "" {
		if _, err := fmt.Fprintf(x.w, `{"record":%q`, record); err != nil {
			return err
		}
		if j = j[1:]; len(j) > 1 {
			x.w.WriteByte(',')
		}
	}
	x.w.Write(j)
	return x.w.WriteByte('\n')
}

func (t *ReadTx) export(ctx context.Context, to io.Writer, tell Progress) ([]Tally, error) {
	c, err := t.count()
	if err != nil {
		return nil, err
	}
	x := &exporter{w: bufio.NewWriterSize(to, 256<<10)}
	if err := x.put("", headLine{ExportSchema}); err != nil {
		return nil, err
	}
	if err := x.put("book", t.Settings()); err != nil {
		return nil, err
	}
	var out []Tally
	for _, s := range sections {
		n := 0
		for k, v := range t.in(s.bucket, nil) {
			if n++; n%1000 == 0 {
				if tell != nil && s.bucket == layout.Entries {
					tell(n, max(n, c.Entries))
				}
				if err := ctx.Err(); err != nil {
					return nil, err
				}
			}
			line, err := s.line(k, v)
			if err != nil {
				if err := t.unread(reason.Thing(s.record), k, err); err != nil {
					return nil, err
				}
				n--
				continue
			}
			if err := x.put(s.record, line); err != nil {
				return nil, err
			}
		}
		if s.bucket != layout.Chain { // no record of the maker's
			out = append(out, Tally{s.record, n})
		}
	}
	if err := x.put("end", endLine{x.lines}); err != nil {
		return nil, err
	}
	return out, x.w.Flush()
}

// An entry's line has its fields under their own names, the few figures with
// their unit; its kind and the answers of a hand check are words. The type of
// the line follows from wheel.Entry, so that no field can be forgotten.

// entryUnits are the names of fields that carry a unit.
var entryUnits = map[string]string{"Weight": "weight_g", "Before": "before_g", "Removed": "removed_g"}

var (
	entryType = reflect.TypeFor[wheel.Entry]()
	lineType  = func() reflect.Type {
		fs := []reflect.StructField{{Name: "KindWord", Type: reflect.TypeFor[string](), Tag: `json:"kind"`}}
		for i := range entryType.NumField() {
			f := entryType.Field(i)
			name := entryUnits[f.Name]
			if name == "" {
				name = strings.ToLower(f.Name)
			}
			switch f.Name {
			case "Kind":
				continue
			case "Found":
				f.Type = reflect.TypeFor[map[string]string]()
			}
			f.Tag = reflect.StructTag(fmt.Sprintf(`json:"%s,omitzero"`, name))
			fs = append(fs, reflect.StructField{Name: f.Name, Type: f.Type, Tag: f.Tag})
		}
		return reflect.StructOf(fs)
	}()
	foundType = reflect.TypeFor[wheel.HandCheck]()
)

func entryLine(k, v []byte) (any, error) {
	e, err := pack.ReadEntry(k, v)
	if err != nil {
		return nil, err
	}
	return lineOf(e), nil
}

func lineOf(e wheel.Entry) any {
	from, to := reflect.ValueOf(e), reflect.New(lineType).Elem()
	to.Field(0).SetString(e.Kind.String())
	for i := 1; i < to.NumField(); i++ {
		switch name := lineType.Field(i).Name; name {
		case "Found":
			if e.Found.Said() {
				to.Field(i).Set(reflect.ValueOf(foundWords(e.Found)))
			}
		default:
			to.Field(i).Set(from.FieldByName(name))
		}
	}
	return to.Interface()
}

// entryFrom puts an entry together from its line.
func entryFrom(line []byte) (wheel.Entry, error) {
	var e wheel.Entry
	v := reflect.New(lineType)
	err := strictly(line, v.Interface())
	if err != nil {
		return e, err
	}
	word := v.Elem().Field(0).String()
	for k := range 256 {
		if kind := wheel.Kind(k); kind.Known() && kind.String() == word {
			e.Kind = kind
		}
	}
	if e.Kind == 0 {
		return e, reason.Err(LineFault{Is: "kind-unknown", Word: short(word)})
	}
	to := reflect.ValueOf(&e).Elem()
	for i := 1; i < lineType.NumField(); i++ {
		switch name := lineType.Field(i).Name; name {
		case "Found":
			if e.Found, err = foundFrom(v.Elem().Field(i).Interface().(map[string]string)); err != nil {
				return e, err
			}
		default:
			to.FieldByName(name).Set(v.Elem().Field(i))
		}
	}
	return pack.Normal(e), nil
}

func foundWords(h wheel.HandCheck) map[string]string {
	out := map[string]string{}
	v := reflect.ValueOf(h)
	for i := range v.NumField() {
		if s := v.Field(i).Interface().(wheel.Seen); s != wheel.NotSaid {
			out[foundType.Field(i).Tag.Get("json")] = s.String()
		}
	}
	return out
}

func foundFrom(words map[string]string) (h wheel.HandCheck, err error) {
	v := reflect.ValueOf(&h).Elem()
	n := 0
	for i := range v.NumField() {
		word, ok := words[foundType.Field(i).Tag.Get("json")]
		if !ok {
			continue
		}
		n++
		switch word {
		case "yes":
			v.Field(i).Set(reflect.ValueOf(wheel.Yes))
		case "no":
			v.Field(i).Set(reflect.ValueOf(wheel.No))
		default:
			return h, reason.Err(LineFault{Is: "no-answer", Word: short(word)})
		}
	}
	if n < len(words) {
		return h, reason.Err(LineFault{Is: "question-unknown"})
	}
	return h, nil
}

// short makes a word of a file fit for a sentence.
func short(s string) string {
	s = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return '·'
		}
		return r
	}, strings.ToValidUTF8(s, "·"))
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "…"
	}
	return s
}
