package holdrule

import (
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/variety/tomlfile"
)

// AsksNothing is the fault of a rule with neither days nor a label.
const AsksNothing reason.Flat = "asks-nothing"

// Parse reads a rule from TOML text. Errors are of type tomlfile.Fault and contain
// the name of the file.
func Parse(name string, data []byte) (Rule, error) {
	r := Rule{From: Beginnings[0]}
	f, err := tomlfile.Decode(name, data, &r)
	if err != nil {
		return Rule{}, err
	}
	s := f.In()
	r.Text, r.Warm = string(tomlfile.Clean(data)), s.Has("min_temp")
	s.Name("name", r.Name)
	r.checkScope(s)
	s.Word("count_from", r.From, Beginnings)
	switch {
	case r.Days == 0 && r.Label == "":
		s.Fail("", AsksNothing)
	case r.Days == 0 && r.Warm:
		s.Fail("min_temp", reason.Needs{What: "min_temp", Other: "days"})
	case r.Days == 0 && s.Has("count_from"):
		s.Fail("count_from", reason.Needs{What: "count_from", Other: "days"})
	}
	if _, err := day.ParseISO(strings.TrimPrefix(r.Read, "before ")); err != nil && r.Read != "from memory" {
		s.Fail("read", reason.Unreadable{What: "read", Word: r.Read})
	}
	if err := f.Err(); err != nil {
		return Rule{}, err
	}
	return r, nil
}

// checkScope checks the lists of what the rule covers.
func (r Rule) checkScope(s tomlfile.Section) {
	for _, c := range r.Countries {
		if code, err := ParseCountry(c); err != nil || code != c {
			s.Fail("countries", reason.Unreadable{What: "country", Word: c})
		}
	}
	for i, m := range r.Milk {
		milk, err := wheel.ParseTreatment(string(m))
		if err != nil {
			s.Word("milk", string(m), []string{string(wheel.Raw), string(wheel.Thermised), string(wheel.Pasteurised)})
		}
		if slices.Contains(r.Milk[:i], milk) {
			s.Fail("milk", tomlfile.Twice{Word: string(m)})
		}
		r.Milk[i] = milk
	}
	for _, g := range r.Groups {
		s.Word("groups", g, variety.Groups)
	}
	for _, v := range r.Varieties {
		s.Name("varieties", v)
	}
}

// TOML gives the text that the rule was read from, for a person to read and change.
// A rule made in code has none.
func (r Rule) TOML() []byte { return []byte(r.Text) }
