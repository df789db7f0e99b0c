// Package holdrule is the library of what food laws require before cheese may be sold: how many days it is held and
// at which temperatures they count, for which milk and varieties, and what its label must say. A rule is TOML text
// that a person can read and change; the library is part of the binary.
//
// A rule names its source, the edition that was read and when (or that it's from memory), and the countries that it
// applies in, by ISO 3166-1 code or, for part of a country, by ISO 3166-2 code. It is
// information, not advice: whatever shows a rule asks its reader to check their own law.
// The package knows nothing about wheels and rooms; package verdict counts the days.
package holdrule

import (
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

// Rule is a rule of one or more countries. Package tomlfile reads it by its tags, whose
// bounds are our own.
type Rule struct {
	Name      string   `toml:"name" need:"true"`                 // 2 to 40 of a-z, 0-9 and dashes
	Title     string   `toml:"title" need:"true" max:"80"`       // for people
	Countries []string `toml:"countries" need:"true" items:"60"` // ISO 3166 codes; none for a variety's own rule
	Varieties []string `toml:"varieties"`                        // that it covers; without these and Groups, all
	Groups    []string `toml:"groups"`                           // of variety.Groups that it covers
	// words of the name it is sold under; none: any name
	SoldAs  []string          `toml:"sold_as" items:"20"`
	Milk    []wheel.Treatment `toml:"milk"`
	Days    int               `toml:"days" range:"1 3650 days"`    // of hold; 0: none
	Months  int               `toml:"months" range:"1 120 months"` // of hold, by the calendar; not with Days
	Warm    bool              // only days at MinTemp or above count
	MinTemp quantity.Celsius  `toml:"min_temp" range:"-5 20"`       // Warm
	From    string            `toml:"count_from"`                   // one of Beginnings
	Label   string            `toml:"label" max:"200"`              // words that the label must have; "" for none
	Source  string            `toml:"source" need:"true" max:"300"` // the work
	Section string            `toml:"section" max:"100"`            // and where in it
	Edition string            `toml:"edition" max:"100"`            // the edition that was read
	Read    string            `toml:"read" need:"true"`             // 2026-11-25, or from memory
	Note    string            `toml:"note" max:"500"`

	Text string // the TOML it was read from; "" for one made in code

	// Missing marks a rule that no file has: cheese from this milk is held in these
	// countries because none of their rules covers its variety. It has no name.
	Missing bool
}

// Beginnings are the events from which days can count: the make and the beginning of drying.
var Beginnings = []string{"make", "drying"}

// Takes is true where the rule covers cheese from this milk. Only rules for all
// milk cover milk whose treatment is unknown; see AsksMilk.
func (r Rule) Takes(milk wheel.Treatment) bool {
	return len(r.Milk) == 0 || slices.Contains(r.Milk, milk)
}

// AsksMilk is true where what it asks depends on the milk's treatment, so that it has
// to be known before the cheese leaves.
func (r Rule) AsksMilk() bool { return len(r.Milk) > 0 }

// Binds is true where the rule holds cheese from this milk: for days, or until its
// treatment is known.
func (r Rule) Binds(milk wheel.Treatment) bool {
	return (r.Holds() || r.Missing) && r.Takes(milk) || milk == "" && r.AsksMilk()
}

// Covers is true where the rule covers the variety, sold under that name. A rule
// about a name says nothing of a cheese whose name isn't known.
func (r Rule) Covers(v variety.Variety, soldAs string) bool {
	return variety.Sold(r.SoldAs, soldAs) && (len(r.Varieties) == 0 && len(r.Groups) == 0 ||
		slices.Contains(r.Varieties, v.Name) || slices.Contains(r.Groups, v.Group))
}

// Holds is true where the rule asks for days or months.
func (r Rule) Holds() bool { return r.Days > 0 || r.Months > 0 }

// DaysFrom is how many days the rule asks for, counted from a date. Months are the
// calendar's and end on the same day of the month, or on the last where it has no such
// day: six months from 31 August end on 28 or 29 February. That is the common reading;
// no text that was read says it.
func (r Rule) DaysFrom(begin day.Date) int {
	if r.Months > 0 {
		return int(begin.AddMonths(r.Months) - begin)
	}
	return r.Days
}

// Of selects the countries in which the rule applies. A country's rule applies in
// its parts, but not the other way round.
func (r Rule) Of(countries []string) []string {
	var out []string
	for _, c := range countries {
		whole, _, _ := strings.Cut(c, "-")
		if slices.Contains(r.Countries, c) || slices.Contains(r.Countries, whole) {
			out = append(out, c)
		}
	}
	return out
}

// Cite is the source in short: "21 CFR 133.113".
func (r Rule) Cite() string { return strings.TrimSpace(r.Source + " " + r.Section) }

// Set is the rules that cover one variety. A book that names no country is held by
// no law.
type Set struct {
	Countries []string // whose law applies, sorted
	Rules     []Rule
	By        [][]string // the countries of each rule
}

// OfVariety is the rule for raw milk in the own file of a variety sold under a name; ok
// is false if it has none. Only varieties that people write have one.
func OfVariety(v variety.Variety, soldAs string) (r Rule, ok bool) {
	l := v.LimitsOf(soldAs)
	r = Rule{
		Name: v.Name, Title: v.Title, Varieties: []string{v.Name},
		Milk: []wheel.Treatment{wheel.Raw, wheel.Thermised}, // thermised milk isn't pasteurised
		Days: l.RawMinDays, Warm: true, MinTemp: l.RawMinTemp, From: "make", Source: l.Source,
	}
	return r, l.RawMinDays > 0
}

// Select picks the rules of the countries that cover a variety sold under a name
// ("": not known). What a variety's own file asks it asks in every country.
func Select(all []Rule, countries []string, v variety.Variety, soldAs string) Set {
	s := Set{Countries: slices.Clone(countries)}
	if r, ok := OfVariety(v, soldAs); ok {
		s.Rules, s.By = append(s.Rules, r), append(s.By, nil)
	}
	for _, r := range all {
		if by := r.Of(countries); len(by) > 0 && r.Covers(v, soldAs) {
			s.Rules, s.By = append(s.Rules, r), append(s.By, by)
		}
	}
	if r := s.missing(all); len(r.Countries) > 0 {
		s.Rules, s.By = append(s.Rules, r), append(s.By, r.Countries)
	}
	return s
}

// missing is the rule for the countries whose rules say nothing of cheese from raw milk
// of this set's variety, or hold other varieties' for days and not this one's: a law that
// wasn't written down isn't one that asks nothing.
func (s Set) missing(all []Rule) Rule {
	r := Rule{Missing: true, Milk: []wheel.Treatment{wheel.Raw, wheel.Thermised}}
	for _, c := range s.Countries {
		raw := func(r Rule) bool { return r.Takes(wheel.Raw) && len(r.Of([]string{c})) > 0 }
		holds := func(r Rule) bool { return r.Holds() && raw(r) }
		if !slices.ContainsFunc(s.Rules, holds) && (!slices.ContainsFunc(s.Rules, raw) ||
			slices.ContainsFunc(all, func(r Rule) bool { return r.AsksMilk() && holds(r) })) {
			r.Countries = append(r.Countries, c)
		}
	}
	return r
}

// The days of the shortest and of a long month, by definition: of two rules, one of them in
// months, it's certain only then which asks for more.
const shortMonth, longMonth = 28, 31

// Loosens says whether the rule in the place of another lets anything go that the other
// holds, or asks for less on its label.
func (r Rule) Loosens(was Rule) bool {
	least := func(r Rule, month int) int { return max(r.Days, r.Months*month) }
	return len(r.Of(was.Countries)) < len(was.Countries) || !spans(r.SoldAs, was.SoldAs) || !spans(r.Milk, was.Milk) ||
		r.AsksMilk() != was.AsksMilk() || r.narrower(was) || r.Label != was.Label && was.Label != "" ||
		least(r, shortMonth) < least(was, longMonth) && (r.Months < was.Months || r.Days < was.Days) ||
		was.Warm && (!r.Warm || r.MinTemp < was.MinTemp) || was.From == "drying" && r.From != was.From
}

// narrower says whether the rule leaves out a variety that another covers.
func (r Rule) narrower(was Rule) bool {
	if len(r.Varieties)+len(r.Groups) == 0 {
		return false
	}
	in := func(of []string) func(string) bool { return func(x string) bool { return !slices.Contains(of, x) } }
	return len(was.Varieties)+len(was.Groups) == 0 ||
		slices.ContainsFunc(was.Varieties, in(r.Varieties)) || slices.ContainsFunc(was.Groups, in(r.Groups))
}

// spans says whether a list that's of all when it's empty has everything of another.
func spans[T comparable](now, was []T) bool {
	return len(now) == 0 ||
		len(was) > 0 && !slices.ContainsFunc(was, func(x T) bool { return !slices.Contains(now, x) })
}

// Fills says whether cheese of raw milk that is held as long as no rule on file covers it
// isn't any more with this one.
func (r Rule) Fills(all []Rule) bool {
	return r.Takes(wheel.Raw) && slices.ContainsFunc(r.Countries, func(c string) bool {
		counts, held, said := false, false, false // by the others; counts: some of their varieties
		for _, o := range all {
			if o.Takes(wheel.Raw) && len(o.Of([]string{c})) > 0 {
				covers := spans(o.SoldAs, r.SoldAs) && !o.narrower(r)
				counts, held, said = counts || o.Holds() && o.AsksMilk(), held || covers && o.Holds(), said || covers
			}
		}
		return !held && (counts || !said) && (r.Holds() || !counts)
	})
}

// Everywhere is every rule that covers a variety sold under a name, whatever its
// country: what some law asks, for a book that follows none.
func Everywhere(all []Rule, v variety.Variety, soldAs string) (s Set) {
	for _, r := range all {
		if r.Covers(v, soldAs) {
			s.Rules, s.By = append(s.Rules, r), append(s.By, r.Countries)
		}
	}
	return s
}

// Labels are the rules that require something on the label of cheese from this
// milk.
func (s Set) Labels(milk wheel.Treatment) []Rule {
	var out []Rule
	for _, r := range s.Rules {
		if r.Label != "" && r.Takes(milk) {
			out = append(out, r)
		}
	}
	return out
}
