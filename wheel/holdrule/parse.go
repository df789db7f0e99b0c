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

// FromMemory is the Read of a rule that somebody wrote down without its text.
const FromMemory = "from memory"

// AsksNothing is the fault of a rule with neither days nor a label.
const AsksNothing reason.Flat = "asks-nothing"

// Parse reads a rule from TOML text. Errors are of type tomlfile.Fault and contain the name of the file.
func Parse(name string, data []byte) (Rule, error) {
	r := Rule{From: Beginnings[0]}
	t, err := tomlfile.Decode(name, data, &r)
	if err != nil {
		return Rule{}, err
	}
	r.Text, r.Warm = string(tomlfile.Clean(data)), t.Has("min_temp")
	t.Name("name", r.Name)
	r.checkScope(t)
	t.Word("count_from", r.From, Beginnings)
	switch {
	case r.Days > 0 && r.Months > 0:
		t.Fail("months", reason.Together{What: "months", Other: "days"})
	case !r.Holds() && r.Label == "":
		t.Fail("", AsksNothing)
	case r.Days == 0 && r.Warm:
		t.Fail("min_temp", reason.Needs{What: "min_temp", Other: "days"})
	case !r.Holds() && t.Has("count_from"):
		t.Fail("count_from", reason.Needs{What: "count_from", Other: "days"})
	}
	// Books have rules of their own that were read "before" a date.
	if _, err := day.ParseISO(strings.TrimPrefix(r.Read, "before ")); err != nil && r.Read != FromMemory {
		t.Fail("read", reason.Unreadable{What: "read", Word: r.Read})
	}
	if err := t.Err(); err != nil {
		return Rule{}, err
	}
	return r, nil
}

// checkScope checks the lists of what the rule covers.
func (r Rule) checkScope(t *tomlfile.Table) {
	for _, c := range r.Countries {
		if code, err := ParseCountry(c); err != nil || code != c {
			t.Fail("countries", reason.Unreadable{What: "country", Word: c})
		}
	}
	for i, m := range r.Milk {
		milk, err := wheel.ParseTreatment(string(m))
		if err != nil {
			t.Word("milk", string(m), []string{string(wheel.Raw), string(wheel.Thermised), string(wheel.Pasteurised)})
		}
		if slices.Contains(r.Milk[:i], milk) {
			t.Fail("milk", tomlfile.Twice{Word: string(m)})
		}
		r.Milk[i] = milk
	}
	for _, g := range r.Groups {
		t.Word("groups", g, variety.Groups)
	}
	for _, v := range r.Varieties {
		t.Name("varieties", v)
	}
}
