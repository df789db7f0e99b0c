package lines

import (
	"fmt"
	"reflect"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

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

// EntryOf is the line of a record.
func EntryOf(k, v []byte) (any, error) {
	e, err := pack.ReadEntry(k, v)
	if err != nil {
		return nil, err
	}
	return Entry(e), nil
}

// Entry is an entry as a line: its fields under their own names, the few figures with their
// unit; its kind and the answers of a hand check are words. The type of the line follows
// from wheel.Entry, so that no field can be forgotten.
func Entry(e wheel.Entry) any {
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

// ReadEntry puts an entry together from its line.
func ReadEntry(line []byte) (wheel.Entry, error) {
	var e wheel.Entry
	v := reflect.New(lineType)
	err := Parse(line, v.Interface())
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
		return e, reason.Err(Fault{Is: "kind-unknown", Word: Short(word)})
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
			return h, reason.Err(Fault{Is: "no-answer", Word: Short(word)})
		}
	}
	if n < len(words) {
		return h, reason.Err(Fault{Is: "question-unknown"})
	}
	return h, nil
}
