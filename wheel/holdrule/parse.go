package holdrule

import (
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/variety/tomlfile"
)

var schema = tomlfile.Schema{
	Keys: []string{"name", "title", "countries", "varieties", "groups", "milk", "days", "min_temp", "count_from", "label", "source", "section", "read", "note"},
}

// most is the most kinds of cheese a rule names.
const most = 100

// Parse reads a rule from TOML text. The name is the file's, for errors, which
// are each one sentence with the file, the line and the reason
// (*tomlfile.Error).
func Parse(name string, data []byte) (Rule, error) {
	d, err := tomlfile.Parse(name, data, schema)
	if err != nil {
		return Rule{}, err
	}
	s := d.Top()
	r := Rule{
		Name: s.Required("name", 1000), Title: s.Required("title", 80), From: "make",
		Varieties: s.Texts("varieties", 40), Groups: s.Texts("groups", 40),
		Days: s.Int("days", 1, 3650, "days"), MinTemp: s.Temp("min_temp", -5, 20), Warm: s.Has("min_temp"),
		Label: s.Text("label", 200), Source: s.Required("source", 300), Section: s.Text("section", 100), Read: s.Required("read", 40),
		Note: s.Text("note", 500), Text: string(tomlfile.Clean(data)),
	}
	if why := tomlfile.CheckName(r.Name); why != "" {
		s.Fail("name", "%s", why)
	}
	r.readCountries(s)
	for _, t := range s.Texts("milk", 40) {
		milk, err := wheel.ParseTreatment(t)
		switch {
		case err != nil:
			s.Fail("milk", "%s", err)
		case slices.Contains(r.Milk, milk):
			s.Fail("milk", "milk %q is named twice", milk)
		}
		r.Milk = append(r.Milk, milk)
	}
	for _, g := range r.Groups {
		if !slices.Contains(variety.Groups, g) {
			s.Fail("groups", "no group %s; groups are %s", tomlfile.Quote(g), strings.Join(variety.Groups, ", "))
		}
	}
	for _, v := range r.Varieties {
		if why := tomlfile.CheckName(v); why != "" {
			s.Fail("varieties", "varieties: %s", why)
		}
	}
	for _, l := range []struct {
		key  string
		list []string
	}{{"varieties", r.Varieties}, {"groups", r.Groups}} {
		switch {
		case s.Has(l.key) && len(l.list) == 0:
			s.Fail(l.key, "%s is empty; take it out, and the rule is for all", l.key)
		case len(l.list) > most:
			s.Fail(l.key, "%s has %d names; %d are the most", l.key, len(l.list), most)
		}
		for i, n := range l.list {
			if slices.Contains(l.list[:i], n) {
				s.Fail(l.key, "%s names %s twice", l.key, tomlfile.Quote(n))
			}
		}
	}
	if s.Has("milk") && len(r.Milk) == 0 {
		s.Fail("milk", "milk is empty; take it out, and the rule is for any milk")
	}
	if s.Has("count_from") {
		if r.From = s.Text("count_from", 40); !slices.Contains(Beginnings, r.From) {
			s.Fail("count_from", "count_from %s is no beginning; give %s", s.Shown("count_from"), strings.Join(Beginnings, " or "))
		}
	}
	switch {
	case r.Days == 0 && r.Label == "":
		s.Fail("", "the rule asks for nothing; give days, a label or both")
	case r.Days == 0 && r.Warm:
		s.Fail("min_temp", "min_temp is of days, and the rule has none")
	case r.Days == 0 && s.Has("count_from"):
		s.Fail("count_from", "count_from is of days, and the rule has none")
	}
	if err := checkRead(r.Read); err != nil {
		s.Fail("read", "%s", err)
	}
	if err := d.Err(); err != nil {
		return Rule{}, err
	}
	return r, nil
}

func (r *Rule) readCountries(s tomlfile.Section) {
	words := s.Texts("countries", 40)
	if len(words) == 0 {
		s.Fail("countries", `countries is missing; write countries = ["US"], by ISO code`)
		return
	}
	if len(words) > maxCountries {
		s.Fail("countries", "countries has %d names; %d are the most", len(words), maxCountries)
		return
	}
	for _, w := range words {
		c, err := ParseCountry(w)
		switch {
		case err != nil:
			s.Fail("countries", "%s", err)
		case c != w:
			s.Fail("countries", "country %s is written in capitals: %s", tomlfile.Quote(w), c)
		case slices.Contains(r.Countries, c):
			s.Fail("countries", "country %s is named twice", c)
		}
		r.Countries = append(r.Countries, c)
	}
}

func checkRead(read string) error {
	if read == "from memory" {
		return nil
	}
	if _, err := day.ParseISO(strings.TrimPrefix(read, "before ")); err == nil {
		return nil
	}
	return fmt.Errorf("read %s does not say when the rule was read; give 2026-11-25, before 2026-11-25, or from memory", tomlfile.Quote(read))
}

// TOML gives the text the rule was read from, for a person to read and change;
// nothing for one made in code.
func (r Rule) TOML() []byte { return []byte(r.Text) }
