package variety

import (
	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety/tomlfile"
)

// measures are the lengths a shape may be given by.
var measures = []struct {
	key string
	at  func(*shape.Shape) *quantity.Metres
}{
	{"diameter", func(s *shape.Shape) *quantity.Metres { return &s.Diameter }},
	{"height", func(s *shape.Shape) *quantity.Metres { return &s.Height }},
	{"length", func(s *shape.Shape) *quantity.Metres { return &s.Length }},
	{"width", func(s *shape.Shape) *quantity.Metres { return &s.Width }},
	{"top_length", func(s *shape.Shape) *quantity.Metres { return &s.TopLength }},
}

// wants are the measures each form is given by.
var wants = map[shape.Form][]string{
	shape.Cylinder: {"diameter", "height"},
	shape.Block:    {"length", "width", "height"},
	shape.Sphere:   {"diameter"},
	shape.Pyramid:  {"length", "top_length", "height"},
}

var schema = func() tomlfile.Schema {
	s := tomlfile.Schema{
		Keys: []string{"name", "title", "rind", "group", "plan", "species", "source", "note"},
		Tables: map[string][]string{
			"wheel":       {"shape", "diameter", "height", "length", "width", "top_length"},
			"composition": {"source"},
			"limits":      {"source"},
			"room":        {"source"},
		},
	}
	for _, f := range figures {
		if f.table == "" {
			s.Keys = append(s.Keys, f.key)
		} else {
			s.Tables[f.table] = append(s.Tables[f.table], f.key)
		}
	}
	return s
}()

// Parse reads a variety from TOML text. The name is the file's, for errors,
// which are each one sentence with the file, the line and the reason
// (*tomlfile.Error).
func Parse(name string, data []byte) (Variety, error) {
	d, err := tomlfile.Parse(name, data, schema)
	if err != nil {
		return Variety{}, err
	}
	top := d.Top()
	section := map[string]tomlfile.Section{"": top}
	for _, table := range []string{"wheel", "composition", "limits", "room"} {
		s, ok := d.Table(table)
		if !ok && table != "limits" {
			top.Fail(table, "table [%s] is missing", table)
		}
		section[table] = s
	}
	v := Variety{
		Name:    top.Required("name", 40),
		Title:   top.Required("title", 80),
		Rind:    top.Text("rind", 40),
		Group:   top.Text("group", 40),
		Plan:    top.Required("plan", 40),
		Species: top.Texts("species", 40),
		Source:  top.Text("source", 300),
		Note:    top.Text("note", 500),
		Text:    string(tomlfile.Clean(data)),
	}
	v.Composition.Source = section["composition"].Text("source", 300)
	v.Limits.Source = section["limits"].Text("source", 300)
	v.Room.Source = section["room"].Text("source", 300)
	for _, f := range figures {
		f.read(section[f.table], &v)
	}
	if !section["composition"].Has("moisture_sd") {
		v.Composition.MoistureSD = DefaultMoistureSD
	}
	readShape(section["wheel"], &v.Shape)
	if err := d.Err(); err != nil {
		return Variety{}, err
	}
	if table, key, reason := v.fault(); reason != "" {
		section[table].Fail(key, "%s", reason)
	}
	if err := d.Err(); err != nil {
		return Variety{}, err
	}
	return v, nil
}

func readShape(s tomlfile.Section, out *shape.Shape) {
	form := shape.Form(s.Text("shape", 40))
	names := make([]string, len(shape.Forms))
	for i, f := range shape.Forms {
		names[i] = string(f)
	}
	if r := word("shape", string(form), names); r != "" {
		s.Fail("shape", "%s", r)
		return
	}
	out.Form = form
	for _, m := range measures {
		needed := false
		for _, k := range wants[form] {
			needed = needed || k == m.key
		}
		switch {
		case needed && !s.Has(m.key):
			s.Fail("shape", "a %s needs its %s", form, m.key)
		case !needed && s.Has(m.key):
			s.Fail(m.key, "a %s has no %s", form, m.key)
		case needed:
			*m.at(out) = s.Length(m.key, 0.006, 1.99)
		}
	}
}

// TOML gives the text the variety was read from, for a person to read and
// change; nothing for one made in code.
func (v Variety) TOML() []byte { return []byte(v.Text) }
