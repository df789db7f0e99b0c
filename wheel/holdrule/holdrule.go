// Package holdrule is the library of rules that food laws put on cheese before
// it may be sold: how many days it is held, in what warmth they count, of which
// milk and which kinds, and what its label must say. A rule is TOML text that a
// person can read and change; the library is part of the binary.
//
// A rule names the countries it is the law of by their ISO 3166-1 codes, or a
// part of one by its ISO 3166-2 code, and its source. It is information and no
// advice: whoever prints one adds CheckYourOwn. The package knows nothing of
// wheels and rooms: how many days count is for the verdict.
package holdrule

import (
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

// CheckYourOwn stands beside every use of a rule.
const CheckYourOwn = "check your own law"

// Rule is one rule of one or several countries. The tags say what its file may have
// (package tomlfile).
type Rule struct {
	Name      string            `toml:"name" need:"true"`                 // 2 to 40 of a-z, 0-9 and dashes
	Title     string            `toml:"title" need:"true" max:"80"`       // as people read it
	Countries []string          `toml:"countries" need:"true" items:"60"` // ISO 3166 codes; none: a variety's own rule
	Varieties []string          `toml:"varieties"`                        // it covers; with no groups either, all
	Groups    []string          `toml:"groups"`                           // of variety.Groups it covers
	Milk      []wheel.Treatment `toml:"milk"`
	Days      int               `toml:"days" range:"1 3650 days"` // of hold; 0: none
	Warm      bool              // only days at MinTemp or above count
	MinTemp   quantity.Celsius  `toml:"min_temp" range:"-5 20"`       // Warm
	From      string            `toml:"count_from"`                   // where the days count from: one of Beginnings
	Label     string            `toml:"label" max:"200"`              // words the label must have; "" for none
	Source    string            `toml:"source" need:"true" max:"300"` // the work
	Section   string            `toml:"section" max:"100"`            // and where in it
	Read      string            `toml:"read" need:"true"`             // [before] 2026-11-25, or from memory
	Note      string            `toml:"note" max:"500"`

	Text string // the TOML it was read from; "" for one made in code
}

// Beginnings are where days may count from: the date of the make, or when drying
// began.
var Beginnings = []string{"make", "drying"}

// Takes says whether the rule is for cheese of milk so treated. Milk of which
// nobody said is taken by rules for any milk only.
func (r Rule) Takes(milk wheel.Treatment) bool {
	return len(r.Milk) == 0 || slices.Contains(r.Milk, milk)
}

// Covers says whether the rule is for that kind of cheese.
func (r Rule) Covers(v variety.Variety) bool {
	return len(r.Varieties) == 0 && len(r.Groups) == 0 ||
		slices.Contains(r.Varieties, v.Name) || slices.Contains(r.Groups, v.Group)
}

// Of gives those of the countries asked for that the rule is the law of. The
// law of a country is that of its parts too; the law of a part is not that of
// the country.
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

// Asks says in words what the rule asks: "raw or thermised milk: 60 days at
// 1.7 C or more".
func (r Rule) Asks() string {
	var w []string
	if r.Days > 0 {
		days := fmt.Sprintf("%d days", r.Days)
		if r.Warm {
			days += fmt.Sprintf(" at %.1f C or more", float64(r.MinTemp))
		}
		w = append(w, days+map[string]string{"drying": " since drying began"}[r.From])
	}
	if r.Label != "" {
		w = append(w, fmt.Sprintf("label %q", r.Label))
	}
	milk := make([]string, len(r.Milk))
	for i, t := range r.Milk {
		milk[i] = string(t)
	}
	asks := strings.Join(w, "; ")
	if len(milk) > 0 {
		asks = strings.Join(milk, " or ") + " milk: " + asks
	}
	return asks
}

// Set is the rules that bear on one kind of cheese. The zero Set is that of a
// book that names no country: the variety's own file decides.
type Set struct {
	Countries []string // whose law is followed, sorted
	Rules     []Rule   // those that cover the kind
	By        [][]string
}

// OfVariety is the rule that a variety's own file has for raw milk; ok is false
// where it has none.
func OfVariety(v variety.Variety) (r Rule, ok bool) {
	l := v.Limits
	r = Rule{
		Name: v.Name, Title: v.Title, Varieties: []string{v.Name}, Milk: []wheel.Treatment{wheel.Raw},
		Days: l.RawMinDays, Warm: true, MinTemp: l.RawMinTemp, From: "make", Source: l.Source,
	}
	return r, l.RawMinDays > 0
}

// Select picks the rules of the countries that cover a kind of cheese. With no
// country it is the rule of the variety's file; a variety of the user's own
// keeps that rule whatever the country.
func Select(all []Rule, countries []string, v variety.Variety, own bool) Set {
	s := Set{Countries: slices.Clone(countries)}
	if r, ok := OfVariety(v); ok && (len(countries) == 0 || own) {
		s.Rules, s.By = append(s.Rules, r), append(s.By, nil)
	}
	for _, r := range all {
		if by := r.Of(countries); len(by) > 0 && r.Covers(v) {
			s.Rules, s.By = append(s.Rules, r), append(s.By, by)
		}
	}
	return s
}

// Labels are the rules of the set that ask something of the label of cheese of
// that milk.
func (s Set) Labels(milk wheel.Treatment) []Rule {
	var out []Rule
	for _, r := range s.Rules {
		if r.Label != "" && r.Takes(milk) {
			out = append(out, r)
		}
	}
	return out
}

// Silent lists the countries of the set that no rule on file speaks for, of
// cheese of that milk.
func (s Set) Silent(milk wheel.Treatment) []string {
	var out []string
	for _, c := range s.Countries {
		if !slices.ContainsFunc(s.Rules, func(r Rule) bool { return r.Takes(milk) && len(r.Of([]string{c})) > 0 }) {
			out = append(out, c)
		}
	}
	return out
}
