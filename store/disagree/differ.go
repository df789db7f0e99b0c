package disagree

import (
	"bytes"
	"slices"
	"strings"

	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/register"
)

// Field is a part of a record with what one site says of it. Name is "" of a line of text that
// has none.
type Field struct {
	Name  string `json:"field"`
	Value string `json:"value"`
}

// Differ is what the two records of a Replaced say that the other doesn't. Both are empty where
// either can't be read.
func (d Disagreement) Differ() (stands, other []Field) {
	if d.Kind != Replaced {
		return nil, nil
	}
	if d.bucket != layout.Customers { // the others are TOML
		a, b := textLines(d.Stands.Value), textLines(d.Other.Value)
		return without(a, b), without(b, a)
	}
	var a, b register.Customer
	if pack.ReadJSON(d.Stands.Value, &a) != nil || pack.ReadJSON(d.Other.Value, &b) != nil {
		return nil, nil
	}
	for _, f := range []struct{ name, a, b string }{
		{"name", a.Name, b.Name}, {"contact", a.Contact, b.Contact}, {"address", a.Address, b.Address},
		{"note", a.Note, b.Note},
	} {
		if f.a != f.b {
			stands, other = append(stands, Field{f.name, f.a}), append(other, Field{f.name, f.b})
		}
	}
	return stands, other
}

func textLines(value []byte) (out []Field) {
	text, err := pack.Body(value)
	if err != nil {
		return nil
	}
	for line := range strings.Lines(string(text)) {
		name, v, ok := strings.Cut(line, "=")
		if !ok {
			name, v = "", line
		}
		if f := (Field{strings.TrimSpace(name), strings.TrimSpace(v)}); f != (Field{}) {
			out = append(out, f)
		}
	}
	return out
}

func without(all, these []Field) []Field {
	return slices.DeleteFunc(slices.Clone(all), func(f Field) bool { return slices.Contains(these, f) })
}

// Text is what gave way of a Replaced, where it's a text; ok is false of other records.
func (d Disagreement) Text() (text []byte, ok bool) {
	if d.Kind != Replaced || d.bucket == layout.Customers {
		return nil, false
	}
	text, err := pack.Body(d.Other.Value)
	return bytes.Clone(text), err == nil
}
