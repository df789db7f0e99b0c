// Package limit is the library of limits that results of laboratory tests are held
// against: not detected in so many grams, or at most so much. A limit is TOML text that
// a person can read and change; the library is part of the binary, and a maker adds
// limits and tests of their own.
//
// A limit names its source, the edition that was read and when (or that it's from
// memory), and the countries that it applies in. It is information, not advice. A result
// that doesn't show that it's inside a limit isn't: "<1000" says nothing about 100, and
// a count of 0 says nothing about 25 g.
package limit

import (
	"embed"
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety/tomlfile"
)

// Limit is a limit of one test. Package tomlfile reads it by its tags, whose bounds are
// our own.
type Limit struct {
	Name      string            `toml:"name" need:"true"`           // 2 to 40 of a-z, 0-9 and dashes
	Title     string            `toml:"title" need:"true" max:"80"` // for people
	Test      string            `toml:"test" need:"true" max:"60"`  // what is looked for
	Also      []string          `toml:"also" items:"20"`            // other names of the test
	Countries []string          `toml:"countries" items:"60"`       // ISO 3166 codes; none: a maker's own, for every lot
	Milk      []wheel.Treatment `toml:"milk"`                       // none: any
	AbsentIn  float64           `toml:"absent_in_g" range:"0.1 10000 g"`
	AtMost    float64           `toml:"at_most" range:"0 1000000000"`
	Unit      string            `toml:"unit" max:"20"` // of AtMost
	Source    string            `toml:"source" need:"true" max:"300"`
	Section   string            `toml:"section" max:"100"`
	Edition   string            `toml:"edition" max:"100"`
	Read      string            `toml:"read" need:"true"` // 2026-11-25, or from memory
	Note      string            `toml:"note" max:"500"`

	Counts bool   // it has AtMost
	Text   string // the TOML it was read from
}

// EitherOr is the fault of a limit with neither absence nor a most, or with both.
const EitherOr reason.Flat = "limit-either-or"

// Parse reads a limit from TOML text. Errors are of type tomlfile.Fault.
func Parse(name string, data []byte) (Limit, error) {
	var l Limit
	t, err := tomlfile.Decode(name, data, &l)
	if err != nil {
		return Limit{}, err
	}
	l.Text, l.Counts = string(tomlfile.Clean(data)), t.Has("at_most")
	t.Name("name", l.Name)
	for _, c := range l.Countries {
		if code, err := holdrule.ParseCountry(c); err != nil || code != c {
			t.Fail("countries", reason.Unreadable{What: "country", Word: c})
		}
	}
	for i, m := range l.Milk {
		milk, err := wheel.ParseTreatment(string(m))
		if err != nil {
			t.Word("milk", string(m), []string{string(wheel.Raw), string(wheel.Thermised), string(wheel.Pasteurised)})
		}
		l.Milk[i] = milk
	}
	switch {
	case l.Counts == (l.AbsentIn > 0):
		t.Fail("", EitherOr)
	case l.Counts && l.Unit == "":
		t.Fail("unit", reason.Missing{What: "unit"})
	}
	if _, err := day.ParseISO(l.Read); err != nil && l.Read != holdrule.FromMemory {
		t.Fail("read", reason.Unreadable{What: "read", Word: l.Read})
	}
	if err := t.Err(); err != nil {
		return Limit{}, err
	}
	return l, nil
}

// Is says whether it is a limit of the test that somebody names.
func (l Limit) Is(test string) bool {
	same := func(name string) bool {
		return strings.EqualFold(strings.Join(strings.Fields(name), " "), strings.Join(strings.Fields(test), " "))
	}
	return same(l.Test) || slices.ContainsFunc(l.Also, same)
}

// Of selects the countries that it applies in, a country's parts included.
func (l Limit) Of(countries []string) []string {
	return holdrule.Rule{Countries: l.Countries}.Of(countries)
}

// Cite is the source in short. A limit in the place of a built-in one with another figure
// is the book's own, whatever text it was copied from.
func (l Limit) Cite() string {
	cite := strings.TrimSpace(l.Source + " " + l.Section)
	if b, ok := Find(l.Name); !ok || b.Asks() == l.Asks() {
		return cite
	} else if b.Source == l.Source {
		return "the book's own, in place of " + cite
	}
	return "the book's own: " + cite
}

// Asks is the worst finding that is inside: "not detected in 25 g", "100 cfu/g".
func (l Limit) Asks() wheel.Finding {
	if l.Counts {
		return wheel.Finding{Count: l.AtMost, Unit: l.Unit}
	}
	return wheel.Finding{Seen: wheel.No, Grams: l.AbsentIn}
}

// Shows is true where a finding shows that it is inside the limit. What isn't known
// (milk, grams examined, a count in another unit) shows nothing.
func (l Limit) Shows(f wheel.Finding) bool {
	switch {
	case f.Seen == wheel.Yes:
		return false
	case f.Seen == wheel.No && l.Counts: // none in a gram is fewer than 1 a gram
		return f.Grams >= 1 && l.AtMost >= 1 && strings.HasSuffix(l.Unit, "/g")
	case f.Seen == wheel.No:
		return f.Grams >= l.AbsentIn
	case !l.Counts || f.Unit != "" && !strings.EqualFold(f.Unit, l.Unit):
		return false
	}
	return f.Mark != ">" && f.Count <= l.AtMost
}

// Judge holds a finding against a limit.
func (l Limit) Judge(f wheel.Finding) wheel.Judged {
	return wheel.Judged{
		Limit: l.Name, Asks: l.Asks().String(), Source: l.Cite(), Edition: l.Edition, Read: l.Read, Inside: l.Shows(f),
	}
}

// Select picks the limits of a test for a lot: a maker's own, and those of the
// countries that the lot follows. No other country's ends a hold: where none is on
// file, nothing does but a person.
func Select(all []Limit, test string, countries []string, milk wheel.Treatment) (out []Limit) {
	names := []string{test} // with the other names that limits of it know
	for _, l := range all {
		if l.Is(test) {
			names = append(append(names, l.Test), l.Also...)
		}
	}
	for _, l := range all {
		switch {
		case !slices.ContainsFunc(names, l.Is) || len(l.Milk) > 0 && milk != "" && !slices.Contains(l.Milk, milk):
		case len(l.Countries) == 0 || len(l.Of(countries)) > 0:
			out = append(out, l)
		}
	}
	return out
}

// Loosens says whether a result can end a hold with l among all the limits, in the place
// of the one of its name, that couldn't without: l is the first that judges some lot or
// test, or its place had a stricter one.
func (l Limit) Loosens(all []Limit) bool {
	for _, test := range l.tests() {
		if !slices.ContainsFunc(all, func(o Limit) bool { return o.judges(test, l) }) {
			return true
		}
	}
	i := slices.IndexFunc(all, func(o Limit) bool { return o.Name == l.Name })
	return i >= 0 && (!l.within(all[i]) || slices.ContainsFunc(all[i].tests(), func(test string) bool {
		return !l.judges(test, all[i])
	}))
}

func (l Limit) tests() []string { return append([]string{l.Test}, l.Also...) }

// judges says whether l judges a test of every lot that o is for.
func (l Limit) judges(test string, o Limit) bool {
	return l.Is(test) &&
		(len(l.Countries) == 0 || len(o.Countries) > 0 && len(l.Of(o.Countries)) == len(o.Countries)) &&
		(len(l.Milk) == 0 || len(o.Milk) > 0 && !slices.ContainsFunc(o.Milk, func(m wheel.Treatment) bool {
			return !slices.Contains(l.Milk, m)
		}))
}

// within says whether whatever is inside l is inside o.
func (l Limit) within(o Limit) bool {
	switch {
	case l.Counts:
		return o.Counts && strings.EqualFold(l.Unit, o.Unit) && l.AtMost <= o.AtMost
	case o.Counts:
		return o.Shows(l.Asks())
	}
	return l.AbsentIn >= o.AbsentIn
}

// Known is the test as limits name it, and whether one of them does.
func Known(all []Limit, test string) (name string, ok bool) {
	for _, l := range all {
		if l.Is(test) {
			return l.Test, true
		}
	}
	return test, false
}

//go:embed library/*.toml
var files embed.FS

var library = tomlfile.NewLibrary(files, Parse, Limit.clone)

func (l Limit) clone() Limit {
	l.Also, l.Countries, l.Milk = slices.Clone(l.Also), slices.Clone(l.Countries), slices.Clone(l.Milk)
	return l
}

// Builtin gives the limits inside the binary, sorted by name. The caller may change them.
func Builtin() []Limit { return library.All() }

// Find gives the built-in limit with that name.
func Find(name string) (Limit, bool) { return library.Find(name) }
