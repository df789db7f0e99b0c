// Package form describes the forms of the page: which fields each has, in which words,
// and which act its answers go to. One template draws them all, templates/part-form.html,
// and assets/desk.js sends them. It knows no book: what a form offers is given to it.
package form

import (
	"slices"
	"strings"
)

// Form is a form that is sent to one act of the API.
type Form struct {
	Act     string // the act's name; also what the IDs of its fields begin with
	Button  string
	Said    string // what the page says when it's done, if the act says nothing itself
	Then    string // where the page goes then: lot, room, kind; "": it stays
	Changed bool   // only changed fields are sent: it corrects what is there
	Fields  []Field
}

// Field is one field of a form. Its methods give it with something more.
type Field struct {
	Name, Label, Hint string
	Value             string // it holds as the page comes
	As                Kind
	Options           []Option
	Group             string // the heading of the fold it is in, "": none; fields of one group are together
	For               string // the answers to the leading choice that it goes with; "": all
	List              string // id of the list of what may be typed
	Caution           string
	Needed, Leads     bool
	ID                string // filled by Parts
}

// Kind is how a field is drawn, and what is sent of it.
type Kind string

// The kinds of field. A list is sent as text between commas.
const (
	Line   Kind = ""
	Number Kind = "number" // a line with a keyboard of digits; sent as text, as it may have a unit
	Few    Kind = "few"    // a short number
	List   Kind = "list"
	Whole  Kind = "weights" // a list that the server parts
	Date   Kind = "date"
	Area   Kind = "area"
	Code   Kind = "code" // an area of text that a machine reads
	Choice Kind = "choice"
	File   Kind = "file"
	Check  Kind = "check"
	Hidden Kind = "hidden"
)

// Option is one answer of a choice.
type Option struct{ Value, Words string }

// Options are answers that say themselves; the empty one says none.
func Options(none string, values ...string) (out []Option) {
	if none != "" {
		out = append(out, Option{"", none})
	}
	for _, v := range values {
		out = append(out, Option{v, v})
	}
	return out
}

// Part is fields that are drawn together: in the open, or folded under a title.
type Part struct {
	Title  string
	Fields []Field
}

// Parts are the form's fields in their groups.
func (f Form) Parts() (out []Part) {
	for _, x := range f.Fields {
		x.ID = f.Act + "-" + x.Name
		if x.For != "" && slices.ContainsFunc(f.Fields, func(y Field) bool { return y.Name == x.Name && y.For != x.For }) {
			x.ID += "-" + strings.Fields(x.For)[0]
		}
		if n := len(out); n == 0 || out[n-1].Title != x.Group {
			out = append(out, Part{Title: x.Group})
		}
		p := &out[len(out)-1]
		p.Fields = append(p.Fields, x)
	}
	return out
}

// line is a field of a line of text.
func line(name, label string) Field { return Field{Name: name, Label: label} }

// as is a field of another kind.
func as(k Kind, name, label string) Field { return Field{Name: name, Label: label, As: k} }

// choice is a field with answers to choose from.
func choice(name, label string, options []Option) Field {
	return Field{Name: name, Label: label, As: Choice, Options: options}
}

func (f Field) hint(s string) Field    { f.Hint = s; return f }
func (f Field) is(value string) Field  { f.Value = value; return f }
func (f Field) needed() Field          { f.Needed = true; return f }
func (f Field) in(group string) Field  { f.Group = group; return f }
func (f Field) from(list string) Field { f.List = list; return f }
func (f Field) only(with string) Field { f.For = with; return f }
func (f Field) leads() Field           { f.Leads = true; return f }
func (f Field) caution(s string) Field { f.Caution = s; return f }

// grouped puts fields under one heading.
func grouped(title string, fields ...Field) []Field {
	for i := range fields {
		fields[i].Group = title
	}
	return fields
}

// valued fills fields with what the book says, by name.
func valued(fields []Field, values map[string]string) []Field {
	for i, f := range fields {
		v, ok := values[f.Name]
		if !ok {
			continue
		}
		fields[i].Value = v
		if f.As == Choice && !slices.ContainsFunc(f.Options, func(o Option) bool { return o.Value == v }) {
			fields[i].Options = append(slices.Clone(f.Options), Option{v, v})
		}
	}
	return fields
}
